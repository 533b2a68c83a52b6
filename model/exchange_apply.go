package model

import (
	"fmt"
	"slices"
	"strings"

	"pawl/model/custody"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/markings"
	"pawl/model/names"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
)

// apply does what was planned.
func (p *sheetPlan) apply(tx *store.Tx) (SheetReport, error) {
	r := p.report
	for _, step := range []func(*store.Tx) error{p.makePlaces, p.holdPlaces, p.drawNumbers, p.addTools, p.editTools, p.keepMapping, p.record} {
		if err := step(tx); err != nil {
			return r, err
		}
	}
	for _, t := range p.fresh {
		r.Tools = append(r.Tools, SheetTool{Row: t.rows[0], Number: t.tool.Number, Done: "added"})
	}
	for _, t := range p.edits {
		for _, row := range t.rows {
			r.Tools = append(r.Tools, SheetTool{Row: row, Number: t.tool.Number, Done: "updated"})
		}
	}
	slices.SortFunc(r.Tools, func(a, b SheetTool) int { return a.Row - b.Row })
	return r, nil
}

// makePlaces makes the places that are missing, and says where the tools go.
func (p *sheetPlan) makePlaces(tx *store.Tx) error {
	if len(p.report.Places) == 0 {
		return nil
	}
	if err := tx.Lock("places"); err != nil {
		return err
	}
	tree, err := tx.Places()
	if err != nil {
		return err
	}
	made := map[string]string{}
	for _, path := range p.report.Places {
		if made[names.Key(path)], err = makePlace(tx, tree, path); err != nil {
			return err
		}
	}
	for _, all := range [][]*plannedTool{p.fresh, p.edits} {
		for _, t := range all {
			if t.place != "" {
				t.tool.Place = made[names.Key(t.place)]
			}
		}
	}
	return nil
}

// holdPlaces keeps the places that the tools go into from being closed meanwhile.
func (p *sheetPlan) holdPlaces(tx *store.Tx) error {
	var ids []string
	for _, all := range [][]*plannedTool{p.fresh, p.edits} {
		for _, t := range all {
			if t.tool.Place != "" && t.tool.Gone == 0 {
				ids = append(ids, t.tool.Place)
			}
		}
	}
	slices.Sort(ids)
	return holdPlaces(tx, slices.Compact(ids)...)
}

// makePlace gives the id of a place, made with its parents where missing.
func makePlace(tx *store.Tx, tree register.Places, path string) (string, error) {
	levels, err := register.SplitPath(path)
	if err != nil {
		return "", err
	}
	var at register.Place
	for _, name := range levels {
		next, found := tree.Child(at.ID, name)
		if !found {
			if next, err = newPlace(tx, at.ID, name, ""); err != nil {
				return "", err
			}
			tree[next.ID] = next
		}
		at = next
	}
	return at.ID, nil
}

// drawNumbers gives each new tool an id and a number: the one that it claims, or
// the next after all that were ever given out or are claimed here.
func (p *sheetPlan) drawNumbers(tx *store.Tx) error {
	if len(p.fresh) == 0 {
		return nil
	}
	if err := tx.Lock("numbers"); err != nil {
		return err
	}
	last, err := tx.LastNumber()
	if err != nil {
		return err
	}
	at := max(last.Counter(), 0)
	for _, t := range p.fresh {
		for _, n := range t.claims {
			at = max(at, n.Counter())
		}
	}
	ids := make([]string, len(p.fresh))
	for i := range ids {
		if ids[i], err = tx.NewID('T'); err != nil {
			return err
		}
	}
	slices.Sort(ids) // rows that lie one after another are written faster
	for i, t := range p.fresh {
		t.tool.ID, t.tool.Created = ids[i], tx.Now()
		if t.tool.GoneWhy != "" {
			t.tool.Gone = tx.Now()
		}
		if len(t.claims) > 0 {
			t.tool.Number = t.claims[0]
			continue
		}
		for t.tool.Number = ""; t.tool.Number == "" || t.tool.Number.Skipped(); {
			at++
			if t.tool.Number, err = numbers.FromCounter(at); err != nil {
				return err
			}
		}
	}
	return nil
}

