package model

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"pawl/model/dates"
	"pawl/model/due"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/people"
	"pawl/model/settings"
)

// DueQuery asks for what is due, by day. Empty filters take everything.
type DueQuery struct {
	Sort   string
	Person string // who has what is to be back, and who owns what else is due; "shop": what is nobody's own
	Place  string // and what is in it
	Within *int   // days from today; nil: the lead time of each sort
	Limit  int
	Cursor string
	Tasks  bool // of a calendar: to-dos in place of events
}

// DueRow is one thing that is due. Days is how many are left: 0 on its last good
// day, less when it is over.
type DueRow struct {
	ToolRow
	due.Row
	Job  string // of a tool that is to be back
	Days int
}

// DueView is one page of what is due.
type DueView struct {
	Rows  []DueRow
	Next  string
	Today dates.Date
}

// maxWithin is how far ahead may be looked, in days: the longest interval and more.
const maxWithin = 5500

// Due gives what is due, the longest overdue first, with the cursor of the next page.
func (s *Shop) Due(ctx context.Context, by By, q DueQuery) (v DueView, err error) {
	limit, err := pageLimit(q.Limit)
	if err != nil {
		return v, err
	}
	cur, err := parseCursor(under("due", DueQuery{Sort: q.Sort, Person: q.Person, Place: q.Place, Cursor: within(q.Within)}), q.Cursor)
	if err != nil {
		return v, err
	}
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		asked, err := s.dueAsked(d, by, q)
		if err != nil {
			return err
		}
		asked.q.AfterDay, asked.q.AfterID = dates.Date(cur.Key), cur.ID
		rows, err := asked.page(limit + 1)
		if err != nil {
			return err
		}
		if len(rows) > limit {
			rows = rows[:limit]
			last := rows[limit-1]
			v.Next = cursor{List: cur.List, Key: string(last.Day), ID: last.ID}.String()
		}
		v.Today = asked.today
		v.Rows, err = d.dueRows(rows, asked.today)
		return err
	})
	return v, err
}

func within(days *int) string {
	if days == nil {
		return ""
	}
	return fmt.Sprint(*days)
}

// dueAsking is a question about what is due, put to the table sort by sort.
type dueAsking struct {
	*directory
	by       By
	q        store.DueQuery
	sorts    []due.Sort
	through  map[due.Sort]dates.Date
	veils    []string // over the money that the asker may see; nil: all
	today    dates.Date
	rechecks *recheckCache
}

func (s *Shop) dueAsked(d *directory, by By, q DueQuery) (a dueAsking, err error) {
	a = dueAsking{directory: d, by: by, sorts: due.Sorts(), veils: d.veils(by), rechecks: &s.rechecks}
	var bad fault.Problems
	if q.Sort != "" {
		one, err := due.ParseSort(q.Sort)
		bad.Keep("#/sort", err)
		a.sorts = []due.Sort{one}
	}
	if q.Within != nil && (*q.Within < 0 || *q.Within > maxWithin) {
		bad.Add("#/within", "%d days; give 0 to %d", *q.Within, maxWithin)
	}
	switch {
	case q.Person == "":
	case strings.EqualFold(q.Person, "shop"):
		a.q.ShopOnly = true
	default:
		p, err := people.Match(d.people, q.Person)
		if err != nil {
			bad.Add("#/person", "%s", fault.Of(err).Error())
		}
		a.q.Person = p.ID
	}
	if q.Place != "" {
		p, err := d.places.Resolve(q.Place)
		if err != nil {
			bad.Add("#/place", "%s", fault.Of(err).Error())
		}
		a.q.Places = d.places.Under(p.ID)
	}
	if err := bad.Err(); err != nil {
		return a, err
	}
	loc, err := d.settings.Location()
	if err != nil {
		return a, err
	}
	a.today = d.Now().Day(loc)
	a.through = throughs(d.settings.Lead, a.today, q.Within)
	return a, nil
}

// markingLead is how many days before its day a look at a marking is listed: from one
// round to the next.
const markingLead = 30

