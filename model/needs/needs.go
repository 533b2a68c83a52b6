// Package needs says what a test rests on that is not part of the house: programs of
// others, a server, files. Nothing but tests imports it.
package needs

import (
	"os"
	"os/exec"
	"testing"
)

// Missing ends a test whose component is not there: here it is skipped and says why, and
// where CI is set it fails, so that nothing is left out unseen.
func Missing(t testing.TB, format string, args ...any) {
	t.Helper()
	if os.Getenv("CI") != "" {
		t.Fatalf(format+" (CI is set, and must have it)", args...)
	}
	t.Skipf(format, args...)
}

// Program is the path of a program of others; without it the test is Missing it.
func Program(t testing.TB, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		Missing(t, "%s is not installed; .ci/run installs it", name)
	}
	return path
}

// Programs holds a test to several of them.
func Programs(t testing.TB, names ...string) {
	t.Helper()
	for _, name := range names {
		Program(t, name)
	}
}
