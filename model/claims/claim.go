package claims

import (
	"cmp"
	"slices"
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/names"
	"pawl/model/register"
)

// Caution stands beside every claim while it is worked on: NoAdvice and what to do.
const Caution = NoAdvice + " So do its dates; ask the insurer which form it wants, and sign nothing that you did not read."

// ClaimKinds lists of whom something can be asked.
var ClaimKinds = []ClaimKind{Insurance, Warranty, Ownership}

// ParseClaimKind takes one of ClaimKinds.
func ParseClaimKind(text string) (ClaimKind, error) {
	k := ClaimKind(strings.ToLower(strings.TrimSpace(text)))
	if slices.Contains(ClaimKinds, k) {
		return k, nil
	}
	return "", fault.New(fault.Invalid, "%.40q is no kind of claim", text).WithHint("use insurance, warranty or ownership")
}

// Within says whether a fault fell into the warranty.
type Within string

// Answers on a warranty.
const (
	Inside   Within = "inside"
	Outside  Within = "outside"
	NotKnown Within = "unknown" // never taken for inside
)

// WithinWarranty says whether a fault of that day fell into the warranty of the purchase.
func WithinWarranty(p register.Purchase, fault dates.Date) Within {
	through := p.WarrantyThrough()
	switch {
	case through == "" || fault == "":
		return NotKnown
	case fault.Before(p.WarrantyStart()), fault.After(through):
		return Outside
	}
	return Inside
}

// ClaimChange holds new values of a claim; nil leaves one as it is, an empty text takes
// it away.
type ClaimChange struct {
	Insured, Contact, PolicyNumber, ClaimNumber, Adjuster, AdjusterAt, OtherInsurance, Fault, FaultOn *string
	ProofDue, SuitDue, HoldbackDue, AnswerDue                                                         *string
}

// Apply sets them, or names every value at fault. Today is the shop's day.
func (c ClaimChange) Apply(to *Claim, today dates.Date) error {
	var bad fault.Problems
	for _, f := range []struct {
		name string
		in   *string
		to   *string
		read func(string) (string, error)
	}{{"insured", c.Insured, &to.Insured, names.Line}, {"contact", c.Contact, &to.Contact, names.Note},
		{"policy_number", c.PolicyNumber, &to.PolicyNumber, names.Line}, {"claim_number", c.ClaimNumber, &to.ClaimNumber, names.Line},
		{"adjuster", c.Adjuster, &to.Adjuster, names.Line}, {"adjuster_at", c.AdjusterAt, &to.AdjusterAt, names.Note},
		{"other_insurance", c.OtherInsurance, &to.OtherInsurance, names.Note}, {"fault", c.Fault, &to.Fault, names.Note}} {
		if f.in == nil {
			continue
		}
		clean, err := f.read(*f.in)
		bad.Keep("#/"+f.name, err)
		*f.to = clean
	}
	for _, f := range []struct {
		name string
		in   *string
		to   *dates.Date
	}{{"fault_on", c.FaultOn, &to.FaultOn}, {"proof_due", c.ProofDue, &to.ProofDue}, {"suit_due", c.SuitDue, &to.SuitDue},
		{"holdback_due", c.HoldbackDue, &to.HoldbackDue}, {"answer_due", c.AnswerDue, &to.AnswerDue}} {
		if f.in == nil {
			continue
		}
		day, err := dates.Date(""), error(nil)
		if strings.TrimSpace(*f.in) != "" {
			day, err = dates.ParseDate(*f.in)
		}
		bad.Keep("#/"+f.name, err)
		*f.to = day
	}
	if to.FaultOn.After(today) {
		bad.Add("#/fault_on", "%s is in the future; today is %s", to.FaultOn, today)
	}
	if err := bad.Err(); err != nil {
		return err
	}
	return to.check()
}

// check holds a claim to its kind: a fault is told in a claim on a warranty, and only there.
func (c Claim) check() error {
	var bad fault.Problems
	switch {
	case c.Kind == Warranty && c.Fault == "":
		bad.Add("#/fault", "say what is wrong with the tool")
	case c.Kind != Warranty && c.Fault != "":
		bad.Add("#/fault", "a fault is told in a claim on a warranty, and this is one on %s", c.Kind)
	}
	return bad.Err()
}

// Deadline is a day of a claim by which somebody waits for something.
type Deadline struct {
	ID   string // the same for as long as it is the same deadline of the same claim
	What string
	Day  dates.Date
	Why  string // that day, where nobody entered it
}

// Deadlines gives those of a claim that were recorded or follow from its facts and what the
// policy says of them, the next first.
func (c Claim) Deadlines(facts []Fact, h Holdback) (out []Deadline) {
	all := []Deadline{{ID: "proof", What: "sworn proof of loss", Day: c.ProofDue}, {ID: "suit", What: "last day to sue", Day: c.SuitDue}, {ID: "answer", What: "answer on a claim", Day: c.AnswerDue}}
	if rest, is := c.rest(facts, h); is {
		all = append(all, rest)
	}
	for _, d := range all {
		if d.Day != "" {
			d.ID = c.ID + "/" + d.ID
			out = append(out, d)
		}
	}
	slices.SortStableFunc(out, func(a, b Deadline) int { return cmp.Compare(a.Day, b.Day) })
	return out
}

// Withdraw takes back a fact that was entered by mistake: it stays on record, with why, and
// nothing is told by it any more. One that was withdrawn already is a Conflict, no reason
// Invalid.
func (f *Fact) Withdraw(why string, now dates.Instant) error {
	if f.Withdrawn != 0 {
		return fault.New(fault.Conflict, "%s, %s, was withdrawn already: %s", f.On, f.What, f.Why).
			WithHint("nothing to do").WithFact("since", f.Withdrawn.String())
	}
	clean, err := names.Line(why)
	if err == nil && clean == "" {
		err = fault.New(fault.Invalid, "say why it is withdrawn, such as: it was another claim's")
	}
	if err != nil {
		return fault.At("#/why", "%s", fault.Of(err).Error())
	}
	f.Withdrawn, f.Why = now, clean
	return nil
}

// ReadFact reads a dated fact of a claim, its amount apart.
func ReadFact(on, what, payment string, today dates.Date) (f Fact, err error) {
	var bad fault.Problems
	f.On, err = dates.ParseDate(on)
	bad.Keep("#/on", err)
	if f.On.After(today) {
		bad.Add("#/on", "%s is in the future; today is %s. What is awaited is a deadline of the claim", f.On, today)
	}
	f.What, err = names.Line(what)
	if err == nil && f.What == "" {
		err = fault.New(fault.Invalid, "say what happened, such as: first payment")
	}
	bad.Keep("#/what", err)
	f.Payment, err = ParsePayment(payment)
	bad.Keep("#/payment", err)
	return f, bad.Err()
}
