package worth

import (
	"pawl/model/dates"
	"pawl/model/register"
)

// Of is what a quote is of.
type Of string

// Replacement is how OfNew is typed and said.
const Replacement = "replacement"

// Words is what a quote is of, as it is typed and said.
func (o Of) Words() string {
	if o == OfNew {
		return Replacement
	}
	return string(o)
}

// What a quote can be of.
const (
	OfNew  Of = ""       // a new tool of the same sort: the replacement cost
	OfUsed Of = "market" // a used one: the market value
)

// Quote is the recorded row of what a tool of the same sort costs on a day, new or used, by
// a named source. Amount is minor units of Currency.
type Quote struct {
	ID       string `gorm:"primaryKey"`
	Rev      int64
	Tool     string
	Amount   *int64
	Currency string
	Source   string
	Dated    dates.Date
	Of       Of `gorm:"column:basis"`
	Entered  dates.Instant
	Person   string // who entered it
}

// TableName names the table of quotes.
func (Quote) TableName() string { return "quotes" }

// Basis words of a replacement cost.
const (
	FromQuote = "quote"
	FromPrice = "price paid"
)

// Cost is a replacement cost, where it comes from and of which day.
type Cost struct {
	Amount int64
	Of     string // FromQuote, FromPrice
	Source string
	Dated  dates.Date // empty: not known
}

// CostOf gives the replacement cost of a tool in a currency: the newest quote, else
// the price paid, which is older money and labelled so. Nil is not known, which is
// not nothing. Foreign says that there is a figure in another currency.
func CostOf(t register.Tool, quotes []Quote, currency string) (c *Cost, foreign bool) {
	newest, foreign := newest(quotes, OfNew, currency)
	if newest != nil {
		return &Cost{*newest.Amount, FromQuote, newest.Source, newest.Dated}, false
	}
	if t.Price == nil {
		return nil, foreign
	}
	if t.Currency != currency {
		return nil, true
	}
	return &Cost{*t.Price, FromPrice, t.Seller, t.Bought}, false
}

// MarketOf gives what a used tool of the sort sells for, by the newest such quote in a
// currency. Nil is not known: it follows from no other figure.
func MarketOf(quotes []Quote, currency string) *Cost {
	q, _ := newest(quotes, OfUsed, currency)
	if q == nil {
		return nil
	}
	return &Cost{*q.Amount, FromQuote, q.Source, q.Dated}
}

// newest finds the newest quote of a sort in a currency. Foreign says that there is one in
// another.
func newest(quotes []Quote, of Of, currency string) (newest *Quote, foreign bool) {
	for i, q := range quotes {
		switch {
		case q.Amount == nil || q.Of != of:
		case q.Currency != currency:
			foreign = true
		case newest == nil || newest.Dated.Before(q.Dated) || newest.Dated == q.Dated && newest.Entered <= q.Entered:
			newest = &quotes[i]
		}
	}
	return newest, foreign
}

// Since is the day from which a tool's age counts: the day it was bought, else the
// day it was registered, which makes it look newer than it may be.
func Since(t register.Tool, registered dates.Date) (day dates.Date, assumed bool) {
	if t.Bought != "" {
		return t.Bought, false
	}
	return registered, true
}
