package start

import (
	"runtime"
	"runtime/metrics"
	"testing"
)

// percent is how far the heap may grow before it is collected next.
func percent() uint64 {
	s := []metrics.Sample{{Name: "/gc/gogc:percent"}}
	metrics.Read(s)
	return s[0].Value.Uint64()
}

// TestFirstCollectionEndsIt begins with room, which the first collection takes back; what
// it sets going may need a few more to be done.
func TestFirstCollectionEndsIt(t *testing.T) {
	t.Setenv("GOGC", "")
	begin()
	if got := percent(); got != room {
		t.Fatalf("the heap may grow by %d %% at the start, not by %d", got, room)
	}
	for range 1000 {
		if runtime.GC(); percent() == 100 {
			return
		}
	}
	t.Errorf("the heap may still grow by %d %% after a thousand collections", percent())
}

// TestSomebodyDecided leaves alone what the environment says.
func TestSomebodyDecided(t *testing.T) {
	before := percent()
	t.Setenv("GOGC", "73")
	if begin(); percent() != before {
		t.Errorf("the heap may grow by %d %%, although GOGC is set; it was %d", percent(), before)
	}
}
