package calibration

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// ConformanceProbability is the chance that a value estimated as y with standard
// uncertainty u lies within low to high (either may be infinite), both taken as
// normal: JCGM 106:2012 7.2 to 7.4. Without uncertainty it is 1 or 0.
func ConformanceProbability(y, u, low, high float64) float64 {
	if u == 0 {
		if y >= low && y <= high {
			return 1
		}
		return 0
	}
	above, below := NormalCDF((high-y)/u), NormalCDF((low-y)/u)
	if low > y { // both far in the upper tail: take the difference there, where it is not lost to rounding
		above, below = NormalCDF((y-low)/u), NormalCDF((y-high)/u)
	}
	return math.Max(0, above-below)
}

// SpecificRisk is the chance that a tool found exactly at an acceptance limit,
// which stands guard (as a multiple of U, k = 2) inside the tolerance limit, is
// outside it: ILAC-G8:09/2019 table 1.
func SpecificRisk(guard float64) float64 { return NormalCDF(-2 * guard) }

// decide gives the decision for a mean deviation y with expanded uncertainty w
// (NaN where nobody states it) under a limit ±t: ILAC-G8:09/2019 4.2. Without an
// uncertainty only the simple rule can be kept; the others then say conditional.
func decide(rule Rule, y, w, t float64) Decision {
	y = math.Abs(y)
	inside := atMost(y, t)
	switch {
	case rule == SimpleRule && inside:
		return Pass
	case rule == SimpleRule:
		return Fail
	case math.IsNaN(w) && inside:
		return ConditionalPass
	case math.IsNaN(w):
		return ConditionalFail
	case atMost(y+w, t):
		return Pass
	case rule == GuardedRule:
		return Fail
	case inside:
		return ConditionalPass
	case atMost(y, t+w):
		return ConditionalFail
	}
	return Fail
}

// GlobalRisk gives the chances that an item is accepted and bad (consumer's) or
// good and rejected (producer's): items spread normally about the middle with
// sigma, tolerance ±t, acceptance ±a, measured with standard uncertainty u. JCGM
// 106:2012 9.5.
func GlobalRisk(sigma, u, t, a float64) (consumer, producer float64) {
	return consumerRisk(sigma, u, t, a), producerRisk(sigma, u, t, a)
}

func consumerRisk(sigma, u, t, a float64) float64 {
	outer := math.Min(t+9*sigma, math.Max(t, a)+9*u)
	return 2 * panels(func(x float64) float64 {
		return density(x, sigma) * ConformanceProbability(x, u, -a, a)
	}, t, outer, math.Min(sigma, u))
}

func producerRisk(sigma, u, t, a float64) float64 {
	return 2 * panels(func(x float64) float64 {
		return density(x, sigma) * (1 - ConformanceProbability(x, u, -a, a))
	}, math.Max(0, math.Min(t, a)-9*u), t, math.Min(sigma, u))
}

// density is that of a normal distribution about zero.
func density(x, sigma float64) float64 {
	return math.Exp(-x*x/(2*sigma*sigma)) / (sigma * math.Sqrt(2*math.Pi))
}

// panels integrates in stretches that are short beside the width of what changes.
func panels(f func(float64) float64, from, to, width float64) float64 {
	if !(to > from) {
		return 0
	}
	const most, nodes = 200, 12
	n := int(math.Min(math.Ceil((to-from)/width), most))
	step, total := (to-from)/float64(n), 0.0
	for i := range n {
		start := from + float64(i)*step
		total += quad.Fixed(f, start, start+step, nodes, quad.Legendre{}, 0)
	}
	return total
}

// FalseDecisions gives PFA and PFR in % for a tolerance of ±1 accepted up to the
// limit itself: tools of which the share itp is truly in tolerance, spread normally
// about zero, and a test uncertainty ratio that is limit over expanded uncertainty
// (k = 2). ANSI/NCSL Z540.3-2006 5.3 b as worked by Castrup, "Risk Analysis Methods
// for Complying with Z540.3".
func FalseDecisions(itp, tur float64) (pfa, pfr float64) {
	sigma := 1 / NormalQuantile((1+itp)/2)
	consumer, producer := GlobalRisk(sigma, 1/(2*tur), 1, 1)
	return 100 * consumer, 100 * producer
}

