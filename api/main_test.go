package api

import (
	"flag"
	"fmt"
	"os"
	"testing"
)

// TestMain fails a whole run in which a documented answer was never seen: what
// cannot be brought about should not be promised.
func TestMain(m *testing.M) {
	code := m.Run()
	for _, part := range []string{"test.run", "test.skip", "test.fuzz", "test.list"} {
		if flag.Lookup(part).Value.String() != "" {
			os.Exit(code)
		}
	}
	if missing := agreed.unseen(); code == 0 && len(missing) > 0 {
		for _, answer := range missing {
			fmt.Fprintln(os.Stderr, "documented, but never seen:", answer)
		}
		code = 1
	}
	os.Exit(code)
}
