package claims

import (
	"pawl/model/calibration"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/jobs"
	"pawl/model/markings"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/settings"
)

// Facts is what is on record that a statement may be built from: the rows as they stand
// under one size of the ledger. Not all of it is said; Build decides.
type Facts struct {
	Kind     ClaimKind
	Packet   string
	Created  dates.Instant
	Ledger   string
	Size     int64
	Settings settings.Settings
	Added    []Addition
	Asker    people.Actor
	People   map[string]people.Person
	Jobs     map[string]jobs.Job

	Claim       *Claim
	Policy      string               // its name
	Covers      func(ToolFacts) bool // nil: whose a tool is decides nothing
	Replacement *register.Tool       // what the tool of a warranty claim was swapped for
	Loss        *Loss
	Listing     bool                     // for the list of a loss alone: it may be empty yet, and tools of others outside are on it too
	OffTools    map[string]register.Tool // of the lines of the loss that stand no more
	LossLines   []LossLine
	Papers      []Packet // of the loss that were given out; nil: not known, and what its Given says decides
	LossFiles   []evidence.Record
	Beforehand  []LeftOut // what was left out before it came here
	Dated       []Fact
	Claimed     map[string]int64 // what is asked for each tool, in the shop's currency
	Tools       []ToolFacts      // of a loss in any order, else in that of the lines

	// WhyNot says why a photo or paper cannot be shown on paper, Left why its bytes
	// cannot be handed over; empty: they can. An error of WhyNot is a trouble that passes,
	// and no gap: nothing is built.
	WhyNot func(evidence.Record) (string, error)
	Left   func(evidence.Record) string
}

// ToolFacts is what is on record of one tool.
type ToolFacts struct {
	register.Tool
	Numbers    []register.NumberRow
	Markings   []markings.Marking
	Checks     []markings.Check // looks at them, withdrawn ones too
	Evidence   []evidence.Record
	PaperOf    map[string]string // by id of evidence: whose the tool was when it was attached
	Loans      []custody.Loan    // newest first
	Uses       []calibration.UseRow
	Settled    []calibration.SettledRow
	Cost       *Cost
	Market     *Cost // what a used one sells for
	ActualCash *int64
	Working    string
}

// Cost is a replacement cost, where it is from and of which day.
type Cost struct {
	Amount int64
	Of     string
	Source string
	Dated  dates.Date
}

// LeftOut is a tool, or something of it, that a statement does not say, and why. It is
// for whoever builds the packet and never in it.
type LeftOut struct {
	Number string `json:"number"` // of the tool, or the id of the loss
	What   string `json:"what"`
	Why    string `json:"why"`
}

// ParseAdditions reads what is to be put in on purpose.
func ParseAdditions(typed []string) (out []Addition, err error) {
	var bad problems
	for _, t := range typed {
		a, known := addition(t)
		if !known {
			bad.add(t)
			continue
		}
		out = append(out, a)
	}
	return inOrder(out), bad.err()
}
