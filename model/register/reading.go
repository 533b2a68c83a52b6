package register

import (
	"cmp"
	"maps"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/serials"
	"pawl/model/sheets"
	"pawl/model/units"
)

// Reading says how to read a spreadsheet of tools: what its headers mean, and
// what in its cells would otherwise be a guess. It can be kept under a name.
type Reading struct {
	Map        map[string]string `json:"map,omitempty"`    // header to key of a column
	Ignore     []string          `json:"ignore,omitempty"` // headers left out on purpose
	DateOrder  string            `json:"date_order,omitempty"`
	Century    int               `json:"century,omitempty"` // 1900 or 2000, of two-digit years
	DayNumbers bool              `json:"day_numbers,omitempty"`
	Decimal    string            `json:"decimal,omitempty"` // "." or ","
	Delimiter  string            `json:"delimiter,omitempty"`
	Sheet      string            `json:"sheet,omitempty"`
	HeaderRow  int               `json:"header_row,omitempty"` // as the spreadsheet numbers it; 0: the first that is not blank
	Guarded    *bool             `json:"guarded,omitempty"`    // nil: found out
}

// Check says what of it is not acceptable.
func (r Reading) Check() error {
	var bad fault.Problems
	if r.DateOrder != "" && r.DateOrder != "dmy" && r.DateOrder != "mdy" {
		bad.Add("#/date_order", "%q is not an order of dates; use dmy or mdy", fault.Clip(r.DateOrder))
	}
	if r.Century != 0 && r.Century != 1900 && r.Century != 2000 {
		bad.Add("#/century", "%d is not a century to put two-digit years in; use 1900 or 2000", r.Century)
	}
	if r.Decimal != "" && r.Decimal != "." && r.Decimal != "," {
		bad.Add("#/decimal", "%q is not a decimal sign; use . or ,", fault.Clip(r.Decimal))
	}
	if r.HeaderRow < 0 {
		bad.Add("#/header_row", "%d is not the number of a row", r.HeaderRow)
	}
	for header, key := range r.Map {
		if _, err := ColumnByKey(key); err != nil {
			bad.Keep("#/map", fault.New(fault.Invalid, "%q to %q: %s", fault.Clip(header), fault.Clip(key), err))
		}
	}
	return bad.Err()
}

// Over puts what this reading says over a kept one.
func (r Reading) Over(kept Reading) Reading {
	out := kept
	if len(r.Map) > 0 {
		out.Map = map[string]string{}
		for _, m := range []map[string]string{kept.Map, r.Map} {
			for header, key := range m {
				out.Map[header] = key
			}
		}
	}
	out.Ignore = append(append([]string{}, kept.Ignore...), r.Ignore...)
	for _, s := range []struct {
		dst *string
		v   string
	}{{&out.DateOrder, r.DateOrder}, {&out.Decimal, r.Decimal}, {&out.Delimiter, r.Delimiter}, {&out.Sheet, r.Sheet}} {
		if s.v != "" {
			*s.dst = s.v
		}
	}
	if r.Century != 0 {
		out.Century = r.Century
	}
	if r.HeaderRow != 0 {
		out.HeaderRow = r.HeaderRow
	}
	out.DayNumbers = kept.DayNumbers || r.DayNumbers
	if r.Guarded != nil {
		out.Guarded = r.Guarded
	}
	return out
}

// Heading is what one column of a file is taken for; an ignored one has no key.
type Heading struct {
	Header string `json:"header"`
	Key    string `json:"key"`
}

// headings finds what each header means. Headers that mean nothing, two that
// mean one column, and a mapping for no header are each a fault.
func (t *Table) headings(rows []sheets.Row, r Reading) {
	meant, ignored, used := map[string]string{}, map[string]bool{}, map[string]bool{}
	for header, key := range r.Map {
		meant[FoldHeader(header)] = key
	}
	for _, header := range r.Ignore {
		ignored[FoldHeader(header)] = true
	}
	taken := map[string]string{}
	for i, header := range rows[0].Cells {
		if header = strings.TrimSpace(header); header == "" && anything(rows[1:], i) {
			header = "column " + letters(i)
		}
		folded := FoldHeader(header)
		used[folded] = true
		c, known := ColumnOf(header)
		if key, mapped := meant[folded]; mapped {
			c, known = ColumnOf(key)
		}
		first, twice := taken[c.Key]
		switch {
		case header == "" || ignored[folded]:
			known = false
		case !known:
			t.heading(header, "unknown column", fault.New(fault.Invalid, "it is not known what this column holds").
				WithHint("map it with --map \"%s=KEY\", or leave it out on purpose with --ignore \"%s\"%s", header, header, t.allKeys()))
		case twice:
			known = false
			t.heading(header, "column twice", fault.New(fault.Invalid, "it means %s, and so does %q", c.Key, first).WithHint("map or ignore one of them"))
		}
		if !known {
			t.columns, t.Headings = append(t.columns, nil), append(t.Headings, Heading{Header: header})
			continue
		}
		taken[c.Key] = header
		t.columns, t.Headings = append(t.columns, &c), append(t.Headings, Heading{Header: header, Key: c.Key})
	}
	for _, header := range append(slices.Sorted(maps.Keys(r.Map)), r.Ignore...) {
		if !used[FoldHeader(header)] {
			t.heading(header, "no such column", fault.New(fault.Invalid, "the file has no column of that header"))
		}
	}
}

