package calibration_test

import (
	"math"
	"slices"
)

// oracleAnswer is the verdict with all that makes it: what forbids, what leaves it
// open. Figures are NaN where a fact for them is missing.
type oracleAnswer struct {
	no, open                map[string]bool
	setting, target         float64
	low, high, inside       float64
	mean, spread, threshold float64
	parts                   oracleFigures
	uext                    float64
}

func (a oracleAnswer) verdict() string {
	switch {
	case len(a.no) > 0:
		return "no"
	case len(a.open) > 0:
		return "cannot confirm"
	}
	return "yes"
}

// oracleRule is one answer being worked out. wrong plants a fault on purpose, for
// the controls.
type oracleRule struct {
	oracleCase
	oracleAnswer
	wrong string
}

func (r *oracleRule) forbid(when bool, reason string) {
	if when {
		r.no[reason] = true
	}
}

func (r *oracleRule) doubt(when bool, reason string) {
	if when {
		r.open[reason] = true
	}
}

// answer works one case out.
func (c oracleCase) answer() oracleAnswer { return c.answerWrong("") }

func (c oracleCase) answerWrong(wrong string) oracleAnswer {
	nan := math.NaN()
	r := &oracleRule{oracleCase: c, wrong: wrong}
	r.oracleAnswer = oracleAnswer{no: map[string]bool{}, open: map[string]bool{}, setting: nan, target: nan, low: nan, high: nan, inside: nan, mean: nan, spread: nan, threshold: 0.975}
	if c.NotSafety {
		r.threshold = 0.95
	}
	r.state()
	if c.NoRequirement {
		r.doubt(true, "no requirement")
		return r.oracleAnswer
	}
	r.sameDay()
	r.calibration()
	r.trust()
	r.asked()
	r.direction()
	r.value()
	return r.oracleAnswer
}

func (r *oracleRule) state() {
	r.forbid(r.Gone, "gone")
	r.forbid(r.DoNotUse, "do not use")
	r.doubt(r.Unreadable, "unreadable")
	r.doubt(r.Doubtful || r.Today == oracleNoDay, "clock")
}

// sameDay puts the paper in force first. Of several of the newest day those drop out
// that were certainly made before another that speaks of the direction; of the rest
// one that failed decides, else one that supports nothing, else one that speaks of
// the direction.
func (r *oracleRule) sameDay() {
	if len(r.Calibrations) == 0 {
		return
	}
	var left []int
	for i, k := range r.Calibrations {
		before := func(o oracleCalibration) bool { return o.On == k.On && o.after(k.On, k.Hour) && r.speaks(o) }
		if k.On == r.Calibrations[0].On && !slices.ContainsFunc(r.Calibrations, before) {
			left = append(left, i)
		}
	}
	best := left[0]
	for _, fits := range []func(outcome string, supports bool, k oracleCalibration) bool{
		func(outcome string, _ bool, _ oracleCalibration) bool { return outcome == "fail" },
		func(outcome string, supports bool, _ oracleCalibration) bool { return outcome != "pass" || !supports },
		func(_ string, _ bool, k oracleCalibration) bool { return r.speaks(k) },
	} {
		i := slices.IndexFunc(left, func(i int) bool {
			outcome, supports := r.judge(r.Calibrations[i])
			return fits(outcome, supports, r.Calibrations[i])
		})
		if i >= 0 {
			best = left[i]
			break
		}
	}
	papers := slices.Clone(r.Calibrations)
	papers[0], papers[best] = papers[best], papers[0]
	r.Calibrations = papers
}

// speaks says whether a paper says anything of the direction asked for.
func (c oracleCase) speaks(k oracleCalibration) bool {
	if k.Paper == "declaration" {
		return c.declares(k) && (len(c.Directions) == 0 || slices.Contains(k.Declared.Directions, c.turn()))
	}
	return slices.ContainsFunc(c.left(k), func(p oraclePoint) bool { return p.Direction == c.turn() })
}

