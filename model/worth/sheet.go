package worth

import (
	"fmt"
	"slices"
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/names"
	"pawl/model/numbers"
	"pawl/model/sheets"
	"pawl/model/units"
)

// Typed is one row of a spreadsheet of quotes, read.
type Typed struct {
	Row    int
	Number numbers.Number
	Quote
}

// column is one of a spreadsheet, with the headers taken for it.
type column struct {
	name     string
	headers  []string
	optional bool
}

// quoteColumns are those of a spreadsheet of quotes.
var quoteColumns = []column{
	{name: "number", headers: []string{"number", "tool number", "tool"}},
	{name: "amount", headers: []string{"amount", "price", "replacement cost", "cost"}},
	{name: "source", headers: []string{"source", "quoted by", "seller"}},
	{name: "date", headers: []string{"date", "dated", "day"}},
	{name: "basis", headers: []string{"basis", "of"}, optional: true},
}

// columnsOf finds the columns by the header, or names what is wrong with it.
func columnsOf(rows []sheets.Row, columns []column, of string) (at map[string]int, bad []fault.Field) {
	var all []string
	for _, c := range columns {
		all = append(all, c.name)
	}
	if len(rows) == 0 {
		return nil, []fault.Field{{Pointer: "#/rows", Code: "empty", Detail: "there is no header; write " + strings.Join(all, ",") + " in the first row"}}
	}
	at = map[string]int{}
	for i, cell := range rows[0].Cells {
		key, known := names.Key(sheets.Unguard(cell)), false
		for _, c := range columns {
			if slices.Contains(c.headers, key) {
				if _, twice := at[c.name]; twice {
					bad = append(bad, field(rows[0].Number, c.name, cell, "column", "the column stands twice"))
				}
				at[c.name], known = i, true
			}
		}
		if !known && key != "" {
			bad = append(bad, field(rows[0].Number, key, cell, "column", "it is no column of "+of+"; use "+strings.Join(all, ", ")))
		}
	}
	for _, c := range columns {
		if _, there := at[c.name]; !there && !c.optional {
			bad = append(bad, field(rows[0].Number, c.name, "", "column", "the column is missing"))
		}
	}
	return at, bad
}

// ReadQuotes reads the rows of a spreadsheet, its header first. Amounts are of the
// currency; a date is of the past, today is its last day. Every cell at fault is
// named by its row.
func ReadQuotes(rows []sheets.Row, currency string, today dates.Date) (out []Typed, bad []fault.Field) {
	at, bad := columnsOf(rows, quoteColumns, "quotes")
	if len(bad) > 0 {
		return nil, bad
	}
	for _, row := range rows[1:] {
		t, wrong := readQuote(row, at, currency, today)
		out, bad = append(out, t), append(bad, wrong...)
	}
	return out, bad
}

func field(row int, column, value, code, detail string) fault.Field {
	return fault.Field{Pointer: fmt.Sprintf("#/rows/%d/%s", row, column), Row: row, Column: column, Value: fault.Clip(value), Code: code, Detail: detail}
}

// cellOf is a cell by the name of its column.
func cellOf(row sheets.Row, at map[string]int, name string) string {
	if i, there := at[name]; there && i < len(row.Cells) {
		return sheets.Unguard(row.Cells[i])
	}
	return ""
}

func readQuote(row sheets.Row, at map[string]int, currency string, today dates.Date) (t Typed, bad []fault.Field) {
	keep := func(name string, err error) {
		if err != nil {
			bad = append(bad, field(row.Number, name, cellOf(row, at, name), "value", fault.Of(err).Error()))
		}
	}
	t.Row = row.Number
	var err error
	t.Number, err = numbers.ParseNumber(cellOf(row, at, "number"))
	keep("number", err)
	n := NewQuote{Amount: cellOf(row, at, "amount"), Source: cellOf(row, at, "source"), Date: cellOf(row, at, "date"), Basis: cellOf(row, at, "basis")}
	t.Quote = n.read(currency, today, keep)
	return t, bad
}

// NewQuote is a quote as typed. Basis is replacement, what a new one costs, or market, what
// a used one sells for; empty is replacement.
type NewQuote struct{ Amount, Source, Date, Basis string }

// Read reads what was typed, or names every value at fault. A date is of the past,
// today is its last day.
func (n NewQuote) Read(currency string, today dates.Date) (Quote, error) {
	var bad fault.Problems
	q := n.read(currency, today, func(name string, err error) { bad.Keep("#/"+name, err) })
	return q, bad.Err()
}

func (n NewQuote) read(currency string, today dates.Date, keep func(name string, err error)) Quote {
	m, err := units.ParseMoney(strings.TrimSpace(n.Amount), currency)
	keep("amount", err)
	q := Quote{Amount: &m.Minor, Currency: currency}
	q.Source, err = names.Line(n.Source)
	if err == nil && q.Source == "" {
		err = fault.New(fault.Invalid, "who quotes it is missing")
	}
	keep("source", err)
	q.Dated, err = dates.ParseDate(strings.TrimSpace(n.Date))
	if err == nil && q.Dated.After(today) {
		err = fault.New(fault.Invalid, "%s is after today, %s", q.Dated, today)
	}
	keep("date", err)
	q.Of, err = parseBasis(n.Basis)
	keep("basis", err)
	return q
}

func parseBasis(text string) (Of, error) {
	switch key := names.Key(text); key {
	case "", Replacement:
		return OfNew, nil
	case string(OfUsed):
		return OfUsed, nil
	}
	return "", fault.New(fault.Invalid, "%q is no basis of a quote; use %s, what a new one costs, or %s, what a used one sells for", fault.Clip(text), Replacement, OfUsed)
}

// Same says whether a quote says what another does.
func (q Quote) Same(o Quote) bool {
	return q.Amount != nil && o.Amount != nil && *q.Amount == *o.Amount && q.Currency == o.Currency && q.Source == o.Source && q.Dated == o.Dated && q.Of == o.Of
}
