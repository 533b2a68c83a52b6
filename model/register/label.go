package register

import (
	"pawl/model/dates"
	"pawl/model/numbers"
)

// LabelIssue is the recorded row of one label that was printed again in place
// of a worn or lost one.
type LabelIssue struct {
	ID     string `gorm:"primaryKey"`
	Rev    int64
	Tool   string
	Number numbers.Number // what the label says
	At     dates.Instant
	Why    string
}

// TableName names the table of labels that were printed again.
func (LabelIssue) TableName() string { return "labels" }
