package calibration_test

import (
	"math"
	"strconv"
	"testing"
)

// The numbers that the second implementation stands on, each by a route that
// needs no table and no library: series, continued fraction, integration and
// bisection.

// oraclePhi is the standard normal distribution function: the power series of
// Abramowitz and Stegun 26.2.11 near the middle, the continued fraction 26.2.14
// in the tails.
func oraclePhi(z float64) float64 {
	switch {
	case math.IsInf(z, 1):
		return 1
	case math.IsInf(z, -1):
		return 0
	case z > 4:
		return 1 - oraclePhi(-z)
	case z < -4:
		fraction := -z
		for n := 200; n >= 1; n-- {
			fraction = -z + float64(n)/fraction
		}
		return oracleDensity(z) / fraction
	}
	term, sum := z, z
	for k := 3.0; math.Abs(term) > 1e-18; k += 2 {
		term *= z * z / k
		sum += term
	}
	return 0.5 + oracleDensity(z)*sum
}

func oracleDensity(z float64) float64 {
	return math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
}

// oracleBisect finds where a rising function reaches want.
func oracleBisect(rising func(float64) float64, want, low, high float64) float64 {
	for range 200 {
		middle := (low + high) / 2
		if rising(middle) < want {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2
}

func oracleNormalQuantile(p float64) float64 {
	return oracleBisect(oraclePhi, p, -40, 40)
}

// oracleSimpson integrates f from a to b over an even number of steps.
func oracleSimpson(f func(float64) float64, a, b float64, steps int) float64 {
	h := (b - a) / float64(steps)
	sum := f(a) + f(b)
	for i := 1; i < steps; i++ {
		weight := 2.0
		if i%2 == 1 {
			weight = 4
		}
		sum += weight * f(a+float64(i)*h)
	}
	return sum * h / 3
}

// oracleStudent is the quantile of Student's t. With x = sqrt(nu) tan(phi) the
// density becomes cos^(nu-1) phi, so that no gamma function is needed.
func oracleStudent(p float64, nu int) float64 {
	density := func(phi float64) float64 { return math.Pow(math.Cos(phi), float64(nu-1)) }
	half := oracleSimpson(density, 0, math.Pi/2, 4000)
	phi := oracleBisect(func(phi float64) float64 {
		return 0.5 + oracleSimpson(density, 0, phi, 400)/half/2
	}, p, 0, math.Pi/2)
	return math.Sqrt(float64(nu)) * math.Tan(phi)
}

// oracleMean and oracleSpread are the mean and the standard deviation of JCGM
// 100:2008 4.2, with n-1.
func oracleMean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

func oracleSpread(x []float64) float64 {
	mean, sum := oracleMean(x), 0.0
	for _, v := range x {
		sum += (v - mean) * (v - mean)
	}
	return math.Sqrt(sum / float64(len(x)-1))
}

func oracleNear(a, b, tolerance float64) bool { return math.Abs(a-b) <= tolerance }

// Values of JCGM 100:2008 table G.2 and of the normal distribution as tables
// print them (NIST/SEMATECH e-Handbook 1.3.6.7.1 and 1.3.6.7.2).
func TestOracleDistributionsMatchPublishedTables(t *testing.T) {
	for _, row := range []struct {
		p    float64
		nu   int
		want float64
	}{
		{0.975, 1, 12.71}, {0.975, 2, 4.30}, {0.975, 3, 3.18}, {0.975, 4, 2.78}, {0.975, 8, 2.31},
		{0.975, 9, 2.26}, {0.975, 100, 1.984}, {0.995, 16, 2.92}, {0.95, 10, 1.81},
	} {
		if got := oracleStudent(row.p, row.nu); !oracleNear(got, row.want, 0.005) {
			t.Errorf("Student %g with %d degrees of freedom = %.5f, want %g", row.p, row.nu, got, row.want)
		}
	}
	for _, row := range [][2]float64{{0, 0.5}, {1, 0.84134}, {1.4, 0.91924}, {1.96, 0.97500}, {-2, 0.02275}, {3, 0.99865}, {-4.5, 3.3977e-6}, {-3.99, 3.3037e-5}} {
		if got := oraclePhi(row[0]); !oracleNear(got, row[1], min(5e-6, row[1]*2e-5)) {
			t.Errorf("Phi(%g) = %.8f, want %g", row[0], got, row[1])
		}
		if got := oraclePhi(row[0]) + oraclePhi(-row[0]); !oracleNear(got, 1, 1e-14) {
			t.Errorf("Phi(%g) and its other side add up to %.16f", row[0], got)
		}
	}
	for _, row := range [][2]float64{{0.8, 0.8416}, {0.95, 1.6449}, {0.975, 1.9600}, {0.999, 3.0902}} {
		if got := oracleNormalQuantile(row[0]); !oracleNear(got, row[1], 5e-5) {
			t.Errorf("normal quantile %g = %.6f, want %g", row[0], got, row[1])
		}
	}
}

// oracleFigure writes a figure for a message.
func oracleFigure(x float64) string { return strconv.FormatFloat(x, 'g', 10, 64) }
