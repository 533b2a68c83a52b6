// Package due gathers what has a date: when each tool is next to be calibrated or
// inspected, when its warranty ends, when it is to be back. A row follows wholly
// from what is recorded, so that the list is kept as it goes and can be made anew
// at any time. Rechecks hang on
// the jobs of many tools, and the days of claims on none: the shop works them out and
// adds them.
package due

import (
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"pawl/model/calibration"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/inspections"
	"pawl/model/markings"
	"pawl/model/names"
	"pawl/model/register"
)

// Sort is what is due.
type Sort string

const (
	Calibration Sort = "tool calibration"
	Inspection  Sort = "inspection"
	Warranty    Sort = "warranty"
	Return      Sort = "return"
	Claim       Sort = "claim"   // a day by which somebody waits for something
	Recheck     Sort = "recheck" // of work in doubt: due since its tool was found out
	Marking     Sort = "marking" // a look at a marking, with a photo
)

// Sorts lists every sort, in the order in which they are shown.
func Sorts() []Sort {
	return []Sort{Recheck, Claim, Calibration, Inspection, Return, Warranty, Marking}
}

// ParseSort takes one of the sorts.
func ParseSort(s string) (Sort, error) {
	if slices.Contains(Sorts(), Sort(s)) {
		return Sort(s), nil
	}
	return "", fault.New(fault.Invalid, "%q is not a sort of what is due", s).WithHint("use recheck, claim, tool calibration, inspection, return, warranty or marking")
}

// Row is one thing that is due. Day is the last good one.
type Row struct {
	ID     string // the same for as long as the same thing of the same tool is due
	Tool   string
	Sort   Sort
	What   string // the check, the calibration, the warranty, the return
	Day    dates.Date
	At     dates.Instant // of a return: the time
	Known  dates.Instant // when the fact that it rests on was recorded
	Paid   string        // of a claim: what was paid of what, in words; in no calendar
	Person string        // who has the tool that is to be back; else its owner; empty = the shop
	Owner  string        // of the tool; empty = the shop
	Place  string        // where the tool belongs
	Money  bool          // only for whoever may see the money of the tool
	Claim  string        // id of the claim whose deadline it is; it hangs on no tool
	Why    string        // why that day, where it is not plain
}

// Use is how often a tool was used at one time.
type Use struct {
	At    dates.Instant
	Count int64
}

// Facts is what is recorded of one tool.
type Facts struct {
	Tool        register.Tool
	Zone        *time.Location
	Requirement *calibration.Requirement
	Results     []calibration.ResultRow // newest first, bench checks among them
	Uses        []Use                   // in any order
	Plans       []inspections.Plan
	Inspections []inspections.Inspection
	Happened    []inspections.Event // after which an inspection may be asked for, in any order
	Loan        custody.Loan        // the open one, if any
	Markings    []markings.Marking  // oldest first
	Terms       []markings.Term
	Looks       []markings.Check
}

// NoneOnRecord is why a check is due from the day on which a tool was registered:
// nothing says that it was ever made.
const NoneOnRecord = "none on record"

// Of gives everything that is due of one tool, by id; nothing of one that is gone.
func Of(f Facts) (out []Row) {
	if f.Tool.Gone != 0 {
		return nil
	}
	out = append(out, f.inspections()...)
	for _, one := range []func() (Row, bool){f.calibration, f.warranty, f.back, f.marking} {
		if r, is := one(); is {
			out = append(out, r)
		}
	}
	slices.SortFunc(out, func(a, b Row) int { return compare(a.ID, b.ID) })
	return out
}

func compare(a, b string) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

func (f Facts) row(s Sort, id, what string, day dates.Date, known dates.Instant, why string) Row {
	t := f.Tool
	return Row{ID: t.ID + "/" + id, Tool: t.ID, Sort: s, What: what, Day: day, Known: known, Why: why, Person: t.Owner, Owner: t.Owner, Place: t.Place}
}

// registered is the day on which the tool came into the register.
func (f Facts) registered() dates.Date { return f.Tool.Created.Day(f.Zone) }

// calibration is due on the earlier of months and cycles, at once where the newest
// one did not pass or none is on record.
func (f Facts) calibration() (Row, bool) {
	if f.Requirement == nil {
		return Row{}, false
	}
	const what = "tool calibration"
	i := slices.IndexFunc(f.Results, func(r calibration.ResultRow) bool { return !r.Bench })
	if i < 0 {
		return f.row(Calibration, "calibration", what, f.registered(), f.Tool.Created, NoneOnRecord), true
	}
	newest := f.Results[i]
	row := func(day dates.Date, why string) (Row, bool) {
		return f.row(Calibration, "calibration", what, day, newest.Entered, why), day != ""
	}
	var r calibration.Result
	j := calibration.Judgement{}
	err := json.Unmarshal([]byte(newest.Body), &r)
	if err == nil {
		j, err = calibration.Judge(*f.Requirement, r, calibration.Around{SafetyJobs: true})
	}
	switch {
	case err != nil || j.Verdict != calibration.Passed && j.Verdict != calibration.Failed:
		return row(newest.OnDay, "the newest one cannot be judged")
	case j.Verdict == calibration.Failed:
		return row(newest.OnDay, "the newest one failed")
	}
	day, why := j.NextDue, ""
	if at := f.used(newest, f.Requirement.Cycles); at != 0 {
		if reached := at.Day(f.Zone); day == "" || reached.Before(day) {
			day, why = reached, fmt.Sprintf("%d uses recorded since the last one", f.Requirement.Cycles)
		}
	}
	return row(day, why)
}

