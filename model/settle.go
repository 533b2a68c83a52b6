package model

import (
	"context"
	"maps"
	"slices"
	"strings"
	"sync"

	"pawl/model/calibration"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
)

// SettleRecheck is what settles one line of a recheck, as typed. How is one of
// calibration.Settlements, or empty: by the words of Done. Tool is the number of the one
// that it was done with, or empty: one that Done names.
type SettleRecheck struct {
	Done, How, Tool string
	Evidence        []register.Attach
}

// RecheckDone is a line as it stands now, with what to say of it.
type RecheckDone struct {
	RecheckRow
	Number numbers.Number // of the tool that was found out
	Kind   string
	Left   int // lines of it that are still open
	Advice []string
}

// SettleRecheck records how a line of a recheck was settled: once, by whoever did it.
func (s *Shop) SettleRecheck(ctx context.Context, by By, line string, in SettleRecheck) (RecheckDone, error) {
	return act(ctx, s, by, "recheck settle", []any{line, in}, func(tx *store.Tx) (RecheckDone, error) {
		d, err := readNames(&tx.Rx)
		if err != nil {
			return RecheckDone{}, err
		}
		t, row, source, err := d.lineNamed(line)
		if err != nil {
			return RecheckDone{}, err
		}
		if err := allowed(by, people.Recheck, d.object(t)); err != nil {
			return RecheckDone{}, err
		}
		if row.Settled != nil {
			return RecheckDone{}, d.settledAlready(row)
		}
		w := settling{directory: d, tx: tx, by: by, tool: t, line: row}
		w.row = calibration.SettledRow{ID: row.ID, Tool: t.ID, Source: source, Person: by.Person, SettledAt: tx.Now()}
		if err := w.read(in); err != nil {
			return RecheckDone{}, err
		}
		if err := w.photo(s, in.Evidence); err != nil {
			return RecheckDone{}, err
		}
		if err := store.Put(tx, &w.row); err != nil {
			return RecheckDone{}, err
		}
		return w.done()
	})
}

// settledAlready tells how, by whom and when on the shop's clock.
func (d *directory) settledAlready(row RecheckRow) error {
	have := row.Settled
	at, err := d.clockTime(have.At)
	if err != nil {
		return err
	}
	who := have.Person
	if who == "" {
		who = d.settings.Name
	}
	f := fault.New(fault.Conflict, "line %s is settled already: %s, by %s on %s", row.ID, have.How, who, at)
	return f.WithFact("since", have.At.String()).WithFact("settled_by", who).WithHint("nothing to settle")
}

// settling is one line on its way to being settled.
type settling struct {
	*directory
	tx   *store.Tx
	by   By
	tool register.Tool
	line RecheckRow
	row  calibration.SettledRow
	said []string
}

func (w *settling) read(in SettleRecheck) (err error) {
	if w.row.Done, err = names.Note(in.Done); err != nil {
		return fault.At("#/done", "%s", fault.Of(err).Error())
	}
	if w.row.How, err = calibration.SettlementOf(in.How, w.row.Done); err != nil {
		return err
	}
	w.row.Job = w.line.jobID
	return w.with(in.Tool)
}

// toolIn finds the tool that is named, or else one whose number stands among the words
// of what was done.
func (w *settling) toolIn(number string) (t register.Tool, found bool, err error) {
	if strings.TrimSpace(number) != "" {
		if t, err = resolve(w.Rx, number); err != nil {
			return t, false, fault.At("#/tool", "%s", fault.Of(err).Error())
		}
		return t, true, nil
	}
	for _, word := range strings.FieldsFunc(w.row.Done, func(r rune) bool { return strings.ContainsRune(" ,;:()\n\t", r) }) {
		_, bad := numbers.ParseNumber(word)
		if bad == nil {
			if t, err = resolve(w.Rx, word); err == nil {
				return t, true, nil
			}
			if bad = err; !fault.Is(err, fault.NotFound) {
				return t, false, err
			}
		}
		if likePrinted(word) {
			return t, false, fault.At("#/done", "%s", fault.Of(bad).Error()).WithHint("read its label again, or leave it out and say in words what it was done with")
		}
	}
	return t, false, nil
}

// likePrinted tells what looks like a tool number as a label prints it, 00E-KM5. Such a
// word is meant for one: where it names none that is said, and the line stays open.
func likePrinted(word string) bool {
	for i, r := range word {
		letter := r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z'
		if (i == 3) != (r == '-') || i != 3 && !letter {
			return false
		}
	}
	return len(word) == len("00E-KM5") && strings.ContainsAny(word, "0123456789")
}

// photo joins photos to the tool that was found out; the first is named with the line.
func (w *settling) photo(s *Shop, in []register.Attach) error {
	if len(in) == 0 {
		return nil
	}
	if _, err := s.attach(w.tx, w.by, w.directory, w.tool, in); err != nil {
		if fault.Is(err, fault.NotFound) {
			err = fault.At("#/evidence", "%s", fault.Of(err).Error())
		}
		return err
	}
	all, err := w.tx.Evidence(w.tool.ID)
	for _, e := range all {
		if e.SHA256 == in[0].SHA256 {
			w.row.Photo = e.ID
		}
	}
	return err
}

// done gives the line as it stands now.
func (w *settling) done() (out RecheckDone, err error) {
	v, err := w.recheckView(w.tool)
	if err != nil {
		return out, err
	}
	out = RecheckDone{Number: v.Number, Kind: v.Kind, Left: v.Open, Advice: w.said}
	i := slices.IndexFunc(v.Lines, func(r RecheckRow) bool { return r.ID == w.row.ID })
	if i < 0 || v.Lines[i].Settled == nil {
		return out, fault.New(fault.Internal, "line %s is not settled", w.row.ID)
	}
	out.RecheckRow = v.Lines[i]
	return out, nil
}

