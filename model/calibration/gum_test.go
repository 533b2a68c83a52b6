package calibration

import (
	"math"
	"strings"
	"testing"
)

// JCGM 100:2008 4.3: a/√3, a/√6, a/√2 and r/√12.
func TestTypeBDistributions(t *testing.T) {
	equal(t, "rectangular", Rectangular(1), 0.577350, 1e-6)
	equal(t, "triangular", Triangular(1), 0.408248, 1e-6)
	equal(t, "U-shaped", UShaped(1), 0.707107, 1e-6)
	equal(t, "resolution", ResolutionOf(1), 0.288675, 1e-6)
	equal(t, "expanded", FromExpanded(0.010, 2), 0.005, 1e-12)
}

// JCGM 100:2008 table G.2.
func TestStudentTable(t *testing.T) {
	levels := []float64{0.6827, 0.90, 0.95, 0.9545, 0.99, 0.9973}
	for _, row := range table(t, "student.txt") {
		freedom := number(t, row[0])
		for i, p := range levels {
			_, decimals, _ := strings.Cut(row[i+1], ".")
			tolerance := 0.501 * math.Pow(10, -float64(len(decimals))) // as printed
			equal(t, row[0]+" freedoms", CoverageFactor(p, freedom), number(t, row[i+1]), tolerance)
		}
	}
	// Four decimals from the tables of the t distribution.
	equal(t, "t_95(4)", CoverageFactor(0.95, 4), 2.7764, 1e-4)
	equal(t, "t_95.45(10)", CoverageFactor(0.9545, 10), 2.2837, 1e-4)
	equal(t, "t_99(16)", CoverageFactor(0.99, 16.9), 2.9208, 1e-4)
	if !math.IsNaN(CoverageFactor(0.95, 0.9)) {
		t.Error("less than one degree of freedom has a factor")
	}
}

// One-sided points of the normal distribution, as tables print them.
func TestNormalTable(t *testing.T) {
	for p, z := range map[float64]float64{0.80: 0.8416, 0.90: 1.2816, 0.95: 1.6449, 0.975: 1.9600, 0.99: 2.3263, 0.999: 3.0902} {
		equal(t, "z", NormalQuantile(p), z, 5.1e-5)
		equal(t, "Φ", NormalCDF(z), p, 1e-5)
	}
	equal(t, "Φ(−6)", NormalCDF(-6)/9.86587645e-10, 1, 1e-8)
}

// JCGM 100:2008 H.1, an end gauge of nominally 50 mm: 50.000838 mm, u_c 32 nm, ν_eff
// 16, U_99 93 nm. The correction's parts are H.1.3.2: 5.8, 3.9 and 6.7 nm with 24, 5
// and 8 degrees of freedom.
func TestEndGauge(t *testing.T) {
	const nominal, correction = 50.000623e6, 215.0 // nm
	const expansion, offset = 11.5e-6, -0.1        // 1/K, K
	const unlike, apart = 0.0, 0.0                 // differences of expansion and of temperature, both taken as none
	length := nominal + correction - nominal*(unlike*offset+expansion*apart)
	equal(t, "length in mm", length/1e6, 50.000838, 5e-7)

	difference := []Component{{5.8, 1, 24}, {3.9, 1, 5}, {6.7, 1, 8}}
	equal(t, "u(d)", CombineUncertainty(difference), 9.7, 0.05)
	equal(t, "ν(d)", EffectiveFreedom(difference), 25.6, 0.2)

	parts := []Component{
		{25, 1, 18},
		{9.7, 1, 25.6},
		{2.9, 1, 50}, // as published; 1e-6/√3 × 0.1 K × 50 mm is 2.887
		{0.029, nominal * expansion, 2},
	}
	equal(t, "u_c", CombineUncertainty(parts), 31.7106, 1e-3)
	equal(t, "ν_eff", EffectiveFreedom(parts), 16.656, 1e-2)
	equal(t, "k_99", CoverageFactor(0.99, EffectiveFreedom(parts)), 2.92, 5e-3)
	equal(t, "U_99", CoverageFactor(0.99, EffectiveFreedom(parts))*math.Round(CombineUncertainty(parts)), 93, 1)
	equal(t, "k_95", CoverageFactor(0.95, EffectiveFreedom(parts)), 2.12, 5e-3)
}

// A tire gauge at 2.20 bar, with the formulas of JCGM 100:2008 4.2, 4.3 and G.4.1,
// worked by two programs.
func TestTireGaugeBudget(t *testing.T) {
	mean, s, u, freedom := TypeA([]float64{2.19, 2.20, 2.20, 2.21, 2.20})
	equal(t, "mean", mean, 2.2, 1e-12)
	equal(t, "s", s, 0.0070711, 1e-7)
	parts := []Component{
		{u, 1, freedom}, {ResolutionOf(0.01), 1, math.Inf(1)}, {FromExpanded(0.010, 2), 1, math.Inf(1)}, {Rectangular(0.005), 1, math.Inf(1)},
	}
	equal(t, "u_c", CombineUncertainty(parts), 0.0071880, 1e-7)
	equal(t, "ν_eff", EffectiveFreedom(parts), 106.78, 0.01)
	equal(t, "U", 2*CombineUncertainty(parts), 0.0143759, 1e-6)
}

// JCGM 100:2008 5.2.2, note 1: fully correlated inputs add as they are; H.2's
// remark that leaving a correlation out changes the result is the same formula.
func TestCorrelatedUncertainty(t *testing.T) {
	parts := []Component{{3, 1, math.Inf(1)}, {4, 1, math.Inf(1)}}
	equal(t, "uncorrelated", CombineUncertainty(parts), 5, 1e-12)
	equal(t, "r = 1", CombineUncertainty(parts, Correlation{0, 1, 1}), 7, 1e-12)
	equal(t, "r = −1", CombineUncertainty(parts, Correlation{0, 1, -1}), 1, 1e-12)
	equal(t, "r = 0.5", CombineUncertainty(parts, Correlation{0, 1, 0.5}), math.Sqrt(37), 1e-12)
	if !math.IsInf(EffectiveFreedom(parts), 1) {
		t.Error("known parts have finite freedom")
	}
	equal(t, "a quarter", TypeBFreedom(0.25), 8, 1e-12) // JCGM 100:2008 G.4.2, example
}

func TestFewReadings(t *testing.T) {
	if mean, _, _, _ := TypeA(nil); !math.IsNaN(mean) {
		t.Errorf("the mean of nothing is %g", mean)
	}
	if mean, s, u, freedom := TypeA([]float64{3}); mean != 3 || !math.IsNaN(s) || !math.IsNaN(u) || freedom != 0 {
		t.Errorf("one reading gives %g %g %g %g", mean, s, u, freedom)
	}
}
