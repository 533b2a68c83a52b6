package labels

import (
	"fmt"
	"io"
	"os"
	"runtime"
	"runtime/debug"
	"sync/atomic"
	"testing"
	"time"

	"pawl/model/claims"
)

// someViews are ten views as a shop makes them, 1600 pixels long, given in turn.
func someViews(b testing.TB) Photo {
	b.Helper()
	var views [][]byte
	maker := plates{w: 1600, h: 1200, noisy: true}
	for i := range 10 {
		view, err := maker.photo(claims.File{Ref: fmt.Sprint("view", i)})
		if err != nil {
			b.Fatal(err)
		}
		views = append(views, view)
	}
	n := 0
	return func(claims.File) ([]byte, error) {
		n++
		return views[n%len(views)], nil
	}
}

type nowhere struct{ io.Writer }

func (nowhere) Close() error { return nil }

// TestClaimSpeed: the document of 200 tools with three photos each takes at most twice as
// long as bringing the same photos to the size of print alone, and 200 MB of memory, at
// full size; a tenth of it otherwise.
func TestClaimSpeed(t *testing.T) {
	tools := 21 // more than have large photos
	if os.Getenv("PAWL_SIZE") == "full" {
		tools = 200
	}
	s := ofLines("letter", tools)
	photo := someViews(t)
	grid := newPhotoGrid(papers["letter"][0]-2*paperMargin, 3)
	alone := func() time.Duration {
		start := time.Now()
		for _, l := range s.Lines {
			for _, f := range l.Files {
				if _, err := toPrint(f, photo, grid.frame, finenesses[0]); err != nil {
					t.Fatal(err)
				}
			}
		}
		return time.Since(start)
	}
	var whole time.Duration
	parts := 0
	peak := peakOf(func() {
		start := time.Now()
		err := Claim(s, photo, 10_000_000, func(int, int, string) (io.WriteCloser, error) {
			parts++
			return nowhere{io.Discard}, nil
		})
		whole = time.Since(start)
		if err != nil {
			t.Fatal(err)
		}
	})
	photos := alone()
	ratio := float64(whole) / float64(photos)
	t.Logf("%d tools, %d photos in %d parts: %.2f of the photos alone, %d MB", tools, 3*tools, parts, ratio, peak>>20)
	if ratio > 2*2 { // twice, and twice that for other work on the machine
		t.Errorf("the document takes %.1f times as long as its photos", ratio)
	}
	if peak > 200<<20 {
		t.Errorf("%d MB of memory", peak>>20)
	}
}

// peakOf is the most memory that was held of the system's at a time while something ran,
// beyond what was held before.
func peakOf(run func()) uint64 {
	debug.FreeOSMemory()
	held := func() uint64 {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.Sys - m.HeapReleased
	}
	before := held()
	var peak atomic.Uint64
	stop, stopped := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(stopped)
		for {
			peak.Store(max(peak.Load(), held()))
			select {
			case <-stop:
				return
			case <-time.After(20 * time.Millisecond):
			}
		}
	}()
	run()
	close(stop)
	<-stopped
	return max(peak.Load(), before) - before
}