// UnsettledRecheck is a tool with work in doubt that nobody has settled.
type UnsettledRecheck struct {
	ToolID string
	Lines  int        // open
	Since  dates.Date // when it was found out, the earliest that still has open lines
	Worst  calibration.RecheckVerdict
	Row    ToolRow
}

// recheckCache keeps, for each tool that measures, what is unsettled, as of a place in
// the ledger. It catches up by the tools that newer lines are about.
type recheckCache struct {
	mu       sync.Mutex
	size     int64
	settings int64
	open     map[string]UnsettledRecheck
}

// manyChanged is from how many changed tools on all are worked out again.
const manyChanged = 1000

// UnsettledRechecks gives the tools with work in doubt that nobody has settled, worst
// first.
func (s *Shop) UnsettledRechecks(ctx context.Context, by By) (out []UnsettledRecheck, err error) {
	err = s.read(ctx, func(d *directory) error {
		out, err = s.rechecks.unsettled(d)
		return err
	})
	return out, err
}

// unsettled brings the cache up to what is read now.
func (c *recheckCache) unsettled(d *directory) (out []UnsettledRecheck, err error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	size, err := d.Size()
	if err != nil {
		return nil, err
	}
	var changed []string
	switch {
	case c.open == nil || c.settings != d.settings.Rev || size < c.size:
		c.open = nil
	case size > c.size:
		if changed, err = d.ToolsSince(c.size); err != nil {
			return nil, err
		}
	}
	if len(changed) > manyChanged {
		c.open, changed = nil, nil
	}
	if c.open == nil || len(changed) > 0 {
		if err := c.renew(d, changed); err != nil {
			c.open = nil
			return nil, err
		}
	}
	c.size, c.settings = size, d.settings.Rev
	return c.listed(d)
}

// renew works tools out again, and those that were compared with them; all where none
// is named.
func (c *recheckCache) renew(d *directory, changed []string) error {
	for next := changed; len(next) > 0; {
		with, err := d.ComparedWith(next)
		if err != nil {
			return err
		}
		next = slices.DeleteFunc(with, func(t string) bool { return slices.Contains(changed, t) })
		changed = append(changed, next...)
	}
	if changed != nil {
		return c.workOut(d, changed)
	}
	c.open = map[string]UnsettledRecheck{}
	if err := c.workOut(d, nil); err != nil {
		return err
	}
	kinds, err := d.Kinds()
	if err != nil {
		return err
	}
	others, err := d.FoundOutWithoutRequirement(slices.DeleteFunc(kinds, func(kind string) bool { return !register.Measures(kind) }))
	if err != nil {
		return err
	}
	for some := range slices.Chunk(others, manyChanged) {
		if err := c.workOut(d, some); err != nil {
			return err
		}
	}
	return nil
}

// workOut counts what is open of these tools, or of all that must hold something. Of one
// that measures, and of which nobody recorded what it must hold, what was done before it
// was reported is in doubt all the more.
func (c *recheckCache) workOut(d *directory, tools []string) error {
	r, err := d.readRechecks(tools...)
	if err != nil {
		return err
	}
	settled, err := d.Settled(tools...)
	if err != nil {
		return err
	}
	of := map[string][]calibration.SettledRow{}
	for _, row := range settled {
		of[row.Tool] = append(of[row.Tool], row)
	}
	if tools == nil {
		tools = slices.Collect(maps.Keys(r.requirements))
	}
	for _, id := range tools {
		delete(c.open, id)
		if r.requirements[id] == nil && !register.Measures(r.tools[id].Kind) {
			continue
		}
		one, err := r.unsettled(r.tools[id], of[id])
		if err != nil {
			return err
		}
		if one.Lines > 0 {
			c.open[id] = one
		}
	}
	return nil
}

// unsettled counts what is open of one tool.
func (r *rechecking) unsettled(t register.Tool, settled []calibration.SettledRow) (out UnsettledRecheck, err error) {
	list, err := r.recheck(t)
	if err != nil {
		return out, err
	}
	out.ToolID = t.ID
	for _, l := range list.Lines {
		row, err := r.row(t, l, settled)
		if err != nil {
			return out, err
		}
		if !row.Open {
			continue
		}
		if out.Lines++; out.Lines == 1 {
			out.Worst = l.Verdict // they are worst first
		}
		for _, i := range l.Windows {
			if on := list.Windows[i].FoundOn; out.Since == "" || on.Before(out.Since) {
				out.Since = on
			}
		}
	}
	return out, nil
}

// listed puts names to what is open, worst first.
func (c *recheckCache) listed(d *directory) (out []UnsettledRecheck, err error) {
	var ids []string
	for id := range c.open {
		ids = append(ids, id)
	}
	rows, err := d.rowsByID(ids)
	if err != nil {
		return nil, err
	}
	for id, one := range c.open {
		one.Row = rows[id]
		out = append(out, one)
	}
	slices.SortFunc(out, func(a, b UnsettledRecheck) int {
		if a.Worst != b.Worst && (a.Worst == calibration.RecheckOutside || b.Worst == calibration.RecheckOutside) {
			if a.Worst == calibration.RecheckOutside {
				return -1
			}
			return 1
		}
		if a.Since != b.Since {
			return strings.Compare(string(a.Since), string(b.Since))
		}
		return strings.Compare(a.ToolID, b.ToolID)
	})
	return out, nil
}
