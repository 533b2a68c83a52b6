// Package intervals works out how long a tool that measures can be trusted between
// calibrations, as advice: what its own as-found results, its drift and the results
// of like tools say, each with what it rests on. It is arithmetic only: no database,
// no clock, no chance. Nothing that it computes is stored, and nothing follows from
// it unless somebody changes what is asked of the tool.
//
// Ages are months of 365.2425/12 days. A life begins when a tool was left in tolerance
// after an adjustment (or at its first calibration on record) and ends at the next
// adjustment, or when it was found out of tolerance.
package intervals

import (
	"math"

	"pawl/model/calibration"
	"pawl/model/dates"
)

// daysOfMonth is the mean of the Gregorian calendar.
const daysOfMonth = 365.2425 / 12

// MonthsBetween is the time from one day to another in months of 30.436875 days.
func MonthsBetween(from, to dates.Date) float64 {
	return float64(dates.DaysBetween(from, to)) / daysOfMonth
}

// Outcome is what one as-found result says.
type Outcome string

const (
	Near    Outcome = "well inside"           // no reading beyond 0.8 of its limit
	Inside  Outcome = "inside"                // in tolerance, beyond 0.8 of a limit
	OutOf   Outcome = "out of tolerance"      //
	Unknown Outcome = "says nothing on drift" // not judged as found, or an accident came before
)

// nearShare is the part of the limit up to which a result argues for a longer
// interval. ILAC-G24/OIML D 10 method 1 gives 80 % as an example (from memory).
const nearShare = 0.8

// Result is one calibration of a tool after its first, as it was found.
type Result struct {
	On      dates.Date
	Months  float64 // since the calibration before
	Age     float64 // since the life began, months; 0 where none had begun
	Share   float64 // largest |error| over its limit; NaN where there are no readings
	Outcome Outcome
	Why     string // of Unknown
}

// Observation is what is known of one life: the tool was in tolerance at After
// months, and out of it by By; +Inf where it was never found out.
type Observation struct{ After, By float64 }

// Failed says whether the life ended out of tolerance.
func (o Observation) Failed() bool { return !math.IsInf(o.By, 1) }

// accidents are what explains a result better than the time that went by.
var accidents = map[calibration.EventKind]string{
	calibration.Dropped: "it was dropped before", calibration.Overloaded: "it was overloaded before", calibration.Damaged: "it was damaged before",
	calibration.BrokeLoose: "it was used to break a fastener loose before", calibration.Repaired: "it was repaired before", calibration.BackOtherSerial: "another tool came back",
}

// History is what is on record of one tool: calibrations without bench checks, newest
// first as in calibration.Facts, and what happened to it.
type History struct {
	Number       string
	Calibrations []calibration.Kept
	Events       []calibration.Event
}

// accident names what happened after one calibration and up to the next; "" is nothing.
func (h History) accident(after, to dates.Date) string {
	for _, e := range h.Events {
		if why, is := accidents[e.Kind]; is && e.On.After(after) && !e.On.After(to) {
			return why
		}
	}
	return ""
}

// Results reads the as-found results of a tool, oldest first, and the lives that they
// show.
func (h History) Results() (out []Result, lives []Observation) {
	l := life{}
	for i := len(h.Calibrations) - 1; i >= 0; i-- {
		k := h.Calibrations[i]
		if i < len(h.Calibrations)-1 {
			before := h.Calibrations[i+1]
			r := Result{On: k.On, Months: MonthsBetween(before.On, k.On), Age: l.age(k.On), Share: shareOf(k)}
			r.Outcome, r.Why = outcome(k, r, h.accident(before.On, k.On))
			out = append(out, r)
			l.see(r)
		}
		l.left(k)
	}
	l.end()
	return out, l.seen
}

// shareOf is the largest error as found over its limit.
func shareOf(k calibration.Kept) float64 {
	share := math.NaN()
	for _, d := range []calibration.Direction{calibration.NoDirection, calibration.Clockwise, calibration.Counterclockwise} {
		for _, p := range k.Found(d) {
			for _, e := range p.Errors {
				if s := math.Abs(e) / p.Limit; !(s <= share) && !math.IsNaN(s) {
					share = s
				}
			}
		}
	}
	return share
}

func outcome(k calibration.Kept, r Result, accident string) (Outcome, string) {
	switch {
	case accident != "":
		return Unknown, accident
	case k.FoundVerdict == calibration.Failed:
		return OutOf, ""
	case k.FoundVerdict != calibration.Passed:
		return Unknown, "it was not compared as found"
	case r.Share <= nearShare*(1+1e-9):
		return Near, ""
	}
	return Inside, ""
}

// life is one stretch between adjustments on the way through a tool's history.
type life struct {
	start dates.Date // "": none has begun
	good  float64    // age at which it was last found in tolerance
	seen  []Observation
}

func (l *life) age(on dates.Date) float64 {
	if l.start == "" {
		return 0
	}
	return MonthsBetween(l.start, on)
}

// see takes one result in. An accident ends a life: what came after it says nothing
// on drift.
func (l *life) see(r Result) {
	switch {
	case l.start == "" || r.Age <= 0:
	case r.Outcome == OutOf:
		if l.good >= r.Age { // found good on that very day: that says nothing
			l.good = 0
		}
		l.seen = append(l.seen, Observation{l.good, r.Age})
		l.start, l.good = "", 0
	case r.Outcome == Near || r.Outcome == Inside:
		l.good = r.Age
	case accidentWords(r.Why):
		l.end()
	}
}

func accidentWords(why string) bool {
	for _, w := range accidents {
		if w == why {
			return true
		}
	}
	return false
}

// left begins a life where the tool was left good, anew after an adjustment.
func (l *life) left(k calibration.Kept) {
	if k.Adjusted {
		l.end()
	}
	if l.start == "" && k.Verdict == calibration.Passed {
		l.start = k.On
	}
}

func (l *life) end() {
	if l.good > 0 {
		l.seen = append(l.seen, Observation{l.good, math.Inf(1)})
	}
	l.start, l.good = "", 0
}
