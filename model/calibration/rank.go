package calibration

import (
	"cmp"
	"math"
	"runtime"
	"slices"
	"sync"

	"pawl/model/fault"
	"pawl/model/units"
)

// Ranked is one tool's answer in a list. Index is its place among those handed in.
type Ranked struct {
	Index  int
	Number string
	Answer Answer
}

// Rank answers one question for many tools, best first: by the answer, then those
// that can be had, then by probability, then by the smaller uncertainty, then by
// number. Left out are tools that are gone or that the question is not for: those of
// another quantity, for a torque those that only measure it, those on which the
// adapter cannot be, kinds that are never answered for, and tools of which nothing
// is recorded. A question that cannot be is fault.Invalid.
func Rank(tools []Prepared, q Question) ([]Ranked, error) {
	if err := q.Check(); err != nil {
		return nil, err
	}
	asked := make([]int, 0, len(tools))
	dimension := q.Target.Unit.Dimension()
	for i, p := range tools {
		r := p.facts.Requirement
		if r == nil || r.Unit.Dimension() != dimension || dimension == units.Torque && r.measures() || p.refused != nil || p.facts.Gone != "" {
			continue
		}
		asked = append(asked, i)
	}
	answers, failed := make([]Answer, len(asked)), make([]error, len(asked))
	Shares(len(asked), func(from, to int) {
		conv := conversions{}
		for n := from; n < to; n++ {
			answers[n], failed[n] = tools[asked[n]].ready(q, conv)
		}
	})
	out := make([]Ranked, 0, len(asked))
	for n, i := range asked {
		switch err := failed[n]; {
		case fault.Is(err, fault.Invalid):
		case err != nil:
			return nil, err
		default:
			out = append(out, Ranked{Index: i, Number: tools[i].facts.Number, Answer: answers[n]})
		}
	}
	slices.SortStableFunc(out, better)
	return out, nil
}

// Shares cuts n into stretches, one for each processor, and waits until all of them
// are done.
func Shares(n int, do func(from, to int)) {
	share := max(1, (n+runtime.GOMAXPROCS(0)-1)/runtime.GOMAXPROCS(0))
	var work sync.WaitGroup
	for from := 0; from < n; from += share {
		work.Go(func() { do(from, min(from+share, n)) })
	}
	work.Wait()
}

var readinessOrder = map[Readiness]int{Yes: 0, CannotConfirm: 1, No: 2}

func better(x, y Ranked) int {
	a, b := x.Answer, y.Answer
	return cmp.Or(
		cmp.Compare(readinessOrder[a.Verdict], readinessOrder[b.Verdict]),
		-compareBool(a.Available, b.Available),
		-cmp.Compare(known(a.Inside, -1), known(b.Inside, -1)),
		cmp.Compare(known(a.UncertaintyPercent, math.Inf(1)), known(b.UncertaintyPercent, math.Inf(1))),
		cmp.Compare(x.Number, y.Number),
	)
}

func compareBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}

// known is f, or instead where f is not known.
func known(f, instead float64) float64 {
	if math.IsNaN(f) {
		return instead
	}
	return f
}
