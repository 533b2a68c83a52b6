package calibration

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"pawl/model/dates"
	"pawl/model/units"
)

const (
	// assumedReliability is R*, the share of tools in tolerance at the end of the
	// interval, where the requirement states none. An assumption of the project.
	assumedReliability = 0.95
	// enoughPairs is how many changes between calibrations replace the assumed drift.
	enoughPairs = 10
	coverage95  = 1.96 // the normal distribution's, for an interval of 95 %
)

// expected is what is known of a tool at one value, in percent of that value.
type expected struct {
	mean    float64 // ā
	w       float64 // standard uncertainty of the calibration
	s       float64 // scatter of a single use
	drift   float64 // sD
	between float64 // what interpolation between two points adds
	delta   float64 // the difference of the two points' means
	uniform float64 // half-width of the uniform error of class paper
	assumed bool    // s is
	adapter float64 // uext
}

// v is the combined standard deviation of the error at one use.
func (s expected) v() float64 {
	uniform := s.uniform / math.Sqrt(3)
	return math.Sqrt(s.w*s.w + s.s*s.s + s.drift*s.drift + s.between*s.between + uniform*uniform + s.adapter*s.adapter)
}

// spreadAt works out what is known at x. ok is false where it is not enough, and then
// a reason says why.
func (a *asking) spreadAt() (out expected, ok bool) {
	k := a.figures
	if k.ClassBound != nil {
		out, ok = a.classSpread(k.ClassBound)
	} else {
		out, ok = a.pointSpread(k.Left(a.out.Direction))
	}
	if !ok {
		return out, false
	}
	out.adapter = a.adapter
	if out.drift, ok = a.drift(math.Max(a.limit, out.uniform)); !ok {
		return out, false
	}
	if v := out.v(); math.IsNaN(v) || math.IsInf(v, 0) || math.IsNaN(out.mean) {
		a.add(ReasonFigures, CannotConfirm, "the calibration does not state an uncertainty at this value")
		return out, false
	}
	return out, true
}

// classSpread: paper that only declares a class says no more than that the error is
// somewhere within it. W is taken as a quarter of the limit, the scatter likewise.
func (a *asking) classSpread(c *ClassBound) (expected, bool) {
	if !atMost(c.Low, a.at) || !atMost(a.at, c.High) {
		a.outside(c.Low, c.High)
		return expected{}, false
	}
	bound, err := c.Limit.Bind(a.r.Scale, a.r.Unit)
	if err != nil {
		a.add(ReasonFigures, CannotConfirm, "the limit of class %s is not known", c.Class)
		return expected{}, false
	}
	mpd := math.Max(a.limit, 100*bound.At(a.at, a.at)/math.Abs(a.at))
	a.add(ReasonClassPaper, "", "its paper only declares class %s: the whole limit of ±%s %% is taken as its error", c.Class, decimalOf(math.Round(mpd*100)/100))
	return expected{uniform: mpd, w: mpd / 8, s: mpd / 4, assumed: true}, true
}

// pointSpread interpolates between the two points as left that bracket x, and never
// beyond them. On a point, that point alone speaks.
func (a *asking) pointSpread(points []JudgedPoint) (expected, bool) {
	if len(points) == 0 {
		return expected{}, false // said already: the direction, or what the paper lacks
	}
	for _, p := range points {
		if same(p.SetValue, a.at) {
			return a.usable(a.percents(p))
		}
	}
	for i := 0; i+1 < len(points); i++ {
		below, above := points[i], points[i+1]
		if below.SetValue < a.at && a.at < above.SetValue {
			return a.usable(a.interpolate(below, above))
		}
	}
	a.outside(points[0].SetValue, points[len(points)-1].SetValue)
	return expected{}, false
}

func (a *asking) interpolate(below, above JudgedPoint) expected {
	lo, hi := a.percents(below), a.percents(above)
	f := (a.at - below.SetValue) / (above.SetValue - below.SetValue)
	delta := math.Abs(hi.mean - lo.mean)
	return expected{
		mean: lo.mean + f*(hi.mean-lo.mean), w: math.Max(lo.w, hi.w), s: math.Max(lo.s, hi.s),
		between: 2 * f * (1 - f) * delta / math.Sqrt(3), delta: delta, assumed: lo.assumed || hi.assumed,
	}
}

