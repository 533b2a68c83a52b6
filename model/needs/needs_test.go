package needs

import (
	"fmt"
	"strings"
	"testing"
)

// ended is a test that notes how it ended.
type ended struct {
	testing.TB
	how, said string
}

func (e *ended) Helper() {}

func (e *ended) Skipf(format string, args ...any) { e.end("skipped", format, args) }

func (e *ended) Fatalf(format string, args ...any) { e.end("failed", format, args) }

func (e *ended) end(how, format string, args []any) {
	e.how, e.said = how, fmt.Sprintf(format, args...)
	panic(e)
}

// What is not there skips a test, and fails it where CI is set; what is there does neither.
func TestWhatIsMissing(t *testing.T) {
	const none = "no-such-program"
	for what, c := range map[string]struct {
		ci, how  string
		programs []string
	}{
		"here":               {"", "skipped", []string{none}},
		"in CI":              {"true", "failed", []string{none}},
		"the last of two":    {"true", "failed", []string{"go", none}},
		"nothing":            {"true", "", []string{"go"}},
		"nothing, and no CI": {"", "", []string{"go"}},
	} {
		t.Run(what, func(t *testing.T) {
			t.Setenv("CI", c.ci)
			e := &ended{}
			func() {
				defer func() { _ = recover() }()
				Programs(e, c.programs...)
			}()
			if e.how != c.how || c.how != "" && !strings.HasPrefix(e.said, none+" is not installed") {
				t.Errorf("it was %q and said %q, want %q", e.how, e.said, c.how)
			}
		})
	}
}
