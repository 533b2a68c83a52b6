package cli_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"pawl/model"
	"pawl/model/fault"
	"pawl/model/needs"
	"pawl/model/people"
)

// coreAct is something that must be there whole when it was said to be done, and else
// there whole or not at all.
type coreAct struct {
	name string
	args []string
	new  bool // on a folder that is not there yet
}

// faultyShop is a folder in which each core act can be done once, and what else they need.
type faultyShop struct {
	data, backup string
	acts         []coreAct
}

func newFaultyShop(t *testing.T) faultyShop {
	t.Helper()
	dir := t.TempDir()
	f := faultyShop{data: filepath.Join(dir, "shop"), backup: filepath.Join(dir, "backup")}
	do := func(args ...string) string {
		return run(t, nil, itself, append([]string{"--data", f.data}, args...)...)
	}
	do("people", "add", "Tech A", "--role", "technician")
	number := func(serial string) string {
		do("register", "--kind", "ratchet", "--serial", serial, "--serial-again", serial)
		found, _, _ := strings.Cut(do("find", serial), "\t")
		return found
	}
	in, out := number("LD00001"), number("LD00002")
	do("take", out, "--to", "Tech A")
	do("backup", f.backup)
	do("take", in, "--to", "Tech A") // so that the next backup has more
	do("return", in)
	var plate bytes.Buffer
	if err := png.Encode(&plate, image.NewGray(image.Rect(0, 0, 800, 600))); err != nil {
		t.Fatal(err)
	}
	photo := filepath.Join(dir, "plate.png")
	if err := os.WriteFile(photo, plate.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	f.acts = []coreAct{
		{"take", []string{"take", in, "--to", "Tech A"}, false},
		{"evidence", []string{"evidence", "add", in, "--photo", "plate=" + photo}, false},
		{"return", []string{"return", out}, false},
		{"register", []string{"register", "--kind", "ratchet", "--serial", "LD00003", "--serial-again", "LD00003"}, false},
		{"backup", []string{"backup"}, false},
		{"first start", []string{"settings", "--name", "Gull Lane Garage"}, true},
	}
	return f
}

// faultKinds are what happens at a system call. A full disk stays full.
var faultKinds = []struct{ name, inject string }{{"SIGKILL", "signal=SIGKILL:when=%d"}, {"EIO", "error=EIO:when=%d"}, {"ENOSPC", "error=ENOSPC:when=%d+"}}

// callGroups are the system calls by which bytes, and names, come to be on a disk.
var callGroups = []struct{ name, calls string }{
	{"write", "pwrite64,write,ftruncate"}, {"sync", "fsync,fdatasync"}, {"name", "?rename,?renameat,renameat2,?link,linkat,?unlink,unlinkat"},
}

// trial is one act done once in a copy of the folder, with or without a fault.
type trial struct {
	acked bool
	said  string
	hit   bool // the fault came about
	calls [3]int
	lines int64 // in the ledger afterwards; 0: no shop; -1: one that cannot be opened
	wrong string
}

var called = []*regexp.Regexp{regexp.MustCompile(`(?m)\b(pwrite64|write|ftruncate)\(`), regexp.MustCompile(`(?m)\bf(data)?sync\(`), regexp.MustCompile(`(?m)\b(rename|link|unlink)(at2?)?\(`)}

// try runs an act under strace with one fault, or none, and looks at what is there.
func (f faultyShop) try(t *testing.T, program string, a coreAct, group int, inject string) (out trial) {
	t.Helper()
	dir := t.TempDir()
	data, backup, trace := filepath.Join(dir, "shop"), filepath.Join(dir, "backup"), filepath.Join(dir, "trace")
	if err := errors.Join(os.CopyFS(backup, os.DirFS(f.backup)), os.Mkdir(filepath.Join(dir, "none"), 0o700)); err != nil {
		t.Fatal(err)
	}
	if !a.new {
		if err := os.CopyFS(data, os.DirFS(f.data)); err != nil {
			t.Fatal(err)
		}
	}
	argv := []string{"-f", "-qq", "-s", "0", "-o", trace, "-e", "trace=" + callGroups[0].calls + "," + callGroups[1].calls + "," + callGroups[2].calls}
	if inject != "" {
		argv = append(argv, "-e", "inject="+callGroups[group].calls+":"+inject)
	}
	argv = append(append(argv, program, "--data", data), a.args...)
	if a.name == "backup" {
		argv = append(argv, backup)
	}
	limit, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	cmd := exec.CommandContext(limit, "strace", argv...)
	cmd.Env = append(os.Environ(), "GOMAXPROCS=1", "GODEBUG=asyncpreemptoff=1")
	said, err := cmd.CombinedOutput()
	if limit.Err() != nil {
		t.Fatalf("%s: no end within a minute: %s", a.name, said)
	}
	traced, readErr := os.ReadFile(trace)
	if readErr != nil {
		t.Fatalf("%v: %s", readErr, said)
	}
	out.acked, out.said = err == nil, string(said)
	out.hit = bytes.Contains(traced, []byte("(INJECTED)")) || bytes.Contains(traced, []byte("killed by SIGKILL"))
	for i, re := range called {
		out.calls[i] = len(re.FindAllIndex(traced, -1))
	}
	out.look(t, data, backup)
	return out
}

// look opens what is there, as the next start does, and checks all of it.
func (out *trial) look(t *testing.T, data, backup string) {
	t.Helper()
	if b, err := model.CheckBackup(t.Context(), backup, ""); err != nil || !b.OK() {
		out.wrong = fmt.Sprintf("the backup does not hold: %v %v", b.Verified.Problems, err)
	}
	out.lines = -1
	o := model.Options{Dir: data, Program: "test", Existing: true}
	s, err := model.Open(t.Context(), o)
	none := fault.Is(err, fault.NotFound)
	if none { // the next start makes one, with lines of its own
		o.Existing = false
		s, err = model.Open(t.Context(), o)
	}
	if err != nil {
		out.wrong = fmt.Sprintf("the shop cannot be opened: %v", err)
		return
	}
	defer s.Close()
	v, err := s.Verify(t.Context(), model.By{Actor: model.Actor{Role: people.Manager, Via: people.ViaLocal}}, model.VerifyQuery{})
	if err != nil || len(v.Problems) > 0 {
		out.wrong = fmt.Sprintf("the shop does not verify: %v %v", v.Problems, err)
	}
	if out.lines = v.Lines; none {
		out.lines = 0
	}
}

// judge says what is wrong with a trial of an act that leaves the ledger with that many
// lines before, and when it is done.
func (out trial) judge(before, done int64, isNew bool) string {
	switch {
	case out.wrong != "":
		return out.wrong
	case out.acked && out.lines != done:
		return fmt.Sprintf("it was said to be done, and is not there: %d lines, want %d", out.lines, done)
	case !isNew && out.lines != before && out.lines != done:
		return fmt.Sprintf("half of it is there: %d lines, between %d and %d", out.lines, before, done)
	case strings.Contains(out.said, "nothing was changed") && out.lines != before:
		return "it was said that nothing was changed, and something was"
	}
	return ""
}

// points are at which of so many calls a fault is tried: all of them at full size, else
// some, other ones for each act and kind.
func points(calls, some, turn int) (at []int) {
	if size(0, 0, 1) == 1 || calls <= some {
		for n := 1; n <= calls; n++ {
			at = append(at, n)
		}
		return at
	}
	for i := range some {
		at = append(at, 1+(i*calls/some+turn*7)%calls)
	}
	return at
}

// TestFaultsAtEachCall ends the program, or fails the disk, at the first, second … call
// by which a core act writes, syncs or names something. What was said to be done is there
// afterwards; what was not is there whole or not at all; all of it verifies, and the
// backup of before stands until the new one is whole.
func TestFaultsAtEachCall(t *testing.T) {
	t.Parallel()
	needs.Program(t, "strace")
	f := newFaultyShop(t)
	tried, cameAbout := 0, [3]int{}
	for i, a := range f.acts[:size(1, len(f.acts), len(f.acts))] {
		base := trial{}
		if !a.new {
			base.look(t, f.data, f.backup)
		}
		clean := f.try(t, itself, a, 0, "")
		if clean.wrong != "" || !clean.acked || clean.hit || !a.new && base.wrong != "" {
			t.Fatalf("%s without a fault: %+v, before %+v", a.name, clean, base)
		}
		hits := 0
		for k, kind := range faultKinds {
			for g := range callGroups {
				if size(1, 0, 0) == 1 && (g+k+i)%3 != 0 || size(0, 1, 0) == 1 && (g+k+i)%3 == 1 {
					continue
				}
				for _, n := range points(clean.calls[g], 1, 3*i+k+1) {
					got := f.try(t, itself, a, g, fmt.Sprintf(kind.inject, n))
					if bad := got.judge(base.lines, clean.lines, a.new); bad != "" {
						t.Errorf("%s, %s at %s %d of %d: %s\n%s", a.name, kind.name, callGroups[g].name, n, clean.calls[g], bad, got.said)
					}
					if tried++; got.hit {
						hits++
						cameAbout[k]++
					}
				}
			}
		}
		if hits == 0 {
			t.Errorf("%s: no fault came about", a.name)
		}
		t.Logf("%s: %v calls; %d faults came about", a.name, clean.calls, hits)
	}
	for k, kind := range faultKinds {
		if cameAbout[k] == 0 && size(0, 1, 1) == 1 {
			t.Errorf("%s never came about", kind.name)
		}
	}
	t.Logf("%d trials; of the kinds %v came about", tried, cameAbout)
}

// A program that writes without a log to undo from is wrong on purpose, and found out.
func TestFaultsFindAWrongBuild(t *testing.T) {
	if size(1, 0, 0) == 1 {
		t.Skip("it is built for this alone: PAWL_SIZE=ci")
	}
	t.Parallel()
	needs.Program(t, "strace")
	f := newFaultyShop(t)
	wrong := program(t, "-X pawl/model/internal/store.journal=OFF")
	register := f.acts[3]
	base := trial{}
	base.look(t, f.data, f.backup)
	clean := f.try(t, wrong, register, 0, "")
	if clean.wrong != "" || !clean.acked {
		t.Fatalf("the wrong build without a fault: %+v", clean)
	}
	for n := 12; n <= clean.calls[0]; n++ { // what comes before is the opening of the file
		got := f.try(t, wrong, register, 0, fmt.Sprintf(faultKinds[0].inject, n))
		if bad := got.judge(base.lines, clean.lines, false); bad != "" {
			t.Logf("killed at write %d of %d: %s", n, clean.calls[0], bad)
			return
		}
	}
	t.Errorf("a build without a log was not found out at any of %d writes", clean.calls[0])
}