// percents gives what one point says. Where the limit is not one percent of the
// reference, an error is an amount that does not grow with the value: it is taken as
// a percent of the value asked for.
func (a *asking) percents(p JudgedPoint) expected {
	if a.inPercent() {
		return expected{mean: p.MeanPercent, w: p.ExpandedPercent / 2, s: p.ScatterPercent, assumed: p.ScatterAssumed}
	}
	per := 100 / math.Abs(a.at)
	return expected{mean: p.MeanError * per, w: p.Expanded / 2 * per, s: p.Scatter * per, assumed: p.ScatterAssumed}
}

// inPercent says that errors grow with the value.
func (a *asking) inPercent() bool {
	_, relative := a.p.bound.Relative()
	return relative || a.r.Instrument.Turns()
}

func (a *asking) usable(s expected) (expected, bool) {
	if math.IsNaN(s.mean + s.w + s.s) {
		a.add(ReasonFigures, CannotConfirm, "the calibration does not state an uncertainty at this value")
		return s, false
	}
	return s, true
}

// outside says that x is not between what was calibrated. Below 20 % of its maximum
// a torque tool is not used where nothing as low was calibrated (TM 1-1500-204-23-9
// table 8-1 asks no accuracy there).
func (a *asking) outside(low, high float64) {
	text := ""
	if s := a.p.scales[0]; a.r.Instrument.Turns() && a.at < 0.2*s.toTool.do(s.high) {
		text = ", and below 20 % of its maximum"
	}
	a.add(ReasonCalRange, No, "%s is outside the %s to %s that were calibrated%s", Rounded(a.at, a.r.Unit).Words(),
		Rounded(low, a.r.Unit).Words(), Rounded(high, a.r.Unit).Words(), text)
}

// drift gives sD, the standard deviation of what a tool that is to hold a limit may have
// moved since its calibration, growing with the root of time or cycles, whichever went further. A
// rule of the project.
func (a *asking) drift(limit float64) (float64, bool) {
	gone, ok := a.elapsed()
	if !ok {
		return 0, false
	}
	if sd, ok := a.classScatter(limit); ok {
		return sd * math.Sqrt(gone), true
	}
	reliability := assumedReliability
	if a.r.Reliability != "" {
		reliability = a.r.Reliability.Float()
	}
	if !(reliability > 0 && reliability < 1) {
		a.add(ReasonFigures, CannotConfirm, "a target reliability of %s is none", a.r.Reliability)
		return 0, false
	}
	z := distuv.UnitNormal.Quantile((1 + reliability) / 2)
	return limit / z * math.Sqrt(gone), true
}

// elapsed gives min(1, max(t/I, c/C)), how much of the interval is gone.
func (a *asking) elapsed() (float64, bool) {
	if !a.ends.Valid() || !a.today.Valid() || !a.inForce.On.Valid() {
		return 0, false // said already
	}
	gone := a.timeGone()
	if c := a.p.facts.Cycles; c.Counted && a.r.Cycles > 0 {
		if c.AtLeast < 0 {
			a.add(ReasonUnreadable, CannotConfirm, "a count of %d cycles cannot be", c.AtLeast)
			return 0, false
		}
		gone = math.Max(gone, float64(c.AtLeast)/float64(a.r.Cycles))
	}
	return math.Min(1, gone), true
}

// timeGone is t/I: days since the calibration over days from it to its due date.
func (a *asking) timeGone() float64 {
	t := dates.DaysBetween(a.inForce.On, a.today)
	interval := dates.DaysBetween(a.inForce.On, a.ends)
	if interval <= 0 {
		return 1
	}
	return math.Max(0, float64(t)/float64(interval))
}

// classScatter gives rms(d/√(t/I)) over the changes d of tools like this one, from ten of
// them on, for a tool that is to hold a limit. A change is taken as its share of the
// limit where errors are amounts: what is a percent high on a scale is ten low on it.
func (a *asking) classScatter(limit float64) (float64, bool) {
	interval := dates.DaysBetween(a.inForce.On, a.ends)
	if interval <= 0 {
		return 0, false
	}
	inPercent := a.inPercent()
	n, sum := 0, 0.0
	for _, p := range a.p.facts.Pairs {
		change := p.Change
		if !inPercent {
			change = p.Share * limit
		}
		if p.Days > 0 && !math.IsNaN(change) && !math.IsInf(change, 0) {
			n++
			sum += change * change * float64(interval) / float64(p.Days)
		}
	}
	if n < enoughPairs {
		return 0, false
	}
	return math.Sqrt(sum / float64(n)), true
}

