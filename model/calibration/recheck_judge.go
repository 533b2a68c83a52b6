package calibration

import (
	"math"
	"slices"

	"pawl/model/dates"
	"pawl/model/units"
)

// Impact is what follows for one piece of work from what is known of the tool: the
// torque that it truly applied, or the value that was truly there.
type Impact struct {
	Unit        units.Unit
	Set         units.Quantity // what the tool was set to, or showed
	Deviation   float64        // ā between the points as found, % of the reference
	Applied     float64        // the likeliest
	Uncertainty float64        // U of it, k = 2
	Low, High   float64        // the least and the most over all ends, with U; not a number where no as-found end tells
	LimitLow    float64        // -Inf: open
	LimitHigh   float64
	Off         float64 // how far outside it may be, relative to the target
	Ends        []ImpactEnd
}

// ImpactEnd is what one point of a comparison makes of the work.
type ImpactEnd struct {
	Phase       Phase
	Comparison  string
	Applied     float64
	Uncertainty float64
}

func noImpact() Impact {
	n := math.NaN()
	return Impact{Deviation: n, Applied: n, Uncertainty: n, Low: n, High: n, LimitLow: n, LimitHigh: n, Off: n}
}

// place is where on its scale, and in which direction, the tool was used: x at its
// drive, in its unit, with k from there to the fastener.
type place struct {
	x, k      float64
	direction Direction
	known     bool
	why       string // why it is not
}

func (r *rechecking) oneValue() bool {
	return r.h.Requirement != nil && r.h.Requirement.Class.OneValue()
}

// placeOf finds where the tool was used.
func (r *rechecking) placeOf(d Done) place {
	q := r.h.Requirement
	if q == nil {
		return place{why: "nothing is recorded of what it must hold"}
	}
	asked := d.Said.Asked
	p := place{k: 1}
	if q.Instrument.Turns() {
		p.direction = asked.Direction.turn()
	}
	if asked.Target.Unit.Dimension() != q.Unit.Dimension() {
		p.why = "it is for another quantity"
		return p
	}
	shown, inner, why := r.shown(d, &p)
	if why != "" {
		p.why = why
		return p
	}
	x, err := r.conv.in(shown, q.Unit)
	if err != nil || math.IsNaN(x) {
		p.why = "what it was set to cannot be read"
		return p
	}
	p.x, p.known = x/inner, true
	return p
}

// shown is what the tool was set to or showed, and what the tool divides by itself.
func (r *rechecking) shown(d Done, p *place) (shown units.Quantity, inner float64, why string) {
	asked, q := d.Said.Asked, r.h.Requirement
	if d.What == UsedToMeasure {
		if asked.Adapter.Changes() {
			return shown, 1, "how the adapter changes what it shows is not known"
		}
		return asked.Target, 1, ""
	}
	if !asked.Adapter.Changes() {
		if d.Said.Set.IsZero() {
			return asked.Target, 1, ""
		}
		return d.Said.Set, 1, ""
	}
	k, err := asked.Adapter.Factor(q.GripToDrive)
	switch {
	case err != nil:
		return shown, 1, "how the adapter changes the torque is not known"
	case d.Said.Set.IsZero():
		return shown, 1, "what it was set to with the adapter is not recorded"
	}
	p.k = k
	if q.electronic() && asked.Adapter.Kind == Crowfoot && asked.LengthInWrench == RepliedYes {
		inner = k
	} else {
		inner = 1
	}
	return d.Said.Set, inner, ""
}

// bracket gives the points on either side of x; on a point, that point alone. There is
// none beyond the points.
func bracket(points []JudgedPoint, x float64, oneValue bool) []JudgedPoint {
	for i, p := range points {
		if same(p.SetValue, x) || oneValue {
			return points[i : i+1]
		}
	}
	for i := 0; i+1 < len(points); i++ {
		if points[i].SetValue < x && x < points[i+1].SetValue {
			return points[i : i+2]
		}
	}
	return nil
}

