package inspections

import (
	"slices"

	"pawl/model/dates"
)

// What is something that happened to a tool, after which some checks are asked for.
type What string

// The first five are the words of what is reported wrong.
const (
	Dropped     What = "dropped"
	Overloaded  What = "overloaded"
	Damaged     What = "damaged"
	FoundFailed What = "failed"
	Doubtful    What = "doubtful"
	Repaired    What = "back from repair"
	SentOut     What = "sent out of the shop"
	CameBack    What = "back from outside the shop"
)

// Event is one such thing. Day is in the shop's zone.
type Event struct {
	What What
	At   dates.Instant
	Day  dates.Date
	ID   string // of the report or the stretch away that tells of it
}

// Asks says whether the check is asked for after that.
func (r Rule) Asks(w What) bool { return slices.Contains(r.After, w) }

// before says whether an inspection may have been made before the event, and so says
// nothing on it: on one day, only hours tell. One at which a tool is sent out may be
// made earlier on that day.
func (d Inspection) before(e Event) bool {
	switch {
	case d.DoneAt != 0 && e.What != SentOut:
		return d.DoneAt <= e.At
	case e.What == SentOut:
		return d.OnDay.Before(e.Day)
	}
	return !d.OnDay.After(e.Day)
}

// waiting gives the first event after which the check is asked for and has not passed.
func (c Check) waiting(happened []Event, done []Inspection) *Event {
	var first *Event
	if p := c.Plan; p != nil && p.AgainAt != 0 {
		again := Event{What: What(p.Again), At: p.AgainAt, Day: p.AgainDay}
		happened, c.After = append(slices.Clone(happened), again), append(slices.Clone(c.After), again.What)
	}
	for i, e := range happened {
		passed := func(d Inspection) bool { return d.NameKey == c.key() && d.Result == Passed && !d.before(e) }
		if !c.Asks(e.What) || slices.ContainsFunc(done, passed) {
			continue
		}
		if first == nil || e.At < first.At {
			first = &happened[i]
		}
	}
	return first
}

// after puts what happened over the next day: the check is due since then. One that
// failed, or was due before, stays due since that.
func (s *Standing) after(e *Event) {
	if s.Since = e; e == nil {
		return
	}
	if s.Last != nil && (s.Next == "" || e.Day.Before(s.Next)) {
		s.Next, s.Why = e.Day, e.Words()
	}
}

// Overdue says whether the check is to be made before the tool is used again: its last
// good day is over, it failed, something happened since, or none is on record.
func (s Standing) Overdue(today dates.Date) bool {
	return s.Failed || s.Since != nil || s.Next.Before(today)
}

// Words says what happened, and what follows.
func (e Event) Words() string {
	return string(e.What) + " on " + string(e.Day) + "; it is due until it passes after that"
}
