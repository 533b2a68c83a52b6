package counts

import (
	"testing"
	"time"
)

// fastest runs some in turn, and gives the least time that each took: a busy machine
// slows the others.
func fastest(t *testing.T, all ...func()) []time.Duration {
	t.Helper()
	best := make([]time.Duration, len(all))
	for round := range 30 {
		for i, run := range all {
			from := time.Now()
			run()
			if took := time.Since(from); round == 0 || took < best[i] {
				best[i] = took
			}
		}
	}
	return best
}