// calibration asks the last one: passed, in date, fit to support a yes.
func (r *oracleRule) calibration() {
	r.doubt(r.FromMemory, "limit from memory")
	if len(r.Calibrations) == 0 {
		r.doubt(true, "never calibrated")
		return
	}
	k := r.Calibrations[0]
	outcome, supports := r.judge(k)
	r.forbid(outcome == "fail", "failed")
	r.doubt(!supports, "supports nothing")
	r.doubt(r.Today != oracleNoDay && k.On > r.Today, "future")
	if r.Months == 0 {
		r.doubt(true, "no due date")
	} else if r.Today != oracleNoDay {
		r.forbid(r.Today > r.due(), "past due")
	}
	r.forbid(r.Cycles > 0 && r.Counted && r.Count >= r.Cycles, "cycles")
}

// due is the last day in date: months from the calibration, or from first use
// where that is known.
func (r *oracleRule) due() oracleDay {
	from := r.Calibrations[0].On
	if r.FirstUse != oracleNoDay {
		from = r.FirstUse
	}
	return from.months(r.Months)
}

// judge gives the outcome of one calibration for the tool as it left, and whether it
// may support a yes.
func (c oracleCase) judge(k oracleCalibration) (outcome string, supports bool) {
	switch {
	case k.Claim == "fail":
		return "fail", false
	case k.Paper == "pass only":
		return "cannot be judged", false
	case k.Paper == "declaration":
		return c.judgeDeclaration(k)
	}
	left := c.left(k)
	if len(left) == 0 {
		return "cannot be judged", false
	}
	supports = !c.FromMemory
	within := true
	for _, p := range left {
		f := c.point(p, k)
		within = within && f.within && c.guarded(f)
		if k.Paper == "own" {
			supports = supports && f.known && c.standardFits(k, p)
		} else {
			supports = supports && f.known && atMost(2*f.w, f.limit/2)
		}
	}
	if k.Paper == "own" {
		supports = supports && !k.NoTemp && (c.Gauge || k.Temperature >= 18000 && k.Temperature <= 28000)
	}
	if within {
		return "pass", supports
	}
	if k.Claim == "pass" {
		return "disagree", false // both show; nothing is confirmed
	}
	return "fail", false
}

// guarded is the rule for tools used on safety jobs where no other is agreed: the
// mean deviation inside the limit less the expanded uncertainty (ILAC-G8:09/2019
// 4.2.2, w = U).
func (c oracleCase) guarded(f oraclePointFacts) bool {
	if c.Rule != "guarded" && !(c.Rule == "" && c.SafetyJobs) {
		return true
	}
	return !f.known || c.holds(f)
}

func (c oracleCase) judgeDeclaration(k oracleCalibration) (outcome string, supports bool) {
	if !c.declares(k) || k.Declared.Limit > c.Limit.Amount { // a wider class shows nothing of this limit
		return "cannot be judged", false
	}
	return "pass", !c.FromMemory
}

// declares says whether a declaration stands for readings at all: a range with three
// points or more, and the directions.
func (c oracleCase) declares(k oracleCalibration) bool {
	return k.Declared.Points >= 3 && (len(k.Declared.Directions) > 0 || len(c.Directions) == 0)
}

// left is the tool as it left: what was adjusted and not compared again says nothing.
// A direction that was not compared again, where nothing was adjusted, is as found.
func (c oracleCase) left(k oracleCalibration) []oraclePoint {
	left := slices.Clone(k.Left)
	if k.adjusted() {
		return left
	}
	for _, p := range k.Found {
		if !slices.ContainsFunc(k.Left, func(l oraclePoint) bool { return l.Direction == p.Direction }) {
			left = append(left, p)
		}
	}
	return left
}

// adjusted is as stated, or as a value shows that was left with other readings.
func (k oracleCalibration) adjusted() bool {
	for _, l := range k.Left {
		for _, f := range k.Found {
			if f.Direction == l.Direction && f.Set == l.Set && !slices.Equal(f.Readings, l.Readings) {
				return true
			}
		}
	}
	return k.Adjusted
}

// standardFits says whether a standard of the shop may carry one point.
func (c oracleCase) standardFits(k oracleCalibration, p oraclePoint) bool {
	s := k.Standard
	if s.Missing || s.OutOfUse || s.Uncertainty == 0 && s.Absolute == 0 || !s.BiasSaid || s.On == oracleNoDay || s.Due == oracleNoDay {
		return false
	}
	if k.On < s.On || k.On > s.Due {
		return false
	}
	for _, x := range p.Readings {
		off := math.Abs(s.Bias.float()) / 100 * x.float()
		if x < s.Low || !atMost(off, c.Limit.at(p.Set.float(), x.float(), c.Scale)/4) || x > s.High || !atMost(s.Uncertainty.float()/100*x.float()+s.Absolute.float(), c.Limit.at(p.Set.float(), x.float(), c.Scale)/4) {
			return false
		}
	}
	return p.Set >= s.Low && p.Set <= s.High
}

