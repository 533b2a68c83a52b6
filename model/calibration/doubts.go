package calibration

import (
	"fmt"
	"math"

	"pawl/model/units"
)

// doubts lists what the calibration leaves open.
func (w work) doubts(j Judgement) []Doubt {
	var out []Doubt
	add := func(code DoubtCode, blocks bool, format string, args ...any) {
		out = append(out, Doubt{code, fmt.Sprintf(format, args...), blocks})
	}
	w.paperDoubts(j, add)
	if !w.q.LimitSource.Confirmed() {
		add(DoubtLimitFromMemory, true, "the limit %s is %s: enter it from the tool's own paper, and say where it stands", w.q.Limit.Words(), w.q.LimitSource.Standing)
	}
	if len(j.leftAll()) == 0 {
		return out
	}
	if w.r.Standard.OutOfUse { // whoever wrote the paper
		add(DoubtStandardOut, true, "the standard was out of use on %s", w.r.On)
	}
	if why := w.a.Unfounded; why != "" {
		add(DoubtStandardBack, true, "%s", why)
	}
	if w.r.Paper == Own {
		w.standardDoubts(j, add)
		w.temperatureDoubts(add)
	} else {
		w.statedDoubts(j, add)
	}
	w.pointDoubts(j, add)
	return out
}

type adder func(code DoubtCode, blocks bool, format string, args ...any)

func (w work) paperDoubts(j Judgement, add adder) {
	switch {
	case j.Adjusted && len(w.r.AsLeft) == 0 && w.r.Paper != Declaration && w.r.Paper != PassOnly:
		add(DoubtNotAdjustedLeft, true, "it was adjusted, and nothing says how it was left")
	case w.r.Paper == PassOnly:
		add(DoubtPassOnly, true, "the paper says only %q: no readings, no class, no range", w.r.Claim)
	case w.r.Paper == Certificate && len(j.Points) == 0:
		add(DoubtNoReadings, true, "the certificate's results were not entered")
	case w.r.Paper == Declaration:
		w.classDoubts(j, add)
	}
	if j.Adjusted && len(w.r.AsFound) == 0 {
		add(DoubtAdjustedUnfound, false, "it was adjusted, and nothing says how it was found: earlier work cannot be judged")
	}
	if j.Disagrees {
		add(DoubtLabDisagrees, true, "the paper says pass; %s", w.why(j))
	}
	if j.Claim == ClaimsFail {
		add(DoubtLabDisagrees, true, "the paper says fail")
	}
}

// why says what fails in the tool as it was left.
func (w work) why(j Judgement) string {
	for _, p := range j.leftAll() {
		if !p.Within {
			return fmt.Sprintf("by its own readings %s%s is outside %s", prefix(p.Direction), p.Set, w.q.Limit.Words())
		}
	}
	for _, p := range j.leftAll() {
		if p.Decision == Fail || p.Decision == ConditionalFail {
			return fmt.Sprintf("every reading is inside %s, but %s%s not by its uncertainty, which the %s rule asks", w.q.Limit.Words(), prefix(p.Direction), p.Set, w.rule)
		}
	}
	return "it fails"
}

func (w work) classDoubts(j Judgement, add adder) {
	switch {
	case j.ClassBound == nil:
		add(DoubtClassPaper, true, "a declaration stands for readings only where it names a class, a range and three or more points")
	case j.Verdict == CannotBeJudged:
		add(DoubtClassPaper, true, "class %s allows %s, more than is asked: %s", j.ClassBound.Class, j.ClassBound.Limit.Words(), w.q.Limit.Words())
	}
}

// statedDoubts are those about a laboratory's paper: it supports a yes when it
// states W (k = 2) and W is at most half the limit.
func (w work) statedDoubts(j Judgement, add adder) {
	worst := 0.0
	for _, p := range j.leftAll() {
		if math.IsNaN(p.Expanded) {
			add(DoubtNoUncertainty, true, "the paper states no uncertainty for %s%s", prefix(p.Direction), p.Set)
			return
		}
		share := p.ExpandedPercent / p.LimitPercent
		if math.IsNaN(share) {
			share = p.Expanded / p.Limit
		}
		worst = math.Max(worst, share)
	}
	if !atMost(worst, 0.5) {
		add(DoubtUncertaintyLarge, true, "the stated uncertainty is %.0f %% of the limit; at most half of it supports a yes", 100*worst)
	}
}

// standardDoubts are those about what a comparison made here rests on.
func (w work) standardDoubts(j Judgement, add adder) {
	s := w.r.Standard
	if s.Tool == "" && s.Name == "" {
		add(DoubtNoStandard, true, "no standard is named")
		return
	}
	switch {
	case s.Calibrated == "" || s.Due == "":
		add(DoubtStandardDate, true, "nothing says that the standard was in date on %s", w.r.On)
	case w.r.On.Before(s.Calibrated) || w.r.On.After(s.Due):
		add(DoubtStandardDate, true, "the standard was in date from %s to %s, not on %s", s.Calibrated, s.Due, w.r.On)
	}
	w.standardRange(j, add)
	w.standardStrength(j, add)
	if s.Bias == "" {
		add(DoubtStandardBias, true, "the standard's own deviation was not entered; enter 0 where its readings were corrected")
		return
	}
	w.standardOff(j, add)
}