// used gives the time at which a tool had been used so often since a calibration;
// 0 where it has not. Uses on its day count as later ones unless its hour is known.
func (f Facts) used(since calibration.ResultRow, most int64) dates.Instant {
	if most <= 0 {
		return 0
	}
	uses := slices.Clone(f.Uses)
	slices.SortFunc(uses, func(a, b Use) int { return int(min(max(a.At-b.At, -1), 1)) })
	var n int64
	for _, u := range uses {
		if u.At.Day(f.Zone).Before(since.OnDay) || since.DoneAt != 0 && u.At <= since.DoneAt {
			continue
		}
		if n += u.Count; n >= most {
			return u.At
		}
	}
	return 0
}

func (f Facts) inspections() (out []Row) {
	for _, s := range inspections.Stand(f.Tool.Kind, f.Plans, f.Inspections, f.Happened) {
		id := "inspection/" + names.Key(s.Name)
		switch {
		case s.Last == nil && (s.TwelveYear || s.Recommended): // begins with the first one
		case s.Last == nil:
			out = append(out, f.row(Inspection, id, s.Name, f.registered(), f.Tool.Created, NoneOnRecord))
		case s.Next != "":
			out = append(out, f.row(Inspection, id, s.Name, s.Next, s.Last.Entered, s.Why))
		}
	}
	return out
}

// warranty is due on its last day. One that runs from the purchase tells its date,
// and is for those who may see it.
func (f Facts) warranty() (Row, bool) {
	day := f.Tool.WarrantyThrough()
	if day == "" {
		return Row{}, false
	}
	r := f.row(Warranty, "warranty", "warranty ends", day, f.Tool.Created, "")
	r.Money = f.Tool.WarrantyFrom == ""
	return r, true
}

// back is due when a tool is to be returned, or to come back from where it is.
func (f Facts) back() (Row, bool) {
	l := f.Loan
	if !l.Open() || l.Due == 0 {
		return Row{}, false
	}
	what := "to be returned"
	if l.State == custody.Away {
		what = "back from " + l.Whom
	}
	known := l.Since
	if l.Entered != 0 {
		known = l.Entered
	}
	r := f.row(Return, "return", what, l.Due.Day(f.Zone), known, "")
	r.At, r.Person = l.Due, l.Person
	return r, true
}

// marking is to be looked at and photographed again when 10 of 100 like it would be lost,
// after a year at most (money-and-statistics 5.3, an assumption). It begins with the
// first look. The day goes by what is assumed of every class and by how often the tool is
// said to be used, so that it hangs on no other tool and on nobody's taking it: the round
// goes by what was learned, too.
func (f Facts) marking() (Row, bool) {
	m, is := markings.Current(f.Markings)
	if !is || len(f.Looks) == 0 {
		return Row{}, false
	}
	h := f.history(m)
	known, last := dates.Instant(0), dates.Date("")
	for _, c := range h.Checks {
		if c.Withdrawn == 0 && c.Grade != nil {
			known, last = max(known, c.Entered), max(last, c.On)
		}
	}
	if last == "" {
		return Row{}, false
	}
	asOf := last // and kept as it is since then
	for _, s := range h.Terms {
		asOf = max(asOf, s.From)
	}
	forecast := h.Forecast(markings.AssumedPrior(), asOf)
	if forecast.Standing == markings.IsLost {
		return Row{}, false
	}
	return f.row(Marking, "marking", "look at the marking", forecast.NextPhoto, known, "last look on "+string(last)), true
}

// history is the marking with its terms as they follow from one another.
func (f Facts) history(m markings.Marking) markings.History {
	recorded := m.Since.Day(f.Zone)
	h := markings.History{Tool: f.Tool.ID, Kind: f.Tool.Kind, Method: m.Method, New: markings.NewOn(m, f.Markings, f.Tool.BoughtNew())}
	for _, c := range f.Looks {
		if c.Marking == m.ID {
			h.Checks = append(h.Checks, c)
		}
	}
	h.Terms = markings.Stretches(m, f.Tool.Usage, markings.Begins(m, recorded, f.Tool.BoughtNew(), h.Checks), f.Terms)
	return h
}
