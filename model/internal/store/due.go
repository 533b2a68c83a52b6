package store

import (
	"context"
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"time"

	"pawl/model/calibration"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/due"
	"pawl/model/inspections"
	"pawl/model/ledger"
	"pawl/model/markings"
	"pawl/model/register"
	"pawl/model/settings"
)

// dues is what of the table of what is due follows from an act: by tool, the row of
// one that is new and of which nothing else is recorded yet, or nil; and whether all
// of it must be made anew.
type dues struct {
	tools map[string]*register.Tool
	all   bool
}

// note says which tools a row concerns.
func (d *dues) note(tx *Tx, row any) {
	switch r := row.(type) {
	case *register.Tool:
		if _, known := d.tools[r.ID]; known || r.Rev != 1 {
			d.tools[r.ID] = nil
			return
		}
		t := *r
		d.tools[r.ID] = &t
	case *custody.Loan:
		if r.Due != 0 || r.State == custody.Away {
			d.tools[r.Tool] = nil
		}
	case *custody.Wrong:
		d.tools[r.Tool] = nil
	case *calibration.RequirementRow:
		d.tools[r.Tool] = nil
	case *calibration.ResultRow:
		d.tools[r.Tool] = nil
	case *calibration.UseRow:
		if r.What == calibration.UsedToTighten {
			d.tools[r.Tool] = nil
		}
	case *inspections.Plan:
		d.tools[r.Tool] = nil
	case *inspections.Inspection:
		d.tools[r.Tool] = nil
	case *markings.Marking:
		if r.Rev > 1 { // of a new one nothing is due: nobody has looked
			d.tools[r.Tool] = nil
		}
	case *markings.Term:
		d.tools[r.Tool] = nil
	case *markings.Check:
		d.tools[r.Tool] = nil
	case *settings.Settings:
		before, err := ledger.ParseImage(tx.loaded[recordID{"settings", r.ID}])
		d.all = d.all || err == nil && before["zone"] != r.Zone
	}
}

// dueChanged writes what is due of the tools that this act touched.
func (tx *Tx) dueChanged() error {
	if tx.dues.all {
		return tx.rebuildDue()
	}
	if len(tx.dues.tools) == 0 {
		return nil
	}
	loc, err := tx.location()
	if err != nil {
		return err
	}
	var rows []due.Row
	var known []string
	for _, id := range slices.Sorted(maps.Keys(tx.dues.tools)) {
		if t := tx.dues.tools[id]; t != nil {
			rows = append(rows, due.Of(due.Facts{Tool: *t, Zone: loc})...)
		} else {
			known = append(known, id)
		}
	}
	if err := tx.keepDue(rows); err != nil {
		return err
	}
	for some := range slices.Chunk(known, lookRows) {
		if _, err := tx.exec("DELETE FROM due WHERE tool IN (?"+strings.Repeat(", ?", len(some)-1)+")", anys(some)...); err != nil {
			return err
		}
		if err := tx.makeDue(some, loc); err != nil {
			return err
		}
	}
	return nil
}

func anys(in []string) []any {
	out := make([]any, len(in))
	for i, v := range in {
		out[i] = v
	}
	return out
}

func (r *Rx) location() (*time.Location, error) {
	set, err := r.Settings()
	if err != nil || set.ID == "" { // before the first write
		return time.UTC, err
	}
	return set.Location()
}

// makeOlderDue makes the table of what is due for a store from before there was one.
func (d *DB) makeOlderDue(ctx context.Context) error {
	older := false
	err := d.Read(ctx, func(rx *Rx) error {
		return rx.query(func(scan func(...any) error) error { return scan(&older) }, "SELECT EXISTS (SELECT 1 FROM due WHERE id = '')")
	})
	if err != nil || !older {
		return err
	}
	_, err = Write(ctx, d, Act{Verb: "rebuild"}, func(tx *Tx) (bool, error) { tx.touched = true; return true, tx.rebuildDue() })
	return err
}

