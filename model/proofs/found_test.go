package proofs

import "testing"

// What is wrong throughout is told two hundred times, the first of them first.
func TestProblemsAreTold(t *testing.T) {
	var p Proven
	for n := range mostProblems + 5 {
		p.Problem("line %d", n)
	}
	if len(p.Problems) != mostProblems || p.Problems[0] != "line 0" || p.Problems[mostProblems-1] != "line 199" {
		t.Errorf("%d problems, the first %q", len(p.Problems), p.Problems[0])
	}
}
