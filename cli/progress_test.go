package cli

import (
	"strings"
	"sync"
	"testing"
)

// screen is what a terminal shows of what was written to it: a carriage return
// goes back to the start of the line, and what follows overwrites it.
func screen(written string) string {
	var lines []string
	line, at := []rune{}, 0
	for _, r := range written + "\n" {
		switch r {
		case '\r':
			at = 0
		case '\n':
			lines = append(lines, strings.TrimRight(string(line), " "))
			line, at = nil, 0
		default:
			if at == len(line) {
				line = append(line, r)
			}
			line[at] = r
			at++
		}
	}
	return strings.Join(lines, "\n")
}

func TestScreen(t *testing.T) {
	for written, want := range map[string]string{"": "\n", "abc\rx": "xbc\n", "abc\r   \r\nd\n": "\nd\n\n", "é\rab": "ab\n"} {
		if got := screen(written) + "\n"; got != want {
			t.Errorf("%q shows %q, want %q", written, got, want)
		}
	}
}

// terminal keeps what is written, and says each time that something was.
type terminal struct {
	mu      sync.Mutex
	all     strings.Builder
	written chan struct{}
}

func newTerminal() *terminal { return &terminal{written: make(chan struct{}, 1)} }

func (c *terminal) Write(b []byte) (int, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	select {
	case c.written <- struct{}{}:
	default:
	}
	return c.all.Write(b)
}

func (c *terminal) String() string {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.all.String()
}

// TestWaitingIsShown: the line comes by itself, and goes before anything else.
func TestWaitingIsShown(t *testing.T) {
	c := newTerminal()
	p := &progress{w: c}
	p.wait("verify")
	for !strings.Contains(screen(c.String()), "verify") {
		<-c.written
	}
	if _, err := p.before(c).Write([]byte("everything holds\nGo on? ")); err != nil {
		t.Fatal(err)
	}
	p.clear() // what stands there now is not taken away
	if got := screen(c.String()); got != "everything holds\nGo on?" {
		t.Errorf("the terminal shows %q", got)
	}
}

// TestCountIsShown: it stands between what is printed, and is gone at the end.
func TestCountIsShown(t *testing.T) {
	c := newTerminal()
	p := &progress{w: c}
	p.wait("import")
	p.count("reading photos", 3)
	if got := screen(c.String()); !strings.HasPrefix(got, "reading photos") || !strings.Contains(got, "(0/3)") {
		t.Errorf("before the first: %q", got)
	}
	if _, err := p.before(c).Write([]byte("note: a blurred plate\n")); err != nil {
		t.Fatal(err)
	}
	if got := screen(c.String()); got != "note: a blurred plate\n" {
		t.Errorf("after a note: %q", got)
	}
	for range 3 {
		p.step()
	}
	p.count("nothing", 0)
	p.clear()
	if got := screen(c.String()); got != "note: a blurred plate\n" {
		t.Errorf("at the end: %q", got)
	}
}

// TestNobodyWatches: nothing is told, and nothing stands in the way.
func TestNobodyWatches(t *testing.T) {
	var p *progress
	p.count("reading photos", 3)
	p.step()
	p.clear()
	var out strings.Builder
	if w := p.before(&out); w != &out {
		t.Errorf("it writes through %T", w)
	}
}
