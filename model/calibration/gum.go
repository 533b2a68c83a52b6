package calibration

import (
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Component is one input of an uncertainty budget: its standard uncertainty, how
// strongly the result depends on it, and its degrees of freedom (+Inf where it is
// taken as known). JCGM 100:2008 5.1.
type Component struct {
	Uncertainty float64
	Sensitivity float64
	Freedom     float64
}

// Correlation is the correlation coefficient of two components, by index.
type Correlation struct {
	I, J int
	R    float64
}

// TypeA evaluates repeated readings: mean, experimental standard deviation s,
// standard uncertainty s/√n of the mean, and n − 1 degrees of freedom. With fewer
// than two readings s and u are NaN. JCGM 100:2008 4.2.
func TypeA(readings []float64) (mean, s, u float64, freedom float64) {
	n := float64(len(readings))
	if n == 0 {
		return math.NaN(), math.NaN(), math.NaN(), 0
	}
	if n == 1 {
		return readings[0], math.NaN(), math.NaN(), 0
	}
	mean, s = stat.MeanStdDev(readings, nil)
	return mean, s, s / math.Sqrt(n), n - 1
}

// Rectangular gives the standard uncertainty of a value known to lie within ±a,
// anywhere there with the same chance: a/√3. JCGM 100:2008 4.3.7.
func Rectangular(a float64) float64 { return a / math.Sqrt(3) }

// Triangular gives it where values near the middle are likelier: a/√6. JCGM
// 100:2008 4.3.9.
func Triangular(a float64) float64 { return a / math.Sqrt(6) }

// UShaped gives it where the value swings between the bounds as a sine: a/√2.
// JCGM 100:2008 H.1.3.4 (the cyclic temperature of the comparator's bed).
func UShaped(a float64) float64 { return a / math.Sqrt2 }

// ResolutionOf gives the standard uncertainty from reading in steps of r: r/√12.
// JCGM 100:2008 F.2.2.1.
func ResolutionOf(r float64) float64 { return r / math.Sqrt(12) }

// FromExpanded gives the standard uncertainty behind a certificate's U with its
// coverage factor k: U/k. JCGM 100:2008 4.3.3.
func FromExpanded(u, k float64) float64 { return u / k }

// TypeBFreedom gives the degrees of freedom of an uncertainty that is itself known
// to a relative part, 0.25 for a quarter: 1/(2 r²). JCGM 100:2008 G.4.2.
func TypeBFreedom(relative float64) float64 { return 1 / (2 * relative * relative) }

// CombineUncertainty gives the combined standard uncertainty, JCGM 100:2008 5.1.2 and, with
// correlations, 5.2.2.
func CombineUncertainty(parts []Component, correlated ...Correlation) float64 {
	variance := 0.0
	for _, p := range parts {
		variance += math.Pow(p.Sensitivity*p.Uncertainty, 2)
	}
	for _, c := range correlated {
		a, b := parts[c.I], parts[c.J]
		variance += 2 * a.Sensitivity * b.Sensitivity * a.Uncertainty * b.Uncertainty * c.R
	}
	return math.Sqrt(math.Max(variance, 0))
}

// EffectiveFreedom is the Welch-Satterthwaite formula for uncorrelated components,
// not truncated: JCGM 100:2008 G.4.1 (G.2b). +Inf where every one is known.
func EffectiveFreedom(parts []Component) float64 {
	below := 0.0
	for _, p := range parts {
		if !math.IsInf(p.Freedom, 1) {
			below += math.Pow(p.Sensitivity*p.Uncertainty, 4) / p.Freedom
		}
	}
	if below == 0 {
		return math.Inf(1)
	}
	return math.Pow(CombineUncertainty(parts), 4) / below
}

// CoverageFactor gives t_p(ν) for a probability such as 0.95, with ν cut down to
// the next lower integer: JCGM 100:2008 G.3.2 and G.4.1. Below one degree of
// freedom there is none: NaN.
func CoverageFactor(probability, freedom float64) float64 {
	if math.IsInf(freedom, 1) || freedom > 1e6 {
		return NormalQuantile((1 + probability) / 2)
	}
	if freedom = math.Floor(freedom); !(freedom >= 1) {
		return math.NaN()
	}
	return StudentQuantile((1+probability)/2, freedom)
}

// StudentQuantile gives the value below which Student's t with ν > 0 degrees of
// freedom lies with probability p.
func StudentQuantile(p, freedom float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: freedom}.Quantile(p)
}

// NormalQuantile gives the value below which a standard normal lies with
// probability p.
func NormalQuantile(p float64) float64 { return distuv.UnitNormal.Quantile(p) }

// NormalCDF gives the probability that a standard normal lies below z.
func NormalCDF(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }
