package intervals

import (
	"math"

	"pawl/model/calibration"
	"pawl/model/fault"
)

// Line is a straight line fitted by least squares, y = Intercept + Slope·x, with what
// its uncertainty needs. NIST/SEMATECH e-Handbook of Statistical Methods 4.1.4.1, 4.5.1.
type Line struct {
	N                    int
	Slope, Intercept     float64
	SESlope, SEIntercept float64 // standard errors
	S                    float64 // residual standard deviation, N − 2 degrees of freedom
	R2                   float64 // coefficient of determination; NaN where all y are alike
	SSE                  float64 // residual sum of squares
	meanX, sxx           float64
}

// FitLine fits a line to at least three points that are not all at one x; both are
// centered first, so that large offsets cost no digits.
func FitLine(x, y []float64) (l Line, err error) {
	n := len(x)
	if n < 3 || n != len(y) {
		return l, fault.New(fault.Invalid, "%d points make no line with an uncertainty", n).WithHint("three are the least")
	}
	meanY, sxy, syy := 0.0, 0.0, 0.0
	for i := range x {
		l.meanX += x[i] / float64(n)
		meanY += y[i] / float64(n)
	}
	for i := range x {
		dx, dy := x[i]-l.meanX, y[i]-meanY
		l.sxx, sxy, syy = l.sxx+dx*dx, sxy+dx*dy, syy+dy*dy
	}
	if !(l.sxx > 0) {
		return l, fault.New(fault.Invalid, "all points are at one time").WithHint("a line needs different ones")
	}
	l.N, l.Slope = n, sxy/l.sxx
	l.Intercept = meanY - l.Slope*l.meanX
	for i := range x {
		r := y[i] - meanY - l.Slope*(x[i]-l.meanX)
		l.SSE += r * r
	}
	l.S = math.Sqrt(l.SSE / float64(n-2))
	l.SESlope = l.S / math.Sqrt(l.sxx)
	l.SEIntercept = l.S * math.Sqrt(1/float64(n)+l.meanX*l.meanX/l.sxx)
	l.R2 = 1 - l.SSE/syy
	return l, nil
}

// At is the line at x.
func (l Line) At(x float64) float64 { return l.Intercept + l.Slope*x }

// Margin is how far above the line (and below it) one further value at x lies at most,
// one-sided with probability p: t_p(n−2)·s·√(1 + 1/n + (x−x̄)²/Sxx).
func (l Line) Margin(x, p float64) float64 {
	return calibration.StudentQuantile(p, float64(l.N-2)) * l.S * math.Sqrt(1+1/float64(l.N)+(x-l.meanX)*(x-l.meanX)/l.sxx)
}

// MeanMargin is the same for the line itself: without the leading 1.
func (l Line) MeanMargin(x, p float64) float64 {
	return calibration.StudentQuantile(p, float64(l.N-2)) * l.S * math.Sqrt(1/float64(l.N)+(x-l.meanX)*(x-l.meanX)/l.sxx)
}

// Meets is the first x from one value to another at which the line, moved by offset
// and widened by its one-sided prediction margin with probability p (0.5: the line
// itself), meets +limit or −limit. ok is false where it does not up to there.
func (l Line) Meets(limit, offset, p, from, to float64) (x float64, ok bool) {
	x = math.Inf(1)
	for _, side := range []float64{1, -1} {
		over := func(at float64) bool { return side*(l.At(at)+offset)+l.Margin(at, p) >= limit }
		if met, is := first(over, from, to); is {
			x, ok = math.Min(x, met), true
		}
	}
	return x, ok
}

// first finds where a bound that is convex, and so crosses a limit upward at most once
// from a place where it is below, is over it.
func first(over func(float64) bool, from, to float64) (float64, bool) {
	switch {
	case over(from):
		return from, true
	case !over(to):
		return 0, false
	}
	for range 200 {
		if middle := (from + to) / 2; over(middle) {
			to = middle
		} else {
			from = middle
		}
	}
	return to, true
}
