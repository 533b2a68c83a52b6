package model

import (
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/markings"
	"pawl/model/numbers"
	"pawl/model/register"
)

// MarkingsView is a tool's markings with all that is on record of them.
type MarkingsView struct {
	Tool     string
	Number   numbers.Number
	Kind     string
	Serial   string
	Usage    register.Usage
	Today    dates.Date
	Current  string // id of the marking that shows the maker's serial now; empty = none is on record
	Markings []MarkingView
	Looks    bool              // the asker may record a look
	Edits    bool              // the asker may record how it is kept, or another marking
	ToDo     []markings.Advice // about the marking that shows the maker's serial
	Advice   []string          // the same in words, among what else is to be said
	Cautions []string

	// Of an act: the id of what was recorded, what is to be said of it, and what is
	// asked about its photo, which is not kept and asked anew of a repeat.
	Recorded string
	Said     []string
	Question string
}

// MarkingView is one marking.
type MarkingView struct {
	markings.Marking
	Terms    []TermView  // withdrawn ones among them, oldest first
	Checks   []CheckView // withdrawn ones among them, newest first
	Forecast MarkingForecast
}

// TermView is a term with the names of today.
type TermView struct {
	markings.Term
	EnteredBy string
}

// CheckView is a look with the names of today and its photo.
type CheckView struct {
	markings.Check
	EnteredBy string
	Photo     *evidence.Record // nil: none, or not the asker's to see
	Mine      bool             // the asker may take it back
}

// MarkingForecast says how long a marking will be readable, as far as can be said.
type MarkingForecast struct {
	Marking string
	Grade   *int64     // of the last look at which one was given; nil: there is no start, and no forecast
	AsOf    dates.Date // the day of that look; or, where it is assumed, that of the mark or the purchase: empty when that is not the asker's to see
	Assumed bool       // nobody has looked: taken to have been crisp on that day
	WhyNot  WhyNot     // there is none; empty = there is one
	Why     string     // the same in words
	Lost    bool       // the last look says so: no date

	// Expected is the median, before Early are 10 and after Late another 10 of 100 such
	// markings lost. Empty: more than 10 years.
	Expected, Early, Late dates.Date
	UnreadableToday       *float64 // chance; nil with Why
	Exposure              float64  // days of daily, unprotected use from the start to the last look
	Shape, Rate           float64  // of the gamma prior
	LearnedFrom           int      // tools of its class; 0: the prior is assumed
	Spread                markings.Factor
	Shares                []markings.Share // what a day counts for, each assumed or learned
	NoUsage               bool             // how often the tool is used is not on record: daily is assumed
	BoughtNew             bool             // with Assumed: crisp because it is taken to have been bought new
	NewUnsaid             bool             // with BoughtNew: nobody recorded that it was

	NextPhoto dates.Date // when to look and photograph again; empty with Why
	Act       bool       // protect it, or add an owner's number, now
	Cautions  []string   // of the tool's kind

	Reckoned markings.Forecast // all of it, with the figures behind
}

// WhyNot says why there is no forecast.
type WhyNot string

const (
	MarkingEnded   WhyNot = "ended"
	GradesInDoubt  WhyNot = "in doubt" // the last grade, against those before it
	MethodUnknown  WhyNot = "method"
	NeverLooked    WhyNot = "never looked" // and nobody knows when it was new
	BoughtUsed     WhyNot = "bought used"  // and never looked at
	CameInExchange WhyNot = "exchanged"    // and never looked at: it may have been used before
	WearUnknown    WhyNot = "wear unknown" // of such a way of marking
)

// RoundQuery says which part of the round is asked for.
type RoundQuery struct {
	Limit  int
	Cursor string
	All    bool // the whole round, whatever the limit
}

// RoundView is one page of this month's round: the markings to look at, in walking
// order; of one place the one first by which most would be lost.
type RoundView struct {
	Rows     []RoundRow
	Next     string
	Today    dates.Date
	Through  dates.Date // what falls due up to this day is on it
	Currency string
	All      int // on the whole round
	Unmarked int // tools with a serial of which nobody recorded how it is marked: on no round
}

// RoundRow is a marking to look at.
type RoundRow struct {
	ToolRow
	Marking  markings.Marking
	Rank     int // 1: by this one most would be lost, of the whole round
	Forecast MarkingForecast
	LastLook dates.Date // empty: none is on record
	LastRead string
	Soon     *float64 // chance that it is lost within 30 days; nil: cannot be said
	Cost     *int64   // replacement, in minor units, as CostFrom says; nil: no figure at all
	CostFrom markings.CostFrom
	Proof    float64 // how poor the other proof is: 1 none, 0.5 plate photo, 0.25 plate photo and receipt
	Reasons  []markings.Reason
	Advice   []markings.Advice // what to do, the first first
	Do       []string          // the same in words
}
