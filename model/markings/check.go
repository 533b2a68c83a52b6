package markings

import (
	"cmp"
	"strings"

	"pawl/model/dates"
	"pawl/model/register"
)

// Grades say how well a marking can be read (money-and-statistics 5.1, our
// assumption). A serial is lost when its marking first reaches Lost.
const (
	Unreadable int64 = 0
	Lost       int64 = 1 // at least one character is gone
	WithCare   int64 = 2 // side light, magnifier, cleaning
	Worn       int64 = 3 // every character is certain at a glance
	Crisp      int64 = 4
)

// Term is the recorded row of how a marking is kept from a day on: its protection, or
// the usage of its tool. It runs until the next term of the same marking that speaks of
// the same.
type Term struct {
	ID         string `gorm:"primaryKey"`
	Rev        int64
	Tool       string
	Marking    string
	From       dates.Date     `gorm:"column:day"` // empty = from the start
	Protection Protection     // empty = as before
	Usage      register.Usage // empty = as before; or NotSaid
	Entered    dates.Instant
	Person     string
	Withdrawn  dates.Instant // 0 = stands
	Why        string        // it was withdrawn
}

// NotSaid is the usage of a term from whose day on nobody says how often the tool is
// used.
const NotSaid register.Usage = "no longer said"

// said is a usage, empty where nobody says it.
func said(u register.Usage) register.Usage {
	if u == NotSaid {
		return ""
	}
	return u
}

// Repeats says whether a term says nothing but what holds already.
func (t Term) Repeats(was Stretch) bool {
	return cmp.Or(t.Protection, was.Protection) == was.Protection && (t.Usage == "" || said(t.Usage) == was.Usage)
}

// TableName names the table of terms.
func (Term) TableName() string { return "marking_terms" }

// Check is the recorded row of one look at a marking.
type Check struct {
	ID        string `gorm:"primaryKey"`
	Rev       int64
	Tool      string
	Marking   string
	On        dates.Date `gorm:"column:day"`
	Grade     *int64     // one of the grades; nil = not judged
	Read      string     // what could be read, as typed: serials.Reading's notation
	Evidence  string     // id of the photo of it; empty = none
	Entered   dates.Instant
	Person    string
	Withdrawn dates.Instant // 0 = stands
	Why       string        // it was withdrawn
}

// LookOf finds the last graded look that names a photo and stands; nil where there is none.
// A look at the owner's own number says nothing of the serial.
func LookOf(photo string, checks []Check, all []Marking) (last *Check) {
	own := map[string]bool{}
	for _, m := range all {
		own[m.ID] = m.Shows == OwnersNumber
	}
	for i, c := range checks {
		if c.Evidence != photo || c.Grade == nil || c.Withdrawn != 0 || own[c.Marking] {
			continue
		}
		if last == nil || cmp.Or(cmp.Compare(c.On, last.On), cmp.Compare(c.Entered, last.Entered), strings.Compare(c.ID, last.ID)) > 0 {
			last = &checks[i]
		}
	}
	return last
}

// TableName names the table of checks.
func (Check) TableName() string { return "marking_checks" }
