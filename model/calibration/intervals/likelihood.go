package intervals

import (
	"math"

	"pawl/model/calibration"
)

// enoughFailures is how many failures a likelihood needs to be worth showing: a rule
// of this project.
const enoughFailures = 3

// oneSided95 is the normal quantile for a one-sided bound of 95 %.
var oneSided95 = calibration.NormalQuantile(0.95)

// likelihoodRatio95 is the value that twice the gain in ln L must pass for the second
// parameter to be worth having: chi-square, 1 degree of freedom, 95 %.
const likelihoodRatio95 = 3.841458820694124

// Exponential is R(t) = exp(−λt), fitted by maximum likelihood.
type Exponential struct {
	Rate  float64 // λ, per month
	Error float64 // its standard error, from the observed information
	LnL   float64
}

// Weibull is R(t) = exp(−(t/η)^β), fitted by maximum likelihood.
type Weibull struct {
	Shape, Scale      float64 // β; η in months
	SELnShape         float64 // standard error of ln β
	SELnScale         float64 // standard error of ln η
	covLnScaleLnShape float64
	LnL               float64
}

// failures counts those that ended out of tolerance.
func failures(all []Observation) (n int) {
	for _, o := range all {
		if o.Failed() {
			n++
		}
	}
	return n
}

// FitExponential maximizes Σ ln(S(After) − S(By)) over λ. The function is concave, so
// its one maximum is where the score is zero, found by Newton's steps kept inside a
// bracket. ok is false where there is no finite one: no failure, or nothing but
// failures within the first time.
func FitExponential(all []Observation) (e Exponential, ok bool) {
	exposure, widest := 0.0, 0.0
	for _, o := range all {
		exposure += o.After
		if o.Failed() {
			widest = math.Max(widest, o.By)
		}
	}
	if widest == 0 || !(exposure > 0) {
		return e, false
	}
	low, high := 0.0, 1/widest
	for score, _ := slope(all, high); score > 0; score, _ = slope(all, high) {
		low, high = high, 2*high
	}
	e.Rate = (low + high) / 2
	for range 200 {
		score, information := slope(all, e.Rate)
		if score > 0 {
			low = e.Rate
		} else {
			high = e.Rate
		}
		next := e.Rate + score/information
		if !(next > low && next < high) {
			next = (low + high) / 2
		}
		if math.Abs(next-e.Rate) <= 1e-15*e.Rate {
			break
		}
		e.Rate = next
	}
	_, information := slope(all, e.Rate)
	e.Error, e.LnL = 1/math.Sqrt(information), lnL(all, e.Rate)
	return e, true
}

// slope is the score Σ[−a + d·e^(−λd)/(1−e^(−λd))] and the observed information
// Σ d²·e^(−λd)/(1−e^(−λd))², a the age last found good and d what went by until the
// failure was found.
func slope(all []Observation, rate float64) (score, information float64) {
	for _, o := range all {
		score -= o.After
		if o.Failed() {
			d := o.By - o.After
			gone := -math.Expm1(-rate * d)
			score += d * math.Exp(-rate*d) / gone
			information += d * d * math.Exp(-rate*d) / (gone * gone)
		}
	}
	return score, information
}

func lnL(all []Observation, rate float64) (sum float64) {
	for _, o := range all {
		sum -= rate * o.After
		if o.Failed() {
			sum += math.Log(-math.Expm1(-rate * (o.By - o.After)))
		}
	}
	return sum
}

// Until is the time in months at which the share in tolerance falls to R, and the
// conservative one, with λ + 1.645 standard errors in place of λ.
func (e Exponential) Until(reliability float64) (nominal, conservative float64) {
	exponent := -math.Log(reliability)
	return exponent / e.Rate, exponent / (e.Rate + oneSided95*e.Error)
}

