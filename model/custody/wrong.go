package custody

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/register"
)

// What is one thing that can be wrong with a tool.
type What string

// Whats are the words taken. All but LabelGone put the tool out of use.
var Whats = []What{"dropped", "overloaded", Damaged, Failed, Doubtful, LabelGone}

// Damaged and Doubtful are what a loss leaves of a tool, and what one is that came back.
const (
	Damaged  What = "damaged"
	Doubtful What = "doubtful"
)

// Failed is what a tool calibration or a bench check says of a tool that does not hold.
const Failed What = "failed"

// LabelGone asks for a label; it does not put the tool out of use.
const LabelGone What = "label gone"

// ParseWhat takes one of Whats.
func ParseWhat(s string) (What, error) {
	w := What(strings.ToLower(strings.TrimSpace(s)))
	if !slices.Contains(Whats, w) {
		words := make([]string, len(Whats))
		for i, v := range Whats {
			words[i] = string(v)
		}
		return "", fault.New(fault.Invalid, "%q is not something that can be wrong", s).WithHint("use one of: %s", strings.Join(words, ", "))
	}
	return w, nil
}

// Wrong is the recorded row of one report that something is wrong.
type Wrong struct {
	ID      string `gorm:"primaryKey"`
	Rev     int64
	Tool    string
	What    What
	Note    string
	At      dates.Instant // when it happened
	By      string        // person id of the reporter; empty = the shop
	Cleared dates.Instant // 0 = open
	Why     string        // why it was cleared

	Calibration string // id of the tool calibration or bench check that it failed, where that is what is wrong
}

// TableName names the table of reports.
func (Wrong) TableName() string { return "wrongs" }

// DoNotUse gives the first open report that puts the tool out of use.
func DoNotUse(open []Wrong) (Wrong, bool) {
	for _, w := range open {
		if w.Cleared == 0 && w.What != LabelGone {
			return w, true
		}
	}
	return Wrong{}, false
}

// Reasons gives every open reason for which a tool is out of use, in words.
func Reasons(open []Wrong) string {
	var words []string
	for _, w := range open {
		if w.Cleared == 0 && w.What != LabelGone && !slices.Contains(words, string(w.What)) {
			words = append(words, string(w.What))
		}
	}
	return strings.Join(words, ", ")
}

// MayUse refuses a tool that is out of use.
func MayUse(open []Wrong) error {
	w, out := DoNotUse(open)
	if !out {
		return nil
	}
	return fault.New(fault.Refused, "DO NOT USE: %s", Reasons(open)).
		WithHint("take another; a manager clears it with: pawl clear NUMBER --why …").
		WithFact("do_not_use", Reasons(open)).WithFact("since", w.At.String()).WithFact("holder", "")
}

// OnDay is the moment that a report has of which only the day is known: the first of
// that day, since work of the day is not done with a good tool.
func OnDay(day dates.Date, zone *time.Location) dates.Instant {
	return day.AddDays(-1).EndIn(zone) + 1
}

// DayOnly says whether a failure was entered by its day, so that its hour is nobody's.
func (w Wrong) DayOnly(zone *time.Location) bool {
	return w.What == Failed && w.Calibration != "" && w.At == OnDay(w.At.Day(zone), zone)
}

// LaterThan says when a comparison has to be dated to come certainly after all that puts
// the tool out of use.
func LaterThan(open []Wrong, zone *time.Location) string {
	var last Wrong
	for _, w := range open {
		if w.Cleared == 0 && w.What != LabelGone && w.At >= last.At {
			last = w
		}
	}
	day := last.At.Day(zone)
	if last.DayOnly(zone) {
		return fmt.Sprintf("dated %s or later: it failed on %s, hour not recorded", day.AddDays(1), day)
	}
	return "dated after " + last.At.Time().In(zone).Format("2006-01-02 15:04")
}

// MayClear asks whether open reports on a tool of that kind can be cleared by a
// word. A tool that measures needs a passing calibration, or a bench check of
// the whole range both ways, dated after the event; shown says that it has one. The
// hint tells the event by the clock of the zone.
func MayClear(open []Wrong, kind string, shown bool, zone *time.Location) error {
	if len(open) == 0 {
		return fault.New(fault.Conflict, "nothing is reported wrong with it").WithHint("nothing to clear")
	}
	if w, out := DoNotUse(open); out && register.Measures(kind) && !shown {
		return fault.New(fault.Refused, "a %s that was %s cannot be cleared by a look", kind, w.What).
			WithHint("it needs a passing tool calibration, or a bench check of its whole range both ways, %s", LaterThan(open, zone))
	}
	return nil
}
