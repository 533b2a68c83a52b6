// Package custody says who has a tool. A tool is *in place*, *out* to a person
// (perhaps on a job) or *away* (at a lab, at a repairer, lent outside). Each
// stretch of out or away is one loan; a tool has at most one open loan, so it
// has exactly one holder.
package custody

import (
	"cmp"
	"encoding/json"
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/register"
)

// State is where a tool is.
type State string

const (
	InPlace State = "in place"
	Out     State = "out"
	Away    State = "away"
)

// Purpose is why a tool is away.
type Purpose string

const (
	ForCalibration Purpose = "calibration"
	ForRepair      Purpose = "repair"
	ForLent        Purpose = "lent"
)

// Words goes after whom it is away at: " for repair", ", lent".
func (p Purpose) Words() string {
	if p == ForLent {
		return ", lent"
	}
	return " for " + string(p)
}

// ParsePurpose takes one of the purposes.
func ParsePurpose(s string) (Purpose, error) {
	switch p := Purpose(strings.ToLower(strings.TrimSpace(s))); p {
	case ForCalibration, ForRepair, ForLent:
		return p, nil
	}
	return "", fault.New(fault.Invalid, "%q is not a reason to be away", s).WithHint("use calibration, repair or lent")
}

// Loan is the recorded row of one stretch in somebody's hands.
type Loan struct {
	ID        string `gorm:"primaryKey"`
	Rev       int64
	Tool      string
	State     State   // Out or Away
	Person    string  // who holds it, when out
	Job       string  // job id, where it was taken to one
	Whom      string  // to whom, when away
	Purpose   Purpose // when away
	Since     dates.Instant
	Entered   dates.Instant // when it was entered, where that was later
	Due       dates.Instant
	Ended     dates.Instant // 0 = open
	EndedHow  End
	Missing   string // JSON list of pieces that did not come back
	Condition string // as found on return
	Serial    string // as read when it came back, where it was another than the tool's

	Broken          string // what broke off or broke on it, as found on return
	FragmentMissing bool   // and not every fragment of it came back

	// Setbacks is how often the clock had gone back between one change of custody of the
	// tool and the next, up to this one: what times alone would put in the wrong order.
	Setbacks int64

	back dates.Instant // see CameBackAt; it is the tool's, and no part of the row
}

// TableName names the table of loans.
func (Loan) TableName() string { return "loans" }

// End is how a loan ended.
type End string

const (
	Returned    End = "returned"
	HandedOver  End = "handed over"
	CameBack    End = "back"
	WentAway    End = "sent away"
	WentForGood End = "gone"
)

// Lost gives the pieces that did not come back, and are still not here: those of
// the loan that ended last. One at whose end nobody looked keeps those of the one before.
func (l Loan) Lost() (register.Pieces, error) {
	var lost register.Pieces
	if l.Missing == "" {
		return nil, nil
	}
	return lost, json.Unmarshal([]byte(l.Missing), &lost)
}

// Open says whether the tool is still in those hands.
func (l Loan) Open() bool { return l.ID != "" && l.Ended == 0 }

// Now gives the state that a tool is in, from its latest loan.
func (l Loan) Now() State {
	if l.Open() {
		return l.State
	}
	return InPlace
}

// CameBackAt gives the latest stretch of a tool that had left for good and came back then;
// 0 of one that never had.
func (l Loan) CameBackAt(at dates.Instant) Loan {
	l.back = at
	return l
}

// Changed is when custody of the tool last changed, from its latest loan: that it came back
// after it had left for good is a change too.
func (l Loan) Changed() dates.Instant {
	if l.Open() {
		return l.Since
	}
	return max(l.Ended, l.back)
}

// SetbacksAt gives how often the clock has gone back when custody of the tool changes
// next, at a time that may be before the last change of it.
func (l Loan) SetbacksAt(at dates.Instant) int64 {
	if at < l.Changed() {
		return l.Setbacks + 1
	}
	return l.Setbacks
}

