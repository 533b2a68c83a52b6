package worth

import (
	"fmt"
	"math/big"
	"slices"
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/names"
	"pawl/model/pattern"
	"pawl/model/sheets"
)

// Index is how a price index moved between two months. Series, area and base
// period say which index it is, the months of what its values are: without them no
// figure can be checked (the Bureau of Labor Statistics asks that they be named,
// money-and-statistics 2.3).
type Index struct {
	Series, Area, Base string
	FromMonth, ToMonth string // YYYY-MM; ToMonth is the reference month
	FromValue, ToValue string // as published
}

// Indexed is the label of every amount moved by an index.
const Indexed = "indexed, not quoted"

func (i Index) values() (from, to *big.Rat, err error) {
	from, ok := indexValue(i.FromValue)
	to, fine := indexValue(i.ToValue)
	if !ok || !fine {
		return nil, nil, fault.New(fault.Invalid, "%q and %q are not two values of an index", fault.Clip(i.FromValue), fault.Clip(i.ToValue)).WithHint("as published, such as 233.049")
	}
	if q := new(big.Rat).Quo(to, from); q.Cmp(big.NewRat(mostTimes, 1)) > 0 || q.Cmp(big.NewRat(1, mostTimes)) < 0 {
		return nil, nil, fault.New(fault.Invalid, "from %s to %s an index moved more than %d times", i.FromValue, i.ToValue, mostTimes).WithHint("see that both values are of one base period")
	}
	return from, to, nil
}

// mostTimes is how far an index may move: an amount moved by it stays a whole number
// that fits, and a slip of the base period is seen.
const mostTimes = 100

var plainValue = pattern.Late(`^[0-9]{1,6}(\.[0-9]{1,6})?$`)

func indexValue(text string) (*big.Rat, bool) {
	if !plainValue().MatchString(text) {
		return nil, false
	}
	r, _ := new(big.Rat).SetString(text)
	return r, r.Sign() > 0
}

// Change is (to − from) / from × 100 in tenths, rounded: 41 is 4.1 % (BLS method,
// money-and-statistics 2.3).
func (i Index) Change() (tenths int64, err error) {
	from, to, err := i.values()
	if err != nil {
		return 0, err
	}
	return Round(new(big.Rat).Mul(new(big.Rat).Quo(new(big.Rat).Sub(to, from), from), big.NewRat(1000, 1))), nil
}

// Price moves an amount by the unrounded ratio of the two values.
func (i Index) Price(amount int64) (int64, error) {
	from, to, err := i.values()
	if err != nil {
		return 0, err
	}
	return Times(amount, new(big.Rat).Quo(to, from)), nil
}

// IndexPoint is the recorded row of one published value of a price index.
type IndexPoint struct {
	ID      string `gorm:"primaryKey"`
	Rev     int64
	Series  string
	Area    string
	Base    string
	Month   string // YYYY-MM
	Value   string // as published
	Entered dates.Instant
	Person  string        // who entered it
	Ended   dates.Instant // 0 = the shop goes by it
}

// TableName names the table of index values.
func (IndexPoint) TableName() string { return "index_points" }

// names says which index it is.
func (p IndexPoint) which() [3]string {
	return [3]string{names.Key(p.Series), names.Key(p.Area), names.Key(p.Base)}
}

// SameSeries says whether two values are of one index.
func (p IndexPoint) SameSeries(o IndexPoint) bool { return p.which() == o.which() }

// Of names the series with its area and base period.
func (p IndexPoint) Of() string {
	return p.Series + ", " + p.Area + ", base " + p.Base
}

// Points are the values of the one index that the shop goes by, in the order in
// which they were entered.
type Points []IndexPoint

// Reference is the newest month of which there is a value; nil without any.
func (all Points) Reference() (newest *IndexPoint) {
	for i, p := range all {
		if newest == nil || p.Month >= newest.Month {
			newest = &all[i]
		}
	}
	return newest
}

// Moved is a price paid as an index moved it since.
type Moved struct {
	Index
	Amount int64
	Tenths int64 // of a percent: the change
}

// Percent is the change, to one decimal.
func (m Moved) Percent() float64 { return float64(m.Tenths) / 10 }

