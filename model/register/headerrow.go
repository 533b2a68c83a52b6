package register

import (
	"strings"

	"pawl/model/fault"
	"pawl/model/sheets"
)

// below finds the header and what is below it. Above it may stand a title, a date, a name:
// which row is the header is asked and not guessed, since what is taken for one decides what
// every cell means.
func (t *Table) below(rows []sheets.Row, r Reading) []sheets.Row {
	if r.HeaderRow != 0 {
		for len(rows) > 0 && rows[0].Number < r.HeaderRow {
			rows = rows[1:]
		}
		if len(rows) == 0 || rows[0].Number != r.HeaderRow {
			t.Bad = append(t.Bad, fault.Field{Pointer: "#/columns", Row: r.HeaderRow, Code: "header row", Detail: "nothing stands in this row, so it is no header"})
			return nil
		}
	}
	t.header = rows[0].Number
	t.headings(rows, r)
	if n := likelyHeader(rows, r); len(t.Bad) > 0 && n > 0 {
		f := fault.New(fault.Invalid, "this row does not read like the header, and row %d does", n).
			WithHint("say so with --header-row %d, or delete the rows above it", n)
		*t = Table{Bad: []fault.Field{{Pointer: "#/columns", Row: t.header, Value: fault.Clip(firstCell(rows[0])), Code: "header row", Detail: f.Error()}}}
	}
	return rows
}

const (
	searched = 20 // rows that are looked at for a header
	fewest   = 2  // columns of ours that it names
)

// likelyHeader is the number of a later row that reads like the header where the first does
// not: it names several of our columns, or it is the first of several cells below a title of
// one. 0 is none.
func likelyHeader(rows []sheets.Row, r Reading) int {
	first, title := named(rows[0], r), filled(rows[0]) == 1
	if r.HeaderRow != 0 || first >= fewest {
		return 0
	}
	for _, row := range rows[1:min(len(rows), searched)] {
		if named(row, r) >= fewest {
			return row.Number
		}
	}
	for _, row := range rows[1:min(len(rows), searched)] {
		if title && first == 0 && filled(row) > 2 {
			return row.Number
		}
	}
	return 0
}

// named counts the cells of a row that are headers of ours, or were mapped or ignored.
func named(row sheets.Row, r Reading) (n int) {
	said := map[string]bool{}
	for header := range r.Map {
		said[FoldHeader(header)] = true
	}
	for _, header := range r.Ignore {
		said[FoldHeader(header)] = true
	}
	for _, cell := range row.Cells {
		folded := FoldHeader(cell)
		if _, known := columnsByHeader[folded]; folded != "" && (known || said[folded]) {
			n++
		}
	}
	return n
}

func filled(row sheets.Row) (n int) {
	for _, cell := range row.Cells {
		if strings.TrimSpace(cell) != "" {
			n++
		}
	}
	return n
}

func firstCell(row sheets.Row) string {
	for _, cell := range row.Cells {
		if strings.TrimSpace(cell) != "" {
			return cell
		}
	}
	return ""
}

// unsaid notes a cell of which the file does not say what stands there. In a column that is
// left out it does not matter.
func (t *Table) unsaid(row int, b sheets.BadCell) {
	if b.Index >= len(t.columns) || t.columns[b.Index] == nil {
		return
	}
	f := fault.New(fault.Invalid, "%s", b.Detail).WithHint("write the value itself, or open the file in a spreadsheet program and save it again")
	switch b.Code {
	case "error":
		f = f.WithHint("mend it there, or leave the cell empty")
	case "merged":
		f = f.WithHint("part the merged cells, and write in each row what is its own")
	}
	t.Bad = append(t.Bad, t.At(row, b.Index, b.Value, b.Code, f.Error()))
}
