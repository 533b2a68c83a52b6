// Package register holds what a shop knows of each tool: kind, maker, model,
// serial number, owner, place, purchase, warranty and loose pieces. A tool is
// one physical thing; it may be a set of loose pieces.
package register

import (
	"pawl/model/dates"
	"pawl/model/numbers"
	"pawl/model/units"
)

// Usage says how often a tool is in hand.
type Usage string

const (
	Daily  Usage = "daily"
	Weekly Usage = "weekly"
	Rare   Usage = "rare"
)

// NoSerial says why no serial is recorded, where that was said.
type NoSerial string

const (
	NeverMarked NoSerial = "none"       // its maker marked none on it
	Unreadable  NoSerial = "unreadable" // there is or was one, and it cannot be read any more
)

// Tool is the recorded row of one physical thing. Custody is not in it: taking
// a tool writes a loan and leaves the tool as it is.
type Tool struct {
	ID        string `gorm:"primaryKey"`
	Rev       int64
	Number    numbers.Number // the number joined last; the numbers table keeps all
	Kind      string
	Maker     string
	MakerKey  string
	Model     string
	Serial    string // as read
	SerialKey string // unique with MakerKey where there is one
	NoSerial  NoSerial
	Lot       string // a code that is not individual
	Owner     string // person id; empty = the shop
	Place     string // place id; where it belongs
	Usage     Usage
	Notes     string
	Pieces    Pieces `gorm:"type:text"`
	Purchase  `gorm:"embedded"`
	Outside   `gorm:"embedded"`
	Chain     `gorm:"embedded"`
	Created   dates.Instant
	Gone      dates.Instant // 0 = still ours
	GoneWhy   string
	GoneOn    dates.Date // the day of it, which may be before it was entered
	GoneNote  string
	BackSince dates.Instant // in the register again after it was gone; 0 = it never was
}

// TableName names the table of tools.
func (Tool) TableName() string { return "tools" }

// Terms says how a tool was bought.
type Terms string

const (
	Paid      Terms = "paid"
	OnAccount Terms = "on account"
)

// BoughtAs says whether a tool was new when it was bought.
type BoughtAs string

const (
	BoughtAsNew BoughtAs = "new"
	BoughtUsed  BoughtAs = "used"
)

// BoughtNew is the day on which the tool was bought new, as far as nothing says
// otherwise: empty of one that was bought used, and of one that came in exchange, which
// takes over the purchase of another.
func (t Tool) BoughtNew() dates.Date {
	if t.BoughtAs == BoughtUsed || t.ExchangedFrom != "" {
		return ""
	}
	return t.Bought
}

// Purchase is how a tool came to its owner. Amounts are minor units of
// Currency; nil is not known, which is not nothing.
type Purchase struct {
	Bought         dates.Date
	BoughtAs       BoughtAs // empty = not recorded
	Price          *int64   // before tax
	Tax            *int64
	Currency       string // of every amount here; empty when there is none
	Seller         string
	Terms          Terms
	Owed           *int64 // still owed on the tool
	OwedTo         string
	OwedOn         dates.Date // the day that Owed speaks of
	WarrantyMonths int64      // 0 = none recorded
	WarrantyFrom   dates.Date // empty = from the purchase date
}

// Hidden is what a person sees who may not see the money of a tool. A warranty
// that runs from the purchase would tell its date, and has no start then.
func (p Purchase) Hidden() Purchase {
	return Purchase{WarrantyMonths: p.WarrantyMonths, WarrantyFrom: p.WarrantyFrom}
}

// WarrantyStart is the day the warranty runs from, or none.
func (p Purchase) WarrantyStart() dates.Date {
	if p.WarrantyFrom != "" {
		return p.WarrantyFrom
	}
	return p.Bought
}

// WarrantyThrough is the last day covered: the start and the months, with the
// day held to the month's end (money-and-statistics 3.1, our assumption). It is
// empty when months or start are not known.
func (p Purchase) WarrantyThrough() dates.Date {
	if p.WarrantyMonths == 0 || p.WarrantyStart() == "" {
		return ""
	}
	return p.WarrantyStart().AddMonths(int(p.WarrantyMonths))
}

// Money gives an amount with its currency, or nil where it is not known.
func (p Purchase) Money(minor *int64) *units.Money {
	if minor == nil {
		return nil
	}
	return &units.Money{Minor: *minor, Currency: p.Currency}
}

// NumberState says what became of a tool number. None is ever used again.
type NumberState string

const (
	Issued   NumberState = "issued"   // printed and free
	Assigned NumberState = "assigned" // a tool answers to it, for ever
	Void     NumberState = "void"     // spoiled; never to be given out
)

// NumberRow is the recorded row of one tool number.
type NumberRow struct {
	ID    string `gorm:"primaryKey"` // the six characters
	Rev   int64
	State NumberState
	Tool  string        // tool id, once assigned
	Since dates.Instant // when it got this state
}

// TableName names the table of numbers.
func (NumberRow) TableName() string { return "numbers" }