// throughs gives, for each sort, the last day that is looked at.
func throughs(l settings.Lead, today dates.Date, within *int) map[due.Sort]dates.Date {
	calibration, inspection, back, warranty := l.Days()
	out := map[due.Sort]dates.Date{due.Calibration: today.AddDays(int(calibration)), due.Inspection: today.AddDays(int(inspection)),
		due.Return: today.AddDays(int(back)), due.Warranty: today.AddDays(int(warranty)), due.Recheck: today, due.Claim: today.AddDays(claimLead), due.Marking: today.AddDays(markingLead)}
	if within != nil {
		for s := range out {
			out[s] = today.AddDays(*within)
		}
	}
	return out
}

// veils says over whose money the asker may see; nil is everybody's.
func (d *directory) veils(by By) []string {
	if by.AtComputer() {
		return nil
	}
	out := []string{""}
	if people.May(by.Actor, people.SeeMoney, people.Object{}) {
		out = append(out, store.VeilOf(""))
	}
	for _, p := range d.people {
		if people.May(by.Actor, people.SeeMoney, people.Object{Owner: p.ID, OwnerShares: p.Shares}) {
			out = append(out, store.VeilOf(p.ID))
		}
	}
	return out
}

// page gives the first rows of all sorts, by day. Each sort, and of warranties each
// owner, is read in the order of its own index and no further than asked.
func (a dueAsking) page(limit int) (rows []due.Row, err error) {
	a.q.Limit = limit
	for _, sort := range a.sorts {
		q := a.q
		q.Sort, q.Through = sort, a.through[sort]
		if sort == due.Recheck {
			open, err := a.unsettled(q)
			if err != nil {
				return nil, err
			}
			rows = append(rows, open...)
			continue
		}
		if sort == due.Claim {
			days, err := a.awaited(q.Through)
			if err != nil {
				return nil, err
			}
			rows = append(rows, days...)
			continue
		}
		veils := [][]string{nil}
		if sort == due.Warranty {
			q.From = a.today // one that ended asks for nothing any more
			if a.veils != nil {
				veils = nil
				for _, v := range a.veils {
					veils = append(veils, []string{v})
				}
			}
		}
		for _, q.Veils = range veils {
			some, err := a.Rx.Due(q)
			if err != nil {
				return nil, err
			}
			rows = append(rows, some...)
		}
	}
	slices.SortFunc(rows, func(x, y due.Row) int { return strings.Compare(string(x.Day)+" "+x.ID, string(y.Day)+" "+y.ID) })
	return rows[:min(limit, len(rows))], nil
}

// unsettled gives the work in doubt that nobody has settled, a row for each tool, as
// the table would give it. Few tools are ever found out, so all are looked at.
func (a dueAsking) unsettled(q store.DueQuery) (rows []due.Row, err error) {
	all, err := a.rechecks.unsettled(a.directory)
	if err != nil {
		return nil, err
	}
	loc, err := a.settings.Location()
	if err != nil {
		return nil, err
	}
	for _, one := range all {
		t, found, err := a.Tool(one.ToolID)
		if err != nil || !found {
			return nil, err
		}
		r := due.Row{ID: t.ID + "/recheck", Tool: t.ID, Sort: due.Recheck, What: "recheck", Day: one.Since, Known: one.Since.EndIn(loc),
			Person: t.Owner, Owner: t.Owner, Place: t.Place, Why: fmt.Sprintf("not settled: %d", one.Lines)}
		after := r.Day > q.AfterDay || r.Day == q.AfterDay && r.ID > q.AfterID
		whose := (q.Person == "" || r.Person == q.Person) && (!q.ShopOnly || r.Person == "")
		if after && whose && (q.Places == nil || slices.Contains(q.Places, r.Place)) {
			rows = append(rows, r)
		}
	}
	return rows, nil
}