// rebuildDue makes the table of what is due anew.
func (tx *Tx) rebuildDue() error {
	loc, err := tx.location()
	if err != nil {
		return err
	}
	if _, err := tx.exec("DELETE FROM due"); err != nil {
		return err
	}
	for after := ""; ; {
		var ids []string
		err := tx.query(func(scan func(...any) error) error {
			var id string
			err := scan(&id)
			ids = append(ids, id)
			return err
		}, "SELECT id FROM tools WHERE id > ? ORDER BY id LIMIT ?", after, lookRows)
		if err != nil || len(ids) == 0 {
			return err
		}
		after = ids[len(ids)-1]
		if err := tx.makeDue(ids, loc); err != nil {
			return err
		}
	}
}

// makeDue works out what is due of tools of which nothing is in the table.
func (r *Rx) makeDue(ids []string, loc *time.Location) error {
	facts, err := r.dueFacts(ids, loc)
	if err != nil {
		return err
	}
	var rows []due.Row
	for _, id := range ids {
		if f := facts[id]; f != nil {
			rows = append(rows, due.Of(*f)...)
		}
	}
	return r.keepDue(rows)
}

// dueFacts reads what is recorded of tools, with one query of each sort.
func (r *Rx) dueFacts(ids []string, loc *time.Location) (map[string]*due.Facts, error) {
	tools, err := r.ToolsByID(ids)
	if err != nil {
		return nil, err
	}
	out := map[string]*due.Facts{}
	for id, t := range tools {
		out[id] = &due.Facts{Tool: t, Zone: loc}
	}
	if err := r.measuredFacts(ids, out); err != nil {
		return nil, err
	}
	plans, err := r.Plans(ids...)
	if err != nil {
		return nil, err
	}
	for _, p := range plans {
		out[p.Tool].Plans = append(out[p.Tool].Plans, p)
	}
	done, err := r.Inspections(ids...)
	if err != nil {
		return nil, err
	}
	for _, d := range done {
		out[d.Tool].Inspections = append(out[d.Tool].Inspections, d)
	}
	loans, err := r.OpenLoans(ids)
	if err != nil {
		return nil, err
	}
	for _, l := range loans {
		out[l.Tool].Loan = l
	}
	if err := r.wornFacts(ids, out); err != nil {
		return nil, err
	}
	return out, r.happenedFacts(out, loc)
}

// wornFacts adds those of the tools at whose markings somebody looked.
func (r *Rx) wornFacts(ids []string, out map[string]*due.Facts) error {
	looks, err := r.Checks(ids...)
	if err != nil {
		return err
	}
	var worn []string
	for _, c := range looks {
		f := out[c.Tool]
		if len(f.Looks) == 0 {
			worn = append(worn, c.Tool)
		}
		f.Looks = append(f.Looks, c)
	}
	all, err := r.MarkingsOf(worn)
	if err != nil {
		return err
	}
	for id, some := range all {
		out[id].Markings = some
	}
	terms, err := r.Terms(worn...)
	for _, t := range terms {
		out[t.Tool].Terms = append(out[t.Tool].Terms, t)
	}
	return err
}

// happenedFacts adds what happened to those of the tools that are under inspection.
func (r *Rx) happenedFacts(out map[string]*due.Facts, loc *time.Location) error {
	var ids []string
	for id, f := range out {
		if len(f.Plans)+len(f.Inspections) > 0 || inspections.ExpectedOf(f.Tool.Kind) {
			ids = append(ids, id)
		}
	}
	if len(ids) == 0 {
		return nil
	}
	slices.Sort(ids)
	wrongs, err := r.Wrongs(ids...)
	if err != nil {
		return err
	}
	away, err := r.LoansAway(ids...)
	if err != nil {
		return err
	}
	byTool, loans := map[string][]custody.Wrong{}, map[string][]custody.Loan{}
	for _, w := range wrongs {
		byTool[w.Tool] = append(byTool[w.Tool], w)
	}
	for _, l := range away {
		loans[l.Tool] = append(loans[l.Tool], l)
	}
	for _, id := range ids {
		out[id].Happened = due.Happened(byTool[id], loans[id], out[id].Inspections, loc)
	}
	return nil
}

