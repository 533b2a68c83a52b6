package wire

import "pawl/model/dates"

// Recheck is the work put in doubt by what was found of a tool, worst first.
type Recheck struct {
	Number   string          `json:"number"`
	Kind     string          `json:"kind"`
	Window   *RecheckWindow  `json:"window"`  // the newest; null: nothing found it out
	Windows  []RecheckWindow `json:"windows"` // newest first
	Unknown  RecheckUnknown  `json:"unknown"`
	Lines    []RecheckLine   `json:"lines"`
	Open     int             `json:"open"` // lines that are not within and not settled
	Cautions []string        `json:"cautions"`
}

// RecheckWindow is a time in which work is in doubt, both ends included: days, or
// instants where they are known.
type RecheckWindow struct {
	From   *string       `json:"from"` // null: it was never shown good before
	To     *string       `json:"to"`   // null: it goes on
	FromAt dates.Instant `json:"from_at"`
	ToAt   dates.Instant `json:"to_at"`
	Why    string        `json:"why"`
}

// RecheckUnknown is what the list does not know.
type RecheckUnknown struct {
	JobsWithoutRecord int      `json:"jobs_without_record"`
	DaysOutWithoutJob int      `json:"days_out_without_job"`
	Jobs              []string `json:"jobs"`
	Words             string   `json:"words"`
}

// RecheckLine is one piece of work, or custody of which nothing is recorded.
type RecheckLine struct {
	ID               string        `json:"id"`
	Use              *string       `json:"use"` // of the tightening or measurement; null: custody
	Job              *string       `json:"job"`
	What             *string       `json:"what"`
	Fastener         *string       `json:"fastener"` // or what was measured
	Count            int64         `json:"count"`
	Happened         dates.Instant `json:"happened"`
	Until            dates.Instant `json:"until"` // of custody
	Person           *string       `json:"person"`
	Safety           bool          `json:"safety"`
	Set              Quantity      `json:"set"`
	Limits           *string       `json:"limits"`
	LimitsAssumed    bool          `json:"limits_assumed"` // none were recorded: the tool's own about the target
	Direction        Direction     `json:"direction"`
	Adapter          string        `json:"adapter"`
	DeviationPercent *float64      `json:"deviation_percent"`
	Applied          Quantity      `json:"applied"` // the likeliest; of a measurement the true value
	Uncertainty      Quantity      `json:"uncertainty"`
	Low              Quantity      `json:"low"` // the least and the most that what is known of the tool allows
	High             Quantity      `json:"high"`
	Verdict          string        `json:"verdict"`
	Why              string        `json:"why"`
	Settled          dates.Instant `json:"settled"` // when; null: it is not
	How              *string       `json:"how"`
	Done             *string       `json:"done"`
	SettledBy        *string       `json:"settled_by"`
	With             *string       `json:"with"`
	Photo            *string       `json:"photo"` // its SHA-256
}

// SettleRecheck is what settles a line, as typed.
type SettleRecheck struct {
	Done     string   `json:"done"`
	How      string   `json:"how,omitempty"`
	Tool     string   `json:"tool,omitempty"`
	Evidence []Attach `json:"evidence,omitempty"`
}

// RecheckSettled is a line as it stands once it is settled.
type RecheckSettled struct {
	Number string `json:"number"` // of the tool that was found out
	Kind   string `json:"kind"`
	RecheckLine
	Left   int      `json:"left"` // lines that are still open
	Advice []string `json:"advice"`
}

// UnsettledRecheck is a tool with work in doubt that nobody has settled.
type UnsettledRecheck struct {
	Number string `json:"number"`
	Kind   string `json:"kind"`
	Lines  int    `json:"lines"`
	Since  string `json:"since"`
	Worst  string `json:"worst"`
}

// UnsettledRechecks are all of them, worst first.
type UnsettledRechecks struct {
	Tools []UnsettledRecheck `json:"tools"`
	Next  *string            `json:"next"`
}
