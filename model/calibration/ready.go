package calibration

import (
	"fmt"
	"math"
	"slices"

	"pawl/model/dates"
)

// Ready answers whether a tool can be used for what is asked. Asking changes
// nothing. A question that cannot be (see Question.Check), or an adapter that
// reaches back to the hand, is fault.Invalid; a kind that is never answered for is
// fault.Refused.
func Ready(f Facts, q Question) (Answer, error) { return Prepare(f).Ready(q) }

// Ready is Ready for a tool made ready before.
func (p Prepared) Ready(q Question) (Answer, error) {
	if err := q.Check(); err != nil {
		return Answer{}, err
	}
	return p.ready(q, conversions{})
}

func (p Prepared) ready(q Question, conv conversions) (Answer, error) {
	if p.refused != nil {
		return Answer{}, p.refused
	}
	a := newAsking(&p, q, conv)
	a.service()
	if p.facts.Requirement == nil {
		a.add(ReasonNoRequirement, CannotConfirm, "nothing is recorded of the range and the limit that it must hold")
		return a.finish(), nil
	}
	a.record()
	a.calibration()
	if err := a.value(); err != nil {
		return Answer{}, err
	}
	a.class()
	a.method()
	a.judge()
	return a.finish(), nil
}

// asking is one question on its way to an answer.
type asking struct {
	p     *Prepared
	r     Requirement
	q     Question
	conv  conversions
	today dates.Date
	out   Answer

	inForce *Kept      // the calibration
	ends    dates.Date // the last day of its interval
	figures *Kept      // what ā, w and s are from: the same, or a bench check after an event

	own     bool    // the unit is the scale's and there is no adapter that changes the torque
	target  float64 // T, in the question's unit
	zero    float64 // of the tool's unit, in the question's: 32 where °C is asked for in °F
	at      float64 // x: the torque at the drive or the value measured, in the tool's unit
	located bool    // at is known
	onScale bool    // what is set or read is on the scale
	k       float64 // K: the torque at the fastener over the torque at the drive
	adapter float64 // uext, %
	limit   float64 // MPD at x, %
}

func newAsking(p *Prepared, q Question, conv conversions) *asking {
	a := &asking{p: p, q: q, conv: conv, today: p.facts.Today, k: 1}
	if p.facts.Requirement != nil {
		a.r = *p.facts.Requirement
	}
	nan := math.NaN()
	a.out = Answer{Unit: q.Target.Unit, Target: nan, Low: nan, High: nan, Inside: nan, DeviationPercent: nan, UncertaintyPercent: nan,
		Threshold: q.Threshold(), noun: p.noun, Limits: q.Limits, Direction: q.Direction}
	a.out.Reasons = make([]Reason, 0, 8)
	a.target, _ = conv.in(q.Target, q.Target.Unit)
	if a.r.Instrument.Turns() && q.Direction == NoDirection {
		a.out.Direction = Clockwise
		a.add(ReasonDefaultTurn, "", "clockwise, since no direction was given")
	}
	if p.facts.Requirement != nil && !a.r.Instrument.Turns() {
		a.out.Direction = NoDirection
	}
	a.out.Measures = p.facts.Requirement != nil && a.r.measures()
	return a
}

func (a *asking) add(code ReasonCode, weighs Readiness, format string, args ...any) {
	a.out.Reasons = append(a.out.Reasons, Reason{Code: code, Weighs: weighs, Text: fmt.Sprintf(format, args...)})
}

func (a *asking) finish() Answer {
	a.out.settle()
	// Whatever was not foreseen: without figures nothing is a yes.
	if a.out.Fit && (math.IsNaN(a.out.DeviationPercent) || a.inForce == nil) {
		a.add(ReasonFigures, CannotConfirm, "what is recorded is not enough to say how far off it may be")
		a.out.settle()
	}
	if a.out.unusable() {
		a.out.Inside = math.NaN()
	}
	a.out.Cautions = a.cautions()
	return a.out
}