// addTools writes the new tools with their numbers, markings and reports.
func (p *sheetPlan) addTools(tx *store.Tx) error {
	p.tie()
	tools := make([]register.Tool, len(p.fresh))
	var given []register.NumberRow
	var marks []markings.Marking
	var wrongs []custody.Wrong
	for i, t := range p.fresh {
		tools[i] = t.tool
		claims := t.claims
		if len(claims) == 0 {
			claims = []numbers.Number{t.tool.Number}
		}
		for _, n := range claims {
			row, printed, err := p.claim(tx, n)
			if err != nil {
				return err
			}
			row.State, row.Tool, row.Since = register.Assigned, t.tool.ID, tx.Now()
			if !printed {
				given = append(given, row)
			} else if err := store.Put(tx, &row); err != nil {
				return err
			}
		}
		if t.mark != nil {
			m := *t.mark
			m.Tool, m.Since = t.tool.ID, tx.Now()
			var err error
			if m.ID, err = tx.NewID('M'); err != nil {
				return err
			}
			marks = append(marks, m)
		}
		for _, w := range t.wrongs {
			w.Tool, w.At, w.By = t.tool.ID, tx.Now(), p.in.by.Person
			var err error
			if w.ID, err = tx.NewID('W'); err != nil {
				return err
			}
			wrongs = append(wrongs, w)
		}
	}
	if err := store.PutNew(tx, tools); err != nil {
		return err
	}
	if err := store.PutNew(tx, given); err != nil {
		return err
	}
	if err := store.PutNew(tx, marks); err != nil {
		return err
	}
	return store.PutNew(tx, wrongs)
}

// claim holds the row of a number that was issued, or begins a new one.
func (p *sheetPlan) claim(tx *store.Tx, n numbers.Number) (row register.NumberRow, printed bool, err error) {
	if n.Counter() > p.last.Counter() {
		return register.NumberRow{ID: string(n)}, false, nil
	}
	row, found, err := store.Change[register.NumberRow](tx, string(n))
	if err == nil && found && row.State != register.Issued {
		err = fault.New(fault.Conflict, "number %s is %s by now", n, row.State).WithHint("import again")
	}
	row.ID = string(n)
	return row, found, err
}

// editTools changes tools that are here, as they are now.
func (p *sheetPlan) editTools(tx *store.Tx) error {
	for _, e := range p.edits {
		t, err := load[register.Tool](tx, e.was.ID, "tool "+e.was.Number.String())
		if err != nil {
			return err
		}
		if t.Rev != e.was.Rev {
			return fault.New(fault.Unavailable, "tool %s is changing at this moment", t.Number).WithHint("import again")
		}
		e.tool.ID, e.tool.Rev, e.tool.Number = t.ID, t.Rev, t.Number
		if err := store.Put(tx, &e.tool); err != nil {
			return err
		}
		if err := usageChanged(tx, p.in.by, t, e.tool); err != nil {
			return err
		}
	}
	return nil
}

// keepMapping keeps how the spreadsheet was read.
func (p *sheetPlan) keepMapping(tx *store.Tx) error {
	if p.in.SaveMapping == "" {
		return nil
	}
	if err := allowed(p.in.by, people.EditTool, people.Object{}); err != nil {
		return err
	}
	name, err := names.Check(p.in.SaveMapping)
	if err != nil {
		return err
	}
	row, found, err := tx.Mapping(names.Key(name))
	if err != nil {
		return err
	}
	if found {
		row, err = load[register.MappingRow](tx, row.ID, "mapping "+name)
	} else {
		row.ID, err = tx.NewID('Q')
	}
	if err != nil {
		return err
	}
	row.Name, row.NameKey, row.Reading = name, names.Key(name), p.in.Reading
	return store.Put(tx, &row)
}

// record notes that the spreadsheet was imported, so that the same one is known
// again.
func (p *sheetPlan) record(tx *store.Tx) error {
	if len(p.fresh)+len(p.edits) == 0 {
		return nil
	}
	row, found, err := store.Change[register.ImportRow](tx, p.in.hash)
	if err != nil {
		return err
	}
	var left []string
	for _, e := range p.table.Entries {
		if p.missed[e.Row] {
			left = append(left, fmt.Sprint(e.Row))
		}
	}
	if !found {
		row.At = tx.Now()
	}
	row.ID, row.Rows, row.LeftOut = p.in.hash, int64(len(p.table.Entries)), strings.Join(left, ",")
	if row.File, err = names.Line(fault.Clip(p.in.File)); err != nil {
		row.File = ""
	}
	return store.Put(tx, &row)
}