// trust counts what happened since: an event stands until a passing calibration or
// a bench check of the whole range in every direction, both dated after it.
func (r *oracleRule) trust() {
	for _, e := range r.Events {
		if r.undone(e.On, e.Hour) {
			continue
		}
		if e.Kind == "back from the lab without paper" || e.Kind == "back from the lab with another serial number" {
			r.doubt(true, "trust ended")
		} else {
			r.forbid(true, "trust ended")
		}
	}
	for _, k := range r.Checks {
		if outcome, _ := r.judge(k); outcome == "fail" && !r.undone(k.On, k.Hour) {
			r.forbid(true, "bench check failed")
		}
	}
}

func (r *oracleRule) undone(on oracleDay, hour int) bool {
	return r.passedSince(on, hour) || r.restoring(on, hour) != nil
}

// passedSince says whether a calibration made after something passed.
func (r *oracleRule) passedSince(on oracleDay, hour int) bool {
	for _, k := range r.Calibrations {
		if outcome, _ := r.judge(k); outcome == "pass" && k.after(on, hour) {
			return true
		}
	}
	return false
}

// after says whether a comparison was certainly made later: by the hour where both
// are known, else by the day.
func (k oracleCalibration) after(on oracleDay, hour int) bool {
	if k.On == on && k.Hour != 0 && hour != 0 {
		return k.Hour > hour
	}
	return k.On > on
}

// restoring is the newest bench check after something that covers everything.
func (r *oracleRule) restoring(on oracleDay, hour int) *oracleCalibration {
	for i, k := range r.Checks {
		if k.after(on, hour) && r.clears(k) {
			return &r.Checks[i]
		}
	}
	return nil
}

// clears says whether a bench check moves trust for the whole range both ways: with
// a standard in date and fit, and |ā| + W within the limit at every point.
func (r *oracleRule) clears(k oracleCalibration) bool {
	outcome, supports := r.judge(k)
	if outcome != "pass" || !supports {
		return false
	}
	for _, p := range r.left(k) {
		if f := r.point(p, k); !atMost(math.Abs(f.mean)+2*f.w, f.limit) {
			return false
		}
	}
	from, directions := r.Scale.Low.float(), r.Directions
	if r.Gauge {
		directions = []string{""}
	} else if r.Scale.Low < r.Scale.High { // below 20 % of its maximum nothing is asked
		from = math.Max(from, r.Scale.High.float()/5)
	}
	for _, d := range directions {
		low, high := math.Inf(1), math.Inf(-1)
		for _, p := range r.left(k) {
			if p.Direction == d {
				low, high = math.Min(low, p.Set.float()), math.Max(high, p.Set.float())
			}
		}
		if !atMost(low, from) || !atMost(r.Scale.High.float(), high) {
			return false
		}
	}
	return true
}

// asked weighs what only the person at the tool can say, and the way of tightening.
func (r *oracleRule) asked() {
	if r.Class == "II-C" || r.Class == "II-F" {
		r.forbid(r.Unchanged == saidNo, "setting changed")
		r.doubt(r.Unchanged == unsaid, "setting unchanged?")
	}
	if r.Electronic {
		r.forbid(r.Zero == saidNo, "zero or battery")
		r.doubt(r.Zero == unsaid, "zero and battery?")
		r.ambient()
	}
	r.doubt(r.Method == "torque+angle" && !r.AngleKnown, "method")
	r.doubt(r.Method == "yield", "method")
	r.doubt(r.UnitRight == saidNo, "unit")
}

func (r *oracleRule) ambient() {
	if r.AmbientLow == 0 && r.AmbientHigh == 0 || r.NoAmbient {
		r.doubt(true, "ambient?")
		return
	}
	r.forbid(r.Ambient < r.AmbientLow || r.Ambient > r.AmbientHigh, "ambient")
}