// allKeys lists what a column can be, beside the first that is not known.
func (t *Table) allKeys() string {
	if slices.ContainsFunc(t.Bad, func(f fault.Field) bool { return f.Code == "unknown column" }) {
		return ""
	}
	return "; KEY is one of " + strings.Join(Keys, ", ")
}

func (t *Table) heading(header, code string, f *fault.Error) {
	t.Bad = append(t.Bad, fault.Field{Pointer: "#/columns", Row: t.header, Column: header, Code: code, Detail: f.Error()})
}

// anything says whether a column holds anything below the header.
func anything(rows []sheets.Row, i int) bool {
	for _, row := range rows {
		if i < len(row.Cells) && strings.TrimSpace(row.Cells[i]) != "" {
			return true
		}
	}
	return false
}

// letters names a column as spreadsheets do: A to Z, AA, AB …
func letters(i int) string {
	s := ""
	for i++; i > 0; i = (i - 1) / 26 {
		s = string(rune('A'+(i-1)%26)) + s
	}
	return s
}

// Table is a spreadsheet of tools, read: an entry for each row, and what is
// wrong with cells. A cell at fault is missing from its entry.
type Table struct {
	Headings []Heading
	Entries  []Entry
	Bad      []fault.Field // by row
	Warnings []fault.Field // cells to look at; row 0 is the file
	Ours     bool          // an export of ours, with all of its columns
	columns  []*Column
	header   int // the number of its row
}

// Header gives the header under which a column of ours stands in the file.
func (t *Table) Header(pointer string) (header, key string, index int) {
	for i, c := range t.columns {
		if c != nil && c.Pointer == pointer {
			return t.Headings[i].Header, c.Key, i
		}
	}
	return "", "", -1
}

// ReadTable reads the rows of a file: the first is the header, unless it is said which.
func ReadTable(rows []sheets.Row, date1904 bool, r Reading, currency string, today dates.Date) *Table {
	t := &Table{}
	if len(rows) == 0 {
		t.Bad = append(t.Bad, fault.Field{Pointer: "#/columns", Row: 1, Code: "empty", Detail: "the file holds no row"})
		return t
	}
	if rows = t.below(rows, r); len(t.Bad) > 0 {
		return t
	}
	t.Ours = slices.Equal(rows[0].Cells, Keys) || slices.Equal(rows[0].Cells, Headers)
	rows = t.unguarded(rows, r.Guarded)
	days := make([]dayOrder, len(t.columns))
	for i, c := range t.columns {
		if c != nil && c.Form == Day {
			days[i] = orderOf(column(rows[1:], i), r.DateOrder)
		}
	}
	for _, row := range rows[1:] {
		e := Entry{Row: row.Number}
		if f, off := t.width(row); off {
			t.Bad = append(t.Bad, f)
		} else {
			for _, b := range row.Bad {
				t.unsaid(row.Number, b)
			}
			for i, c := range t.columns {
				if c != nil && i < len(row.Cells) {
					t.cell(&e, i, row, reader{Reading: r, order: days[i], currency: currency, today: today, date1904: date1904})
				}
			}
		}
		t.Entries = append(t.Entries, e)
	}
	t.damaged(rows[1:])
	return t
}

func column(rows []sheets.Row, i int) (out []string) {
	for _, row := range rows {
		if i < len(row.Cells) {
			out = append(out, row.Cells[i])
		}
	}
	return out
}

// width is a fault where a row has cells beyond the header. Missing ones at its
// end are empty.
func (t *Table) width(row sheets.Row) (fault.Field, bool) {
	for i := len(t.columns); i < len(row.Cells); i++ {
		if strings.TrimSpace(row.Cells[i]) != "" {
			return fault.Field{Pointer: "#/row", Row: row.Number, Value: fault.Clip(row.Cells[i]), Code: "cells",
				Detail: "it has " + strconv.Itoa(len(row.Cells)) + " cells, and the header " + strconv.Itoa(len(t.columns)) + " (a delimiter within a cell? put quotes around it)"}, true
		}
	}
	return fault.Field{}, false
}