// line judges one piece of work if it is in the window.
func (r *rechecking) line(w Window, d Done) (RecheckLine, bool) {
	at := r.placeOf(d)
	if w.Trigger == TakenBack {
		return r.judged(w, d, at), d.Rested == w.Comparison
	}
	if !r.inside(w, d, at) {
		return RecheckLine{}, false
	}
	l := r.judged(w, d, at)
	if w.Trigger == TooTight {
		return l, len(l.Ends) > 0 && l.Off > 0
	}
	return l, true
}

// judged is the line of one piece of work as a window sees it.
func (r *rechecking) judged(w Window, d Done, at place) RecheckLine {
	l := RecheckLine{Use: d.ID, Job: d.Job, From: d.At, To: d.At, Done: d, Verdict: RecheckIndeterminate, Impact: noImpact()}
	l.Unit, l.Set = d.Said.Asked.Target.Unit, d.Said.Set
	if d.What == UsedToMeasure || l.Set.IsZero() {
		l.Set = d.Said.Asked.Target
	}
	if l.Why = at.why; at.known {
		r.judge(&l, w, at)
	}
	return l
}

// judge applies the rule of both ends: within where every end is, outside where every
// end as found is.
func (r *rechecking) judge(l *RecheckLine, w Window, at place) {
	lo, hi, given := r.limits(l, at)
	found, unfound := r.found(w, l.Done, at)
	left := r.left(w, l.Done, at)
	l.Ends = nil
	unfit := len(found) > 0 && r.byID(found[0].Comparison).unfit()
	inside, outside, off := given && len(found) > 0 && len(left) > 0 && !unfit, given && len(found) > 0, math.Inf(-1)
	low, high := math.Inf(1), math.Inf(-1)
	for i, e := range slices.Concat(found, left) {
		t, u := e.Applied, e.Uncertainty
		low, high = math.Min(low, t-u), math.Max(high, t+u)
		in := atMost(lo, t-u) && atMost(t+u, hi)
		inside = inside && in
		if i < len(found) {
			outside = outside && (t+u < lo && !same(t+u, lo) || t-u > hi && !same(t-u, hi))
		}
		if !in && !math.IsNaN(u) {
			off = math.Max(off, math.Max(lo-(t-u), (t+u)-hi)/math.Abs(at.x*at.k))
		}
		l.Ends = append(l.Ends, e)
	}
	l.Off = off
	if math.IsInf(off, 0) {
		l.Off = 0
	}
	switch {
	case inside:
		l.Verdict, l.Why = RecheckWithin, ""
	case outside:
		l.Verdict, l.Why = RecheckOutside, ""
	case unfound:
		l.Verdict, l.Why = RecheckUnjudged, "it was adjusted, and nothing says how it was found"
	case unfit:
		l.Why = "the comparison that found it was not fit to show it good"
	default:
		l.Why = whyNot(given, found, left)
	}
	if len(found) > 0 { // how it was left alone does not bound what it did later
		l.Low, l.High = low, high
	}
	r.inUnit(l, at)
}

func whyNot(given bool, found, left []ImpactEnd) string {
	switch {
	case !given:
		return "there are no limits to hold it against"
	case len(found) == 0:
		return "no comparison since tells how it was there"
	case len(left) == 0:
		return "no comparison before tells how it was left there"
	}
	for _, e := range slices.Concat(found, left) {
		if math.IsNaN(e.Uncertainty) {
			return "the uncertainty of a comparison is not stated"
		}
	}
	return "it may have been inside the limits or not"
}

// limits gives those of the job at the fastener, in the tool's unit; where none were
// recorded, the tool's own limit about the target.
func (r *rechecking) limits(l *RecheckLine, at place) (lo, hi float64, given bool) {
	lo, hi = math.Inf(-1), math.Inf(1)
	asked, unit := l.Done.Said.Asked, r.h.Requirement.Unit
	if asked.Limits.IsZero() {
		target, err := r.conv.in(asked.Target, unit)
		if err != nil || !r.bounded || math.IsNaN(target) {
			return lo, hi, false
		}
		l.Assumed = true
		half := r.bound.At(at.x, at.x)
		if at.x != 0 {
			half *= math.Abs(target / at.x)
		}
		return target - half, target + half, true
	}
	var err error
	if !asked.Limits.Low.IsZero() {
		if lo, err = r.conv.in(asked.Limits.Low, unit); err != nil {
			return lo, hi, false
		}
	}
	if !asked.Limits.High.IsZero() {
		if hi, err = r.conv.in(asked.Limits.High, unit); err != nil {
			return lo, hi, false
		}
	}
	return lo, hi, true
}

