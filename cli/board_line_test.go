package cli_test

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"pawl/api/wire"
)

// What may become of the line between a board and the shop.
const (
	lineWorks int32 = iota
	lineCut         // nothing arrives
	lineDeaf        // what is asked is done, and the answer is lost
)

// badLine is a way to a shop that does what a test says.
func badLine(t *testing.T, to string) (address string, state *atomic.Int32) {
	t.Helper()
	at, err := url.Parse(to)
	if err != nil {
		t.Fatal(err)
	}
	state = &atomic.Int32{}
	shop := httputil.NewSingleHostReverseProxy(at)
	line := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch state.Load() {
		case lineCut:
			panic(http.ErrAbortHandler)
		case lineDeaf:
			shop.ServeHTTP(httptest.NewRecorder(), r)
			panic(http.ErrAbortHandler)
		}
		shop.ServeHTTP(w, r)
	}))
	t.Cleanup(line.Close)
	return line.URL, state
}

// lineBoard is a board at the end of a bad line, which may be started again with what
// it kept.
type lineBoard struct {
	t                 *testing.T
	argv              []string
	home              string
	state             *atomic.Int32
	codes             map[string]string
	cmd               *exec.Cmd
	stdin             io.WriteCloser
	out               *bufio.Scanner
	elsewhere, theirs func()
}

func (b *lineBoard) start() {
	b.t.Helper()
	b.cmd = exec.Command(b.argv[0], b.argv[1:]...)
	b.cmd.Env = append(os.Environ(), "XDG_STATE_HOME="+b.home)
	var err error
	if b.stdin, err = b.cmd.StdinPipe(); err != nil {
		b.t.Fatal(err)
	}
	out, err := b.cmd.StdoutPipe()
	if err != nil {
		b.t.Fatal(err)
	}
	b.out = bufio.NewScanner(out)
	if err := b.cmd.Start(); err != nil {
		b.t.Fatal(err)
	}
}

// end ends the board; that something waits or failed is no matter here.
func (b *lineBoard) end() {
	b.stdin.Close()
	for b.out.Scan() {
		continue
	}
	_ = b.cmd.Wait()
}

// hears reads what the board tells until it is what is waited for.
func (b *lineBoard) hears(step, says string, fits func(boardScan) bool) {
	b.t.Helper()
	for b.out.Scan() {
		var s boardScan
		if err := json.Unmarshal(b.out.Bytes(), &s); err != nil {
			b.t.Fatalf("%v: %s", err, b.out.Text())
		}
		if !fits(s) {
			continue
		}
		if !strings.Contains(s.Said, says) {
			b.t.Errorf("%s: it says %q", step, s.Said)
		}
		return
	}
	b.t.Fatalf("%s: the board ended", step)
}

// steps does what happens at a board, one after the other: a scan with what is told of
// it, or what becomes of the line.
func (b *lineBoard) steps(all string) {
	b.t.Helper()
	for _, step := range strings.Split(all, "|") {
		what, says, scan := strings.Cut(step, "=")
		switch {
		case what == "sent":
			b.hears(step, says, func(s boardScan) bool { return s.Queued != nil && !*s.Queued })
		case scan:
			code := what
			if b.codes[what] != "" {
				code = b.codes[what]
			}
			if _, err := io.WriteString(b.stdin, code+"\n"); err != nil {
				b.t.Fatal(err)
			}
			b.hears(step, says, func(s boardScan) bool { return s.Scan != nil && *s.Scan == code && (s.Queued == nil || *s.Queued) })
		case what == "again":
			b.end()
			b.start()
		case what == "wait": // past what is one scan
			time.Sleep(2100 * time.Millisecond)
		case what == "elsewhere":
			b.elsewhere()
		case what == "theirs":
			b.theirs()
		default:
			b.state.Store(map[string]int32{"works": lineWorks, "cut": lineCut, "deaf": lineDeaf}[what])
		}
	}
}

