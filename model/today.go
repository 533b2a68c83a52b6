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
// todayRows; the pages that it leads to have the rest.
type TodayView struct {
	Mine       []TodayRow // what the asker has
	Overdue    []TodayRow // not back in time: all for a manager, the asker's own else
	DoNotUse   []ToolRow
	Rechecks   []UnsettledRecheck // tools with work in doubt that nobody has settled, worst first
	Findings   []FindingView      // what does not add up on jobs, and whose owner is to be told
	NoLabel    []ToolRow          // whose label is gone
	Due        []DueRow           // soon or already, by the lead times; not what is to be back
	MoreDue    bool               // there is more than is listed
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
	late, err := d.Overdue(now, todayRows*5)
	if err != nil {
		return err
	}
	var shown []custody.Loan
	for _, l := range late {
		if (by.Role == people.Manager || l.Person == by.Person && by.Person != "") && len(shown) < todayRows {
			shown = append(shown, l)
		}
	}
	v.Overdue, err = d.todayLoans(shown)
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

// todayWrongs gathers the tools that may not be used and those without a label.
func (d *directory) todayWrongs(v *TodayView) error {
	wrongs, err := d.WrongNow(todayRows * 2)
	if err != nil {
		return err
	}
	var ids []string
	for _, w := range wrongs {
		ids = append(ids, w.Tool)
	}
	rows, err := d.rowsByID(ids)
	if err != nil {
		return err
	}
	seen := map[string]bool{}
	for _, w := range wrongs {
		r, found := rows[w.Tool]
		switch {
		case !found || seen[w.Tool] || r.GoneWhy != "":
		case r.DoNotUse != "":
			v.DoNotUse = append(v.DoNotUse, r)
		default:
			v.NoLabel = append(v.NoLabel, r)
		}
		seen[w.Tool] = true
	}
	return nil
}
