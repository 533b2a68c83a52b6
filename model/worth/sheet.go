package worth

import (
	"fmt"
	"slices"

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
	Amount int64
	Source string
	Dated  dates.Date
}

// columns are those of a spreadsheet of quotes, with the headers taken for each.
var columns = []struct {
	name    string
	headers []string
}{
	{"number", []string{"number", "tool number", "tool"}},
	{"amount", []string{"amount", "price", "replacement cost", "cost"}},
	{"source", []string{"source", "quoted by", "seller"}},
	{"date", []string{"date", "dated", "day"}},
}

// ReadQuotes reads the rows of a spreadsheet, its header first. Amounts are of the
// currency; a date is of the past, today is its last day. Every cell at fault is
// named by its row.
func ReadQuotes(rows []sheets.Row, currency string, today dates.Date) (out []Typed, bad []fault.Field) {
	if len(rows) == 0 {
		return nil, []fault.Field{{Pointer: "#/rows", Code: "empty", Detail: "there is no header; write number,amount,source,date in the first row"}}
	}
	at := map[string]int{}
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
			bad = append(bad, field(rows[0].Number, key, cell, "column", "it is no column of quotes; use number, amount, source and date"))
		}
	}
	for _, c := range columns {
		if _, there := at[c.name]; !there {
			bad = append(bad, field(rows[0].Number, c.name, "", "column", "the column is missing"))
		}
	}
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
	return fault.Field{Pointer: fmt.Sprintf("#/rows/%d/%s", row, column), Row: row, Column: column, Value: clip(value), Code: code, Detail: detail}
}

func readQuote(row sheets.Row, at map[string]int, currency string, today dates.Date) (t Typed, bad []fault.Field) {
	cell := func(name string) string {
		if i := at[name]; i < len(row.Cells) {
			return sheets.Unguard(row.Cells[i])
		}
		return ""
	}
	keep := func(name string, err error) {
		if err != nil {
			bad = append(bad, field(row.Number, name, cell(name), "value", fault.Of(err).Error()))
		}
	}
	t.Row = row.Number
	var err error
	t.Number, err = numbers.ParseNumber(cell("number"))
	keep("number", err)
	m, err := units.ParseMoney(cell("amount"), currency)
	keep("amount", err)
	t.Amount = m.Minor
	t.Source, err = names.Line(cell("source"))
	if err == nil && t.Source == "" {
		err = fault.New(fault.Invalid, "who quotes it is missing")
	}
	keep("source", err)
	t.Dated, err = dates.ParseDate(cell("date"))
	if err == nil && t.Dated.After(today) {
		err = fault.New(fault.Invalid, "%s is after today, %s", t.Dated, today)
	}
	keep("date", err)
	return t, bad
}
