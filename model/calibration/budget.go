package calibration

import (
	"math"
)

// coverage is k of every expanded uncertainty that is stated: about 95 %.
const coverage = 2

// assumedPart is what a spread that nobody determined counts as, as a standard
// uncertainty in parts of the limit. Four of them together make a tenth of the
// limit. The project's own allowance, no source: leaving them out would count the
// unknown as nothing.
const assumedPart = 1.0 / 20

// budget gives the contributions at one point and the expanded uncertainty as an
// amount, ISO 6789-2:2017 6; NaN where the standard's own is not known. For tools
// that are not hand torque tools it holds the standard, the resolution, the
// repeatability, and whichever spreads were determined.
func (w work) budget(p *JudgedPoint) (parts []Contribution, expanded float64) {
	mean := math.Abs(p.Delivered)
	add := func(name, symbol string, amount, freedom float64, assumed bool) {
		c := Contribution{Name: name, Symbol: symbol, Amount: amount, Percent: math.NaN(), Freedom: freedom, Assumed: assumed}
		if mean > 0 {
			c.Percent = 100 * amount / mean
		}
		parts = append(parts, c)
	}
	known := math.Inf(1)
	standard, stated := w.standardAt(p.Delivered)
	if !stated {
		return nil, math.NaN()
	}
	add("standard", "W_md/2", FromExpanded(standard, coverage), known, false)
	if r := w.q.resolution(); r > 0 {
		add("resolution", "w_r", ResolutionOf(r), known, false)
	}
	for _, s := range w.spreads() {
		switch {
		case s.spread != "":
			add(s.name, s.symbol, Rectangular(s.spread.Float()/2), known, false)
		case s.asked:
			add(s.name, s.symbol, assumedPart*p.Limit, known, true)
		}
	}
	n := float64(len(p.Readings))
	if _, s, u, freedom := TypeA(values(p.Readings)); n > 1 {
		_ = s
		add("repeatability", "w_re", u, freedom, false)
	} else {
		add("repeatability", "w_re", p.Limit/4, known, true)
	}
	return parts, w.factor(parts) * combined(parts)
}

type spreadPart struct {
	name, symbol string
	spread       Decimal
	asked        bool // the standard asks for it of this tool
}

func (w work) spreads() []spreadPart {
	hand := w.q.Class != NoClass
	b := w.r.Budget
	return []spreadPart{
		{"reproducibility", "w_rep", b.Reproducibility, hand},
		{"output drive", "w_od", b.OutputDrive, hand},
		{"interface", "w_int", b.Interface, hand},
		{"loading point", "w_l", b.LoadingPoint, w.q.Class.wrench()},
	}
}

func combined(parts []Contribution) float64 {
	total := 0.0
	for _, c := range parts {
		total += c.Amount * c.Amount
	}
	return math.Sqrt(total)
}

// fewFreedoms is from how many effective degrees of freedom on k = 2 stands for
// 95.45 % well enough (the practice of EA-4/02, from memory).
const fewFreedoms = 50

// factor is the coverage factor: 2 for hand torque tools (ISO 6789-2:2017 6), and
// elsewhere Student's for 95.45 % where the freedoms are few (JCGM 100:2008 G.4.1).
func (w work) factor(parts []Contribution) float64 {
	if w.q.Class != NoClass {
		return coverage
	}
	var list []Component
	for _, c := range parts {
		list = append(list, Component{c.Amount, 1, c.Freedom})
	}
	if f := EffectiveFreedom(list); f < fewFreedoms && f >= 1 {
		return math.Max(coverage, CoverageFactor(0.9545, f))
	}
	return coverage
}

// standardAt gives the standard's expanded uncertainty at a value, as an amount.
func (w work) standardAt(delivered float64) (u float64, stated bool) {
	switch s := w.r.Standard; {
	case s.Uncertainty != "":
		return s.Uncertainty.Float() / 100 * math.Abs(delivered), true
	case !s.Absolute.IsZero():
		u, err := differenceIn(s.Absolute, w.q.Unit)
		return u, err == nil
	}
	return math.NaN(), false
}

// stated gives what a paper says is the expanded uncertainty of a point, %.
func (w work) stated(p Point) (percent float64, ok bool) {
	for _, d := range []Decimal{p.Uncertainty, w.r.Uncertainty} {
		if d != "" {
			return d.Float(), true
		}
	}
	return math.NaN(), false
}

// scatter gives the spread of a single use: the standard deviation s of the single
// errors (amounts, or percents with the limit as one), made larger by
// t_0.975(n−1)/1.960 where fewer than ten readings estimate it, since a few can look
// alike by chance. With one reading, or a paper that gives only means, a quarter of
// the limit is assumed.
func scatter(errors []float64, limit float64, onlyMeans bool) (s float64, assumed bool) {
	n := len(errors)
	if n < 2 || onlyMeans {
		return limit / 4, true
	}
	_, s, _, _ = TypeA(errors)
	if n < len(fewness) {
		s *= fewness[n]
	}
	return s, false
}

// fewness is t_0.975(n−1)/1.960 for n readings.
var fewness = func() (f [10]float64) {
	for n := 2; n < len(f); n++ {
		f[n] = StudentQuantile(0.975, float64(n-1)) / NormalQuantile(0.975)
	}
	return f
}()

func values(readings []Decimal) []float64 {
	out := make([]float64, len(readings))
	for i, r := range readings {
		out[i] = r.Float()
	}
	return out
}
