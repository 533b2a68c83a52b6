package calibration

import (
	"cmp"
	"math"
	"slices"
)

// work is one judgement under way.
type work struct {
	q     Requirement
	r     Result
	a     Around
	bound Bound
	rule  Rule

	low, high float64 // ends of the scale
}

// Judging is a requirement made ready for many results: what is typed of it as
// decimal text is read once. It may be used by several callers at once.
type Judging struct {
	q         Requirement
	bound     Bound
	low, high float64
}

// Judging makes a requirement ready; one that is not acceptable is fault.Invalid.
func (q Requirement) Judging() (*Judging, error) {
	if err := q.Check(); err != nil {
		return nil, err
	}
	bound, err := q.Limit.Bind(q.Scale, q.Unit)
	if err != nil {
		return nil, err
	}
	low, high, err := q.Scale.ends(q.Unit)
	return &Judging{q, bound, low, high}, err
}

// Judge says what follows from a result for a requirement. Every reading is held
// against the limit (ISO 6789-1:2017 6.5, from memory); the decision rule is
// applied to the mean deviation with its expanded uncertainty. A requirement or
// result that is not acceptable is fault.Invalid.
func Judge(q Requirement, r Result, a Around) (Judgement, error) {
	ready, err := q.Judging()
	if err != nil {
		return Judgement{}, err
	}
	return ready.Judge(r, a)
}

// Judge is Judge for a requirement made ready before.
func (on *Judging) Judge(r Result, a Around) (Judgement, error) {
	if err := r.Check(on.q); err != nil {
		return Judgement{}, err
	}
	w := work{q: on.q, r: r, a: a, bound: on.bound, rule: on.q.ruleFor(a.SafetyJobs), low: on.low, high: on.high}
	j := Judgement{On: r.On, Paper: r.Paper, BenchCheck: r.BenchCheck, Adjusted: r.adjusted(), Claim: r.Claim, Rule: w.rule, TUR: math.NaN(), like: a.Like}
	j.Points = make([]JudgedPoint, 0, len(r.AsFound)+len(r.AsLeft))
	for _, p := range r.AsFound {
		j.Points = append(j.Points, w.point(AsFound, p))
	}
	for _, p := range r.AsLeft {
		j.Points = append(j.Points, w.point(AsLeft, p))
	}
	sortPoints(j.Points)
	j.left = j.either(AsLeft, AsFound)
	w.verdicts(&j)
	j.Covered, j.Limited = w.covered(j)
	for _, p := range j.leftAll() {
		if !math.IsNaN(p.TUR) && !(p.TUR >= j.TUR) {
			j.TUR = p.TUR
		}
	}
	w.due(&j)
	j.Doubts = w.doubts(j)
	j.Supports = j.Verdict == Passed && !slices.ContainsFunc(j.Doubts, func(d Doubt) bool { return d.Blocks })
	return j, nil
}

// ruleFor gives the decision rule: as asked, else guarded for tools used on safety
// jobs and four-zone elsewhere. ISO 6789-1 is understood to set none (from memory).
func (q Requirement) ruleFor(safety bool) Rule {
	switch {
	case q.Rule != DefaultRule:
		return q.Rule
	case safety:
		return GuardedRule
	}
	return FourZoneRule
}

func sortPoints(points []JudgedPoint) {
	slices.SortStableFunc(points, func(a, b JudgedPoint) int {
		return cmp.Or(cmp.Compare(a.Phase, b.Phase), -cmp.Compare(a.Direction, b.Direction), cmp.Compare(a.SetValue, b.SetValue))
	})
}

// point works one point out.
func (w work) point(phase Phase, p Point) JudgedPoint {
	out := JudgedPoint{
		Phase: phase, Direction: p.Direction, Set: p.Set, Readings: p.Readings, SetValue: p.Set.Float(),
		MeanPercent: math.NaN(), WorstPercent: math.NaN(), LimitPercent: math.NaN(), ExpandedPercent: math.NaN(), ScatterPercent: math.NaN(),
		Interval: math.NaN(), Conformance: math.NaN(), TUR: math.NaN(),
	}
	readings := values(p.Readings)
	out.Delivered, _, _, _ = TypeA(readings)
	w.errors(&out, readings)
	w.percents(&out, readings)
	w.uncertainty(&out, p)
	w.decision(&out)
	return out
}

