package model

import (
	"context"
	"maps"
	"slices"

	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/internal/store"
	"pawl/model/people"
)

// TodayView is what wants somebody's attention now. Each list is cut at
// todayRows; the pages that it leads to have the rest: of what must not be used and what
// is not back in time, the lists.
type TodayView struct {
	Mine       []TodayRow // what the asker has
	Overdue    []TodayRow // not back in time: all for a manager, the asker's own else
	DoNotUse   []ToolRow
	Rechecks   []UnsettledRecheck // tools with work in doubt that nobody has settled, worst first
	Findings   []FindingView      // what does not add up on jobs, and whose owner is to be told
	NoLabel    []ToolRow          // whose label is gone
	Due        []DueRow           // soon or already, by the lead times; not what is to be back
	Unfinished []ToolRow          // photographed, not yet typed, dearest first
	Unsorted   bool               // there are photos of no tool
	Lists      []OutCount         // how many tools each list of custody.Lists has, where it has any
	Clock      []string           // what to say of a doubtful clock
}

// TodayRow is a tool that somebody has.
type TodayRow struct {
	ToolRow
	Job        string
	Since, Due dates.Instant
}

const todayRows = 20

// Today gives what wants the asker's attention.
func (s *Shop) Today(ctx context.Context, by By) (v TodayView, err error) {
	now := dates.InstantOf(s.clock())
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		v.Clock = d.doubt
		if err := d.todayCustody(by, now, &v); err != nil {
			return err
		}
		if err := d.todayWrongs(&v); err != nil {
			return err
		}
		if v.Lists, err = d.outCounts(now); err != nil {
			return err
		}
		if err := s.todayDue(d, by, &v); err != nil {
			return err
		}
		if v.Rechecks, err = s.rechecks.unsettled(d); err != nil {
			return err
		}
		v.Rechecks = v.Rechecks[:min(len(v.Rechecks), todayRows)]
		if v.Findings, err = d.unsettledFindings(0, "", todayRows); err != nil {
			return err
		}
		v.Unfinished, _, err = d.unfinished(by, store.ToolQuery{}, 5, cursor{})
		if err != nil {
			return err
		}
		photos, err := rx.Unsorted(store.UnsortedQuery{All: people.May(by.Actor, people.SeeMoney, people.Object{}), Person: by.Person, Limit: 1})
		v.Unsorted = len(photos) > 0
		return err
	})
	return v, err
}

// todayCustody gathers what the asker has, and what is not back in time.
func (d *directory) todayCustody(by By, now dates.Instant, v *TodayView) error {
	if by.Person != "" {
		loans, err := d.LoansOf(by.Person)
		if err != nil {
			return err
		}
		if v.Mine, err = d.todayLoans(loans[:min(len(loans), todayRows)]); err != nil {
			return err
		}
	}
	whose := by.Person
	switch {
	case by.Role == people.Manager:
		whose = ""
	case whose == "":
		return nil
	}
	late, err := d.Overdue(now, whose, todayRows)
	if err != nil {
		return err
	}
	v.Overdue, err = d.todayLoans(late)
	return err
}

// todayLoans puts loans into names, in their order.
func (d *directory) todayLoans(loans []custody.Loan) ([]TodayRow, error) {
	ids := make([]string, len(loans))
	for i, l := range loans {
		ids[i] = l.Tool
	}
	rows, err := d.rowsByID(ids)
	if err != nil {
		return nil, err
	}
	var out []TodayRow
	for _, l := range loans {
		r, found := rows[l.Tool]
		if !found {
			continue
		}
		view, err := d.custody(l)
		if err != nil {
			return nil, err
		}
		out = append(out, TodayRow{ToolRow: r, Job: view.Job, Since: l.Since, Due: l.Due})
	}
	return out, nil
}

// rowsByID gives the rows of tools by their ids.
func (d *directory) rowsByID(ids []string) (map[string]ToolRow, error) {
	tools, err := d.ToolsByID(ids)
	if err != nil {
		return nil, err
	}
	rows, err := d.rows(slices.Collect(maps.Values(tools)))
	out := map[string]ToolRow{}
	for _, r := range rows {
		out[r.ID] = r
	}
	return out, err
}

// todayWrongs gathers the tools that may not be used, and those without a label that may.
// Each has its own question: many reports of one kind leave none of the other out.
func (d *directory) todayWrongs(v *TodayView) (err error) {
	unfit := slices.DeleteFunc(slices.Clone(custody.Whats), func(w custody.What) bool { return w == custody.LabelGone })
	if v.DoNotUse, err = d.wrongNow(func(r ToolRow) bool { return r.DoNotUse != "" }, unfit...); err == nil {
		v.NoLabel, err = d.wrongNow(func(r ToolRow) bool { return r.DoNotUse == "" }, custody.LabelGone)
	}
	return err
}

// wrongNow gives the tools of the newest open reports of some kinds.
func (d *directory) wrongNow(shown func(ToolRow) bool, of ...custody.What) (out []ToolRow, err error) {
	wrongs, err := d.WrongNow(todayRows*2, of...) // some tools have two
	if err != nil {
		return nil, err
	}
	var ids []string
	for _, w := range wrongs {
		ids = append(ids, w.Tool)
	}
	rows, err := d.rowsByID(ids)
	if err != nil {
		return nil, err
	}
	seen := map[string]bool{}
	for _, w := range wrongs {
		if r, found := rows[w.Tool]; found && !seen[w.Tool] && shown(r) && len(out) < todayRows {
			out = append(out, r)
		}
		seen[w.Tool] = true
	}
	return out, nil
}
