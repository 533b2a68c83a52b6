package wire

import (
	"pawl/model/dates"
	"pawl/model/markings"
)

// Mark is what is recorded of a marking of a tool, as typed: a look at it, how it is
// protected from a day on, or another marking. What is absent is not said.
type Mark struct {
	Marking      string   `json:"marking,omitempty"` // id; absent: the one that shows the maker's serial now
	On           string   `json:"on,omitempty"`      // absent: today
	Grade        *int64   `json:"grade,omitempty"`   // 4 crisp to 0 unreadable
	Read         string   `json:"read,omitempty"`    // what could be read
	Evidence     []Attach `json:"evidence,omitempty"`
	Protection   string   `json:"protection,omitempty"`
	Remark       string   `json:"remark,omitempty"`        // the way in which the serial is marked anew
	OwnersNumber string   `json:"owners_number,omitempty"` // put on the tool beside the maker's serial
	Method       string   `json:"method,omitempty"`        // the way in which that is made
	Where        string   `json:"where,omitempty"`         // of a new marking, on the tool
}

// WithdrawMarking takes back a look or a term that was entered by mistake.
type WithdrawMarking struct {
	ID  string `json:"id"`
	Why string `json:"why"`
}

// MarkingTerm is a day from which a marking is kept otherwise.
type MarkingTerm struct {
	ID         string        `json:"id"`
	From       *dates.Date   `json:"from"`       // null: from the start
	Protection *string       `json:"protection"` // null: as before
	Usage      *string       `json:"usage"`      // null: as before
	Entered    dates.Instant `json:"entered"`
	EnteredBy  *string       `json:"entered_by"`
	Withdrawn  dates.Instant `json:"withdrawn"` // null: it stands
	Why        string        `json:"why"`
}

// MarkingCheck is one look at a marking.
type MarkingCheck struct {
	ID        string        `json:"id"`
	On        dates.Date    `json:"on"`
	Grade     *int64        `json:"grade"`
	Means     string        `json:"means"` // the grade in words
	Read      string        `json:"read"`
	Photo     *string       `json:"photo"` // SHA-256; null: none, or not the asker's to see
	Entered   dates.Instant `json:"entered"`
	EnteredBy *string       `json:"entered_by"`
	Withdrawn dates.Instant `json:"withdrawn"` // null: it stands
	Why       string        `json:"why"`
}

// MarkingForecast says how long a marking will be readable. Its dates are null where
// there is no forecast, where it is lost already, and beyond ten years.
type MarkingForecast struct {
	Marking         string       `json:"marking"`
	Grade           *int64       `json:"grade"`
	AsOf            *dates.Date  `json:"as_of"`
	Expected        *dates.Date  `json:"expected"`
	Early           *dates.Date  `json:"early"`
	Late            *dates.Date  `json:"late"`
	UnreadableToday *float64     `json:"chance_unreadable_today"`
	Exposure        float64      `json:"exposure_days"`
	Prior           MarkingPrior `json:"prior"`
	Lost            bool         `json:"lost"`
	Assumed         bool         `json:"assumed"` // nobody looked: crisp when it was new
	NextPhoto       *dates.Date  `json:"next_photo"`
	Act             bool         `json:"act"` // protect it, or add an owner's number, now
	Words           string       `json:"words"`
	Cautions        []string     `json:"cautions"` // of the tool's kind
}

// MarkingPrior is what is taken of the class of a marking before its own looks.
type MarkingPrior struct {
	Shape       float64 `json:"shape"`
	Rate        float64 `json:"rate"`
	LearnedFrom int     `json:"learned_from"` // other tools; 0: assumed

	// Spread is the coefficient of variation of the rate between tools of the class;
	// Factors are what a day counts for, of a day of daily, unprotected use. Both are
	// absent of a marking that ended.
	Spread  *MarkingFactor  `json:"spread"`
	Factors []MarkingFactor `json:"factors"`
}

// MarkingFactor is a figure of a forecast, assumed or learned from the shop's own looks.
type MarkingFactor struct {
	Of      string  `json:"of"` // weekly use, rare use, lacquer, clear tape, a way of marking; spread between tools
	Value   float64 `json:"value"`
	Learned bool    `json:"learned"`
}

// MarkingRecord is one marking with all that is on record of it.
type MarkingRecord struct {
	ID         string          `json:"id"`
	Shows      string          `json:"shows"` // serial number, or owner's number
	Code       *string         `json:"code"`  // the owner's number
	Method     string          `json:"method"`
	Protection string          `json:"protection"`
	Where      string          `json:"where"`
	Since      dates.Instant   `json:"since"`
	Marked     *dates.Date     `json:"marked"` // null: nobody knows when it was made
	Ended      *dates.Date     `json:"ended"`  // null: it is on the tool
	Terms      []MarkingTerm   `json:"terms"`
	Checks     []MarkingCheck  `json:"checks"`
	Forecast   MarkingForecast `json:"forecast"`
}

// ToolMarkings is a tool's markings.
type ToolMarkings struct {
	Number   string          `json:"number"`
	Kind     string          `json:"kind"`
	Serial   string          `json:"serial"`
	Usage    string          `json:"usage"`
	Current  *string         `json:"current"` // id of the marking that shows the serial now
	Markings []MarkingRecord `json:"markings"`
	Advice   []string        `json:"advice"`
	Cautions []string        `json:"cautions"`
}

// Marked is what recording something of a marking left behind.
type Marked struct {
	ID       *string  `json:"id"` // of the look, the term or the marking; null: it was on record so already
	Said     []string `json:"said"`
	Question string   `json:"question"` // asks about a photo that is too small or blurred
	ToolMarkings
}

// MarkingRound is a page of this month's round, in walking order.
type MarkingRound struct {
	Markings []RoundRow `json:"markings"`
	Next     *string    `json:"next"`
	Today    dates.Date `json:"today"`
	Through  dates.Date `json:"through"` // what falls due up to that day is on it
	Currency string     `json:"currency"`
	All      int        `json:"all"`      // on the whole round
	Unmarked int        `json:"unmarked"` // tools with a serial of which nobody recorded how it is marked
}

// RoundRow is a marking to look at.
type RoundRow struct {
	Number     string          `json:"number"`
	Kind       string          `json:"kind"`
	Maker      string          `json:"maker"`
	Model      string          `json:"model"`
	Place      *string         `json:"place"`
	Marking    string          `json:"marking"`
	Method     string          `json:"method"`
	Protection string          `json:"protection"`
	Where      string          `json:"where"`
	Rank       int             `json:"rank"` // 1: by this one most would be lost
	Grade      *int64          `json:"grade"`
	LastLook   *dates.Date     `json:"last_look"`
	LastRead   string          `json:"last_read"`
	Chance     *float64        `json:"chance_lost_in_30_days"` // null: cannot be said
	Cost       *Money          `json:"cost"`
	CostFrom   string          `json:"cost_from"`
	Proof      float64         `json:"proof"`
	Why        []string        `json:"why"` // it is on the round
	Do         []string        `json:"do"`
	Forecast   MarkingForecast `json:"forecast"`
}

// ChanceWords says the chance of 30 days, so that neither never nor certain is claimed.
func (r RoundRow) ChanceWords() string {
	switch {
	case r.Forecast.Lost:
		return "lost already"
	case r.Chance == nil:
		return "unknown"
	}
	return markings.ChanceWords(*r.Chance)
}
