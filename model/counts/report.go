package counts

import (
	"time"

	"pawl/model/dates"
	"pawl/model/numbers"
)

// Report is a count as it is handed over on paper: in names, with its list by place.
type Report struct {
	Shop, Paper string
	Zone        *time.Location
	Made        dates.Instant // when the report was made

	ID, Scope string
	How       How
	OwnStrata bool // by strata: somebody's own
	Started   dates.Instant
	StartedBy string
	Paused    dates.Instant // 0: it is not
	Closed    dates.Instant // 0: it goes on, and everything here may change
	ClosedBy  string
	Counted   []string // who looked, in the order in which they began

	Digest    string // of the list; see Frame.Rows
	Draw      *DrawRow
	Redraw    string // id of the sample that was drawn of the same before; empty: none
	Numbers   Numbers
	Statement *Statement // nil while it goes on

	Lines []ReportLine // every listed tool by place and number, then extras
}

// ReportLine is one tool of a report. A text that says nothing is empty.
type ReportLine struct {
	Number                     numbers.Number
	Kind, Maker, Model, Serial string
	Bucket                     Bucket // empty: an extra, which is not listed
	Look                       bool   // it was to be looked for
	Place                      string // path of where it belonged when the count started
	Expected                   string // where it was expected then
	Holder                     string // who had it then

	SeenAt    dates.Instant // 0: nobody saw it
	SeenBy    string
	SeenIn    string // path
	ByWord    bool   // nobody saw it: whoever has it says so
	Label     string // LabelUnreadable, or empty
	Missing   []string
	Condition string
	Why       string // what does not fit the record

	Moved   string // the act of custody by which it moved meanwhile
	MovedBy string // id of that stretch of custody

	Settled     Settlement // empty: not settled
	SettledIn   string     // path
	SettledWith string
	SettledNote string
	SettledBy   string
	SettledAt   dates.Instant

	LastSeen    dates.Instant // 0: there is no record of it
	LastSeenHow string
}

// Differs says whether the line is one of the differences: to be settled, or settled.
func (l ReportLine) Differs() bool { return l.Bucket == "" || l.Bucket.Differs() || l.Settled != "" }

// Unseen says whether the tool is of those that nobody accounted for.
func (l ReportLine) Unseen() bool {
	return l.Bucket != "" && l.Bucket != NotDrawn && !l.Bucket.Accounted()
}