// After says whether a stretch of a tool came after another of the same tool, whatever
// the clock was in between.
func (l Loan) After(other Loan) bool {
	return cmp.Or(cmp.Compare(l.Setbacks, other.Setbacks), cmp.Compare(l.Changed(), other.Changed()), cmp.Compare(l.Since, other.Since)) > 0
}

// Holder names who has the tool, for a refusal.
type Holder struct {
	Name  string
	Since dates.Instant
	Job   string // its number, where it was taken to one; told by MayTake alone
}

// MayTake asks whether a tool whose latest loan is l can be taken by that
// person. The answer is a Conflict that tells the holder and since when, and of a
// tool that is out the job, empty where it is on none.
func MayTake(l Loan, h Holder, person string) error {
	if !l.Open() {
		return nil
	}
	f := fault.New(fault.Conflict, "already %s to %s", l.State, h.Name)
	switch {
	case l.State == Away:
		f = f.WithHint("say that it came back first: pawl back NUMBER")
	case l.Person == person && h.Job != "": // perhaps not on the job that it is wanted for
		f = fault.New(fault.Conflict, "already out to %s for job %s", h.Name, h.Job)
	case l.Person == person:
		f = fault.New(fault.Conflict, "already out to %s: nothing to do", h.Name)
	default:
		f = f.WithHint("have it handed over: pawl handover NUMBER --to NAME")
	}
	if l.State == Out {
		f = f.WithFact("job", h.Job)
	}
	return f.WithFact("holder", h.Name).WithFact("since", h.Since.String())
}

// MustBe asks whether the tool is in the given state now.
func MustBe(l Loan, h Holder, want State, hint string) error {
	if l.Now() == want {
		return nil
	}
	if !l.Open() {
		f := fault.New(fault.Conflict, "it is in place already").WithHint("%s", hint).WithFact("holder", "")
		if c := l.Changed(); c != 0 {
			f = f.WithFact("since", c.String())
		}
		return f
	}
	return fault.New(fault.Conflict, "it is %s to %s", l.State, h.Name).WithHint("%s", hint).
		WithFact("holder", h.Name).WithFact("since", h.Since.String())
}

// Unchanged asks whether custody of a tool whose latest loan is l last changed
// when the asker saw it change. The answer is a Conflict that tells
// the holder and since when.
func Unchanged(l Loan, h Holder, seen dates.Instant) error {
	if l.Changed() == seen {
		return nil
	}
	f := fault.New(fault.Conflict, "custody changed since this was asked for: it is in place again").WithFact("holder", "")
	if l.Open() {
		f = fault.New(fault.Conflict, "custody changed since this was asked for: it is %s to %s", l.State, h.Name).WithFact("holder", h.Name)
	}
	if c := l.Changed(); c != 0 {
		f = f.WithFact("since", c.String())
	}
	return f.WithFact("changed", "yes").WithHint("look at the tool again, and do what is right now")
}

// When settles the time of an act: now, or an earlier time when entered late.
// It may be neither in the future nor before the tool's last change of custody.
func When(happened, now dates.Instant, last Loan) (at, entered dates.Instant, err error) {
	if happened == 0 {
		return now, 0, nil
	}
	if happened > now {
		return 0, 0, fault.At("#/happened", "%s is in the future; it is %s now", happened, now).WithHint("correct the time; without an offset it is the shop's own")
	}
	if happened < last.Changed() {
		return 0, 0, fault.At("#/happened", "%s is before the last change of custody at %s", happened, last.Changed()).
			WithHint("give a time after that")
	}
	return happened, now, nil
}

// CheckDue refuses a due time that is not after the taking.
func CheckDue(due, since dates.Instant) error {
	if due != 0 && due <= since {
		return fault.At("#/due", "due %s is not after %s, when it is taken", due, since).WithHint("give a later time, or a day, which means its end")
	}
	return nil
}
