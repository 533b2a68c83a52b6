package intervals

import (
	"fmt"
	"math"
	"strings"

	"pawl/model/calibration"
	"pawl/model/dates"
	"pawl/model/units"
)

// Question is everything that the advice on one tool rests on.
type Question struct {
	Requirement calibration.Requirement
	Own         History
	Like        []History // tools that must hold the same, this one among them
	Uses        []Used    // since the newest calibration, oldest first
	Today       dates.Date
}

// weighing is one advice on its way.
type weighing struct {
	Question
	target  float64
	results []Result
	traces  []Trace
	study   Study
	out     Advice
}

// Advise says what the record makes of a tool's interval. Shorter is advised where any
// nominal figure is shorter. Longer is advised only where the tool's own newest results,
// three or more in a row, and every conservative figure that there is allow it, never
// past 24 months nor past a legal or contractual maximum: like tools alone never
// lengthen an interval, since nothing shows that a tool was never used on a safety job.
func Advise(q Question) Advice {
	w := weighing{Question: q, target: 0.95}
	w.out.On, w.out.TargetAssumed = q.Today, q.Requirement.Reliability == ""
	if !w.out.TargetAssumed {
		w.target = q.Requirement.Reliability.Float()
	}
	w.out.TargetReliability = w.target
	w.results, _ = q.Own.Results()
	w.traces = q.Own.Traces()
	w.inForce()
	w.out.Like, w.study = likeOf(q.Requirement.Preset, q.Like, w.target)
	w.out.Drift = []Drift{}
	for _, t := range w.traces {
		w.out.Drift = append(w.out.Drift, t.show(q.Requirement.Unit))
	}
	w.climb()
	w.figures()
	w.decide()
	w.out.Rules = w.rules()
	return w.out
}

// inForce says what holds today.
func (w *weighing) inForce() {
	q := w.Requirement
	w.out.Interval = Interval{Months: some(q.Months), Cycles: some(q.Cycles), Source: string(q.IntervalSource.Standing),
		MaximumMonths: some(q.MaximumMonths), MaximumWhy: q.MaximumWhy}
	if q.IntervalSource.Where != "" {
		w.out.Interval.Source += ": " + q.IntervalSource.Where
	}
	next := Next{Cycles: q.Cycles}
	if all := w.Own.Calibrations; len(all) > 0 {
		from := all[0].NextDueFrom
		if from == "" {
			from = all[0].On
		}
		next = NextDue(from, q.Months, q.Cycles, w.Uses, w.Today)
		if ends := all[0].IntervalEnds; ends.Before(next.ByMonths) { // a law or a contract allows no more
			next.ByMonths = ends
			if ends.Before(next.Due) {
				next.Due, next.Because = ends, "months"
			}
		}
		if all[0].Verdict != calibration.Passed { // nothing is in date after a failure
			next.Due, next.ByMonths, next.Because = "", "", ""
		}
	}
	w.out.NextDue = next.show()
}

// nominal is +Inf where the line does not reach the limit as far as it may be asked.
func (r Reach) nominal() float64 {
	if !r.NominalReached {
		return math.Inf(1)
	}
	return r.Nominal
}

// climb asks the staircase. A result argues from how long the tool really ran: a pass
// before the interval was over does not lengthen it, and a failure halves what was run.
func (w *weighing) climb() {
	if w.Requirement.Months == 0 || len(w.results) == 0 {
		return
	}
	now := float64(w.Requirement.Months)
	last := w.results[len(w.results)-1]
	ran := math.Round(last.Months)
	s := &Staircase{Months: now, InARow: inARow(w.results), SettlesAt: rounded(SettlesAt(longer-1, 1-shorter)), Results: []ResultShown{}}
	switch {
	case last.Outcome == OutOf:
		s.Months = math.Min(now, Stair(ran, OutOf))
	case last.Outcome == Near && ran >= now && s.InARow >= fewestResults:
		s.Months, s.MayLengthen = math.Max(now, Stair(now, Near)), true
	}
	for _, r := range w.results {
		s.Results = append(s.Results, r.show())
	}
	s.Months = rounded(s.Months)
	w.out.Staircase = s
}

// inARow counts the newest results that were found in tolerance, one after the other.
func inARow(all []Result) (n int) {
	for i := len(all) - 1; i >= 0 && (all[i].Outcome == Near || all[i].Outcome == Inside); i-- {
		n++
	}
	return n
}

// bounded says whether a trace says when the tool reaches its guarded limit.
func (t Trace) bounded() bool { return t.Line != nil && !math.IsNaN(t.Guarded) }

// worst are the shortest figures over all points: +Inf where the line of none reaches
// its guarded limit as far as it may be asked; ok is false where no point has any.
func (w *weighing) worst() (nominal, conservative float64, ok bool) {
	nominal, conservative = math.Inf(1), math.Inf(1)
	for _, t := range w.traces {
		if t.bounded() {
			nominal, conservative, ok = math.Min(nominal, t.Reach.nominal()), math.Min(conservative, t.Reach.Conservative), true
		}
	}
	return nominal, conservative, ok
}