// FitWeibull maximizes the same likelihood over η and β. With β fixed, t^β turns it
// into an exponential one, so that only β is searched. ok is false where no maximum
// lies between shapes of 1/20 and 20, or the data do not tell shapes apart.
func FitWeibull(all []Observation) (w Weibull, ok bool) {
	const widest, steps = 2.995732273553991, 120 // ln 20
	best, flat := 0, true
	heights := make([]float64, steps+1)
	for i := range heights {
		if heights[i], ok = profile(all, -widest+2*widest*float64(i)/steps); !ok {
			return w, false
		}
		if heights[i] > heights[best] {
			best = i
		}
		flat = flat && math.Abs(heights[i]-heights[0]) < 1e-9
	}
	if flat || best == 0 || best == steps {
		return w, false
	}
	at := func(i int) float64 { return -widest + 2*widest*float64(i)/steps }
	lnShape := peak(func(b float64) float64 { h, _ := profile(all, b); return h }, at(best-1), at(best+1))
	w.Shape = math.Exp(lnShape)
	e, _ := FitExponential(raised(all, w.Shape))
	w.Scale, w.LnL = math.Pow(e.Rate, -1/w.Shape), lnL(raised(all, w.Shape), e.Rate)
	return w.spread(all)
}

// raised puts ages to a power.
func raised(all []Observation, shape float64) []Observation {
	out := make([]Observation, len(all))
	for i, o := range all {
		out[i] = Observation{math.Pow(o.After, shape), math.Pow(o.By, shape)}
	}
	return out
}

// profile is the largest ln L with one shape.
func profile(all []Observation, lnShape float64) (float64, bool) {
	e, ok := FitExponential(raised(all, math.Exp(lnShape)))
	return e.LnL, ok
}

// peak finds the highest place of a hill by golden sections.
func peak(height func(float64) float64, low, high float64) float64 {
	const golden = 0.6180339887498949
	a, b := high-golden*(high-low), low+golden*(high-low)
	ha, hb := height(a), height(b)
	for range 90 {
		if ha > hb {
			high, b, hb = b, a, ha
			a = high - golden*(high-low)
			ha = height(a)
		} else {
			low, a, ha = a, b, hb
			b = low + golden*(high-low)
			hb = height(b)
		}
	}
	return (low + high) / 2
}

// spread takes standard errors from the curvature of ln L in (ln η, ln β), by central
// differences.
func (w Weibull) spread(all []Observation) (Weibull, bool) {
	const h = 1e-3
	scale, shape := math.Log(w.Scale), math.Log(w.Shape)
	f := func(i, j float64) float64 {
		b := math.Exp(shape + j*h)
		return lnL(raised(all, b), math.Exp(-b*(scale+i*h)))
	}
	middle := f(0, 0)
	ss := -(f(1, 0) - 2*middle + f(-1, 0)) / (h * h)
	bb := -(f(0, 1) - 2*middle + f(0, -1)) / (h * h)
	sb := -(f(1, 1) - f(1, -1) - f(-1, 1) + f(-1, -1)) / (4 * h * h)
	det := ss*bb - sb*sb
	if !(det > 0 && ss > 0) {
		return w, false
	}
	w.SELnScale, w.SELnShape, w.covLnScaleLnShape = math.Sqrt(bb/det), math.Sqrt(ss/det), -sb/det
	return w, true
}

// Until is the time in months at which the share in tolerance falls to R, and the
// conservative one: one-sided 95 % by the delta method on its logarithm,
// ln t = ln η + ln(−ln R)/β.
func (w Weibull) Until(reliability float64) (nominal, conservative float64) {
	k := math.Log(-math.Log(reliability)) / w.Shape
	nominal = w.Scale * math.Exp(k)
	variance := w.SELnScale*w.SELnScale + k*k*w.SELnShape*w.SELnShape - 2*k*w.covLnScaleLnShape
	return nominal, nominal * math.Exp(-oneSided95*math.Sqrt(math.Max(variance, 0)))
}