// normalCDF is Φ.
func normalCDF(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

// judge weighs what the tool does at that value against the limits.
func (a *asking) judge() {
	if !a.located || !a.p.bounded {
		return
	}
	if a.at == 0 {
		a.add(ReasonFigures, CannotConfirm, "at zero nothing can be said in percent; ask at a value that is measured")
		return
	}
	a.limit = 100 * a.p.bound.At(a.at, a.at) / math.Abs(a.at)
	if !(a.limit < 100) {
		a.add(ReasonFigures, CannotConfirm, "its limit there is as large as %s itself, so it shows nothing", a.q.Target.Words())
		return
	}
	lo, hi, given := a.bounds()
	if given {
		a.defaulted(lo, hi)
		a.narrow(lo, hi)
	}
	if a.figures == nil {
		return // said already
	}
	s, ok := a.spreadAt()
	if !ok {
		return
	}
	if s.assumed {
		a.add(ReasonScatterAssumed, "", "its scatter from use to use is assumed (a quarter of its limit)")
	}
	if !atMost(s.delta, a.limit/2) {
		a.add(ReasonAddPoint, CannotConfirm, "its error changes by %.2f %% between the points on either side: add a point near this %s", s.delta, quantityWord(a.r))
	}
	v := s.v()
	a.out.DeviationPercent, a.out.UncertaintyPercent = s.mean, coverage95*v
	a.interval(s.mean, v)
	if !given {
		a.noLimitsGiven()
		return
	}
	a.probability(s.mean, v, lo, hi)
}

func quantityWord(r Requirement) string {
	if r.Instrument.Turns() {
		return "torque"
	}
	return "value"
}

// noLimits says whether nobody gave limits, the shop's default included.
func (a *asking) noLimits() bool { return a.q.Limits.IsZero() && a.q.DefaultPercent == "" }

// bounds gives the limits in the question's unit, infinite where they are open; where
// nobody gave any, those of the shop's default.
func (a *asking) bounds() (lo, hi float64, given bool) {
	lo, hi = math.Inf(-1), math.Inf(1)
	if a.noLimits() {
		return lo, hi, false
	}
	if a.q.Limits.IsZero() {
		lo, hi = a.q.byDefault(a.target)
		return lo, hi, true
	}
	if l := a.q.Limits.Low; !l.IsZero() {
		lo, _ = a.conv.in(l, a.out.Unit)
	}
	if h := a.q.Limits.High; !h.IsZero() {
		hi, _ = a.conv.in(h, a.out.Unit)
	}
	return lo, hi, true
}

// defaulted says so where the limits are the shop's default.
func (a *asking) defaulted(lo, hi float64) {
	if a.q.Limits.IsZero() {
		a.out.ByDefault = a.q.DefaultPercent
		a.out.Limits = Limits{Low: Rounded(lo, a.out.Unit), High: Rounded(hi, a.out.Unit)}
		a.add(ReasonDefaultLimits, "", "you gave no limits; the shop's default of ±%s %% is used", a.q.DefaultPercent)
	}
}

// mirror turns a negative value, its limits and its error over: an error is in percent
// of the magnitude, so a vacuum gauge that shows deeper than it is has one below zero.
func mirror(t, mean, lo, hi float64) (float64, float64, float64, float64) {
	if t < 0 {
		return -t, -mean, -hi, -lo
	}
	return t, mean, lo, hi
}

// least is what there is at least where the tool stands at t > 0 with an error of so many
// percent: t/(1+a) where they are percents of the reference, as ISO 6789-2:2017 5.1 has it.
// An error that is an amount is one of t itself, so that there is t·(1−a): of a gauge ±6 psi
// off that shows 10 psi, 4 psi and not 6.25.
func (a *asking) least(t, percent float64) float64 {
	if a.inPercent() {
		return t / (1 + percent/100)
	}
	return t * (1 - percent/100)
}

// narrow is the gate that the limits leave the tool its own tolerance: T/(1+p) >= lo
// and T/(1−p) <= hi.
func (a *asking) narrow(lo, hi float64) {
	t, _, lo, hi := mirror(a.size(), 0, lo-a.zero, hi-a.zero)
	p := a.limit / 100
	low, high := a.least(t, a.limit), t/(1-p)
	if !atMost(lo, low) || !atMost(high, hi) {
		if a.size() < 0 {
			low, high = -high, -low
		}
		a.add(ReasonTooNarrow, No, "within its tolerance it may apply %s to %s, and the limits are %s", Rounded(low+a.zero, a.out.Unit).Words(),
			Rounded(high+a.zero, a.out.Unit).Words(), a.out.Limits)
	}
}

// size is how far the target is from the zero of the tool's unit, which a percent is of:
// between °C and °F that is not the zero of the question's.
func (a *asking) size() float64 { return a.out.Target - a.zero }

// interval fills in what is applied with 95 % probability: T/(1 + (ā ± 1.96·v)/100).
func (a *asking) interval(mean, v float64) {
	t, mean, _, _ := mirror(a.size(), mean, 0, 0)
	most := 1 + (mean-coverage95*v)/100
	if !(most > 0) {
		a.add(ReasonFigures, CannotConfirm, "its error may be as large as %s itself, so it shows nothing", a.q.Target.Words())
		return
	}
	low, high := a.least(t, mean+coverage95*v), t/most
	if a.size() < 0 {
		low, high = -high, -low
	}
	a.out.Low, a.out.High = a.zero+low, a.zero+high
}

// probability weighs the probability of being inside the limits, per use.
func (a *asking) probability(mean, v, lo, hi float64) {
	t, mean, lo, hi := mirror(a.size(), mean, lo-a.zero, hi-a.zero)
	a.out.Inside = inside(t, mean, v, lo, hi)
	if !a.inPercent() {
		a.out.Inside = math.Min(a.out.Inside, insideByAmount(t, mean, v, lo, hi))
	}
	low, high := a.out.Low-a.zero, a.out.High-a.zero
	if a.size() < 0 {
		low, high = -high, -low
	}
	if high < lo && !same(high, lo) || low > hi && !same(low, hi) {
		a.add(ReasonAllOutside, No, "it would apply %s to %s, wholly outside the limits %s", Rounded(a.out.Low, a.out.Unit).Words(), Rounded(a.out.High, a.out.Unit).Words(), a.out.Limits)
	}
	if a.out.Inside >= a.out.Threshold {
		a.add(ReasonInside, "", "inside the limits with probability %.4f; a yes needs %.3g", math.Floor(a.out.Inside*1e4)/1e4, a.out.Threshold)
		return
	}
	job := "a safety job"
	if a.q.NotSafety {
		job = "a job that is not safety-critical"
	}
	a.add(ReasonProbability, CannotConfirm, "it would be inside the limits with probability %.3f only; on %s a yes needs %.3g", math.Floor(a.out.Inside*1e3)/1e3, job, a.out.Threshold)
}

// inside is P = Φ((100·(T/lo − 1) − ā)/v) − Φ((100·(T/hi − 1) − ā)/v), with an open end
// as certain (JCGM 106:2012 7 on the relative error). t is above zero.
func inside(t, mean, v, lo, hi float64) float64 {
	above := 1.0
	if lo > 0 {
		above = phi(100*(t/lo-1)-mean, v)
	}
	below := 0.0
	switch {
	case hi <= 0:
		return 0
	case !math.IsInf(hi, 1):
		below = phi(100*(t/hi-1)-mean, v)
	}
	return math.Max(0, above-below)
}

// insideByAmount is the same where the error is an amount, given in percent of t: what there
// is is t·(1 − a).
func insideByAmount(t, mean, v, lo, hi float64) float64 {
	above, below := 1.0, 0.0
	if !math.IsInf(lo, -1) {
		above = phi(100*(1-lo/t)-mean, v)
	}
	if !math.IsInf(hi, 1) {
		below = phi(100*(1-hi/t)-mean, v)
	}
	return math.Max(0, above-below)
}

// phi is Φ(d/v), a step where v is zero.
func phi(d, v float64) float64 {
	switch {
	case v > 0:
		return normalCDF(d / v)
	case d >= 0:
		return 1
	}
	return 0
}

// noLimitsGiven says what a yes without limits means.
func (a *asking) noLimitsGiven() {
	about := "so nothing is said about the job's"
	if a.r.Unit.Dimension() != units.Torque {
		about = "so nothing is said about the part's"
	}
	a.add(ReasonNoLimits, "", "in tolerance, within %s when calibrated; you gave no limits, %s", a.r.Limit.Words(), about)
}
