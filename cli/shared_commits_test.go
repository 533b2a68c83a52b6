package cli_test

import (
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"
)

// slowDisk gives the words before a command that make every sync of SQLite 50 ms longer.
func slowDisk(t *testing.T) []string {
	t.Helper()
	library := filepath.Join(t.TempDir(), "slowsync.so")
	cc, err := exec.LookPath("cc")
	if err != nil {
		t.Fatal(err) // the build needs one as well
	}
	if said, err := exec.Command(cc, "-shared", "-fPIC", "-o", library, "../testdata/slowsync/slowsync.c", "-ldl").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, said)
	}
	return []string{"env", "LD_PRELOAD=" + library, "SLOWSYNC_MS=50"}
}

// crowd is how long 64 callers take to do so many acts each, over HTTP, at a server of
// that build on a slow disk.
func crowd(t *testing.T, pawl, data, token string, workers []*worker, acts int) time.Duration {
	t.Helper()
	s := serve(t, data, append(slowDisk(t), pawl)...)
	defer s.stop(t)
	var all sync.WaitGroup
	start := time.Now()
	for _, w := range workers {
		c := connect(s.url, token)
		all.Go(func() {
			for range acts {
				if err := w.step(t.Context(), c); err != nil {
					t.Error(err)
					return
				}
			}
		})
	}
	all.Wait()
	return time.Since(start)
}

// TestCommitsAreShared has 64 callers act at once at a server that shares its commits
// among those who wait, and at one in which every request has its own, on a disk so slow
// that little else counts, however busy the machine is. The first is to be 10 times as
// fast, with a slack of 2. What it brings on a disk that is 5 ms slower the bench measures.
func TestCommitsAreShared(t *testing.T) {
	pawl, acts := itself, size(2, 8, 40)
	data, token, numbers := shopFolder(t, pawl, 64)
	workers := make([]*worker, len(numbers))
	for i, n := range numbers {
		workers[i] = &worker{tool: n}
	}
	own := crowd(t, program(t, "-X pawl/model/internal/store.shared=1"), data, token, workers, acts)
	shared := min(crowd(t, pawl, data, token, workers, acts), crowd(t, pawl, data, token, workers, acts))
	ratio := own.Seconds() / shared.Seconds()
	t.Logf("%d acts by 64 callers: %s with a commit each, %s with shared ones; %.1f times as fast", 64*acts, own, shared, ratio)
	if ratio < 5 {
		t.Errorf("shared commits are %.1f times as fast as one for each request; want 10, and at least 5", ratio)
	}
	for _, w := range workers[:2] {
		checkHistory(t, data, pawl, token, w)
	}
	run(t, nil, pawl, "--data", data, "verify")
}