// dueRows puts rows into names.
func (d *directory) dueRows(rows []due.Row, today dates.Date) ([]DueRow, error) {
	ids := make([]string, len(rows))
	for i, r := range rows {
		ids[i] = r.Tool
	}
	tools, err := d.rowsByID(ids)
	if err != nil {
		return nil, err
	}
	jobs, err := d.jobsOf(rows)
	if err != nil {
		return nil, err
	}
	out := []DueRow{}
	for _, r := range rows {
		one := DueRow{ToolRow: tools[r.Tool], Row: r, Days: dates.DaysBetween(today, r.Day), Job: jobs[r.Tool]}
		one.Row.Person = d.person(r.Person)
		out = append(out, one)
	}
	return out, nil
}

// jobsOf gives the numbers of the jobs to which tools are out that are to be back.
func (d *directory) jobsOf(rows []due.Row) (map[string]string, error) {
	var ids []string
	for _, r := range rows {
		if r.Sort == due.Return {
			ids = append(ids, r.Tool)
		}
	}
	loans, err := d.OpenLoans(ids)
	if err != nil || len(ids) == 0 {
		return nil, err
	}
	out := map[string]string{}
	for _, l := range loans {
		if out[l.Tool], err = d.job(l.Job); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// todayDue gathers what is due soon; what is to be back, what is to be rechecked and the
// round of markings have lists of their own.
func (s *Shop) todayDue(d *directory, by By, v *TodayView) error {
	a, err := s.dueAsked(d, by, DueQuery{})
	if err != nil {
		return err
	}
	a.sorts = slices.DeleteFunc(a.sorts, func(s due.Sort) bool { return s == due.Return || s == due.Recheck || s == due.Marking })
	rows, err := a.page(todayRows)
	if err != nil {
		return err
	}
	v.Due, err = d.dueRows(rows, a.today)
	return err
}

// Calendar days ahead, and the most events in one.
const (
	calendarDays = 400
	calendarMost = 5000
)

// WriteDue writes what is due as an iCalendar: what is overdue, and what falls within
// the days that are asked for, else within 400. It gives no prices, papers or names;
// of a claim its id alone.
func (s *Shop) WriteDue(ctx context.Context, by By, q DueQuery, w io.Writer) error {
	if q.Within == nil {
		days := calendarDays
		q.Within = &days
	}
	var events []due.Event
	var name string
	var origin string
	err := s.db.Read(ctx, func(rx *store.Rx) error {
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		a, err := s.dueAsked(d, by, q)
		if err != nil {
			return err
		}
		rows, err := a.page(calendarMost + 1)
		if err != nil {
			return err
		}
		if len(rows) > calendarMost {
			return fault.New(fault.Refused, "more than %d things are due within %d days", calendarMost, *q.Within).
				WithHint("ask for fewer days, one sort, a person or a place")
		}
		me, _, err := rx.Identity()
		if err != nil {
			return err
		}
		origin = me.ID
		full, err := d.dueRows(rows, a.today)
		if err != nil {
			return err
		}
		name = d.settings.Name
		for _, r := range full {
			events = append(events, d.event(r))
		}
		return nil
	})
	if err != nil {
		return err
	}
	if q.Tasks {
		return due.WriteTasks(w, "Due: "+name, origin, events)
	}
	return due.WriteCalendar(w, "Due: "+name, origin, events)
}

// event puts a row into the words of a calendar.
func (d *directory) event(r DueRow) due.Event {
	e := due.Event{ID: r.Row.ID, Day: r.Day, Known: r.Known, Title: r.What + ": " + r.Kind + " " + r.Number.String()}
	if r.Claim != "" { // it is no tool's
		e.Title = r.What + ": claim " + r.Claim
	}
	lines := []string{strings.TrimSpace(r.Maker + " " + r.Model)}
	if r.ToolRow.Place != "" {
		lines = append(lines, "Belongs in "+r.ToolRow.Place)
	}
	if r.Why != "" {
		lines = append(lines, r.Why)
	}
	if r.Why == "" && r.Sort != due.Return { // else it is not shown good on that day
		lines = append(lines, "Last good day: "+string(r.Day))
	}
	e.Details = strings.TrimSpace(strings.Join(lines, "\n"))
	if d.settings.Address != "" {
		e.Link = d.settings.Address + "/t/" + string(r.Number)
		if r.Claim != "" {
			e.Link = d.settings.Address + "/claims/" + r.Claim
		}
	}
	return e
}
