package cli_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// collections runs a command of the program and counts how often it collected garbage,
// each of which the Go runtime says on stderr ("gc 1 @0.013s …", package runtime,
// "Environment Variables", gctrace).
func collections(t *testing.T, environment []string, args ...string) int {
	t.Helper()
	cmd := exec.Command(itself, args...)
	cmd.Env = append(append(os.Environ(), "GODEBUG=gctrace=1"), environment...)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	if err := cmd.Run(); err != nil {
		t.Fatalf("pawl %s: %v\n%s", strings.Join(args, " "), err, errs.String())
	}
	return strings.Count("\n"+errs.String(), "\ngc ")
}

// TestAStartCollectsNothing runs short commands, which end before there is anything to
// collect, and then the same as the runtime would have it, which is what costs.
func TestAStartCollectsNothing(t *testing.T) {
	data := filepath.Join(t.TempDir(), "shop")
	run(t, nil, itself, "--data", data, "settings", "--name", "Gull Lane")
	for _, args := range [][]string{{"--version"}, {"--data", data, "settings"}} {
		if n := collections(t, []string{"GOGC="}, args...); n > 0 {
			t.Errorf("pawl %s collected garbage %d times", strings.Join(args, " "), n)
		}
		if n := collections(t, []string{"GOGC=100"}, args...); n == 0 {
			t.Errorf("pawl %s collects nothing even where the environment asks for it as usual: this test shows nothing", strings.Join(args, " "))
		}
	}
}
