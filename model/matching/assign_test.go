package matching

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The assignment against every way there is.
func TestAssign(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 7))
	for range 400 {
		answers := make([]Answer, 1+r.IntN(5))
		for i := range answers {
			left := 1.0
			for _, h := range r.Perm(5)[:r.IntN(5)] {
				p := left * r.Float64()
				left -= p
				answers[i].Candidates = append(answers[i].Candidates, Candidate{Handle: uint64(h), Posterior: p})
			}
			answers[i].None = left
		}
		best := math.Inf(1)
		var try func(i int, cost float64, taken map[uint64]bool)
		try = func(i int, cost float64, taken map[uint64]bool) {
			if i == len(answers) {
				best = min(best, cost)
				return
			}
			try(i+1, cost+surprise(answers[i].None), taken)
			for _, c := range answers[i].Candidates {
				if !taken[c.Handle] {
					taken[c.Handle] = true
					try(i+1, cost+surprise(c.Posterior), taken)
					taken[c.Handle] = false
				}
			}
		}
		try(0, 0, map[uint64]bool{})
		got, taken := 0.0, map[uint64]bool{}
		for i, which := range Assign(answers) {
			if which < 0 {
				got += surprise(answers[i].None)
				continue
			}
			c := answers[i].Candidates[which]
			if taken[c.Handle] {
				t.Fatalf("tool %d is taken twice: %+v", c.Handle, answers)
			}
			taken[c.Handle] = true
			got += surprise(c.Posterior)
		}
		if math.Abs(got-best) > 1e-9 {
			t.Fatalf("assigned at %g, the best is %g: %+v", got, best, answers)
		}
	}
}
