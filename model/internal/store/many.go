package store

import (
	"fmt"
	"slices"
	"strings"

	"golang.org/x/mod/sumdb/tlog"

	"pawl/model/custody"
	"pawl/model/register"
)

// PutNew writes many new rows of one sort as Put does each, in few statements.
func PutNew[T any](tx *Tx, rows []T) error {
	if len(rows) == 0 {
		return nil
	}
	t := tableOf(&rows[0])
	all, used := make([][]any, len(rows)), make([]bool, len(t.schema.Fields))
	for i := range rows {
		row := &rows[i]
		id, rev := head(row)
		key := recordID{t.noun, id}
		if _, twice := tx.wrote[key]; twice || rev != 0 {
			return fmt.Errorf("store: %s %s is not new", t.noun, id)
		}
		setRev(row, 1)
		values, image, err := t.columns(row)
		if err != nil {
			return err
		}
		for j, v := range values {
			used[j] = used[j] || v != nil
		}
		all[i] = values
		p := &pending{key: key, rev: 1, image: image}
		if t.tools != nil {
			p.tool = t.tools(row)
		}
		tx.lines, tx.wrote[key] = append(tx.lines, p), p
		tx.derive(row)
	}
	return tx.insertUsed(t, all, used)
}

// insertUsed inserts rows without the columns that are empty in all of them:
// each value is handed over one by one.
func (tx *Tx) insertUsed(t *table, all [][]any, used []bool) error {
	var names []string
	for i, f := range t.schema.Fields {
		if used[i] {
			names = append(names, quote(f.DBName))
		}
	}
	into := tx.rows("INSERT INTO "+quote(t.schema.Table)+" ("+strings.Join(names, ", ")+")", len(names))
	for _, values := range all {
		kept := values[:0]
		for i, v := range values {
			if used[i] {
				kept = append(kept, v)
			}
		}
		if err := into.add(kept...); err != nil {
			return err
		}
	}
	return into.flush()
}

// batchRows is how many rows go into one statement.
const batchRows = 100

// rows gathers rows of one table and inserts them many at a time.
type rows struct {
	rx     *Rx
	head   string // INSERT INTO … (…)
	width  int
	values []any
}

func (r *Rx) rows(head string, width int) *rows { return &rows{rx: r, head: head, width: width} }

func (b *rows) add(values ...any) error {
	b.values = append(b.values, values...)
	if len(b.values) < batchRows*b.width {
		return nil
	}
	return b.flush()
}

// flush inserts what was gathered.
func (b *rows) flush() error {
	if len(b.values) == 0 {
		return nil
	}
	one := "(?" + strings.Repeat(", ?", b.width-1) + ")"
	_, err := b.rx.exec(b.head+" VALUES "+one+strings.Repeat(", "+one, len(b.values)/b.width-1), b.values...)
	b.values = b.values[:0]
	return err
}

// unsaved gives hashes that an act has made and not yet written, before those
// that are stored.
type unsaved struct {
	*Rx
	made map[int64]tlog.Hash
}

// ReadHashes makes it a tlog.HashReader.
func (u unsaved) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	out := make([]tlog.Hash, len(indexes))
	for i, idx := range indexes {
		if h, ok := u.made[idx]; ok {
			out[i] = h
			continue
		}
		stored, err := u.Rx.ReadHashes([]int64{idx})
		if err != nil {
			return nil, err
		}
		out[i] = stored[0]
	}
	return out, nil
}

// lookRows is how many are looked up at once. SQLite takes 32,766 values in one
// statement (sqlite.org/limits.html), PostgreSQL 65,535.
const lookRows = 500

// NumbersOfAll gives every number of each of the tools, in the order they were
// joined.
func (r *Rx) NumbersOfAll(tools []string) (map[string][]register.NumberRow, error) {
	all, err := many[register.NumberRow](r, "since, id", 0, "tool IN ?", tools)
	out := map[string][]register.NumberRow{}
	for _, n := range all {
		out[n.Tool] = append(out[n.Tool], n)
	}
	return out, err
}

// ToolsByID gives tools by id.
func (r *Rx) ToolsByID(ids []string) (map[string]register.Tool, error) {
	out := map[string]register.Tool{}
	for len(ids) > 0 {
		n := min(lookRows, len(ids))
		some, err := many[register.Tool](r, "id", 0, "id IN ?", ids[:n])
		if err != nil {
			return nil, err
		}
		for _, t := range some {
			out[t.ID] = t
		}
		ids = ids[n:]
	}
	return out, nil
}

// OpenWrongsOf gives the open reports of each of the tools, oldest first.
func (r *Rx) OpenWrongsOf(tools []string) (map[string][]custody.Wrong, error) {
	out := map[string][]custody.Wrong{}
	for some := range slices.Chunk(tools, lookRows) {
		all, err := r.OpenWrongs(some...)
		if err != nil {
			return nil, err
		}
		for _, w := range all {
			out[w.Tool] = append(out[w.Tool], w)
		}
	}
	return out, nil
}

// NumberRows gives those of the numbers that there are.
func (r *Rx) NumberRows(ids []string) (map[string]register.NumberRow, error) {
	out := map[string]register.NumberRow{}
	for len(ids) > 0 {
		n := min(lookRows, len(ids))
		some, err := many[register.NumberRow](r, "id", 0, "id IN ?", ids[:n])
		if err != nil {
			return nil, err
		}
		for _, row := range some {
			out[row.ID] = row
		}
		ids = ids[n:]
	}
	return out, nil
}

// SerialOf is a maker and a serial number, as keys.
type SerialOf struct{ Maker, Serial string }

// ToolsWithSerials gives the tools that have one of the serial numbers, gone
// ones too.
func (r *Rx) ToolsWithSerials(wanted []SerialOf) (map[SerialOf]string, error) {
	out := map[SerialOf]string{}
	for len(wanted) > 0 {
		n := min(lookRows, len(wanted))
		var args []any
		for _, w := range wanted[:n] {
			args = append(args, w.Maker, w.Serial)
		}
		err := r.query(func(scan func(...any) error) error {
			var w SerialOf
			var id string
			err := scan(&w.Maker, &w.Serial, &id)
			out[w] = id
			return err
		}, "WITH wanted (maker, serial) AS (VALUES (?, ?)"+strings.Repeat(", (?, ?)", n-1)+`)
			SELECT w.maker, w.serial, t.id FROM wanted w
			JOIN tools t ON coalesce(t.maker_key, '') = w.maker AND t.serial_key = w.serial AND t.serial_key IS NOT NULL`, args...)
		if err != nil {
			return nil, err
		}
		wanted = wanted[n:]
	}
	return out, nil
}

// Mapping gives a kept way of reading spreadsheets by its folded name.
func (r *Rx) Mapping(nameKey string) (register.MappingRow, bool, error) {
	return one[register.MappingRow](r, "name_key = ?", nameKey)
}

// Import gives what is recorded of one import.
func (r *Rx) Import(id string) (register.ImportRow, bool, error) {
	return one[register.ImportRow](r, "id = ?", id)
}
