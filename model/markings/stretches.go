package markings

import (
	"cmp"
	"slices"

	"pawl/model/dates"
	"pawl/model/register"
)

// Stretch is a run of days with one protection and one usage. It runs up to the first
// day of the next, the last one on.
type Stretch struct {
	From       dates.Date
	Protection Protection     // empty = not on record, which is counted as none
	Usage      register.Usage // empty = not on record
}

// Stretches puts the terms of a marking together, whatever others are among them, the
// first beginning on the day from which anything is known of it, or from which a term
// says something. Protection and usage each follow their own terms: one without a day
// says how it was from the start, each other what changed on its day, and withdrawn ones
// say nothing. Where none speaks of the one or the other, it always was as the marking or
// the tool has it now; where the first is dated, before its day nobody knows. Of several
// terms of one day the one entered last counts. What is first said of the usage holds for
// the days before it too: nobody said otherwise of them. From the day of NotSaid on it
// is not on record.
func Stretches(m Marking, usage register.Usage, begins dates.Date, terms []Term) []Stretch {
	stand := InForce(slices.DeleteFunc(slices.Clone(terms), func(t Term) bool { return t.Marking != m.ID }))
	first := Stretch{From: begins, Protection: m.Protection, Usage: usage}
	protection, usages := SpeakOf(stand)
	if protection {
		first.Protection = ""
	}
	if usages {
		first.Usage = ""
	}
	if at := slices.IndexFunc(stand, func(t Term) bool { return t.From != "" }); at >= 0 {
		first.From = min(begins, stand[at].From)
	}
	out := []Stretch{first}
	for _, t := range stand {
		last := &out[len(out)-1]
		next := Stretch{max(t.From, last.From), cmp.Or(t.Protection, last.Protection), cmp.Or(t.Usage, last.Usage)}
		if next.From == last.From {
			*last = next
			continue
		}
		out = append(out, next)
	}
	stated := slices.IndexFunc(out, func(s Stretch) bool { return s.Usage != "" })
	for i := range max(stated, 0) { // to say for the first time how a tool is used changes nothing of its use
		out[i].Usage = out[stated].Usage
	}
	for i := range out {
		out[i].Usage = said(out[i].Usage)
	}
	return out
}

// SpeakOf says whether any of the terms speaks of the protection, and of the usage.
func SpeakOf(terms []Term) (protection, usage bool) {
	for _, t := range terms {
		protection, usage = protection || t.Protection != "", usage || t.Usage != ""
	}
	return protection, usage
}

// InForce gives the terms that were not withdrawn, in the order of their days, first
// those from the start.
func InForce(terms []Term) []Term {
	stand := slices.DeleteFunc(slices.Clone(terms), func(t Term) bool { return t.Withdrawn != 0 })
	slices.SortFunc(stand, func(a, b Term) int {
		return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(a.Entered, b.Entered), cmp.Compare(a.ID, b.ID))
	})
	return stand
}

// Current gives the marking that shows the maker's serial now, the newest of a tool's
// markings that has not ended; false where there is none.
func Current(all []Marking) (Marking, bool) {
	for _, m := range slices.Backward(all) {
		if m.Shows == "" && m.Ended == "" {
			return m, true
		}
	}
	return Marking{}, false
}

// HasOwnersNumber says whether one of a tool's markings is a number of its owner's that
// is still on it.
func HasOwnersNumber(all []Marking) bool {
	return slices.ContainsFunc(all, func(m Marking) bool { return m.Shows == OwnersNumber && m.Ended == "" })
}

// Begins is the day from which anything is known of a marking: it was made, or, where
// nobody knows when, its tool was bought, or it was recorded or first looked at. recorded
// is the day it came into the register, bought may be empty.
func Begins(m Marking, recorded, bought dates.Date, checks []Check) dates.Date {
	if m.Marked != "" {
		return m.Marked
	}
	begins := recorded
	if bought.Before(begins) {
		begins = bought
	}
	for _, c := range checks {
		if c.Marking == m.ID && c.Withdrawn == 0 && c.On.Before(begins) {
			begins = c.On
		}
	}
	return begins
}

// NewOn is the day on which a marking was new: that on which it was made, or the tool's
// purchase where it is the first that shows the maker's serial. Empty where nobody knows.
// all are the tool's markings, oldest first.
func NewOn(m Marking, all []Marking, bought dates.Date) dates.Date {
	if m.Marked != "" {
		return m.Marked
	}
	first := slices.IndexFunc(all, func(o Marking) bool { return o.Shows == m.Shows })
	switch {
	case first >= 0 && all[first].ID != m.ID: // how it is marked was recorded otherwise, which wears nothing back
		return ""
	case m.Shows == "":
		return bought
	}
	return ""
}