// ObservedFalseDecisions is the same where the share that was *found* in tolerance
// is known: the spread found holds the measurement's own, σ_found² = σ² + u². NaN
// where the spread found is no wider than the measurement's.
func ObservedFalseDecisions(found, tur float64) (pfa, pfr float64) {
	u := 1 / (2 * tur)
	spread := 1 / NormalQuantile((1+found)/2)
	variance := spread*spread - u*u
	if !(variance > 0) {
		return math.NaN(), math.NaN()
	}
	consumer, producer := GlobalRisk(math.Sqrt(variance), u, 1, 1)
	return 100 * consumer, 100 * producer
}

// WorstFalseAccept gives the largest PFA in % over every share of tools in
// tolerance, at a test uncertainty ratio.
func WorstFalseAccept(tur float64) float64 {
	pfa := func(logSigma float64) float64 {
		return 100 * consumerRisk(math.Exp(logSigma), 1/(2*tur), 1, 1)
	}
	const steps = 48
	low, high := math.Log(0.05), math.Log(50.0)
	best, at := 0.0, low
	for i := range steps + 1 {
		x := low + (high-low)*float64(i)/steps
		if p := pfa(x); p > best {
			best, at = p, x
		}
	}
	return math.Max(best, golden(pfa, at-(high-low)/steps, at+(high-low)/steps))
}

// golden gives the largest value of a function that rises and then falls, by
// golden section.
func golden(f func(float64) float64, a, b float64) float64 {
	ratio := (math.Sqrt(5) - 1) / 2
	c, d := b-ratio*(b-a), a+ratio*(b-a)
	fc, fd := f(c), f(d)
	for b-a > 1e-6 {
		if fc > fd {
			b, d, fd = d, c, fc
			c = b - ratio*(b-a)
			fc = f(c)
		} else {
			a, c, fc = c, d, fd
			d = a + ratio*(b-a)
			fd = f(d)
		}
	}
	return math.Max(fc, fd)
}

// Method6 gives the multiple M of U (k = 2) by which an acceptance limit stands
// inside the tolerance so that no share of tools in tolerance makes PFA exceed 2 %:
// 1.04 − exp(0.38 ln TUR − 0.54), none from where it would be negative (handbook of
// ANSI/NCSL Z540.3, from memory).
func Method6(tur float64) float64 {
	return math.Max(0, 1.04-math.Exp(0.38*math.Log(tur)-0.54))
}

const (
	worstCase = "worst case"
	// enoughLike is how many calibrations of like tools make an observed reliability
	// worth using: with fewer, no failure at all does not show 90 % with 95 %
	// confidence (0.9^29 < 0.05).
	enoughLike = 29
)

// Risk gives the chances of a false decision for the tool as it was left: in the
// worst case, unless enough like tools were calibrated to say how many are found in
// tolerance. NaN where no point has a test uncertainty ratio.
func (j Judgement) Risk() Risk {
	if math.IsNaN(j.TUR) {
		return Risk{math.NaN(), math.NaN(), worstCase}
	}
	if r, ok := j.like.risk(j.TUR); ok {
		return r
	}
	return Risk{WorstFalseAccept(j.TUR), math.NaN(), worstCase}
}

func (l Like) risk(tur float64) (Risk, bool) {
	if l.Calibrations < enoughLike || l.InTolerance <= 0 || l.InTolerance > l.Calibrations {
		return Risk{}, false
	}
	n := float64(l.Calibrations)
	found := float64(l.InTolerance) / n
	variant := fmt.Sprintf("observed reliability: %d of %d like calibrations in tolerance", l.InTolerance, l.Calibrations)
	if l.InTolerance == l.Calibrations {
		// Nobody failed: the lower 95 % bound stands in for a share of 1, which no
		// number of passes shows.
		found = math.Pow(0.05, 1/n)
		variant += fmt.Sprintf(", counted as %.1f %%", 100*found)
	}
	pfa, pfr := ObservedFalseDecisions(found, tur)
	return Risk{pfa, pfr, variant}, !math.IsNaN(pfa)
}