// figures set the ways to look at it side by side.
func (w *weighing) figures() {
	stair := Figure{Method: "staircase", RestsOn: units.Count(len(w.results), "as-found result") + " of this tool", Insufficient: true}
	if s := w.out.Staircase; s != nil {
		if stair.Insufficient = s.InARow < fewestResults && w.results[len(w.results)-1].Outcome != OutOf; !stair.Insufficient {
			stair.Nominal, stair.Conservative = &s.Months, figure(math.Min(s.Months, float64(w.Requirement.Months)))
		}
		stair.RestsOn += fmt.Sprintf("; the newest %d in a row in tolerance", s.InARow)
	}
	drift := Figure{Method: "drift", RestsOn: "no point with three results and a stated uncertainty", Insufficient: true}
	if nominal, conservative, ok := w.worst(); ok {
		drift = Figure{Method: "drift", Nominal: figure(nominal), Conservative: figure(conservative), RestsOn: w.driftRests()}
	}
	like := Figure{Method: "like tools", Nominal: w.out.Like.NominalMonths, Conservative: w.out.Like.ConservativeMonths, Insufficient: w.study.Insufficient != ""}
	like.RestsOn = fmt.Sprintf("%s between adjustments of %s, %d found out of tolerance", units.Count(w.study.Lives, "stretch"), units.Count(len(w.out.Like.Tools), "tool"), w.study.Failures)
	w.out.Figures = []Figure{stair, drift, like}
}

func (w *weighing) driftRests() string {
	n, fewest, horizon, soonest, reached := 0, math.MaxInt, math.Inf(1), math.Inf(1), ""
	for _, t := range w.traces {
		if t.bounded() {
			n, fewest, horizon = n+1, min(fewest, len(t.Marks)), math.Min(horizon, t.Reach.Horizon)
			if t.Reach.NominalReached && t.Reach.Nominal < soonest {
				soonest, reached = t.Reach.Nominal, strings.TrimSpace(string(t.Set)+" "+string(w.Requirement.Unit)+" "+t.Direction.Words())
			}
		}
	}
	text := fmt.Sprintf("%s with %d comparisons or more; months after the newest", units.Count(n, "point"), fewest)
	if reached != "" {
		return text + "; soonest at " + reached
	}
	return text + fmt.Sprintf("; no line reaches its guarded limit within %s, and none is asked further", decimal(horizon))
}

// decide weighs the figures. Months are whole, rounded down.
func (w *weighing) decide() {
	w.out.What, w.out.Because = Insufficient, []string{}
	now := w.Requirement.Months
	if now == 0 {
		w.say("no interval in months is recorded, so there is none to change")
		w.word(0)
		return
	}
	best := now
	for _, f := range w.out.Figures {
		if f.Insufficient {
			continue
		}
		w.out.What = Keep
		if f.Nominal == nil {
			continue
		}
		if months := max(1, int(math.Floor(*f.Nominal+1e-9))); months < now {
			w.say("%s: %s months, and %d are in force (%s)", f.Method, decimal(*f.Nominal), now, f.RestsOn)
			best = min(best, months)
		}
	}
	if by := w.study.FailedBy; !math.IsNaN(by) {
		w.out.What = Keep
		w.say("like tools: every one was found out of tolerance the first time, at %s months or later; no estimate is that short", decimal(by))
		best = min(best, max(1, int(math.Round(by)*shorter)))
	}
	switch {
	case best < now:
		w.out.What = Shorten
	case w.out.Staircase != nil && w.out.Staircase.MayLengthen:
		best = w.lengthen(now)
	case w.out.Staircase != nil:
		w.stay()
	}
	w.word(best)
}

// stay says why the staircase does not lengthen.
func (w *weighing) stay() {
	last, s := w.results[len(w.results)-1], w.out.Staircase
	switch {
	case last.Outcome == Unknown:
		w.say("the newest result says nothing on drift: %s", last.Why)
	case last.Outcome == Inside:
		w.say("it was found in tolerance, but with an error beyond 80 %% of its limit")
	case s.InARow < fewestResults:
		w.say("%s in a row in tolerance; a longer interval needs %d", units.Count(s.InARow, "as-found result"), fewestResults)
	default:
		w.say("it was compared after %s months, before the interval was over", decimal(last.Months))
	}
}

// lengthen asks everything that can stand against a longer interval.
func (w *weighing) lengthen(now int) int {
	months := int(math.Floor(w.out.Staircase.Months + 1e-9))
	if top := w.Requirement.MaximumMonths; top > 0 && months > top {
		months = top
		w.say("no longer than %d months: %s", top, w.Requirement.MaximumWhy)
	}
	for _, f := range w.out.Figures[1:] {
		if f.Conservative != nil && float64(months) > *f.Conservative {
			w.say("%s: the conservative figure is %s months (%s)", f.Method, decimal(*f.Conservative), f.RestsOn)
			months = now
		}
	}
	if months <= now {
		return now
	}
	w.out.What = Lengthen
	w.say("the newest %d results in a row were in tolerance, the last well inside, after %s months", w.out.Staircase.InARow,
		decimal(w.results[len(w.results)-1].Months))
	return months
}

func (w *weighing) say(format string, in ...any) {
	w.out.Because = append(w.out.Because, fmt.Sprintf(format, in...))
}
