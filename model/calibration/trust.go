package calibration

import (
	"fmt"
	"math"
	"slices"

	"pawl/model/dates"
)

// EventKind is something that ends the trust in a calibration.
type EventKind string

const (
	Dropped          EventKind = "dropped"
	Overloaded       EventKind = "overloaded"
	BrokeLoose       EventKind = "used to break a fastener loose"
	Repaired         EventKind = "repaired"
	Damaged          EventKind = "damaged"
	FoundFailed      EventKind = "failed"
	FoundDoubtful    EventKind = "doubtful"
	BackWithoutPaper EventKind = "back from the lab without paper"
	BackOtherSerial  EventKind = "back from the lab with another serial number"
	SettingChanged   EventKind = "setting changed" // tools without a scale
)

// Event is one such thing. A later passing calibration, or a bench check of the
// whole range in every direction, both dated after it, restores trust.
type Event struct {
	Kind EventKind
	On   dates.Date    // in the shop's zone
	At   dates.Instant // 0 where only the day is known
}

// Weighs says what an event makes of every question until trust is restored: a drop,
// an overload and the like are known facts against the tool (TM 1-1500-204-23-9
// 8-6: a dropped wrench is checked before its next use); a tool that came back
// without paper or as another one lacks a fact. A kind that is not known weighs as
// a drop does.
func (k EventKind) Weighs() Readiness {
	if k == BackWithoutPaper || k == BackOtherSerial {
		return CannotConfirm
	}
	return No
}

// moment is a day, with the instant where it is known.
type moment struct {
	on dates.Date
	at dates.Instant
}

// after says whether m is certainly later than other: by the instants where both
// are known, else by the days. On one day without times nothing is later.
func (m moment) after(other moment) bool {
	if m.at != 0 && other.at != 0 {
		return m.at > other.at
	}
	return m.on.After(other.on)
}

func (e Event) moment() moment { return moment{e.On, e.At} }
func (k Kept) moment() moment  { return moment{k.On, k.At} }

// Restores says whether a bench check gives trust back: it may support a yes, and it
// spans the whole range in every direction that the requirement names, each point
// with |ā| + W inside the limit. A rule of the project.
func (k Kept) Restores(r Requirement) bool {
	if k.Verdict != Passed || !k.Supports {
		return false
	}
	directions := r.Directions
	if len(directions) == 0 {
		directions = []Direction{NoDirection}
		if r.Instrument.Turns() {
			directions = []Direction{Clockwise, Counterclockwise}
		}
	}
	for _, d := range directions {
		if !spans(k.Left(d), r) {
			return false
		}
	}
	return true
}

// spans says whether points that all hold with their uncertainty reach from one end
// of the range to the other. A torque tool's range starts at its lowest mark, or at
// 20 % of its maximum where that is higher (ISO 6789-1:2017 5.1.3 by a tool maker's
// account of it).
func spans(points []JudgedPoint, r Requirement) bool {
	low, high, err := r.Scale.ends(r.Unit)
	if err != nil || len(points) == 0 {
		return false
	}
	if r.Instrument.Turns() && low < high {
		low = math.Max(low, 0.2*high)
	}
	for _, p := range points {
		if !p.Within || !p.holds() {
			return false
		}
	}
	return atMost(points[0].SetValue, low) && atMost(high, points[len(points)-1].SetValue)
}

// holds says whether |ā| + W is inside the limit; where the reference shows zero,
// by amounts.
func (p JudgedPoint) holds() bool {
	if math.IsNaN(p.MeanPercent) {
		return atMost(math.Abs(p.MeanError)+p.Expanded, p.Limit)
	}
	return atMost(math.Abs(p.MeanPercent)+p.ExpandedPercent, p.LimitPercent)
}

// Doubted is one event, or failed bench check, that nothing has undone yet.
type Doubted struct {
	Kind EventKind
	On   dates.Date
	Text string
}