// isLater says whether a comparison came after the work: certainly, or on the same day
// from the trigger on.
func (r *rechecking) isLater(w Window, k int, m moment) bool {
	c := r.all[k].moment()
	return c.after(m) || !m.after(c) && k >= w.index
}

// changedBetween says whether the tool came back changed between two moments, in a way
// that nobody measured.
func (r *rechecking) changedBetween(from, to moment) bool {
	return slices.ContainsFunc(r.h.Changed, func(at dates.Instant) bool {
		m := r.instant(at)
		return !from.after(m) && !m.after(to)
	})
}

// clearsNothing says whether it was made here, found nothing wrong and supports nothing:
// it may take a tool out of use, but shows no work good (a rule of the project).
func (c Comparison) clearsNothing() bool {
	return c.BenchCheck && c.Verdict == Passed && !c.Supports || c.unfit() && c.FoundVerdict == Passed && !c.Adjusted
}

// unfit says whether it was made here, with a standard or in conditions that do not let
// it show a tool good, or anywhere with a standard that was out of use.
func (c Comparison) unfit() bool {
	return c.standardOut() || c.Paper == Own && slices.ContainsFunc(c.Doubts, func(d Doubt) bool {
		return d.Blocks && d.Code != DoubtLimitFromMemory && d.Code != DoubtLabDisagrees
	})
}

func (r *rechecking) byID(id string) Comparison {
	return r.all[slices.IndexFunc(r.all, func(c Comparison) bool { return c.ID == id })]
}

// found gives the ends as found: of the first comparison since that spans the value,
// beside those that clear nothing, unless it is what found the tool out.
// unfound: the tool was adjusted before anybody read it.
func (r *rechecking) found(w Window, d Done, at place) (ends []ImpactEnd, unfound bool) {
	m := r.instant(d.At)
	for k, c := range r.all {
		if !r.isLater(w, k, m) {
			continue
		}
		if r.changedBetween(m, c.moment()) {
			return nil, false
		}
		if c.Doubted == "" && (c.ID == w.Comparison && w.Trigger != StandardOut || !c.clearsNothing()) {
			if near := bracket(c.Found(at.direction), at.x, r.oneValue()); len(near) > 0 {
				return r.ends(AsFound, c, near, at), false
			}
		}
		if c.Adjusted {
			return nil, c.unfound()
		}
	}
	return nil, false
}

// left gives the ends as left: of the last comparison before that spans the value.
func (r *rechecking) left(w Window, d Done, at place) []ImpactEnd {
	m := r.instant(d.At)
	for k := len(r.all) - 1; k >= 0; k-- {
		c := r.all[k]
		if r.isLater(w, k, m) {
			continue
		}
		if r.changedBetween(c.moment(), m) {
			return nil
		}
		if c.Doubted == "" && !c.clearsNothing() {
			if near := bracket(c.Left(at.direction), at.x, r.oneValue()); len(near) > 0 {
				return r.ends(AsLeft, c, near, at)
			}
			if ends := r.classEnds(c, at); ends != nil {
				return ends
			}
		}
		if c.Adjusted {
			return nil
		}
	}
	return nil
}

// relative says whether an error is a percent of the value, and not an amount that does
// not grow with it.
func (r *rechecking) relative() bool {
	_, ok := r.bound.Relative()
	return ok || r.h.Requirement.Instrument.Turns()
}

// truly is what there was where the tool showed x with an error of a percent (of the
// reference's magnitude) or of an amount: x/(1 + a/100), or x − e.
func (r *rechecking) truly(x, percent, amount float64) float64 {
	if !r.relative() {
		return x - amount
	}
	if x < 0 {
		percent = -percent
	}
	if least := 1 + percent/100; least > 0 {
		return x / least
	}
	return math.NaN()
}

