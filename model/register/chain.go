package register

import (
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/names"
	"pawl/model/units"
)

// Outside is whose a tool is when it belongs to nobody here: a neighbor's, or a
// parts store's loaner with a deposit. Such a tool counts for nothing in worth.
type Outside struct {
	Outsider        string     // the owner's name; empty: it belongs to the shop or a person
	Deposit         *int64     // minor units that were left for it; nil is not known
	DepositCurrency string     // of Deposit
	DueBack         dates.Date // the day by which it goes back to its owner
}

// FromOutside says whether the tool belongs to somebody outside.
func (o Outside) FromOutside() bool { return o.Outsider != "" }

// DepositMoney gives the deposit with its currency, or nil.
func (o Outside) DepositMoney() *units.Money {
	if o.Deposit == nil {
		return nil
	}
	return &units.Money{Minor: *o.Deposit, Currency: o.DepositCurrency}
}

// Chain is where a tool came from: ids of tools here, or what it was elsewhere.
type Chain struct {
	CameWith       string // id of the tool that it was bought with
	ExchangedFor   string // id of the tool that took its place
	ExchangedFrom  string // id of the tool whose place it took
	Origin         string // where it was imported from: ledger and tool id, "pawl/0123456789abcdef T-…"
	EarlierNumbers Texts  `gorm:"type:text"` // its numbers there
}

// outside applies what was entered about an owner outside. Naming another owner
// means that the tool is no longer theirs.
func (e *editor) outside(o *Outside, c Change, currency string) {
	owned := c.Owner != nil && *c.Owner != ""
	e.text("#/owner_outside", &o.Outsider, c.OwnerOutside, names.Line)
	switch {
	case owned && c.OwnerOutside != nil && o.Outsider != "":
		e.bad.Add("#/owner_outside", "%q is outside and %q is not: a tool has one owner", o.Outsider, *c.Owner)
	case owned:
		*o = Outside{}
	case o.Outsider == "" && c.OwnerOutside != nil:
		*o = Outside{}
	}
	if o.DepositCurrency != "" {
		currency = o.DepositCurrency
	}
	e.money("#/deposit", &o.Deposit, c.Deposit, currency)
	e.date("#/due_back", &o.DueBack, c.DueBack)
	o.DepositCurrency = ""
	if o.Deposit != nil {
		o.DepositCurrency = currency
	}
	if o.Outsider == "" && (o.Deposit != nil || o.DueBack != "") {
		e.bad.Add("#/owner_outside", "a deposit or a day to give it back is for a tool of somebody outside")
	}
}

// GoneWhys are the ways in which a tool leaves for good and somebody may say so.
// A theft is told where losses are.
var GoneWhys = []string{"sold", "exchanged", "returned", "traded in", "scrapped", "lost", HandedToOwner}

// Stolen is how a tool goes of which a theft is confirmed.
const Stolen = "stolen"

// HandedToOwner is how a tool goes that was never the shop's.
const HandedToOwner = "handed to its owner"

// Exchanged is how a tool goes whose maker gave another for it.
const Exchanged = "exchanged"

// MayGo asks whether a tool can leave in that way.
func MayGo(t Tool, why string) error {
	if why == HandedToOwner && t.Owner == "" && !t.FromOutside() {
		return fault.At("#/why", "tool %s is the shop's own: there is no other owner to hand it to", t.Number).
			WithHint("say sold, scrapped, lost …, or say first whose it is: pawl edit %s --owner NAME", t.Number)
	}
	return nil
}
