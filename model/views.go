package model

import (
	"pawl/model/claims"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/ledger"
	"pawl/model/markings"
	"pawl/model/numbers"
	"pawl/model/register"
)

// ToolView is one tool with all that hangs on it, less what the asker may not
// see: hidden fields are already empty here.
type ToolView struct {
	Tool       register.Tool
	Owner      string // in words: a name, or the shop's
	Place      string // path; empty = none
	PlaceCode  string // what its label carries
	Numbers    []numbers.Number
	Custody    CustodyView
	Missing    register.Pieces // what did not come back with the last return
	Condition  string          // as found then
	Wrongs     []custody.Wrong // open ones
	ComesBack  bool            // it is gone, and may be entered as here after all
	Markings   []markings.Marking
	LastLook   *markings.Check // the last at which the maker's serial got a grade; nil: none
	Evidence   []evidence.Record
	MoneyShown bool
	Oddity     string // asks about a serial that is unlike the maker's others; among the advice too
	Advice     []string
	Compared   Compared // of a tool that measures

	CameWith, ExchangedFor, ExchangedFrom numbers.Number // empty = none
	With                                  []PartView

	Loss *ToolLoss // the newest that it is on; nil: none, or not the asker's to see
}

// ToolLoss is how a tool stands by a loss.
type ToolLoss struct {
	Loss      string // id
	Line      int64
	Stands    claims.State
	AfterLoss bool // it was recorded after the loss was found out
}

// Compared is how a tool that measures stands by its calibrations.
type Compared struct {
	On, Due dates.Date // of the newest; empty: none is on record, or none is due
	Failed  bool       // the newest one did
	Trusted bool       // nothing ended the trust in it since
	Clears  bool       // something shows that it is good again, so that reports may be cleared
	InDate  bool       // it passed, supports a yes and is not past its due day
}

// PartView is a tool that came with another.
type PartView struct {
	Number       numbers.Number
	Kind, Serial string
}

// CustodyView is who has a tool, in names.
type CustodyView struct {
	State   custody.State
	Person  string
	Job     string
	To      string
	Purpose custody.Purpose
	Since   dates.Instant
	Due     dates.Instant
}

// Words says where a tool is now: "in place", "out to Tech A, job 1042", "away at
// Harbor lab for calibration".
func (v CustodyView) Words() string {
	switch v.State {
	case custody.Out:
		words := "out to " + v.Person
		if v.Job != "" {
			words += ", job " + v.Job
		}
		return words
	case custody.Away:
		return "away at " + v.To + v.Purpose.Words()
	}
	return string(custody.InPlace)
}

// ToolRow is a tool in a list.
type ToolRow struct {
	ID, Kind, Maker, Model, Serial, Owner, Place string
	Number                                       numbers.Number
	State                                        custody.State
	Person                                       string
	DoNotUse                                     string
	GoneWhy                                      string
	Missing                                      register.Pieces // what did not come back with the last return
}

// Done is what an act on a tool left behind; it is also what a replay gives.
type Done struct {
	Tool    string
	Number  numbers.Number
	Kind    string
	Maker   string
	Model   string
	Owner   string
	Verb    string
	Missing register.Pieces
	Custody CustodyView
	Wrongs  []custody.Wrong // open ones, after the act
	Cleared []string
	GoneWhy string
	Advice  []string
	NewJob  *OpenedJob `json:",omitempty"` // that the act opened by mentioning it

	// Question asks about a serial plate that was photographed too small or too
	// blurred. It is not kept: it is asked anew of a repeat.
	Question string
}

// LineView is one line of history with the names of today.
type LineView struct {
	ledger.Line
	ActorName string
	After     map[string]any // in names; nil when nothing of it may be seen
}

// PlaceView is a place with its path.
type PlaceView struct {
	register.Place
	Path  string
	Whose string // name of the person whose place it is; empty = everybody's
}