// Move gives what a replacement cost would be today by the index. A quote is left
// alone, however old: a dated quote for the very model beats an index
// (money-and-statistics 2.3). Nil where it cannot be said; missing names the month
// of which there is no value.
func (all Points) Move(c *Cost) (m *Moved, missing string) {
	to := all.Reference()
	if c == nil || c.Of == FromQuote || c.Dated == "" || to == nil {
		return nil, ""
	}
	month := string(c.Dated)[:len("2006-01")]
	if month >= to.Month {
		return nil, "" // it is as new as the index
	}
	at := -1
	for i, p := range all {
		if p.Month == month {
			at = i
		}
	}
	if at < 0 {
		return nil, month
	}
	i := Index{Series: to.Series, Area: to.Area, Base: to.Base, FromMonth: month, FromValue: all[at].Value, ToMonth: to.Month, ToValue: to.Value}
	amount, err := i.Price(c.Amount)
	if err != nil {
		return nil, month // a value that cannot be read is as none
	}
	tenths, err := i.Change()
	if err != nil {
		return nil, month
	}
	return &Moved{Index: i, Amount: amount, Tenths: tenths}, ""
}

// indexColumns are those of a spreadsheet of index values.
var indexColumns = []column{
	{name: "series", headers: []string{"series", "index"}},
	{name: "area", headers: []string{"area"}},
	{name: "base", headers: []string{"base", "base period"}},
	{name: "month", headers: []string{"month", "reference month"}},
	{name: "value", headers: []string{"value"}},
}

var aMonth = pattern.Late(`^[0-9]{4}-(0[1-9]|1[0-2])$`)

// ReadPoints reads a spreadsheet of index values, its header first; today's month is
// the last that can be published. Every cell at fault is named by its row.
func ReadPoints(rows []sheets.Row, today dates.Date) (out []IndexPoint, bad []fault.Field) {
	at, bad := columnsOf(rows, indexColumns, "an index")
	if len(bad) > 0 {
		return nil, bad
	}
	for _, row := range rows[1:] {
		p, wrong := readPoint(row, at, today)
		if len(wrong) == 0 && len(out) > 0 && !out[0].SameSeries(p) {
			wrong = append(wrong, field(row.Number, "series", p.Of(), "series", "the rows before are of "+out[0].Of()+"; send one series at a time"))
		}
		if len(wrong) == 0 && slices.ContainsFunc(out, func(o IndexPoint) bool { return o.Month == p.Month }) {
			wrong = append(wrong, field(row.Number, "month", p.Month, "month", "the month stands twice"))
		}
		if bad = append(bad, wrong...); len(wrong) == 0 {
			out = append(out, p)
		}
	}
	return out, bad
}

func readPoint(row sheets.Row, at map[string]int, today dates.Date) (p IndexPoint, bad []fault.Field) {
	for _, c := range []struct {
		name, ask string
		into      *string
	}{{"series", "name the series, as published", &p.Series}, {"area", "name the area, such as U.S. city average", &p.Area}, {"base", "name the base period, such as 1982-84=100", &p.Base}} {
		text, err := names.Line(cellOf(row, at, c.name))
		if err == nil && text == "" {
			err = fault.New(fault.Invalid, "it is missing; %s", c.ask)
		}
		if err != nil {
			bad = append(bad, field(row.Number, c.name, cellOf(row, at, c.name), "value", fault.Of(err).Error()))
		}
		*c.into = text
	}
	p.Month, p.Value = strings.TrimSpace(cellOf(row, at, "month")), strings.TrimSpace(cellOf(row, at, "value"))
	switch {
	case !aMonth().MatchString(p.Month):
		bad = append(bad, field(row.Number, "month", p.Month, "value", fmt.Sprintf("%q is not a month; write it as 2026-10", fault.Clip(p.Month))))
	case today != "" && p.Month > string(today)[:len("2006-01")]:
		bad = append(bad, field(row.Number, "month", p.Month, "value", p.Month+" is after this month"))
	}
	if _, ok := indexValue(p.Value); !ok {
		bad = append(bad, field(row.Number, "value", p.Value, "value", fmt.Sprintf("%q is not a value of an index; write it as published, such as 233.049", fault.Clip(p.Value))))
	}
	return p, bad
}
