package calibration

import (
	"pawl/model/dates"
	"pawl/model/units"
)

// What is recorded of tools that measure. A body is JSON of what was entered;
// nothing that follows from it is kept, except what was said when a tool was used.

// RequirementRow is the recorded row of what one tool must hold.
type RequirementRow struct {
	ID   string `gorm:"primaryKey"`
	Rev  int64
	Tool string
	Body string // a Requirement
}

// TableName names the table of requirements.
func (RequirementRow) TableName() string { return "requirements" }

// ResultRow is the recorded row of one tool calibration or bench check.
type ResultRow struct {
	ID       string `gorm:"primaryKey"`
	Rev      int64
	Tool     string
	OnDay    dates.Date
	DoneAt   dates.Instant // 0 where only the day is known
	Entered  dates.Instant
	By       string // person id of who entered it; empty = the shop
	Bench    bool
	Standard string // tool id, where the standard is a tool here
	Paper    string // evidence id of its certificate
	Body     string // a Result

	Withdrawn   dates.Instant // 0 = stands
	WithdrawnBy string        // person id; empty = the shop
	Why         string        // it was withdrawn
}

// TableName names the table of calibrations and bench checks.
func (ResultRow) TableName() string { return "calibrations" }

// Sort is what a tool was used for.
type Sort string

const (
	UsedToTighten Sort = "tightening"
	UsedToMeasure Sort = "measurement"
)

// UseRow is the recorded row of one tightening or measurement on a job, with what
// was said of the tool when it was recorded.
type UseRow struct {
	ID        string `gorm:"primaryKey"`
	Rev       int64
	Tool      string
	Job       string
	Happened  dates.Instant
	Entered   dates.Instant // when it was entered, where that was later
	Person    string
	What      Sort
	Name      string // the fastener, or what was measured
	Count     int64
	Verdict   string
	Body      string // a Said
	RedoneBy  string
	SignedBy  string
	SignedWhy string
	SignedAt  dates.Instant

	Withdrawn   dates.Instant // 0 = stands
	WithdrawnBy string        // person id; empty = the shop
	Why         string        // it was withdrawn
}

// TableName names the table of tightenings and measurements.
func (UseRow) TableName() string { return "uses" }

// Said is what was asked of a tool when it was used, and what the answer was.
type Said struct {
	Asked        Question       `json:"asked"`
	Set          units.Quantity `json:"set,omitzero"`
	NotSafetyWhy string         `json:"not_safety_why,omitempty"`
	Calibration  string         `json:"calibration,omitempty"`
	Probability  Decimal        `json:"probability,omitempty"`
	Reasons      []string       `json:"reasons,omitempty"`
	Outcome      Outcome        `json:"outcome,omitempty"` // of a measurement
}

// SettledRow is the recorded row of one line of a recheck that was settled. Its id is
// the line's, made of the id of the use or of the stretch of custody that it is about:
// a line is found anew each time, and keeps its id.
type SettledRow struct {
	ID        string `gorm:"primaryKey"`
	Rev       int64
	Tool      string // the one that was found out
	Job       string
	Source    string // id of the use or the loan
	How       Settlement
	Done      string // in words
	WithTool  string // id of the tool that it was done with
	Person    string // empty = the shop
	SettledAt dates.Instant
	Photo     string // evidence id
}

// TableName names the table of settled lines.
func (SettledRow) TableName() string { return "rechecks" }
