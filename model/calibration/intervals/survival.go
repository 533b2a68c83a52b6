package intervals

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Ended is one unit under observation: until Time, when it failed or was seen no
// longer.
type Ended struct {
	Time   float64
	Failed bool
}

// Survived is one step of a Kaplan-Meier estimate: the share that outlives Time, with
// Greenwood's standard error.
type Survived struct{ Time, Share, Error float64 }

// KaplanMeier is the product-limit estimate of the share that survives, a step at each
// time of a failure: Π(1 − d/n), n still observed just before it (those last seen at
// that very time among them), d failed. E. L. Kaplan and P. Meier, J. Amer. Statist.
// Assoc. 53 (1958) 457. The standard error is Greenwood's, S·√Σ d/(n(n−d)); NaN once
// nobody is left.
func KaplanMeier(units []Ended) (out []Survived) {
	byTime := slices.SortedFunc(slices.Values(units), func(a, b Ended) int {
		switch {
		case a.Time < b.Time:
			return -1
		case a.Time > b.Time:
			return 1
		}
		return 0
	})
	share, sum := 1.0, 0.0
	for i := 0; i < len(byTime); {
		n, d, t := float64(len(byTime)-i), 0.0, byTime[i].Time
		for ; i < len(byTime) && byTime[i].Time == t; i++ {
			if byTime[i].Failed {
				d++
			}
		}
		if d == 0 {
			continue
		}
		share *= 1 - d/n
		sum += d / (n * (n - d))
		out = append(out, Survived{t, share, share * math.Sqrt(sum)})
	}
	return out
}

// MeanLife bounds the mean time between failures after a total time on test that ended
// by the clock, with r failures and a two-sided confidence: 2T/χ² at 2(r+1) and 2r
// degrees of freedom. NIST/SEMATECH e-Handbook 8.4.5.1. Without a failure there is no
// upper bound: +Inf.
func MeanLife(total float64, r int, confidence float64) (low, high float64) {
	tail := (1 - confidence) / 2
	low, high = 2*total/chiSquare(1-tail, 2*(r+1)), math.Inf(1)
	if r > 0 {
		high = 2 * total / chiSquare(tail, 2*r)
	}
	return low, high
}

// NoFailureMean is the lower bound of the mean time to failure, one-sided, that a total
// time without any failure shows: T/(−ln(1 − confidence)). NIST/SEMATECH e-Handbook
// 8.4.5.1.
func NoFailureMean(total, confidence float64) float64 { return total / -math.Log(1-confidence) }

// chiSquare is the value below which chi-square with f degrees of freedom lies with
// probability p.
func chiSquare(p float64, f int) float64 { return distuv.ChiSquared{K: float64(f)}.Quantile(p) }
