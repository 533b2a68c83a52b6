package claims

import (
	"fmt"
	"slices"
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/units"
)

// Payment says what the amount of a fact is of.
type Payment string

// Payments.
const (
	PaidActualCash Payment = "actual cash" // the rest is held back until what was lost is replaced
	PaidRest       Payment = "rest"        // what was held back; 0 where it was given up
	PaidWhole      Payment = "whole"       // nothing is held back
)

// Payments lists them, in the order in which they are offered.
var Payments = []Payment{PaidActualCash, PaidRest, PaidWhole}

// ParsePayment takes one of Payments, or nothing.
func ParsePayment(text string) (Payment, error) {
	p := Payment(strings.ToLower(strings.TrimSpace(text)))
	if p == "" || slices.Contains(Payments, p) {
		return p, nil
	}
	return "", fault.New(fault.Invalid, "%.40q says nothing of a payment", text).
		WithHint("use actual cash (the rest is held back), rest (what was held back) or whole")
}

// What is due of a claim on a policy that holds something back.
const (
	AskForRest = "ask for the second payment"
	FindOutDay = "find out the last day to ask for the second payment"
)

// Holdback is what a policy says of the rest after a payment of actual cash. Claim windows
// are set by policy and state (money-and-statistics 1.2): there is no default.
type Holdback struct {
	Keeps bool       // it is on replacement cost
	Days  int64      // after the loss, within which to ask for the rest
	Due   dates.Date // the last of them; empty: nobody said how many
}

// Unknown says that no such day is on record: Day is since when it is to be found out.
func (d Deadline) Unknown() bool { return d.What == FindOutDay }

// OfRest says that the deadline is about what was held back.
func (d Deadline) OfRest() bool { return d.What == AskForRest || d.What == FindOutDay }

// rest is the deadline to ask for what was held back, if it is still to be asked for. Money
// of which nobody said what it is may have left a rest.
func (c Claim) rest(facts []Fact, h Holdback) (d Deadline, is bool) {
	var paid dates.Date // the first day on which not all came
	for _, f := range facts {
		switch {
		case f.Withdrawn != 0:
		case f.Payment == PaidRest, f.Payment == PaidWhole:
			return d, false
		case c.Kind == Insurance && h.Keeps && f.Amount != nil && (paid == "" || f.On.Before(paid)):
			paid = f.On
		}
	}
	d = Deadline{ID: "holdback", What: AskForRest, Day: c.HoldbackDue}
	switch {
	case c.HoldbackDue != "":
	case paid == "":
		return d, false
	case h.Due != "":
		d.Day, d.Why = h.Due, fmt.Sprintf("%d days after the loss, by the policy", h.Days)
	default:
		d.What, d.Day, d.Why = FindOutDay, paid, "it is not known: the policy or the insurer's letter says it"
	}
	return d, true
}

// PaidOf says in words what was paid of what a claim asks, both in minor units of the
// currency, and what is left of it at most: the policy takes its deductible off that. Where
// something of it is not on record (unsaid), or was paid in another currency, what is left is
// not known.
func PaidOf(facts []Fact, asked int64, unsaid bool, currency string) string {
	paid := int64(0)
	for _, f := range facts {
		switch {
		case f.Withdrawn != 0 || f.Amount == nil:
		case f.Currency != currency:
			return "what was paid is not all in " + currency + ", so what is left is NOT KNOWN"
		default:
			paid += *f.Amount
		}
	}
	money := func(minor int64) string { return units.Money{Minor: minor, Currency: currency}.String() }
	if unsaid {
		return "paid so far " + money(paid) + "; not all that is asked is on record, so what is left is NOT KNOWN"
	}
	return "paid so far " + money(paid) + " of " + money(asked) + " that is asked: at most " + money(max(0, asked-paid)) + " is left"
}