// measuredFacts adds those of the tools that must hold something.
func (r *Rx) measuredFacts(ids []string, out map[string]*due.Facts) error {
	held, err := r.Requirements(ids...)
	if err != nil || len(held) == 0 {
		return err
	}
	var measure []string
	for _, row := range held {
		var q calibration.Requirement
		if json.Unmarshal([]byte(row.Body), &q) != nil {
			continue // nothing can be worked out from it; readiness says so
		}
		out[row.Tool].Requirement = &q
		measure = append(measure, row.Tool)
	}
	if len(measure) == 0 {
		return nil
	}
	results, err := r.Results(measure...)
	if err != nil {
		return err
	}
	for _, row := range results {
		out[row.Tool].Results = append(out[row.Tool].Results, row)
	}
	turns, err := r.Turns(measure...)
	for _, t := range turns {
		out[t.Tool].Uses = append(out[t.Tool].Uses, due.Use{At: t.At, Count: t.Count})
	}
	return err
}

// keepDue inserts rows of what is due.
func (r *Rx) keepDue(all []due.Row) error {
	if len(all) == 0 {
		return nil
	}
	into := r.rows(`INSERT INTO due (id, tool, sort, what, day, "at", known, person, owner, place, veil, why)`, 12)
	for _, d := range all {
		err := into.add(d.ID, d.Tool, string(d.Sort), d.What, string(d.Day), int64(d.At), int64(d.Known), d.Person, d.Owner, d.Place, Veil(d), d.Why)
		if err != nil {
			return err
		}
	}
	return into.flush()
}

// Veil says whose money a row tells of: empty where everybody may see it.
func Veil(d due.Row) string {
	if !d.Money {
		return ""
	}
	return VeilOf(d.Owner)
}

// VeilOf is the veil over the money of an owner; empty = the shop.
func VeilOf(owner string) string { return "money/" + owner }

// DueQuery asks for one sort of what is due, in the order of its days, after a row.
type DueQuery struct {
	Sort          due.Sort
	From, Through dates.Date // empty: no bound
	Tool, Person  string     // empty: any
	ShopOnly      bool       // only what is the shop's: nobody's own
	Places        []string   // nil: any
	Veils         []string   // nil: all
	AfterDay      dates.Date
	AfterID       string
	Limit         int
}

// Due gives what is due of one sort.
func (r *Rx) Due(q DueQuery) (out []due.Row, err error) {
	where, args := "sort = ?", []any{string(q.Sort)}
	and := func(condition string, values ...any) { where, args = where+" AND "+condition, append(args, values...) }
	if q.Veils != nil {
		and("veil IN (?"+strings.Repeat(", ?", len(q.Veils)-1)+")", anys(q.Veils)...)
	}
	if q.Tool != "" {
		and("tool = ?", q.Tool)
	}
	if q.Person != "" || q.ShopOnly {
		and("person = ?", q.Person)
	}
	if q.Places != nil {
		and("place IN (?"+strings.Repeat(", ?", len(q.Places)-1)+")", anys(q.Places)...)
	}
	if q.From != "" {
		and("day >= ?", string(q.From))
	}
	if q.Through != "" {
		and("day <= ?", string(q.Through))
	}
	if q.AfterID != "" {
		and("(day, id) > (?, ?)", string(q.AfterDay), q.AfterID)
	}
	err = r.query(func(scan func(...any) error) error {
		var d due.Row
		var veil string
		err := scan(&d.ID, &d.Tool, (*string)(&d.Sort), &d.What, (*string)(&d.Day), (*int64)(&d.At), (*int64)(&d.Known), &d.Person, &d.Owner, &d.Place, &veil, &d.Why)
		d.Money = veil != ""
		out = append(out, d)
		return err
	}, `SELECT id, tool, sort, what, day, "at", known, person, owner, place, veil, why FROM due WHERE `+where+" ORDER BY day, id LIMIT ?", append(args, q.Limit)...)
	return out, err
}
