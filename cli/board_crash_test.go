package cli_test

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pawl/api/wire"
	"pawl/model/fault"
)

// boardScan is what a board says of one scan under --json.
type boardScan struct {
	Scan   *string `json:"scan"`
	Done   *string `json:"done"`
	Said   string  `json:"said"`
	Queued *bool   `json:"queued"`
}

// aBoard is a running pawl board, fed through a pipe.
type aBoard struct {
	t     *testing.T
	cmd   *exec.Cmd
	stdin io.WriteCloser
	out   *bufio.Scanner
	acts  map[string]int // acts that were said to be done, by scan and verb
	kept  int
}

func startBoard(t *testing.T, pawl, url, token string) *aBoard {
	t.Helper()
	secret := filepath.Join(t.TempDir(), "board.token")
	if err := os.WriteFile(secret, []byte(token), 0o600); err != nil {
		t.Fatal(err)
	}
	b := &aBoard{t: t, cmd: exec.Command(pawl, "--server", url, "--token-file", secret, "board", "--json", "--wait", "60s"), acts: map[string]int{}}
	b.cmd.Env = append(os.Environ(), "XDG_STATE_HOME="+t.TempDir())
	b.cmd.Stderr = os.Stderr
	var err error
	if b.stdin, err = b.cmd.StdinPipe(); err != nil {
		t.Fatal(err)
	}
	out, err := b.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	b.out = bufio.NewScanner(out)
	if err := b.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return b
}

// hear reads one line of the board; false at its end.
func (b *aBoard) hear() (boardScan, bool) {
	b.t.Helper()
	if !b.out.Scan() {
		return boardScan{}, false
	}
	var s boardScan
	if err := json.Unmarshal(b.out.Bytes(), &s); err != nil {
		b.t.Fatalf("%v: %s", err, b.out.Text())
	}
	switch {
	case s.Queued != nil && *s.Queued:
		b.kept++
	case s.Scan != nil && s.Done != nil && (*s.Done == "take" || *s.Done == "return"):
		b.acts[*s.Scan+" "+*s.Done]++
	case s.Done == nil:
		b.t.Errorf("not done: %s", b.out.Text())
	}
	return s, true
}

// scan sends a line and waits for its answer; what was sent late may come before.
func (b *aBoard) scan(line string) {
	b.t.Helper()
	if _, err := io.WriteString(b.stdin, line+"\n"); err != nil {
		b.t.Fatal(err)
	}
	for {
		s, more := b.hear()
		if !more {
			b.t.Fatal("the board ended")
		}
		if s.Scan != nil && *s.Scan == line && (s.Queued == nil || *s.Queued) {
			return
		}
	}
}

// TestBoardAndAServerThatDies feeds a board a thousand scans through a pipe while
// the server is killed with SIGKILL and started again, twice in the middle. What
// could not be sent waits on disk, and the ledger ends with exactly the acts that
// were scanned, each once and in order.
func TestBoardAndAServerThatDies(t *testing.T) {
	t.Parallel()
	tools := size(40, 150, 490)
	data, token, numbers := shopFolder(t, itself, tools)
	var people wire.People
	if err := json.Unmarshal([]byte(run(t, nil, itself, "--data", data, "people", "--json")), &people); err != nil {
		t.Fatal(err)
	}
	badge, address := people.People[0].Badge, freeAddress(t)
	var scans []string
	for i, n := range numbers {
		if i%50 == 0 { // a badge opens taking for half a minute
			scans = append(scans, badge)
		}
		scans = append(scans, "T/"+strings.ReplaceAll(n, "-", ""))
	}
	scans = append(scans, "CARD:RETURN")
	for i, n := range numbers {
		if i%50 == 49 { // and a card lasts as long
			scans = append(scans, "CARD:RETURN")
		}
		scans = append(scans, "http://"+address+"/t/"+n)
	}
	s := serveAt(t, address, data, itself)
	b := startBoard(t, itself, s.url, token)
	killed := 0
	for i, line := range scans {
		switch i {
		case len(scans) / 4, 2 * len(scans) / 3:
			// It dies in the middle of a scan, or between two.
			time.AfterFunc(3*time.Millisecond, func() { s.Process.Kill() })
			killed++
		case len(scans)/4 + len(scans)/10, 2*len(scans)/3 + len(scans)/10:
			s.kill(t)
			s = serveAt(t, address, data, itself)
		}
		b.scan(line)
	}
	b.stdin.Close()
	for more := true; more; {
		_, more = b.hear()
	}
	if err := b.cmd.Wait(); err != nil {
		t.Errorf("the board ended with %v", err)
	}
	checkScanned(t, s.url, token, numbers)
	for scan, n := range b.acts {
		if n != 1 {
			t.Errorf("%s was told %d times", scan, n)
		}
	}
	if len(b.acts) != 2*tools || b.kept < 2 {
		t.Errorf("%d acts were told, want %d; %d waited", len(b.acts), 2*tools, b.kept)
	}
	s.stop(t)
	run(t, nil, itself, "--data", data, "verify")
	t.Logf("%d scans, %d acts, the server killed %d times, %d acts waited", len(scans), len(b.acts), killed, b.kept)
}

// freeAddress is one of this computer that nobody listens at.
func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// checkScanned requires that each tool was taken once and then returned once.
func checkScanned(t *testing.T, url, token string, numbers []string) {
	t.Helper()
	c := connect(url, token)
	for _, n := range numbers {
		var verbs []string
		err := c.HistoryAll(t.Context(), n, func(l wire.Line) error {
			if l.Noun == "loan" {
				verbs = append(verbs, l.Verb)
			}
			if l.Noun == "loan" && !strings.HasPrefix(l.Actor, "Tech A via token") && l.Verb == "take" {
				return fault.New(fault.Internal, "taken by %s", l.Actor)
			}
			return nil
		})
		if got := fmt.Sprint(verbs); err != nil || got != "[take return]" {
			t.Errorf("%s: %s, %v", n, got, err)
		}
	}
}