// service weighs whether the tool is there to be used at all.
func (a *asking) service() {
	f := a.p.facts
	a.out.Available = f.Gone == "" && f.Away == "" && (f.Holder == "" || f.Mine)
	if f.Gone != "" {
		a.add(ReasonGone, No, "it is gone: %s", f.Gone)
	}
	if f.DoNotUse != "" {
		a.add(ReasonDoNotUse, No, "DO NOT USE: %s", f.DoNotUse)
	}
	switch {
	case f.Away != "":
		a.add(ReasonAway, "", "it is away: %s", f.Away)
	case f.Holder != "" && !f.Mine:
		a.add(ReasonHeld, "", "%s has it", f.Holder)
	}
}

// record weighs whether what is on record can be relied on.
func (a *asking) record() {
	f := a.p.facts
	if f.Doubtful || !f.Today.Valid() {
		a.add(ReasonClock, CannotConfirm, "the clock of this computer is in doubt, so no date can be trusted")
	}
	for _, what := range f.Unreadable {
		a.add(ReasonUnreadable, CannotConfirm, "%s cannot be read", what)
	}
	for _, group := range [][]Kept{f.Calibrations, f.Checks} {
		for _, k := range group {
			if k.On.After(a.today) || !k.On.Valid() {
				a.add(ReasonFuture, CannotConfirm, "a comparison is dated %q, which is not on or before today", string(k.On))
			}
		}
	}
	switch {
	case a.r.Limit.IsZero() || !a.p.bounded:
		a.add(ReasonFigures, CannotConfirm, "the limit that it must hold is not known")
	case !a.r.LimitSource.Confirmed() || a.r.LimitSource.Standing == OwnPaper && a.r.LimitSource.Where == "":
		a.add(ReasonLimitMemory, CannotConfirm, "nobody read the limit of %s where it is written: enter it from the tool's own paper, with where it stands", a.r.Limit.Words())
	}
}

// calibration picks the one in force and weighs it.
func (a *asking) calibration() {
	a.inForce = inForce(a.p.facts.Calibrations, a.out.Direction)
	left, restored := Trust(a.p.facts.Events, a.p.facts.Checks, a.p.facts.Calibrations, a.r)
	for _, d := range left {
		code := ReasonTrustEnded
		if d.Kind == failedCheck {
			code = ReasonFailedCheck
		}
		a.add(code, d.Kind.Weighs(), "%s", d.Text)
	}
	if a.inForce == nil {
		a.add(ReasonNoCalibration, CannotConfirm, "no tool calibration is recorded")
		return
	}
	a.figures = a.inForce
	if restored != nil {
		a.figures = restored
		a.out.CheckedBy = restored.ID
		a.add(ReasonRestored, "", "a bench check of %s of the whole range gave trust back; the figures are from it", restored.On)
	}
	a.out.Calibration, a.out.Calibrated, a.out.Due = a.inForce.ID, a.inForce.On, a.inForce.NextDue
	a.outcome()
	a.due()
}

// inForce is the newest calibration, by its day. Of several on that day (each direction
// on a paper of its own), it is the newest that speaks of the direction, unless one
// that is not certainly older failed or shows less. An older day never stands in.
func inForce(all []Kept, d Direction) *Kept {
	var day []*Kept
	for i := range all {
		switch k := &all[i]; {
		case len(day) == 0 || k.On.After(day[0].On):
			day = []*Kept{k}
		case k.On == day[0].On:
			day = append(day, k)
		}
	}
	standing := unreplaced(day, d)
	for _, is := range []func(*Kept) bool{
		func(k *Kept) bool { return k.Verdict == Failed && !k.Disagrees },
		func(k *Kept) bool { return k.Verdict != Passed || !k.Supports },
		func(k *Kept) bool { return k.speaksOf(d) },
		func(*Kept) bool { return true },
	} {
		for _, k := range standing {
			if is(k) {
				return k
			}
		}
	}
	return nil
}

// unreplaced leaves out the calibrations of one day after which another one that
// speaks of the direction certainly came.
func unreplaced(day []*Kept, d Direction) (out []*Kept) {
	for _, k := range day {
		replaced := slices.ContainsFunc(day, func(other *Kept) bool { return other.speaksOf(d) && other.moment().after(k.moment()) })
		if !replaced {
			out = append(out, k)
		}
	}
	return out
}