// unguarded takes one guard off each cell of a file that has them. Our own
// files tell by their headers; in another, a guard is a quote before what would
// be a formula.
func (t *Table) unguarded(rows []sheets.Row, stated *bool) []sheets.Row {
	ours := func(headers []string) bool { return slices.Equal(rows[0].Cells, headers) }
	var strip func(string) bool
	switch {
	case stated != nil && *stated || stated == nil && ours(Headers):
		strip = func(s string) bool { return strings.HasPrefix(s, "'") }
	case stated != nil || ours(Keys):
		return rows
	default:
		strip = sheets.Guarded
	}
	out, taken := make([]sheets.Row, len(rows)), 0
	out[0] = rows[0]
	for i, row := range rows[1:] {
		out[i+1] = sheets.Row{Number: row.Number, Cells: append([]string{}, row.Cells...), Bad: row.Bad}
		for j, cell := range row.Cells {
			if strip(cell) {
				out[i+1].Cells[j] = sheets.Unguard(cell)
				taken++
			}
		}
	}
	if taken > 0 && stated == nil && !ours(Headers) {
		t.Warnings = append(t.Warnings, fault.Field{Pointer: "#/guarded", Code: "guarded",
			Detail: "a single quote was taken off " + strconv.Itoa(taken) + " cells, as a guard against formulas (--guarded=false keeps it)"})
	}
	return out
}

// reader reads the cells of one column.
type reader struct {
	Reading
	order    dayOrder
	currency string
	today    dates.Date
	date1904 bool
}

// cell reads one cell into the entry, or notes what is wrong with it.
func (t *Table) cell(e *Entry, i int, row sheets.Row, r reader) {
	c, value := t.columns[i], row.Cells[i]
	if strings.TrimSpace(value) == "" {
		return
	}
	var err error
	clean, code := value, codeValue
	switch c.Form {
	case Day:
		if c.Later {
			r.today = ""
		}
		clean, code, err = r.day(value)
	case Amount:
		currency := cmp.Or(t.currencyOf("currency", row), r.currency)
		if c.Key == "deposit" {
			currency = cmp.Or(t.currencyOf("deposit_currency", row), currency)
		}
		clean, code, err = readMoney(value, currency, r.Decimal)
	case Whole:
		clean, code, err = readWhole(value)
	}
	switch c.Key {
	case "pieces":
		_, err = readPieces(value)
	case "wrong":
		_, err = readReports(value)
	case "currency", "deposit_currency":
		_, err = units.Currency(strings.ToUpper(strings.TrimSpace(value)))
	}
	if err != nil {
		t.Bad = append(t.Bad, t.At(row.Number, i, value, code, fault.Of(err).Error()))
		return
	}
	c.set(e, clean)
}

// At is what is wrong with one cell.
func (t *Table) At(row, index int, value, code, detail string) fault.Field {
	return fault.Field{Pointer: "#/rows/" + strconv.Itoa(row) + "/" + t.columns[index].Key, Row: row,
		Column: t.Headings[index].Header, Value: fault.Clip(value), Code: code, Detail: detail}
}

// currencyOf gives the currency that a column of the row states.
func (t *Table) currencyOf(key string, row sheets.Row) string {
	for i, c := range t.columns {
		if c != nil && c.Key == key && i < len(row.Cells) {
			return strings.ToUpper(strings.TrimSpace(row.Cells[i]))
		}
	}
	return ""
}

// damaged warns of serial numbers that a spreadsheet seems to have changed.
func (t *Table) damaged(rows []sheets.Row) {
	for i, c := range t.columns {
		if c == nil || c.Form != Code {
			continue
		}
		all := column(rows, i)
		short := lostZeros(all)
		for _, row := range rows {
			if i >= len(row.Cells) {
				continue
			}
			if why := serials.Damaged(row.Cells[i]); why != "" {
				t.Warnings = append(t.Warnings, t.At(row.Number, i, row.Cells[i], "damaged serial", why))
			} else if short > 0 && allDigits(strings.TrimSpace(row.Cells[i])) && len(strings.TrimSpace(row.Cells[i])) < short {
				t.Warnings = append(t.Warnings, t.At(row.Number, i, row.Cells[i], "damaged serial",
					"others here have "+strconv.Itoa(short)+" digits: a spreadsheet may have dropped zeros at its beginning; compare with the tool"))
			}
		}
	}
}

// lostZeros is the length that most all-digit serials of a column have, where
// none begins with a zero and some are shorter; else 0.
func lostZeros(all []string) int {
	count, digits, longest := map[int]int{}, 0, 0
	for _, s := range all {
		s = strings.TrimSpace(s)
		if !allDigits(s) {
			continue
		}
		if s[0] == '0' {
			return 0
		}
		digits++
		count[len(s)]++
		longest = max(longest, len(s))
	}
	if digits < 4 || longest < 4 || count[longest]*2 <= digits || count[longest] == digits {
		return 0
	}
	return longest
}

func allDigits(s string) bool {
	return s != "" && strings.IndexFunc(s, func(r rune) bool { return r < '0' || r > '9' }) < 0
}

func isWordRune(r rune) bool {
	return r != unicode.ReplacementChar && (unicode.IsLetter(r) || unicode.IsDigit(r))
}
