package model

import (
	"context"
	"encoding/json"
	"math"
	"strconv"

	"pawl/model/counts"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/numbers"
	"pawl/model/people"
)

// StartCount is what a count is started with, as typed.
type StartCount struct {
	Scope          string // as counts.ParseScope reads it; empty: everything
	How            counts.How
	MissingAtLeast int64    // of a sample: what it is to find; 0: a tenth of what is listed
	Confidence     *float64 // nil: 0.90 of a sample, else 0.95
	Seed           *int64   // chosen, and said to be; nil: drawn
	Tolerable      string   // amount, of a count by money
	Strata         []string // of a count by strata: somebody's own, as counts.ParseStrata reads them
}

// CountView is a count in names.
type CountView struct {
	counts.Count
	StartedBy string          `json:"started_by_name"` // the ids of these stand in the row
	PausedBy  string          `json:"paused_by_name"`
	ClosedBy  string          `json:"closed_by_name"`
	Draw      *counts.DrawRow // nil: all are looked for
	Numbers   counts.Numbers
	Counted   []string // who looked, by name
	Last      *LastLook
	Statement *counts.Statement // once it is closed
	Unsettled []CountRow        // of a count that was just closed: at most MostUnsettled
	Advice    []string
	Tag       string `json:"-"` // of this answer: another has another; see CountUnless
}

// LastLook is the last time that somebody saw a tool in a count.
type LastLook struct {
	At    dates.Instant
	By    string
	Place string // path; empty = nobody said
}

// MostUnsettled is how many differences the answer to a closing tells of; the list and
// the report have all.
const MostUnsettled = 200

// Confidence of a statement where nobody asked for another: of a sample as United
// States defense property practice has it (DoD 4161.2-M, second hand), else 0.95.
const (
	sampleConfidence = 0.90
	countConfidence  = 0.95
)

// countByID finds a count.
func countByID(rx *store.Rx, id string) (counts.Count, error) {
	id, err := parseCountID(id)
	if err != nil {
		return counts.Count{}, err
	}
	c, found, err := rx.Count(id)
	if err == nil && !found {
		err = noCount(id)
	}
	return c, err
}

func noCount(id string) error {
	return fault.New(fault.NotFound, "there is no count %.40q", id).WithHint("see them all: pawl count list")
}

// parseCountID reads the id of a count; what cannot be one is NotFound too.
func parseCountID(text string) (string, error) {
	id, err := numbers.ParseID('N', text)
	if err != nil {
		return "", noCount(text)
	}
	return id, nil
}

// CountQuery picks counts, newest first.
type CountQuery struct {
	Open   bool // only those that are not closed
	Limit  int  // 0: 50; at most 200
	Cursor string
}

// Counts gives counts without what was seen in them, newest first, with the cursor of
// the next page.
func (s *Shop) Counts(ctx context.Context, by By, q CountQuery) (out []CountView, next string, err error) {
	limit, err := pageLimit(q.Limit)
	if err != nil {
		return nil, "", err
	}
	at, c, err := parseCountsCursor(q)
	if err != nil {
		return nil, "", err
	}
	err = s.read(ctx, func(d *directory) error {
		rows, err := d.CountsBefore(at, c.ID, q.Open, limit+1)
		if len(rows) > limit {
			rows = rows[:limit]
			last := rows[limit-1]
			next = cursor{List: c.List, Key: strconv.FormatInt(int64(last.Started), 10), ID: last.ID}.String()
		}
		for _, row := range rows {
			out = append(out, d.namedCount(by, row))
		}
		return err
	})
	return out, next, err
}

func parseCountsCursor(q CountQuery) (at int64, c cursor, err error) {
	filters := q
	filters.Limit, filters.Cursor = 0, ""
	if c, err = parseCursor(under("counts", filters), q.Cursor); err != nil || c.Key == "" {
		return math.MaxInt64, c, err
	}
	if at, err = strconv.ParseInt(c.Key, 10, 64); err != nil {
		return 0, c, badCursor()
	}
	return at, c, nil
}

