package register

import (
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/names"
	"pawl/model/serials"
	"pawl/model/units"
)

// New is what a person enters to register a tool. Names of owner and place are
// resolved by the use-case; Change holds everything that can be edited later.
type New struct {
	Number      string `json:"number,omitempty"` // an issued number to claim; empty draws the next
	SerialAgain string `json:"serial_again,omitempty"`
	Change
	Evidence []Attach `json:"evidence,omitempty"`
	With     []With   `json:"with,omitempty"` // tools that came with it

	// GoneByLoss is the id of the loss by which it is gone already: it is built from old
	// photos and papers, and marked as recorded after the loss.
	GoneByLoss string `json:"gone_by_loss,omitempty"`
}

// MarkingEntry is how a tool is marked; in a change, what is empty stays.
type MarkingEntry struct {
	Method     string `json:"method"`
	Protection string `json:"protection,omitempty"`
	Where      string `json:"where,omitempty"`
}

// Attach names an uploaded original and what it shows.
type Attach struct {
	Kind   string `json:"kind"`
	SHA256 string `json:"sha256"`
	Name   string `json:"name,omitempty"`
}

// Change holds new values of a tool; nil leaves one as it is, an empty text
// takes it away.
type Change struct {
	Kind           *string `json:"kind,omitempty"`
	Maker          *string `json:"maker,omitempty"`
	Model          *string `json:"model,omitempty"`
	Serial         *string `json:"serial,omitempty"`
	SerialAgain    *string `json:"serial_again,omitempty"` // the second reading, with a new serial
	NoSerial       *string `json:"no_serial,omitempty"`    // why there is none: none, unreadable
	Lot            *string `json:"lot,omitempty"`
	Owner          *string `json:"owner,omitempty"`
	Place          *string `json:"place,omitempty"`
	Usage          *string `json:"usage,omitempty"`
	Notes          *string `json:"notes,omitempty"`
	Pieces         *Pieces `json:"pieces,omitempty"`
	Bought         *string `json:"bought,omitempty"`
	BoughtAs       *string `json:"bought_as,omitempty"` // new, used
	Price          *string `json:"price,omitempty"`
	Tax            *string `json:"tax,omitempty"`
	Seller         *string `json:"seller,omitempty"`
	Terms          *string `json:"terms,omitempty"`
	Owed           *string `json:"owed,omitempty"`
	OwedTo         *string `json:"owed_to,omitempty"`
	OwedOn         *string `json:"owed_on,omitempty"`
	WarrantyMonths *int64  `json:"warranty_months,omitempty"`
	WarrantyFrom   *string `json:"warranty_from,omitempty"`
	OwnerOutside   *string `json:"owner_outside,omitempty"` // somebody who is not of the shop
	Deposit        *string `json:"deposit,omitempty"`
	DueBack        *string `json:"due_back,omitempty"`

	Marking *MarkingEntry `json:"marking,omitempty"`
}

// Money says whether the change touches anything that only some may see.
func (c Change) Money() bool {
	for _, s := range []*string{c.Bought, c.BoughtAs, c.Price, c.Tax, c.Seller, c.Terms, c.Owed, c.OwedTo, c.OwedOn, c.Deposit} {
		if s != nil {
			return true
		}
	}
	return false
}

// editor applies a change value by value, keeping what is wrong.
type editor struct{ bad fault.Problems }

func (e *editor) text(at string, dst *string, src *string, read func(string) (string, error)) {
	if src == nil {
		return
	}
	clean, err := read(*src)
	e.bad.Keep(at, err)
	*dst = clean
}

func (e *editor) date(at string, dst *dates.Date, src *string) {
	if src == nil {
		return
	}
	*dst = ""
	if *src == "" {
		return
	}
	d, err := dates.ParseDate(*src)
	e.bad.Keep(at, err)
	*dst = d
}

func (e *editor) money(at string, dst **int64, src *string, currency string) {
	if src == nil {
		return
	}
	*dst = nil
	if *src == "" {
		return
	}
	m, err := units.ParseMoney(*src, currency)
	e.bad.Keep(at, err)
	*dst = &m.Minor
}

// Apply returns the tool with the change, or every value at fault. Today is the
// shop's day and currency its currency; owner and place ids are the caller's to
// set. A currency that stands on the tool already stays with its amounts.
func (c Change) Apply(t Tool, today dates.Date, currency string) (Tool, error) {
	var e editor
	e.text("#/kind", &t.Kind, c.Kind, names.Line)
	t.Kind = strings.ToLower(strings.Join(strings.Fields(t.Kind), " "))
	// One that was photographed first may wait for its kind; a kind that was typed
	// is not taken away.
	if unfinished := t.Rev > 0 && c.Kind == nil; t.Kind == "" && !unfinished && len(e.bad) == 0 {
		e.bad.Add("#/kind", "a tool needs a kind, such as impact wrench")
	}
	e.text("#/maker", &t.Maker, c.Maker, names.Line)
	t.MakerKey = serials.MakerKey(t.Maker)
	e.text("#/model", &t.Model, c.Model, names.Line)
	e.text("#/lot", &t.Lot, c.Lot, names.Line)
	e.text("#/notes", &t.Notes, c.Notes, names.Note)
	e.serial(&t, c.Serial)
	e.noSerial(&t, c.NoSerial)
	e.usage(&t, c.Usage)
	if c.Pieces != nil {
		p, err := c.Pieces.checked()
		e.bad.Keep("#/pieces", err)
		t.Pieces = p
	}
	e.purchase(&t.Purchase, c, today, currency)
	e.outside(&t.Outside, c, currency)
	return t, e.bad.Err()
}