// errors fills in what is an amount: the errors, the limit, whether all are within.
func (w work) errors(p *JudgedPoint, readings []float64) {
	p.Limit, p.Within, p.Errors = math.Inf(1), true, make([]float64, 0, len(readings))
	for _, r := range readings {
		e, limit := p.SetValue-r, w.bound.At(p.SetValue, r)
		p.Errors = append(p.Errors, e)
		p.Limit = math.Min(p.Limit, limit)
		p.Within = p.Within && atMost(math.Abs(e), limit)
	}
	p.MeanError, _, _, _ = TypeA(p.Errors)
	p.Scatter, p.ScatterAssumed = scatter(p.Errors, p.Limit, w.r.OnlyUncertainty)
}

// percents fills in what is relative to the reference's reading, ISO 6789-2:2017
// 5.1; the mean is that of the single deviations.
func (w work) percents(p *JudgedPoint, readings []float64) {
	if slices.Contains(readings, 0) || p.Delivered == 0 || p.SetValue == 0 {
		return
	}
	p.WorstPercent, p.DeviationsPercent = 0, make([]float64, 0, len(readings))
	for i, r := range readings {
		d := 100 * p.Errors[i] / math.Abs(r)
		p.DeviationsPercent = append(p.DeviationsPercent, d)
		if math.Abs(d) > math.Abs(p.WorstPercent) {
			p.WorstPercent = d
		}
	}
	p.MeanPercent, _, _, _ = TypeA(p.DeviationsPercent)
	p.LimitPercent = 100 * w.bound.At(p.SetValue, p.SetValue) / math.Abs(p.SetValue)
	if percent, ok := w.bound.Relative(); ok {
		p.LimitPercent = percent // as written, not by way of an amount
	}
	p.ScatterPercent, p.ScatterAssumed = scatter(p.DeviationsPercent, p.LimitPercent, w.r.OnlyUncertainty)
}

// uncertainty fills in W: what the paper states, else from a budget of our own.
func (w work) uncertainty(out *JudgedPoint, p Point) {
	size := math.Abs(out.Delivered)
	if percent, ok := w.stated(p); ok {
		out.ExpandedPercent, out.Expanded = percent, percent/100*size
	} else {
		out.Expanded = math.NaN()
		if w.r.Paper == Own {
			out.Parts, out.Expanded = w.budget(out)
		}
		if size > 0 {
			out.ExpandedPercent = 100 * out.Expanded / size
		}
	}
	bias := 0.0
	if w.r.Standard.Bias != "" {
		bias = math.Abs(w.r.Standard.Bias.Float())
	}
	out.Interval = math.Abs(out.MeanPercent) + bias + out.ExpandedPercent
}

// decision fills in what the rule says. A limit that is one percent of the
// reference is held against percents, any other against amounts.
func (w work) decision(p *JudgedPoint) {
	y, u, t := p.MeanError, p.Expanded, p.Limit
	if _, ok := w.bound.Relative(); ok && !math.IsNaN(p.MeanPercent) {
		y, u, t = p.MeanPercent, p.ExpandedPercent, p.LimitPercent
	}
	p.Decision = decide(w.rule, y, u, t)
	if !math.IsNaN(u) {
		p.Conformance = ConformanceProbability(y, u/coverage, -t, t)
		p.TUR = t / u
	}
}

// verdicts fills in how the tool was found and how it was left.
func (w work) verdicts(j *Judgement) {
	switch w.r.Paper {
	case PassOnly:
		j.Verdict, j.FoundVerdict = CannotBeJudged, CannotBeJudged
	case Declaration:
		j.Verdict, j.FoundVerdict = w.declared(j), CannotBeJudged
	default:
		j.Verdict, j.FoundVerdict = verdict(j.leftAll()), verdict(j.foundAll())
	}
	j.Disagrees = j.Claim == ClaimsPass && j.Verdict == Failed
	if j.Claim == ClaimsFail {
		j.Verdict = Failed
		if !j.Adjusted && len(j.Points) == 0 { // no readings say otherwise
			j.FoundVerdict = Failed
		}
	}
}

