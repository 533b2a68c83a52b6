package model

import (
	"context"
	"slices"
	"strconv"
	"time"

	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/people"
)

// OutQuery picks a list of tools that somebody should look after, see custody.Lists;
// empty members do not narrow.
type OutQuery struct {
	Which         string // one of the lists, or several with commas between: what is on all of them
	Place, Person string // the tool belongs in it or below; who has the tool
	Owner         string // whose the tool is
	Limit         int    // 0: 50; at most 200
	Cursor        string
}

// OutRow is a tool in such a list.
type OutRow struct {
	ToolRow
	Since dates.Instant // since when it is out, or out of use
	Due   dates.Instant // when it was to be back; 0 = nobody said
	Days  int64         // whole days since then: since it was due where it is overdue
	Job   string
	Note  string // what was said of it where it is out of use
}

// OutList gives the tools of one list, the longest first, with the cursor of the next
// page.
func (s *Shop) OutList(ctx context.Context, by By, q OutQuery) (rows []OutRow, next string, err error) {
	limit, err := pageLimit(q.Limit)
	if err != nil {
		return nil, "", err
	}
	asked := q
	asked.Limit, asked.Cursor = 0, ""
	c, err := parseCursor(under("custody", asked), q.Cursor)
	if err != nil {
		return nil, "", err
	}
	err = s.read(ctx, func(d *directory) error {
		which, err := custody.ParseLists(q.Which)
		if err != nil {
			return fault.At("#/which", "%s", fault.Of(err).Error())
		}
		sq, err := d.outQuery(dates.InstantOf(s.clock()), which...)
		if err != nil {
			return err
		}
		if err := d.narrowOut(&sq, q, c); err != nil {
			return err
		}
		sq.Limit = limit + 1
		var last outKey
		rows, last, err = d.outRows(sq, limit)
		if last.id != "" {
			next = cursor{List: c.List, Key: strconv.FormatInt(int64(last.at), 10), ID: last.id}.String()
		}
		return err
	})
	return rows, next, err
}

// outQuery asks for a list as it is at a moment.
// Of several lists it is what is on all of them, in the order of the first.
func (d *directory) outQuery(now dates.Instant, which ...custody.Which) (q store.OutQuery, err error) {
	q = store.OutQuery{Which: which[0], Also: which[1:], Due: now, Since: now - dates.Instant(d.settings.LongOut()*24*time.Hour.Microseconds())}
	if slices.Contains(which, custody.LeftWith) {
		for _, p := range d.people {
			if p.Left != 0 {
				q.Left = append(q.Left, p.ID)
			}
		}
	}
	return q, nil
}

// narrowOut puts the place, the person and where to go on into a query.
func (d *directory) narrowOut(sq *store.OutQuery, q OutQuery, c cursor) error {
	var bad fault.Problems
	if q.Place != "" {
		p, err := d.placeCalled(q.Place)
		if err != nil {
			bad.Add("#/place", "%s", fault.Of(err).Error())
		}
		sq.Places = d.places.Under(p.ID)
	}
	if q.Person != "" {
		p, err := d.holderNamed(slices.Contains(append(sq.Also, sq.Which), custody.LeftWith), q.Person)
		if err != nil {
			bad.Add("#/person", "%s", fault.Of(err).Error())
		}
		sq.Person = p.ID
	}
	if q.Owner != "" {
		owner, err := d.toolQuery(FindQuery{Owner: q.Owner})
		if err != nil {
			bad.Add("#/owner", "%s", fault.Of(err).Error())
		}
		sq.Owner, sq.From = owner.Owner, owner.From
	}
	if c.Key != "" {
		at, err := strconv.ParseInt(c.Key, 10, 64)
		if err != nil || c.ID == "" {
			return badCursor()
		}
		sq.AfterAt, sq.AfterID = dates.Instant(at), c.ID
	}
	return bad.Err()
}

// holderNamed finds who has tools by name: of what is out to people who left, one of
// those.
func (d *directory) holderNamed(left bool, name string) (people.Person, error) {
	if !left {
		return people.Match(d.people, name)
	}
	gone := []people.Person{}
	for _, p := range d.people {
		if p.Left != 0 {
			p.Left = 0 // Match looks among those who are here
			gone = append(gone, p)
		}
	}
	p, err := people.Match(gone, name)
	if err != nil {
		err = fault.New(fault.NotFound, "nobody called %q left", name).WithHint("leave the person out to see them all")
	}
	return p, err
}

// outKey is where a row stands in its list.
type outKey struct {
	at dates.Instant
	id string
}

// outRows gives rows of a list, and the key of the last where there are more.
func (d *directory) outRows(q store.OutQuery, limit int) (out []OutRow, last outKey, err error) {
	var rows []OutRow
	var tools []string
	var keys []outKey
	if q.Which == custody.Unfit {
		wrongs, err := d.UnfitNow(q)
		if err != nil {
			return nil, last, err
		}
		for _, w := range wrongs {
			rows, tools, keys = append(rows, OutRow{Since: w.At, Note: w.Note}), append(tools, w.Tool), append(keys, outKey{w.At, w.ID})
		}
	} else {
		loans, err := d.OutLoans(q)
		if err != nil {
			return nil, last, err
		}
		for _, l := range loans {
			key := outKey{l.Since, l.ID}
			if q.Which == custody.Overdue {
				key.at = l.Due
			}
			rows, tools, keys = append(rows, OutRow{Since: l.Since, Due: l.Due}), append(tools, l.Tool), append(keys, key)
		}
	}
	if len(rows) > limit {
		rows, tools, last = rows[:limit], tools[:limit], keys[limit-1]
	}
	for i := range rows {
		rows[i].Days = int64(d.Now().Time().Sub(keys[i].at.Time()) / (24 * time.Hour))
	}
	return rows, last, d.fillOut(rows, tools)
}

// fillOut names the tools of rows, and the job that each is out on.
func (d *directory) fillOut(rows []OutRow, tools []string) error {
	named, err := d.rowsByID(tools)
	if err != nil {
		return err
	}
	loans, err := d.OpenLoans(tools)
	if err != nil {
		return err
	}
	open := map[string]custody.Loan{}
	for _, l := range loans {
		open[l.Tool] = l
	}
	for i, id := range tools {
		rows[i].ToolRow = named[id]
		rows[i].Due = open[id].Due
		if rows[i].Job, err = d.job(open[id].Job); err != nil {
			return err
		}
	}
	return nil
}

// mostCounted is as far as the tools of a list are counted on Today.
const mostCounted = 1000

// OutCount is how many tools a list has; More says that there are more than N.
type OutCount struct {
	Which custody.Which
	N     int64
	More  bool
}

// outCounts counts every list, as it is now.
func (d *directory) outCounts(now dates.Instant) (out []OutCount, err error) {
	for _, which := range custody.Lists() {
		q, err := d.outQuery(now, which)
		if err != nil {
			return nil, err
		}
		q.Limit = mostCounted
		n, err := d.CountOut(q)
		if err != nil {
			return nil, err
		}
		if n > 0 {
			out = append(out, OutCount{Which: which, N: min(n, mostCounted-1), More: n == mostCounted})
		}
	}
	return out, nil
}
