package model

import (
	"context"
	"encoding/json"
	"slices"
	"strings"

	"pawl/model/counts"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/units"
)

// statement says what the count shows.
func (st *countStanding) statement() (counts.Statement, error) {
	t := st.numbers.Tally(st.count.Level())
	t.Currency = st.count.Currency
	t.Planned = int(st.count.MissingAtLeast)
	if st.draw != nil && st.draw.Chosen != nil {
		t.Chosen = decimal(*st.draw.Chosen)
	}
	if st.count.Redraw != "" {
		t.Redraws = 1
	}
	switch st.count.How {
	case counts.ByStrata:
		own, err := st.count.OwnStrata()
		if err != nil {
			return counts.Statement{}, err
		}
		t.Strata, t.Rules = st.outcomes(own), counts.ChosenRules(own, st.count.Currency)
	case counts.ByUnits:
		money, err := st.byMoney()
		if err != nil {
			return counts.Statement{}, err
		}
		t.Money = &money
	}
	return counts.State(t)
}

func (st *countStanding) outcomes(own []counts.OwnStratum) (out []counts.Outcome) {
	sizes, worth := map[string]int{}, map[string]int64{}
	for _, e := range st.list.frame {
		sizes[e.Stratum]++
		if e.Worth != nil {
			worth[e.Stratum] += *e.Worth
		}
	}
	rules := counts.RulesOf(own, sizes)
	for _, class := range counts.ClassesOf(own) {
		if n := st.strata[class]; n != nil {
			out = append(out, n.Outcome(class, rules[class], worth[class]))
		}
	}
	return out
}

// byMoney evaluates a count by money: a tool that is missing is worth nothing.
func (st *countStanding) byMoney() (out counts.ByMoney, err error) {
	var found []counts.Finding
	for _, e := range st.list.frame {
		if e.Worth == nil || *e.Worth <= 0 {
			out.Outside++
			continue
		}
		var n counts.Numbers
		if n.Add(st.bucket(e), st.settled[e.Tool]); n.Drawn > 0 {
			f := counts.Finding{Book: *e.Worth, Found: *e.Worth}
			if n.Missing > 0 {
				f.Found = 0
			}
			found = append(found, f)
		}
	}
	interval, err := st.count.Interval()
	if err == nil {
		out.Overstated, err = counts.Evaluate(interval, st.count.Level(), counts.TableFactor, found)
	}
	return out, err
}

// viewOf is a count of which it is known where every tool stands.
func (d *directory) viewOf(by By, st *countStanding, advice ...string) (v CountView, err error) {
	c := st.count
	v = d.namedCount(by, c)
	v.Draw = st.draw
	v.Numbers = st.numbers.Clone()
	for _, id := range st.who {
		v.Counted = append(v.Counted, d.owner(id))
	}
	if st.last.ID != "" {
		v.Last = &LastLook{At: st.last.At, By: d.owner(st.last.Person), Place: d.places.Path(st.last.Place)}
	}
	if c.Closed != 0 {
		said, err := st.statement()
		if err != nil {
			return v, err
		}
		if !seesCountMoney(by) {
			said = said.WithoutMoney()
		}
		v.Statement = &said
	} else if v.Last != nil && counts.Interrupted(v.Last.At, d.Now()) {
		advice = append(advice, lookAgain(*v.Last))
	}
	v.Advice = slices.Concat(d.doubt, advice)
	return v, nil
}

// lookAgain asks to begin again at the last place.
func lookAgain(l LastLook) string {
	where := "the place where you were"
	if l.Place != "" {
		where = l.Place
	}
	return "Nobody scanned for over half an hour: look again at all of " + where + ", where " + l.By + " scanned last, before going on."
}

// SettleDifference is how a difference is settled, as typed.
type SettleDifference struct {
	Number, How string
	At          string // path or symbol of the place where it was found, or belongs
	With        string // who has it
	Note        string
}

// SettleDifference records what became of one difference: once. A record that is mended
// with a place moves the tool's home there.
func (s *Shop) SettleDifference(ctx context.Context, by By, count string, in SettleDifference) (CountRow, error) {
	return act(ctx, s, by, "count settle", []any{count, in}, func(tx *store.Tx) (row CountRow, err error) {
		if err := allowed(by, people.RunCount, people.Object{}); err != nil {
			return row, err
		}
		d, err := readNames(&tx.Rx)
		if err != nil {
			return row, err
		}
		c, err := countForChange(tx, count)
		if err != nil {
			return row, err
		}
		if err := c.MustNotBeClosed(d.owner); err != nil {
			return row, err
		}
		t, err := resolve(&tx.Rx, in.Number)
		if err != nil {
			return row, fault.At("#/number", "%s", fault.Of(err).Error())
		}
		st, err := s.standOf(&tx.Rx, c, t.ID)
		if err != nil {
			return row, err
		}
		e := settlingDifference{directory: d, tx: tx, by: by, countStanding: st, tool: t}
		if err := e.settle(in); err != nil {
			return row, err
		}
		return e.row()
	})
}

// settlingDifference is one difference on its way to being settled.
type settlingDifference struct {
	*directory
	*countStanding
	tx   *store.Tx
	by   By
	tool register.Tool
}

