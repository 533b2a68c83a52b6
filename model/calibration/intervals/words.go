package intervals

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"pawl/model/units"
)

// decimal writes a figure with one decimal at most.
func decimal(f float64) string {
	return strings.TrimSuffix(strconv.FormatFloat(f, 'f', 1, 64), ".0")
}

// word says the advice to a person, and how to put it in force.
func (w *weighing) word(months int) {
	now := w.Requirement.Months
	switch w.out.What {
	case Shorten:
		w.out.Words = fmt.Sprintf("Advice: shorten the interval from %d to %d months.", now, months)
	case Lengthen:
		w.out.Words = fmt.Sprintf("Advice: the interval may be lengthened from %d to %d months.", now, months)
	case Keep:
		w.out.Words = fmt.Sprintf("Advice: keep %d months.", now)
	default:
		w.out.Words = "Insufficient data: nothing is advised."
		if now > 0 {
			w.out.Words = fmt.Sprintf("Insufficient data: too little is on record to advise another interval than %d months, or to say that it is right.", now)
		}
	}
	if w.out.What != Insufficient {
		w.out.Words += " It is advice: nothing changes until somebody changes it."
		w.out.Months = &months
	}
	if w.out.What == Shorten || w.out.What == Lengthen {
		accept := fmt.Sprintf("pawl calibrate %s --months %d --interval-from \"shop rule: advice of %s\"", w.Own.Number, months, w.Today)
		w.out.Accept = &accept
	}
}

// rules are what holds whatever the figures are.
func (w *weighing) rules() []string {
	top := "No legal or contractual maximum is recorded for it. Where a law, a maker, an insurer or a customer sets one, record it, and no interval goes past it."
	if w.Requirement.MaximumMonths > 0 {
		top = fmt.Sprintf("Never longer than %d months: %s.", w.Requirement.MaximumMonths, strings.TrimSuffix(w.Requirement.MaximumWhy, "."))
	}
	out := []string{top,
		"Never longer from the results of like tools alone: every tool here counts as used on safety jobs. Never longer on fewer than 3 as-found results in a row.",
		"As-found results of tool calibrations count; bench checks do not, nor what was found after a drop, an overload, damage or a repair. Found in tolerance means by the tool's own decision rule.",
		fmt.Sprintf("The staircase is this program's own choice: ×1.1 where well inside, ×0.5 where out of tolerance, 3 to 24 months. Left to itself it settles near %.0f %% in tolerance.", 100*SettlesAt(longer-1, 1-shorter)) +
			fmt.Sprintf(" To settle at %s %%, each failure would have to cut the interval to %.0f %% of it: the other figures are there for that.", decimal(100*w.target), 100*(1-StepDown(longer-1, w.target))),
		"A drift line starts anew at each adjustment, and is never asked past twice the time between the last two results.",
		"\"Calibrated\" speaks of the day of comparison; between dates it is a prediction. A drop ends it, whatever the date.",
	}
	if w.out.TargetAssumed {
		out = append(out, "No target is recorded: 95 % in tolerance at the end of the interval is assumed.")
	}
	return out
}

// words say one point's drift.
func (t Trace) words() string {
	switch {
	case t.Line == nil:
		return fmt.Sprintf("insufficient data: %s; a line needs three at different times", units.Count(len(t.Marks), "comparison"))
	case math.IsNaN(t.Guarded):
		return fmt.Sprintf("It drifts %s; no uncertainty is stated, so no limit is left to reach", signed(t.Line.Slope))
	}
	reach := func(months float64, met bool) string {
		if !met {
			return fmt.Sprintf("not within %s months", decimal(t.Reach.Horizon))
		}
		if months < 0.05 {
			return "now"
		}
		return fmt.Sprintf("after %s months", decimal(months))
	}
	return fmt.Sprintf("It drifts %s; the guarded limit of %s %% is reached by the line %s, by its 95 %% bound %s", signed(t.Line.Slope),
		strconv.FormatFloat(t.Guarded, 'f', 2, 64), reach(t.Reach.Nominal, t.Reach.NominalReached), reach(t.Reach.Conservative, t.Reach.ConservativeSoon))
}

// signed says a slope without a bare sign.
func signed(slope float64) string {
	size := strconv.FormatFloat(math.Abs(slope), 'f', 3, 64)
	switch {
	case size == "0.000":
		return "0.000 % a month"
	case slope > 0:
		return size + " % a month toward showing too much"
	}
	return size + " % a month toward showing too little"
}
