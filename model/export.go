package model

import (
	"bufio"
	"cmp"
	"context"
	"encoding/json"
	"io"
	"slices"
	"strings"

	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/markings"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/sheets"
)

// ExportOptions say how the tools are written.
type ExportOptions struct {
	Of     string // "tools", or "markings": their terms and looks; empty is tools
	Format string // "csv", "xlsx" or "json"
	Raw    bool   // of a CSV: exact cells, for programs; else guarded against being taken for formulas
	BOM    bool   // of a CSV: a byte order mark first
}

// exportPage is how many tools are read at once.
const exportPage = 500

// Export writes every tool, gone ones too, in the order of their numbers: every
// record that a row of cells can hold. Photos and papers, custody, what was
// cleared, and the ledger stay here. Of markings the tool's row has the present one; all
// of them, how they were kept and what was seen of them are a sheet of their own. What
// the asker may not see is empty. Nothing is written before the first page has been read.
func (s *Shop) Export(ctx context.Context, by By, w io.Writer, o ExportOptions) error {
	return s.db.Read(ctx, func(rx *store.Rx) error {
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		of, known := exports[cmp.Or(o.Of, "tools")]
		if !known {
			return fault.At("#/of", "%q is not exported; use tools or markings", o.Of)
		}
		var to sheets.Writer
		switch o.Format {
		case "csv":
			to = sheets.NewCSV(w, sheets.CSVOptions{BOM: o.BOM, Guard: !o.Raw})
		case "xlsx":
			to, err = sheets.NewXLSX(w, of.sheet)
		case "json":
			to = &jsonRows{w: bufio.NewWriter(w), name: strings.ToLower(of.sheet)}
		default:
			return fault.At("#/format", "%q is not a format; use csv, xlsx or json", o.Format)
		}
		if err != nil {
			return err
		}
		header := of.headers
		if o.Format == "json" || o.Format == "csv" && o.Raw {
			header = of.keys
		}
		rows := func(tools []register.Tool) ([][]string, error) { return of.rows(d, by, tools) }
		if err := d.export(ctx, to, header, rows); err != nil {
			return err
		}
		return to.Close()
	})
}

// exports are the sheets that are written.
var exports = map[string]struct {
	sheet         string
	headers, keys []string
	rows          func(d *directory, by By, tools []register.Tool) ([][]string, error)
}{
	"tools":    {"Tools", register.Headers, register.Keys, (*directory).toolCells},
	"markings": {"Markings", markingHeaders, markingKeys, (*directory).markingCells},
}

// export writes the header and, page by page, the rows of the tools.
func (d *directory) export(ctx context.Context, to sheets.Writer, header []string, rows func([]register.Tool) ([][]string, error)) error {
	begun := false
	for after := numbers.Number(""); ; {
		tools, err := d.Tools(store.ToolQuery{After: after, Limit: exportPage, Gone: true})
		if err == nil {
			err = ctx.Err()
		}
		if err != nil {
			return err
		}
		cells, err := rows(tools)
		if err != nil {
			return err
		}
		if !begun {
			if err := to.Write(header); err != nil {
				return err
			}
			begun = true
		}
		for _, row := range cells {
			if err := to.Write(row); err != nil {
				return err
			}
		}
		if len(tools) < exportPage {
			return nil
		}
		after = tools[len(tools)-1].Number
	}
}

// toolCells are the rows of tools, one each.
func (d *directory) toolCells(by By, tools []register.Tool) ([][]string, error) {
	records, err := d.records(by, tools)
	out := make([][]string, len(records))
	for k, r := range records {
		out[k] = make([]string, len(register.Columns))
		for i, c := range register.Columns {
			if !c.Money || r.shown {
				out[k][i] = c.Get(r.Record)
			}
		}
	}
	return out, err
}

// exported is a tool with what hangs on it, as a row.
type exported struct {
	register.Record
	shown bool // its money
}

func (d *directory) records(by By, tools []register.Tool) ([]exported, error) {
	ids, linked := make([]string, len(tools)), []string{}
	for i, t := range tools {
		ids[i] = t.ID
		for _, id := range []string{t.CameWith, t.ExchangedFrom} {
			if id != "" {
				linked = append(linked, id)
			}
		}
	}
	given, err := d.NumbersOfAll(ids)
	if err != nil {
		return nil, err
	}
	marks, err := d.MarkingsOf(ids)
	if err != nil {
		return nil, err
	}
	wrongs, err := d.OpenWrongsOf(ids)
	if err != nil {
		return nil, err
	}
	others, err := d.ToolsByID(linked)
	if err != nil {
		return nil, err
	}
	out := make([]exported, len(tools))
	for i, t := range tools {
		r := &out[i]
		r.shown = people.May(by.Actor, people.SeeMoney, d.object(t))
		r.Tool, r.Place = t, d.places.Path(t.Place)
		r.Links = register.Links{CameWith: printed(others, t.CameWith), ExchangedFrom: printed(others, t.ExchangedFrom)}
		if r.Owner = d.person(t.Owner); t.Owner == "" && !t.FromOutside() {
			r.Owner = "shop"
		}
		for _, n := range given[t.ID] {
			if numbers.Number(n.ID) != t.Number {
				r.Others = append(r.Others, numbers.Number(n.ID))
			}
		}
		slices.Sort(r.Others)
		if m, is := markings.Current(marks[t.ID]); is {
			r.Marking = register.MarkingEntry{Method: string(m.Method), Protection: string(m.Protection), Where: m.Spot}
		}
		for _, w := range wrongs[t.ID] {
			r.Reports = append(r.Reports, register.Report{What: string(w.What), Note: w.Note})
		}
		slices.SortFunc(r.Reports, func(a, b register.Report) int {
			return cmp.Or(strings.Compare(a.What, b.What), strings.Compare(a.Note, b.Note))
		})
	}
	return out, nil
}

// printed is the number of a linked tool; empty is none.
func printed(tools map[string]register.Tool, id string) string {
	if t, there := tools[id]; there {
		return t.Number.String()
	}
	return ""
}

// jsonRows writes {NAME: […], "next": null}, an object a row; what is empty is null.
type jsonRows struct {
	w    *bufio.Writer
	name string
	keys []string
	rows int
}

func (j *jsonRows) Write(cells []string) error {
	if j.keys == nil {
		j.keys = cells
		_, err := j.w.WriteString(`{"` + j.name + `":[`)
		return err
	}
	if j.rows++; j.rows > 1 {
		j.w.WriteByte(',')
	}
	for i, cell := range cells {
		begin := byte(',')
		if i == 0 {
			begin = '{'
		}
		text := []byte("null")
		if cell != "" {
			var err error
			if text, err = json.Marshal(cell); err != nil {
				return err
			}
		}
		j.w.WriteByte(begin)
		j.w.WriteString(`"` + j.keys[i] + `":`)
		j.w.Write(text)
	}
	return j.w.WriteByte('}') // a bufio.Writer keeps its first error
}

func (j *jsonRows) Close() error {
	j.w.WriteString("],\"next\":null}\n")
	return j.w.Flush()
}
