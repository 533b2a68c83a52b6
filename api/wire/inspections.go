package wire

import "pawl/model/dates"

// Inspect is an inspection as typed, what the shop decides on the check, or both.
type Inspect struct {
	Check    string          `json:"check"`
	Result   string          `json:"result,omitempty"`
	By       string          `json:"by,omitempty"` // who did it, and their number
	On       string          `json:"on,omitempty"`
	Happened string          `json:"happened,omitempty"`
	Note     string          `json:"note,omitempty"`
	Next     string          `json:"next,omitempty"` // the next day, as the tag or paper says
	Evidence []Attach        `json:"evidence,omitempty"`
	Plan     *InspectionPlan `json:"plan,omitempty"`
}

// InspectionPlan is what the shop decides on one check of one tool; what is absent
// stays.
type InspectionPlan struct {
	Months      *int    `json:"months,omitempty"`
	Days        *int    `json:"days,omitempty"`
	Whose       *string `json:"whose,omitempty"`
	Source      *string `json:"source,omitempty"`
	FirstIssued *string `json:"first_issued,omitempty"`
	NeedsPaper  *bool   `json:"needs_paper,omitempty"`
	Strict      *bool   `json:"strict,omitempty"`
	NotIssued   *bool   `json:"not_issued,omitempty"`
	TwelveYear  *bool   `json:"twelve_year,omitempty"`
	Dropped     *bool   `json:"dropped,omitempty"`
	Why         *string `json:"why,omitempty"`
	Again       *string `json:"again,omitempty"`
}

// Check is how a tool stands by one named check.
type Check struct {
	Check      string      `json:"check"`
	Every      string      `json:"every"` // "12 months", "week"; as its tag says
	Whose      string      `json:"whose"`
	Source     string      `json:"source"`
	Provenance string      `json:"provenance"`
	Does       string      `json:"does"` // who may do it
	NeedsBy    bool        `json:"needs_by"`
	NeedsPaper bool        `json:"needs_paper"`
	Also       []string    `json:"also"`
	Last       *Inspection `json:"last"` // null: none is on record
	Next       *dates.Date `json:"next"` // last good day; null: not known
	Why        string      `json:"why"`
	Failed     bool        `json:"failed"`
	Overdue    bool        `json:"overdue"`
}

// Inspection is one inspection on record.
type Inspection struct {
	ID        string        `json:"id"`
	Check     string        `json:"check"`
	On        dates.Date    `json:"on"`
	Happened  dates.Instant `json:"happened"` // null where only the day is known
	Entered   dates.Instant `json:"entered"`
	EnteredBy *string       `json:"entered_by"`
	By        string        `json:"by"`
	Result    string        `json:"result"`
	Note      string        `json:"note"`
	Paper     *string       `json:"paper"` // id of the evidence
	Next      *dates.Date   `json:"next"`  // as its tag or paper says
}

// Inspections is how a tool stands by its checks, and every inspection of it, newest
// first.
type Inspections struct {
	Number      string       `json:"number"`
	Kind        string       `json:"kind"`
	Checks      []Check      `json:"checks"`
	Inspections []Inspection `json:"inspections"`
	DoNotUse    *string      `json:"do_not_use"`
	Cautions    []string     `json:"cautions"`
}

// Inspected is what recording one left behind.
type Inspected struct {
	ID         *string     `json:"id"` // of the inspection; null where only the plan was recorded
	Inspection *Inspection `json:"inspection"`
	Inspections
	Advice []string `json:"advice"`
}