// TestBoardAtABadLine holds a board to what is so where it stands: the shop may not
// have heard of a badge or a job, and an undo takes back the act that was told last,
// wherever it is now, also of the board that ran before.
func TestBoardAtABadLine(t *testing.T) {
	t.Parallel()
	cases := []struct{ name, steps, want string }{
		{"the badge of B is scanned while A's was open", "A=Tech A takes|cut|B=cannot be asked|works|T=TAKEN:", "out Tech B"},
		{"and its answer is lost", "A=Tech A takes|deaf|B=cannot be asked|works|T=TAKEN:", "out Tech B"},
		{"and what is taken waits", "A=Tech A takes|cut|B=cannot be asked|T=Kept|works|sent=by Tech B", "out Tech B"},
		{"a job is scanned that the shop does not hear of", "A=Tech A takes|JOB:1042=is new|cut|JOB:1043=for job 1043|works|T=for job 1043", "out Tech A 1043"},
		{"the job of A is not B's", "A=Tech A takes|JOB:1042=is new|cut|B=cannot be asked|works|T=TAKEN:", "out Tech B"},
		{"a badge that nobody has", "A=Tech A takes|cut|B/7K3M9P4X=cannot be asked|works|T=nobody here has the badge", "in place"},
		{"undo takes back what was sent late", "A=Tech A takes|2=TAKEN:|cut|T=Kept|works|sent=TAKEN:|undo=UNDONE:", "in place"},
		{"undo of what waits comes after it", "A=Tech A takes|cut|T=Kept|undo=what was done with|works|sent=TAKEN:|sent=UNDONE:", "in place"},
		{"undo of what was done while its answer was lost", "A=Tech A takes|deaf|T=Kept|undo=what was done with|works|sent=TAKEN:|sent=UNDONE:", "in place"},
		{"undo by the board that is started next", "A=Tech A takes|T=TAKEN:|again|undo=UNDONE:", "in place"},
		{"once", "A=Tech A takes|T=TAKEN:|again|undo=UNDONE:|again|undo=nothing to undo", "in place"},
		{"undo of what the board before kept", "A=Tech A takes|2=TAKEN:|cut|T=Kept|again|works|sent=TAKEN:|undo=UNDONE:", "in place"},
		{"undo of what waits still, by the board that is started next", "A=Tech A takes|cut|T=Kept|again|undo=what was done with|works|sent=TAKEN:|sent=UNDONE:", "in place"},
		{"no undo of what somebody did since", "A=Tech A takes|T=TAKEN:|again|elsewhere|undo=changed hands since", "in place"},
		{"no undo of what was refused when it was sent", "A=Tech A takes|2=TAKEN:|cut|T=Kept|theirs|works|sent=is with Tech B|undo=nothing to undo", "out Tech B"},
	}
	data, token, numbers := shopFolder(t, itself, 2*len(cases))
	run(t, nil, itself, "--data", data, "people", "add", "Tech B", "--role", "technician")
	var people wire.People
	if err := json.Unmarshal([]byte(run(t, nil, itself, "--data", data, "people", "--json")), &people); err != nil {
		t.Fatal(err)
	}
	badges := map[string]string{}
	for _, p := range people.People {
		badges[p.Name] = p.Badge
	}
	s := serveAt(t, freeAddress(t), data, itself)
	secret := filepath.Join(t.TempDir(), "board.token")
	if err := os.WriteFile(secret, []byte(token), 0o600); err != nil {
		t.Fatal(err)
	}
	shop := connect(s.url, token)
	t.Run("sequences", func(t *testing.T) {
		for i, c := range cases {
			tool, second := numbers[2*i], numbers[2*i+1]
			t.Run(strings.ReplaceAll(c.name, " ", "-"), func(t *testing.T) {
				t.Parallel()
				at, state := badLine(t, s.url)
				b := &lineBoard{t: t, state: state, home: t.TempDir(), argv: []string{itself, "--server", at, "--token-file", secret, "board", "--json", "--wait", "1ms"},
					codes: map[string]string{"A": badges["Tech A"], "B": badges["Tech B"], "T": "T/" + strings.ReplaceAll(tool, "-", ""), "2": "T/" + strings.ReplaceAll(second, "-", "")}}
				b.elsewhere = func() {
					mustAct(t, tool, func() error { _, err := shop.Return(t.Context(), tool, wire.Return{}); return err })
				}
				b.theirs = func() {
					mustAct(t, tool, func() error { _, err := shop.Take(t.Context(), tool, wire.Take{To: "Tech B"}); return err })
				}
				b.start()
				b.steps(c.steps)
				b.end()
				v, _, err := shop.Tool(t.Context(), tool)
				if err != nil {
					t.Fatal(err)
				}
				got := string(v.Custody.State)
				for _, more := range []*string{v.Custody.Person, v.Custody.Job} {
					if more != nil {
						got += " " + *more
					}
				}
				if got != c.want {
					t.Errorf("the tool is %s, want %s", got, c.want)
				}
			})
		}
	})
	s.stop(t)
	run(t, nil, itself, "--data", data, "verify")
}

func mustAct(t *testing.T, what string, act func() error) {
	t.Helper()
	if err := act(); err != nil {
		t.Fatal(fmt.Errorf("%s: %w", what, err))
	}
}
