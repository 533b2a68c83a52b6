package model

import (
	"context"
	"slices"
	"strconv"

	"pawl/model/counts"
	"pawl/model/internal/store"
	"pawl/model/markings"
	"pawl/model/people"
	"pawl/model/register"
)

// MarkingRound gives one page of this month's round.
func (s *Shop) MarkingRound(ctx context.Context, by By, q RoundQuery) (v RoundView, err error) {
	limit, err := pageLimit(q.Limit)
	if err != nil {
		return v, err
	}
	cur, err := parseCursor("markings", q.Cursor)
	if err != nil {
		return v, err
	}
	err = s.read(ctx, func(d *directory) error {
		r, err := d.round(ctx, by)
		if err != nil {
			return err
		}
		v = r.view
		from, err := r.after(cur)
		if err != nil {
			return err
		}
		some := r.rows[from:]
		if !q.All && len(some) > limit {
			some = some[:limit]
			v.Next = cursor{List: cur.List, Key: strconv.Itoa(from + limit), ID: some[limit-1].Marking}.String()
		}
		v.Rows, err = r.named(some)
		return err
	})
	return v, err
}

// round is this month's round as it is reckoned, in walking order.
type round struct {
	*directory
	view  RoundView
	rows  []markings.Row
	other []markings.Priced // the shop's tools of which no marking is on record
	ranks map[string]int    // by marking, 1 first
	kept  map[string]keptMarking
}

// keptMarking is a marking that may be on the round.
type keptMarking struct {
	tool     register.Tool
	mark     markings.Marking
	forecast MarkingForecast
	last     markings.Check
}

// after is where in the round a page begins: behind the last row of the page before,
// or, where that was looked at meanwhile and is gone, from the beginning: others before it
// may be gone too, and none is to be passed over.
func (r *round) after(cur cursor) (int, error) {
	if cur.Key == "" {
		return 0, nil
	}
	if n, err := strconv.Atoi(cur.Key); err != nil || n < 1 {
		return 0, badCursor()
	}
	return slices.IndexFunc(r.rows, func(one markings.Row) bool { return one.Marking == cur.ID }) + 1, nil
}

// round reckons the round over all tools that are here. What tools cost and which papers
// prove them counts as far as the asker may see it.
func (d *directory) round(ctx context.Context, by By) (*round, error) {
	r := &round{directory: d, ranks: map[string]int{}, kept: map[string]keptMarking{}}
	v, err := d.valuer(by, WorthQuery{})
	if err != nil {
		return nil, err
	}
	r.view = RoundView{Today: v.today, Through: v.today.MonthEnd(), Currency: d.settings.Currency}
	var all []*wear
	var known []markings.Candidate
	if err := v.each(ctx, func(tools []register.Tool, some []WorthTool) error {
		w, err := d.wearOf(tools)
		if err != nil {
			return err
		}
		all = append(all, w)
		found, err := r.candidates(w, some)
		known = append(known, found...)
		return err
	}); err != nil {
		return nil, err
	}
	lessons, err := d.roundLessons(all)
	if err != nil {
		return nil, err
	}
	at := 0
	for _, w := range all {
		for _, t := range w.tools {
			if at < len(known) && known[at].Tool == t.ID {
				r.reckon(w, t, &known[at], lessons, people.May(by.Actor, people.SeeMoney, r.object(t)))
				at++
			}
		}
	}
	r.rows = markings.Round(known, r.other, v.today)
	for i, row := range r.rows {
		r.ranks[row.Marking] = i + 1
	}
	markings.Walk(r.rows, counts.WalkingOrder)
	r.view.All = len(r.rows)
	return r, nil
}