// namedCount leaves out the amount of a count by money where the asker may not know what
// the shop's tools cost.
func (d *directory) namedCount(by By, c counts.Count) CountView {
	if !seesCountMoney(by) {
		c.Tolerable, c.Currency, c.Strata = nil, "", ""
	}
	name := func(id string, at dates.Instant) string {
		if at == 0 {
			return ""
		}
		return d.owner(id)
	}
	return CountView{Count: c, StartedBy: name(c.StartedBy, c.Started), PausedBy: name(c.PausedBy, c.Paused), ClosedBy: name(c.ClosedBy, c.Closed)}
}

// seesCountMoney says whether somebody may know the amounts of a count: they are of the
// prices of the shop's tools.
func seesCountMoney(by By) bool {
	return people.May(by.Actor, people.SeeMoney, people.Object{})
}

// PauseCount stops the scanning for a while, which may be days.
func (s *Shop) PauseCount(ctx context.Context, by By, id string) (CountView, error) {
	return s.countAct(ctx, by, "count pause", id, people.CountTool, func(tx *store.Tx, d *directory, c *counts.Count) ([]string, error) {
		if err := c.MustBeOpen(d.owner); err != nil {
			return nil, err
		}
		c.Paused, c.PausedBy = tx.Now(), by.Person
		return nil, nil
	})
}

// ResumeCount goes on with a count that was paused. After a long break it asks to look
// again at the place where the last tool was seen.
func (s *Shop) ResumeCount(ctx context.Context, by By, id string) (CountView, error) {
	return s.countAct(ctx, by, "count resume", id, people.CountTool, func(tx *store.Tx, d *directory, c *counts.Count) ([]string, error) {
		if err := c.MustNotBeClosed(d.owner); err != nil {
			return nil, err
		}
		if c.Stage() == counts.Open {
			return nil, fault.New(fault.Conflict, "count %s is not paused: it was started, and goes on", c.ID).
				WithFact("by", d.owner(c.StartedBy)).WithFact("since", c.Started.String()).WithHint("go on scanning")
		}
		c.Paused, c.PausedBy = 0, ""
		return nil, nil
	})
}

// countAct changes a count as one act, and gives it as it is then.
func (s *Shop) countAct(ctx context.Context, by By, verb, id string, right people.Right, fn func(*store.Tx, *directory, *counts.Count) ([]string, error)) (CountView, error) {
	if allowed(by, right, people.Object{}) == nil {
		s.readCount(ctx, id)
	}
	return act(ctx, s, by, verb, id, func(tx *store.Tx) (v CountView, err error) {
		if err := allowed(by, right, people.Object{}); err != nil {
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
		advice, err := fn(tx, d, &c)
		if err != nil {
			return v, err
		}
		if err := store.Put(tx, &c); err != nil {
			return v, err
		}
		st, err := s.standNow(tx, c)
		if err != nil {
			return v, err
		}
		return d.viewOf(by, st, advice...)
	})
}

// countForChange finds a count and holds it: whatever else is done in it waits.
func countForChange(tx *store.Tx, id string) (counts.Count, error) {
	id, err := parseCountID(id)
	if err != nil {
		return counts.Count{}, err
	}
	c, found, err := store.Change[counts.Count](tx, id)
	if err == nil && !found {
		err = noCount(id)
	}
	return c, err
}

// endedOf reads how a count ended.
func endedOf(rows []counts.OutcomeRow) (map[string]counts.Ended, error) {
	out := map[string]counts.Ended{}
	for _, row := range rows {
		var part []counts.Ended
		if err := json.Unmarshal([]byte(row.Ended), &part); err != nil {
			return nil, fault.New(fault.Internal, "the outcome of count %s cannot be read", row.Count).WithHint("run pawl verify").WithCause(err)
		}
		for _, e := range part {
			out[e.Tool] = e
		}
	}
	return out, nil
}
