package claims

import (
	"slices"
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/names"
)

// LossKinds lists what can have happened, in the order in which it is offered.
var LossKinds = []LossKind{Theft, Fire, Water, Damage, Mislaid}

// ParseLossKind takes one of LossKinds.
func ParseLossKind(text string) (LossKind, error) {
	k := LossKind(strings.ToLower(strings.TrimSpace(text)))
	if slices.Contains(LossKinds, k) {
		return k, nil
	}
	return "", fault.New(fault.Invalid, "%.40q is no kind of loss", text).WithHint("use theft, fire, water, damage or lost")
}

// Gone is how a tool is gone once a loss of that kind is confirmed of it. After a fire,
// water or damage it is empty: what is left of the tool is there, and out of use.
func (k LossKind) Gone() string {
	switch k {
	case Theft:
		return "stolen"
	case Mislaid:
		return "lost"
	}
	return ""
}

// FromTheLoss is why a tool is in no claim on a loss that it was withdrawn from.
const FromTheLoss = "withdrawn from the loss"

// State says how a tool of a loss stands. It follows from the dates of its line; none
// is kept.
type State string

// States of a line.
const (
	StateMissing   State = "missing" // nobody confirmed it
	StateStolen    State = "stolen"
	StateLost      State = "lost"
	StateDamaged   State = "damaged"
	StateRecovered State = "recovered"
	StateWithdrawn State = "withdrawn" // it was not of this loss
)

// State is how the tool of a line stands, in a loss of that kind.
func (l LossLine) State(k LossKind) State {
	switch {
	case l.Withdrawn != 0:
		return StateWithdrawn
	case l.Recovered != "":
		return StateRecovered
	case l.Confirmed == 0:
		return StateMissing
	case k == Theft:
		return StateStolen
	case k == Mislaid:
		return StateLost
	}
	return StateDamaged
}

// Open says whether the tool is still not back by this line. A tool is on at most one
// open line.
func (l LossLine) Open() bool { return l.Withdrawn == 0 && l.Recovered == "" }

// NextLine gives the number of the next line of a loss: no number is given twice, not
// even that of a line that was withdrawn.
func NextLine(lines []LossLine) int64 {
	most := int64(0)
	for _, l := range lines {
		most = max(most, l.Line)
	}
	return most + 1
}

// NextSupplement gives the supplement in which the next find goes: 1 is the first list.
// A list that was given out is not added to, and a later find begins the next; so it
// does where that is asked for. Packets are the supplements of the packets of its claims.
func NextSupplement(l Loss, lines []LossLine, packets []int64, asked bool) int64 {
	current := int64(1)
	for _, line := range lines {
		current = max(current, line.Supplement)
	}
	given := l.Given
	for _, p := range packets {
		given = max(given, p)
	}
	if len(lines) > 0 && (asked || given >= current) {
		return current + 1
	}
	return current
}

// MayAdd asks whether a tool may go on the list of a loss, by all lines that it is on.
// The answer is a Conflict that names the loss.
func MayAdd(ofTool []LossLine) error {
	for _, l := range ofTool {
		if l.Open() {
			return fault.New(fault.Conflict, "it is on the list of loss %s already, as line %d", l.Loss, l.Line).
				WithHint("see it: pawl loss show %s", l.Loss).WithFact("loss", l.Loss)
		}
	}
	return nil
}

// MayConfirm asks whether it may be confirmed of the tool of a line that it is gone.
// Seen is when the record shows the tool last, and how: what was seen after the loss was
// found out is not gone by it, however much later it was reported.
func (l LossLine) MayConfirm(k LossKind, found, seen dates.Instant, how string) error {
	switch {
	case !l.Open():
		return fault.New(fault.Conflict, "line %d is %s", l.Line, l.State(k)).WithHint("nothing to confirm")
	case l.Confirmed != 0:
		return fault.New(fault.Conflict, "line %d is confirmed already", l.Line).WithFact("since", l.Confirmed.String()).WithHint("nothing to do")
	case k.Gone() != "" && seen > found:
		return fault.New(fault.Conflict, "the record shows it after the loss was found out: %s at %s", how, seen).
			WithFact("since", seen.String()).WithHint("look where it is, and withdraw it from the list: pawl loss withdraw %s NUMBER --why …", l.Loss)
	}
	return nil
}

// MayWithdraw asks whether a line may be withdrawn as not of this loss.
func (l LossLine) MayWithdraw(k LossKind) error {
	if !l.Open() {
		return fault.New(fault.Conflict, "line %d is %s already", l.Line, l.State(k)).WithHint("nothing to withdraw")
	}
	return nil
}

// Recovery is how a tool came back, as read.
type Recovery struct {
	On            dates.Date
	By            string // number, serial or reading
	At, Condition string
}

// Recover sets that the tool of the line came back. Found is the day on which the loss
// was found out.
func (l *LossLine) Recover(k LossKind, r Recovery, found dates.Date) error {
	switch {
	case !l.Open():
		return fault.New(fault.Conflict, "line %d is %s already", l.Line, l.State(k)).WithHint("nothing to do")
	case r.On.Before(found):
		return fault.At("#/on", "%s is before %s, when the loss was found out", r.On, found)
	}
	l.Recovered, l.RecoveredBy, l.RecoveredAt, l.RecoveredIn = r.On, r.By, r.At, r.Condition
	return nil
}

// AfterRecovery is why a tool that was recovered is out of use until somebody looked it
// over: it was out of hand, and nothing is known of what was done to it.
func AfterRecovery(k LossKind) string {
	if k == Mislaid {
		return "found again after it was lost, to be looked over"
	}
	return "recovered after " + string(k) + ", to be looked over"
}

// LossChange holds new words of a loss; nil leaves one as it is, an empty text takes it
// away.
type LossChange struct {
	Where, Entered, Locks, Alarm, Cameras, Keys, Closed, Opened *string
}

// Apply sets them, or names every value at fault.
func (c LossChange) Apply(l *Loss) error {
	var bad fault.Problems
	for _, f := range []struct {
		name string
		in   *string
		to   *string
	}{{"where", c.Where, &l.Spot}, {"entered", c.Entered, &l.Entered}, {"locks", c.Locks, &l.Locks}, {"alarm", c.Alarm, &l.Alarm},
		{"cameras", c.Cameras, &l.Cameras}, {"keys", c.Keys, &l.Keys}, {"closed", c.Closed, &l.Closed}, {"opened", c.Opened, &l.Opened}} {
		if f.in == nil {
			continue
		}
		clean, err := names.Note(*f.in)
		if err == nil && clean == "" && f.name == "where" {
			err = fault.New(fault.Invalid, "say where it happened")
		}
		bad.Keep("#/"+f.name, err)
		*f.to = clean
	}
	return bad.Err()
}