// candidates gives what of the tools' markings is known but for the wear.
func (r *round) candidates(w *wear, some []WorthTool) (out []markings.Candidate, err error) {
	ids := make([]string, len(w.tools))
	for i, t := range w.tools {
		ids[i] = t.ID
	}
	papers, err := r.ShownOf(ids)
	if err != nil {
		return nil, err
	}
	for i, t := range w.tools {
		m, is := markings.Current(w.markings[t.ID])
		if !is && t.SerialKey != "" && !t.FromOutside() {
			r.view.Unmarked++
		}
		if t.FromOutside() { // theirs to look after
			continue
		}
		if !is {
			if some[i].Cost != nil {
				r.other = append(r.other, markings.Priced{Kind: t.Kind, Cost: some[i].Cost.Amount})
			}
			continue
		}
		c := markings.Candidate{Tool: t.ID, Marking: m.ID, Number: t.Number.String(), Kind: t.Kind, Place: some[i].Place, Method: m.Method,
			OwnersNumber: markings.HasOwnersNumber(w.markings[t.ID])}
		if some[i].Cost != nil {
			c.Cost = &some[i].Cost.Amount
		}
		c.PlatePhoto = slices.ContainsFunc(papers[t.ID], func(p store.Shown) bool { return p.Kind == "plate" && r.shows(p.SHA256) })
		c.Receipt = some[i].Shown && slices.ContainsFunc(papers[t.ID], func(p store.Shown) bool { return p.Kind == "receipt" || p.Kind == "account" || p.Kind == "statement" })
		out = append(out, c)
	}
	return out, nil
}

// roundLessons learns from the tools that are here, and from those that are gone.
func (d *directory) roundLessons(here []*wear) (*markings.Lessons, error) {
	var all []markings.History
	known := map[string]bool{}
	for _, w := range here {
		all = append(all, w.histories()...)
		for _, t := range w.tools {
			known[t.ID] = true
		}
	}
	looked, err := d.LookedAt()
	if err != nil {
		return nil, err
	}
	var gone []string
	for id := range looked {
		if !known[id] {
			gone = append(gone, id)
		}
	}
	slices.Sort(gone)
	tools, err := d.ToolsByID(gone)
	if err != nil {
		return nil, err
	}
	w, err := d.wearOf(inIDs(gone, tools))
	if err != nil {
		return nil, err
	}
	return markings.Learn(append(all, w.histories()...), w.today), nil
}

// reckon adds how a marking wears.
func (r *round) reckon(w *wear, t register.Tool, c *markings.Candidate, lessons *markings.Lessons, bought bool) {
	m, _ := markings.Current(w.markings[t.ID])
	s := keptMarking{tool: t, mark: m, last: w.lastOf(m)}
	s.forecast, c.Forecast = w.forecast(t, m, lessons, bought)
	r.kept[m.ID] = s
}

// named puts rows into names.
func (r *round) named(rows []markings.Row) ([]RoundRow, error) {
	some := make([]register.Tool, len(rows))
	for i, row := range rows {
		some[i] = r.kept[row.Marking].tool
	}
	tools, err := r.directory.rows(some)
	if err != nil {
		return nil, err
	}
	takes, cautions := map[string]bool{}, map[string][]string{} // a label, and what to mind, by kind
	for _, t := range some {
		if _, met := takes[t.Kind]; !met {
			takes[t.Kind], cautions[t.Kind] = register.TakesLabel(t.Kind), register.Cautions(t.Kind)
		}
	}
	out := make([]RoundRow, len(rows))
	for i, row := range rows {
		s := r.kept[row.Marking]
		kept := markings.Kept{Method: row.Method, Protection: s.mark.Protection, TakesLabel: takes[row.Kind], PlatePhoto: row.PlatePhoto,
			OwnersNumber: row.OwnersNumber, Forecast: row.Candidate.Forecast}
		out[i] = RoundRow{ToolRow: tools[i], Marking: s.mark, Rank: r.ranks[row.Marking], Forecast: s.forecast, LastLook: s.last.On, LastRead: s.last.Read,
			Soon: row.Chance, Cost: row.Cost, CostFrom: row.CostFrom, Proof: row.Proof, Reasons: row.Reasons, Advice: markings.Advise(kept)}
		out[i].Forecast.Cautions = cautions[row.Kind]
		out[i].Do = markingWords(out[i].Advice, out[i].Number.String(), s.last.Read)
	}
	return out, nil
}