func (r *rechecking) spread(t, percent, amount float64) float64 {
	if r.relative() {
		return math.Abs(t) * percent / 100
	}
	return amount
}

func (r *rechecking) ends(phase Phase, c Comparison, near []JudgedPoint, at place) (out []ImpactEnd) {
	for _, p := range near {
		t := r.truly(at.x, p.MeanPercent, p.MeanError) * at.k
		out = append(out, ImpactEnd{Phase: phase, Comparison: c.ID, Applied: t, Uncertainty: r.spread(t, p.ExpandedPercent, p.Expanded*at.k)})
	}
	return out
}

// classEnds are the ends that paper on a class allows: its whole limit to either side,
// with a quarter of it as W, assumed. A rule of the project.
func (r *rechecking) classEnds(c Comparison, at place) []ImpactEnd {
	b := c.ClassBound
	if b == nil || c.Claim == ClaimsFail || !atMost(b.Low, at.x) || !atMost(at.x, b.High) || at.direction != NoDirection && !slices.Contains(b.Directions, at.direction) {
		return nil
	}
	limit, err := b.Limit.Bind(r.h.Requirement.Scale, r.h.Requirement.Unit)
	if err != nil || at.x == 0 {
		return nil
	}
	half := limit.At(at.x, at.x)
	percent := 100 * half / math.Abs(at.x)
	var out []ImpactEnd
	for _, sign := range []float64{1, -1} {
		t := r.truly(at.x, sign*percent, sign*half) * at.k
		out = append(out, ImpactEnd{Phase: AsLeft, Comparison: c.ID, Applied: t, Uncertainty: r.spread(t, percent/4, half/4*at.k)})
	}
	return out
}

// inUnit interpolates the likeliest value, for display, and turns everything into the
// unit of the target.
func (r *rechecking) inUnit(l *RecheckLine, at place) {
	lin, err := r.conv.between(r.h.Requirement.Unit, l.Unit)
	if err != nil {
		return
	}
	lo, hi, given := r.limits(l, at)
	if given {
		l.LimitLow, l.LimitHigh = lin.do(lo), lin.do(hi)
	}
	for i, e := range l.Ends {
		l.Ends[i].Applied, l.Ends[i].Uncertainty = lin.do(e.Applied), e.Uncertainty*lin.factor
	}
	l.Low, l.High = lin.do(l.Low), lin.do(l.High)
	percent, amount, w, expanded, ok := r.interpolated(l, at)
	if !ok {
		return
	}
	t := r.truly(at.x, percent, amount)
	l.Applied, l.Uncertainty = lin.do(t*at.k), r.spread(t*at.k, w, expanded*at.k)*lin.factor
	if l.Deviation = percent; !r.relative() {
		l.Deviation = 100 * amount / math.Abs(t)
	}
	if math.IsInf(l.Deviation, 0) {
		l.Deviation = math.NaN()
	}
}

// interpolated is linear between the points as found; its uncertainty is the larger of
// theirs.
func (r *rechecking) interpolated(l *RecheckLine, at place) (percent, amount, w, expanded float64, ok bool) {
	i := slices.IndexFunc(l.Ends, func(e ImpactEnd) bool { return e.Phase == AsFound })
	if i < 0 {
		return 0, 0, 0, 0, false
	}
	near := bracket(r.byID(l.Ends[i].Comparison).Found(at.direction), at.x, r.oneValue())
	p := near[0]
	percent, amount, w, expanded = p.MeanPercent, p.MeanError, p.ExpandedPercent, p.Expanded
	if len(near) == 2 {
		b := near[1]
		f := (at.x - p.SetValue) / (b.SetValue - p.SetValue)
		percent, amount = percent+f*(b.MeanPercent-percent), amount+f*(b.MeanError-amount)
		w, expanded = math.Max(w, b.ExpandedPercent), math.Max(expanded, b.Expanded)
	}
	return percent, amount, w, expanded, true
}