// classPoints is at how many points a declaration must speak of the tool.
const classPoints = 3

// declared takes a paper that names a class over a range: it bounds the tool by the
// whole limit of the class, never by less.
func (w work) declared(j *Judgement) Verdict {
	d := w.r.Declared
	if d == nil || d.Points < classPoints {
		return CannotBeJudged
	}
	low, high, err := Scale{Low: d.Low, High: d.High}.ends(w.q.Unit)
	if err != nil {
		return CannotBeJudged
	}
	limit := w.q.Limit
	if d.Limit != nil {
		limit = *d.Limit
	}
	j.ClassBound = &ClassBound{Class: d.Class, Low: low, High: high, Directions: d.Directions, Limit: limit}
	if w.wider(limit, low, high) {
		return CannotBeJudged
	}
	return Passed
}

// wider says whether a class allows more than is asked of the tool anywhere in the
// range; then its paper does not show what is asked.
func (w work) wider(class Limit, low, high float64) bool {
	b, err := class.Bind(w.q.Scale, w.q.Unit)
	if err != nil {
		return true
	}
	const steps = 64
	for i := range steps + 1 {
		x := low + (high-low)*float64(i)/steps
		if !atMost(b.At(x, x), w.bound.At(x, x)) {
			return true
		}
	}
	return false
}

func verdict(points []JudgedPoint) Verdict {
	if len(points) == 0 {
		return CannotBeJudged
	}
	for _, p := range points {
		if !p.Within || p.Decision == Fail || p.Decision == ConditionalFail {
			return Failed
		}
	}
	return Passed
}

// Left gives the points that describe the tool as it was left, in one direction, by
// rising set value: as left, or as found where nothing was adjusted.
func (j Judgement) Left(d Direction) []JudgedPoint { return inDirection(j.leftAll(), d) }

// Found gives those that describe the tool as it was found: as found, or as left
// where nothing was adjusted.
func (j Judgement) Found(d Direction) []JudgedPoint { return inDirection(j.foundAll(), d) }

func (j Judgement) leftAll() []JudgedPoint {
	if j.left != nil {
		return j.left
	}
	return j.either(AsLeft, AsFound)
}

func (j Judgement) foundAll() []JudgedPoint { return j.either(AsFound, AsLeft) }

// either gives the points of a phase and, in directions where it has none and
// nothing was adjusted, those of the other.
func (j Judgement) either(phase, other Phase) []JudgedPoint {
	out := make([]JudgedPoint, 0, len(j.Points))
	has := map[Direction]bool{}
	for _, p := range j.Points {
		if p.Phase == phase {
			out, has[p.Direction] = append(out, p), true
		}
	}
	for _, p := range j.Points {
		if p.Phase == other && !j.Adjusted && !has[p.Direction] {
			out = append(out, p)
		}
	}
	return out[:len(out):len(out)]
}

// inDirection cuts one direction out of points that stand together by direction.
func inDirection(points []JudgedPoint, d Direction) []JudgedPoint {
	from := slices.IndexFunc(points, func(p JudgedPoint) bool { return p.Direction == d })
	if from < 0 {
		return nil
	}
	to := from
	for to < len(points) && points[to].Direction == d {
		to++
	}
	return points[from:to:to]
}

// covered gives the stretches that the points as left bracket, and whether they are
// less than the whole scale in every direction asked.
func (w work) covered(j Judgement) (spans []Span, limited bool) {
	directions := w.q.Directions
	if len(directions) == 0 {
		directions = []Direction{NoDirection}
	}
	for _, d := range directions {
		span := Span{Direction: d}
		if points := j.Left(d); len(points) > 0 {
			span.Low, span.High = points[0].SetValue, points[len(points)-1].SetValue
		} else if c := j.ClassBound; c != nil && (d == NoDirection || slices.Contains(c.Directions, d)) {
			span.Low, span.High = c.Low, c.High
		} else {
			limited = true
			continue
		}
		spans = append(spans, span)
		limited = limited || !atMost(span.Low, w.low) || !atMost(w.high, span.High)
	}
	return spans, limited
}