// standardOff asks of readings that were not corrected for the standard's own deviation that
// this be no more than its uncertainty may be: a quarter of the limit at every point. A rule
// of the project; what is left of it is in W' alone.
func (w work) standardOff(j Judgement, add adder) {
	worst, bias := 0.0, math.Abs(w.r.Standard.Bias.Float())
	for _, p := range j.leftAll() {
		for _, r := range values(p.Readings) {
			if off := bias / 100 * math.Abs(r); off > 0 {
				worst = math.Max(worst, off/w.bound.At(p.SetValue, r))
			}
		}
	}
	if !atMost(worst, 0.25) {
		add(DoubtStandardOff, true, "the standard itself is off by %s %%, and the readings were not corrected for it: that is %.0f %% of the limit, and at most a quarter supports a yes; correct them, and enter 0",
			decimalOf(bias), 100*worst)
	}
}

func (w work) standardRange(j Judgement, add adder) {
	s := w.r.Standard
	if s.Low.IsZero() {
		add(DoubtStandardRange, true, "the standard's range is not known")
		return
	}
	low, high, err := Scale{Low: s.Low, High: s.High}.ends(w.q.Unit)
	for _, p := range j.leftAll() {
		for _, x := range append(values(p.Readings), p.SetValue) {
			if err != nil || !atMost(low, x) || !atMost(x, high) {
				add(DoubtStandardRange, true, "the standard goes from %s to %s, and %s%s is outside", s.Low, s.High, prefix(p.Direction), p.Set)
				return
			}
		}
	}
}

// standardStrength asks for a standard whose expanded uncertainty is at most a
// quarter of the limit at every point.
func (w work) standardStrength(j Judgement, add adder) {
	worst := 0.0
	for _, p := range j.leftAll() {
		for _, r := range values(p.Readings) {
			u, stated := w.standardAt(r)
			if !stated {
				add(DoubtNoUncertainty, true, "the standard's uncertainty is not known")
				return
			}
			worst = math.Max(worst, u/w.bound.At(p.SetValue, r))
		}
	}
	if !atMost(worst, 0.25) {
		add(DoubtStandardWeak, true, "the standard's uncertainty is %.0f %% of the limit; at most a quarter supports a yes", 100*worst)
	}
}

// Hand torque tools are compared at 18 °C to 28 °C (ISO 6789-1, as a setting
// wrench's manual has it).
const benchLow, benchHigh = 18.0, 28.0

func (w work) temperatureDoubts(add adder) {
	if w.r.Temperature.IsZero() {
		add(DoubtTemperature, true, "the temperature was not recorded")
		return
	}
	c, err := amountIn(w.r.Temperature, units.Celsius)
	if w.q.Class != NoClass && (err != nil || !atMost(benchLow, c) || !atMost(c, benchHigh)) {
		add(DoubtTemperatureRange, true, "it was compared at %s; torque tools are compared at 18 °C to 28 °C", w.r.Temperature)
	}
}

// pointDoubts are those that block nothing.
func (w work) pointDoubts(j Judgement, add adder) {
	left := j.leftAll()
	asked := w.q.Class.readings()
	var assumed, scattered, few, conditional bool
	for _, p := range left {
		for _, c := range p.Parts {
			assumed = assumed || c.Assumed
		}
		scattered = scattered || p.ScatterAssumed
		few = few || asked > 0 && len(p.Readings) < asked
		conditional = conditional || p.Decision == ConditionalPass
	}
	if assumed {
		add(DoubtBudgetAssumed, false, "parts of the uncertainty were not determined; an allowance stands in for them")
	}
	if scattered {
		add(DoubtScatterAssumed, false, "how single uses scatter is not known; a quarter of the limit is assumed")
	}
	if few && w.r.Paper == Own {
		add(DoubtFewReadings, false, "class %s is compared with %d readings a point (from memory)", w.q.Class, asked)
	}
	if conditional {
		add(DoubtConditional, false, "inside the limit by less than the uncertainty")
	}
	w.spreadOfPoints(j, add)
}

// spreadOfPoints notes hand torque tools that were not compared at the fifth, three
// fifths and the whole of their maximum (or the lowest mark).
func (w work) spreadOfPoints(j Judgement, add adder) {
	if w.q.Class == NoClass || w.q.Class.OneValue() {
		return
	}
	for _, d := range w.q.Directions {
		points := j.Left(d)
		for _, want := range w.q.Points() {
			near := false
			for _, p := range points {
				near = near || math.Abs(p.SetValue-want) <= 0.1*want
			}
			if !near {
				add(DoubtPoints, false, "nothing was compared near %s %s %s", decimalOf(want), w.q.Unit, d.Words())
				return
			}
		}
	}
}
