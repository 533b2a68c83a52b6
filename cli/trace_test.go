package cli_test

import (
	"bufio"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"pawl/api/wire"
	"pawl/model/needs"
)

func lines(all []string) io.Reader { return strings.NewReader(strings.Join(all, "\n") + "\n") }

var (
	walWrite = regexp.MustCompile(`pwrite64\(\d+<[^>]*pawl\.db-wal>`)
	walSync  = regexp.MustCompile(`f(data)?sync\(\d+<[^>]*pawl\.db-wal>\)\s+= 0|f(data)?sync\(\d+<[^>]*pawl\.db-wal>`)
	answer   = regexp.MustCompile(`write\(\d+<[^>]*>, "HTTP/1\.1 (\d+)`)
)

// unsynced reads a trace and counts answers, and those among them that went out
// while something written to the log had not been synced.
func unsynced(t *testing.T, trace string) (answers, early int) {
	t.Helper()
	f, err := os.Open(trace)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	written, dirty := false, false
	for in := bufio.NewScanner(f); in.Scan(); {
		switch line := in.Text(); {
		case walWrite.MatchString(line):
			written, dirty = true, true
		case walSync.MatchString(line):
			dirty = false
		case answer.MatchString(line):
			if !written {
				continue // a read
			}
			answers++
			if dirty {
				early++
			}
			written, dirty = false, false
		}
	}
	return answers, early
}

// traced runs takes and returns, one at a time, against a server of that program under strace.
func traced(t *testing.T, pawl string, acts int) (answers, early int) {
	t.Helper()
	data, token, numbers := shopFolder(t, pawl, 1)
	trace := filepath.Join(t.TempDir(), "trace")
	s := serve(t, data, "strace", "-D", "-f", "-y", "-s", "40", "-e", "trace=pwrite64,fsync,fdatasync,write", "-o", trace, pawl)
	c := connect(s.url, token)
	for range acts / 2 {
		if _, err := c.Take(t.Context(), numbers[0], wire.Take{To: "Tech A"}); err != nil {
			t.Fatal(err)
		}
		if _, err := c.Return(t.Context(), numbers[0], wire.Return{}); err != nil {
			t.Fatal(err)
		}
	}
	s.stop(t)
	return unsynced(t, trace)
}

// TestSyncBeforeAnswer looks at the system calls of a real server: what an act
// wrote to SQLite's log must be synced before its answer is sent (SQLite manual,
// pragma synchronous: FULL). A build with synchronous=OFF, wrong on purpose,
// must be found out by the same look.
func TestSyncBeforeAnswer(t *testing.T) {
	needs.Program(t, "strace")
	const acts = 20
	answers, early := traced(t, itself, acts)
	if answers < acts || early > 0 {
		t.Errorf("of %d answers to acts (want %d), %d went out before the log was synced (want none)", answers, acts, early)
	}
	answers, early = traced(t, program(t, "-X pawl/model/internal/store.synchronous=0"), acts)
	if answers < acts || early < acts {
		t.Errorf("the build with synchronous=OFF was not found out: %d of %d answers seen as early", early, answers)
	}
}