func (e *settlingDifference) settle(in SettleDifference) error {
	if have := e.settled[e.tool.ID]; have != nil {
		return fault.New(fault.Conflict, "%s is settled already: %s", e.tool.Number, have.How).
			WithFact("by", e.owner(have.Person)).WithFact("since", have.SettledAt.String()).WithHint("nothing to settle")
	}
	bucket := counts.Bucket("")
	if entry, on := e.list.entry(e.tool.ID); on {
		bucket = e.bucket(entry)
	} else if e.extras[e.tool.ID] == nil {
		return fault.New(fault.Conflict, "tool %s is not on the list of this count, and was not seen in it", e.tool.Number).WithHint("nothing to settle")
	}
	row := counts.Difference{Count: e.count.ID, Tool: e.tool.ID, Person: e.by.Person, SettledAt: e.tx.Now()}
	var bad fault.Problems
	var err error
	row.How, err = counts.ParseSettlement(in.How)
	bad.Keep("#/how", err)
	if strings.TrimSpace(in.At) != "" {
		row.Place, err = e.placeAt(in.At)
		bad.Keep("#/at", err)
	}
	row.Whom, err = names.Line(in.With)
	bad.Keep("#/with", err)
	row.Note, err = names.Note(in.Note)
	bad.Keep("#/note", err)
	if err := bad.Err(); err != nil {
		return err
	}
	if err := row.Check(bucket); err != nil {
		return err
	}
	return e.keep(row)
}

func (e *settlingDifference) keep(row counts.Difference) (err error) {
	if row.ID, err = e.tx.NewID('Z'); err != nil {
		return err
	}
	if err := holdPlaces(e.tx, row.Place); err != nil {
		return err
	}
	if row.How == counts.RecordMended && row.Place != "" {
		t, err := load[register.Tool](e.tx, e.tool.ID, "tool "+e.tool.Number.String())
		if err != nil {
			return err
		}
		t.Place = row.Place
		if err := store.Put(e.tx, &t); err != nil {
			return err
		}
		e.tool = t
	}
	e.settled[e.tool.ID] = &row
	return store.Put(e.tx, &row)
}

func (e *settlingDifference) row() (CountRow, error) {
	rows, err := e.countRows(e.countStanding, []string{e.tool.ID})
	if err != nil || len(rows) == 0 {
		return CountRow{}, orElse(err, fault.New(fault.Internal, "tool %s is not in the count", e.tool.Number))
	}
	return rows[0], nil
}

// CloseCount ends a count: where each tool stands is kept, and nothing changes any more.
// What nobody settled is told, and stays on its report. Where it counted what a loss left,
// what was not seen is put on the list of the loss.
func (s *Shop) CloseCount(ctx context.Context, by By, id string) (CountView, error) {
	if allowed(by, people.RunCount, people.Object{}) == nil {
		s.readCount(ctx, id)
	}
	return act(ctx, s, by, "count close", id, func(tx *store.Tx) (v CountView, err error) {
		if err := allowed(by, people.RunCount, people.Object{}); err != nil {
			return v, err
		}
		d, err := readNames(&tx.Rx)
		if err != nil {
			return v, err
		}
		c, err := countForChange(tx, id)
		if err != nil {
			return v, err
		}
		if err := c.MustNotBeClosed(d.owner); err != nil {
			return v, err
		}
		st, err := s.standNow(tx, c)
		if err != nil {
			return v, err
		}
		c.Closed, c.ClosedBy = tx.Now(), by.Person
		if err := st.close(tx, &c); err != nil {
			return v, err
		}
		if err := s.missingOnClosing(tx, d, by, st); err != nil {
			return v, err
		}
		return d.closed(by, st)
	})
}

// close keeps how every tool stands.
func (st *countStanding) close(tx *store.Tx, c *counts.Count) (err error) {
	var ended []counts.Ended
	for i, e := range st.list.frame {
		if b := st.buckets[i]; b != counts.Seen && b != counts.NotDrawn {
			end := st.changes[e.Tool]
			end.Tool, end.Bucket = e.Tool, b
			ended = append(ended, end)
		}
	}
	rows := []counts.OutcomeRow{}
	for part := range slices.Chunk(ended, counts.BlockSize) {
		text, err := json.Marshal(part)
		if err != nil {
			return err
		}
		row := counts.OutcomeRow{Count: c.ID, Part: int64(len(rows) + 1), Ended: string(text)}
		if row.ID, err = tx.NewID('X'); err != nil {
			return err
		}
		rows = append(rows, row)
	}
	if err := store.PutNew(tx, rows); err != nil {
		return err
	}
	st.count = *c
	return store.Put(tx, c)
}

// closed is what a closing answers.
func (d *directory) closed(by By, st *countStanding) (v CountView, err error) {
	if v, err = d.viewOf(by, st); err != nil {
		return v, err
	}
	var open []string
	for _, id := range st.differing() {
		if st.settled[id] == nil {
			open = append(open, id)
		}
	}
	v.Unsettled, err = d.countRows(st, open[:min(len(open), MostUnsettled)])
	if len(open) > MostUnsettled {
		v.Advice = append(v.Advice, units.Count(len(open)-MostUnsettled, "more difference")+" not settled: see them with pawl count show "+st.count.ID+" --differences")
	}
	return v, err
}

// differing gives the tools of which something is to be settled, or was: listed ones in
// the order of their numbers, then extras.
func (st *countStanding) differing() (out []string) {
	for i, e := range st.list.frame {
		if st.buckets[i].Differs() || st.settled[e.Tool] != nil {
			out = append(out, e.Tool)
		}
	}
	for _, s := range st.unlisted() {
		out = append(out, s.Tool)
	}
	return out
}