// Trust weighs what nothing has undone: an event, or a failed bench check, stands until
// some calibration that passed was certainly made after it, or a bench check of the
// whole range was; restored is the newest such check. Of one day, what has an hour
// is ordered by it and the rest has no order: what may have come later counts as
// later, so that nothing is undone by a guess.
func Trust(events []Event, checks, calibrations []Kept, r Requirement) (left []Doubted, restored *Kept) {
	relevant := func(m moment) bool { return !passedAfter(calibrations, m) }
	for i := range checks {
		if c := &checks[i]; c.Verdict == Failed && relevant(c.moment()) {
			events = append(events[:len(events):len(events)], Event{Kind: failedCheck, On: c.On, At: c.At})
		}
	}
	for _, e := range events {
		if !relevant(e.moment()) {
			continue
		}
		by := restoring(e, checks, r)
		if by == nil {
			left = append(left, Doubted{Kind: e.Kind, On: e.On, Text: e.words()})
		} else if restored == nil || by.moment().after(restored.moment()) {
			restored = by
		}
	}
	return left, restored
}

// Undone says whether what ended trust was undone: by a calibration that passed and was
// certainly made after it, or by a bench check of the whole range.
func (e Event) Undone(checks, calibrations []Kept, r Requirement) bool {
	return passedAfter(calibrations, e.moment()) || restoring(e, checks, r) != nil
}

// passedAfter says whether a calibration passed that was certainly made after a moment.
// Any of them does: a second paper of the same day without an hour takes nothing back
// from the first.
func passedAfter(calibrations []Kept, m moment) bool {
	return slices.ContainsFunc(calibrations, func(k Kept) bool { return k.Verdict == Passed && k.moment().after(m) })
}

// MadeGood says whether what a comparison found wrong was made good by something that
// certainly came after it: a calibration that passed, or, after a bench check, one of
// the whole range. After a failed calibration no bench check does: what counts is
// the last calibration.
func (k Kept) MadeGood(checks, calibrations []Kept, r Requirement) bool {
	return passedAfter(calibrations, k.moment()) || k.BenchCheck && restoring(k.failure(), checks, r) != nil
}

func (k Kept) failure() Event { return Event{Kind: FoundFailed, On: k.On, At: k.At} }

// MayClear says whether a manager may clear what is reported wrong with a tool that
// measures: after everything that ended trust in it, a failed calibration included,
// certainly came a calibration that passed, or a bench check of the whole range in
// every direction. Clearing makes no answer a yes: the last calibration has to have
// passed besides.
func (f Facts) MayClear() bool {
	if f.Requirement == nil {
		return false
	}
	events, shown := f.Events[:len(f.Events):len(f.Events)], false
	for _, k := range f.Calibrations {
		shown = shown || k.Verdict == Passed
		if k.Verdict == Failed && !k.Disagrees {
			events = append(events, k.failure())
		}
	}
	shown = shown || slices.ContainsFunc(f.Checks, func(k Kept) bool { return k.Restores(*f.Requirement) })
	left, _ := Trust(events, f.Checks, f.Calibrations, *f.Requirement)
	return shown && len(left) == 0
}

const failedCheck EventKind = "failed a bench check"

// restoring is the newest bench check after an event that undoes it.
func restoring(e Event, checks []Kept, r Requirement) (best *Kept) {
	if e.Kind == SettingChanged {
		return nil // the setting that was calibrated is gone
	}
	for i := range checks {
		c := &checks[i]
		if c.moment().after(e.moment()) && c.Restores(r) && (best == nil || c.moment().after(best.moment())) {
			best = c
		}
	}
	return best
}

func (e Event) words() string {
	day := "on an unknown day"
	if e.On != "" {
		day = "on " + string(e.On)
	}
	how := "a passing calibration, or a bench check of the whole range in every direction, dated after that gives it back"
	if e.Kind == SettingChanged {
		how = "it was calibrated at one setting and needs a calibration at the new one"
	}
	return fmt.Sprintf("%s %s, since when nothing shows that it holds; %s", e.Kind, day, how)
}