func (e *editor) serial(t *Tool, src *string) {
	if src == nil {
		return
	}
	t.Serial, t.SerialKey = "", ""
	if strings.TrimSpace(*src) == "" {
		return
	}
	clean, err := serials.Check(*src)
	e.bad.Keep("#/serial", err)
	t.Serial, t.SerialKey = clean, serials.Key(clean)
}

// noSerial says why there is no serial; with one, nothing is to be said.
func (e *editor) noSerial(t *Tool, src *string) {
	if src != nil {
		t.NoSerial = NoSerial(strings.ToLower(strings.TrimSpace(*src)))
	}
	switch {
	case src != nil && t.NoSerial != "" && t.NoSerial != NeverMarked && t.NoSerial != Unreadable:
		e.bad.Add("#/no_serial", "%q is not a reason to have no serial; use none or unreadable", *src)
	case src != nil && t.NoSerial != "" && t.Serial != "":
		e.bad.Add("#/no_serial", "serial %s is recorded, so there is one", t.Serial)
	case t.Serial != "":
		t.NoSerial = ""
	}
}

func (e *editor) usage(t *Tool, src *string) {
	if src == nil {
		return
	}
	t.Usage = Usage(strings.ToLower(*src))
	switch t.Usage {
	case "", Daily, Weekly, Rare:
	default:
		e.bad.Add("#/usage", "%q is not a usage; use daily, weekly or rare", *src)
	}
}

func (e *editor) purchase(p *Purchase, c Change, today dates.Date, currency string) {
	if p.Currency != "" {
		currency = p.Currency
	}
	e.date("#/bought", &p.Bought, c.Bought)
	e.money("#/price", &p.Price, c.Price, currency)
	e.money("#/tax", &p.Tax, c.Tax, currency)
	e.money("#/owed", &p.Owed, c.Owed, currency)
	e.text("#/seller", &p.Seller, c.Seller, names.Line)
	e.text("#/owed_to", &p.OwedTo, c.OwedTo, names.Line)
	e.date("#/owed_on", &p.OwedOn, c.OwedOn)
	e.date("#/warranty_from", &p.WarrantyFrom, c.WarrantyFrom)
	if c.BoughtAs != nil {
		p.BoughtAs = BoughtAs(strings.ToLower(strings.TrimSpace(*c.BoughtAs)))
		if p.BoughtAs != "" && p.BoughtAs != BoughtAsNew && p.BoughtAs != BoughtUsed {
			e.bad.Add("#/bought_as", "%q is not known; use new or used", *c.BoughtAs)
		}
	}
	if c.Terms != nil {
		p.Terms = Terms(strings.ToLower(strings.TrimSpace(*c.Terms)))
		if p.Terms != "" && p.Terms != Paid && p.Terms != OnAccount {
			e.bad.Add("#/terms", "%q is not known; use paid or on account", *c.Terms)
		}
	}
	if c.WarrantyMonths != nil {
		p.WarrantyMonths = *c.WarrantyMonths
		if p.WarrantyMonths < 0 || p.WarrantyMonths > 1200 {
			e.bad.Add("#/warranty_months", "%d is not a number of months from 0 to 1200", p.WarrantyMonths)
		}
	}
	if p.Bought.After(today) {
		e.bad.Add("#/bought", "%s is in the future; today is %s", p.Bought, today)
	}
	if p.OwedOn.After(today) {
		e.bad.Add("#/owed_on", "%s is in the future; today is %s", p.OwedOn, today)
	}
	if p.Terms == Paid && p.Owed != nil && *p.Owed > 0 {
		e.bad.Add("#/owed", "something is owed, and the terms are paid; the terms would be on account")
	}
	p.Currency = ""
	if p.Price != nil || p.Tax != nil || p.Owed != nil {
		p.Currency = currency
	}
}

// CheckSerialTwice holds the two entries of a serial against each other: it is
// captured twice, and a difference must be settled by the person.
func CheckSerialTwice(first, again string) error {
	switch {
	case strings.TrimSpace(first) == "" && strings.TrimSpace(again) == "":
		return nil
	case strings.TrimSpace(again) == "":
		return fault.At("#/serial_again", "the serial number was entered once").WithHint("read it again from the tool or its photo and enter it a second time")
	case serials.Key(first) != serials.Key(again):
		return fault.At("#/serial_again", "the two readings differ: %q and %q", first, again).
			WithHint("look at the plate again; neither is kept")
	}
	return nil
}