func (k *Kept) speaksOf(d Direction) bool {
	if k.ClassBound != nil {
		return k.ClassBound.covers(d)
	}
	for _, p := range k.Points {
		// As Judgement.Left: what was found stands for what was left where nothing was
		// adjusted.
		if p.Direction == d && (p.Phase == AsLeft || !k.Adjusted) {
			return true
		}
	}
	return false
}

func (c *ClassBound) covers(d Direction) bool {
	if d == NoDirection {
		return true
	}
	for _, have := range c.Directions {
		if have == d {
			return true
		}
	}
	return false
}

// outcome weighs what the calibration in force says.
func (a *asking) outcome() {
	k := a.inForce
	switch {
	case k.Disagrees:
		a.add(ReasonUnsupported, CannotConfirm, "the paper of %s says pass, but its readings are outside the limit of %s", k.On, a.r.Limit.Words())
	case k.Verdict == Failed:
		a.add(ReasonFailed, No, "it failed its last calibration on %s", k.On)
	case !k.Supports || k.Verdict != Passed:
		a.unsupported(k)
	}
	if a.figures.speaksOf(a.out.Direction) || a.out.Direction == NoDirection {
		return
	}
	if c := a.figures.ClassBound; c != nil && len(c.Directions) == 0 {
		a.add(ReasonDirection, CannotConfirm, "its paper does not say in which direction it was compared")
		return
	}
	if a.figures.ClassBound != nil || a.figures.speaksOf(Clockwise) || a.figures.speaksOf(Counterclockwise) {
		a.add(ReasonDirection, No, "it was not calibrated %s", a.out.Direction.Words())
	}
}

func (a *asking) unsupported(k *Kept) {
	said := false
	for _, d := range k.Doubts {
		if d.Blocks {
			a.add(ReasonUnsupported, CannotConfirm, "the calibration of %s supports nothing: %s", k.On, d.Text)
			said = true
		}
	}
	if !said {
		a.add(ReasonUnsupported, CannotConfirm, "the calibration of %s supports nothing: its outcome is %q", k.On, string(k.Verdict))
	}
}

// due weighs dates and cycles. The due date itself is still in date; the use asked
// about would be one more than the cycles that are recorded.
func (a *asking) due() {
	if a.ends = a.inForce.NextDue; !a.ends.Valid() {
		a.ends = a.inForce.IntervalEnds // a paper that shows little makes it no less overdue
	}
	switch {
	case !a.ends.Valid():
		a.add(ReasonNoDue, CannotConfirm, "no interval is stated, so nobody can say whether it is in date")
	case a.today.After(a.ends):
		a.add(ReasonPastDue, No, "its calibration was due on %s", a.ends)
	case !a.inForce.NextDue.Valid() && a.inForce.Verdict == Passed:
		a.add(ReasonNoDue, CannotConfirm, "its calibration states no due date")
	}
	c := a.p.facts.Cycles
	switch {
	case a.r.Cycles <= 0:
	case !c.Counted:
		a.add(ReasonCyclesUncounted, "", "cycles are not counted; it is due after %d", a.r.Cycles)
	case c.AtLeast >= a.r.Cycles:
		a.add(ReasonCycles, No, "at least %d cycles are recorded since its calibration, and it is due after %d", c.AtLeast, a.r.Cycles)
	default:
		a.add(ReasonCyclesFloor, "", "at least %d cycles recorded since its calibration; it is due after %d", c.AtLeast, a.r.Cycles)
	}
}

// method weighs how the fastener is to be tightened.
func (a *asking) method() {
	if a.out.Measures {
		return
	}
	switch a.q.Method {
	case ByYield:
		a.add(ReasonMethod, CannotConfirm, "a calibration for torque says nothing about tightening to yield")
	case ByTorqueAngle:
		if !a.q.AngleDevice {
			a.add(ReasonMethod, CannotConfirm, "the angle stage needs an angle device on record")
			return
		}
		a.add(ReasonAngle, "", "the torque stage only: nothing is said about the angle")
	}
}
