package model

import (
	"database/sql"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"pawl/model/counts"
	"pawl/model/register"
)

// grows are the tables that grow with tools and with use.
var grows = []string{"tools", "numbers", "labels", "markings", "loans", "wrongs", "calibrations", "uses", "rechecks", "plans", "inspections", "evidence", "lines", "line_tools", "words", "serial_keys", "due", "sightings", "differences", "frames", "outcomes"}

// No statement behind Today and what is due reads a table through that grows with tools
// or with use: each goes in by an index, whatever the size of the shop.
func TestTodayReadsNoTableThrough(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		lift := g.tool(t, kind("two-post lift"))
		g.tool(t, owned(g.techA), func(in *register.New) {
			in.WarrantyFrom, in.WarrantyMonths, in.Place = ptr("2026-10-01"), ptr(int64(2)), ptr("Cart")
		})
		g.goodWrench(t, "TW-1")
		out := g.tool(t)
		if _, err := g.Take(ctx, g.techA, out, Take{Due: "2026-11-02"}); err != nil {
			t.Fatal(err)
		}
		for _, what := range []string{"dropped", "label gone"} {
			if _, err := g.Wrong(ctx, g.techA, lift, Wrong{What: what}); err != nil {
				t.Fatal(err)
			}
		}
		g.clock.advance(PlanWithin * 24 * time.Hour)
		if _, err := g.CountPlan(ctx, g.boss, PlanWithin); err != nil { // the plan is made once, from all tools
			t.Fatal(err)
		}
		g.must(t)(g.Return(ctx, g.techA, out, Return{})) // the plan catches up with it
		if _, err := g.Today(ctx, g.boss); err != nil {  // what is in doubt is worked out once, from everything compared
			t.Fatal(err)
		}
		done := g.watching(t)
		for _, by := range []By{g.boss, g.manager, g.techA} {
			if v, err := g.Today(ctx, by); err != nil || len(v.Due) == 0 {
				t.Fatal(len(v.Due), err)
			}
			if v, found, err := g.PlanToday(ctx, by); err != nil || !found || len(v.Tools) == 0 {
				t.Fatal(v, found, err)
			}
			for _, q := range []DueQuery{{}, {Within: ptr(400)}, {Sort: "warranty"}, {Person: "Tech A"}, {Person: "shop"}, {Place: "Bay 1"}, {Limit: 1}} {
				v, err := g.Due(ctx, by, q)
				if err != nil {
					t.Fatal(err)
				}
				if q.Cursor = v.Next; v.Next != "" {
					if _, err := g.Due(ctx, by, q); err != nil {
						t.Fatal(err)
					}
				}
			}
		}
		done(50)
	})
}

// No statement behind a count that goes on reads a table through that grows with tools or
// with use: not its start over a place, not a look, a poll, a list, a settlement, a
// closing or a report, and not the list of counts or of what they left missing.
func TestCountsReadNoTableThrough(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		all := g.stock(t, 12)
		g.tool(t, placed("Bay 1/Cart"), func(n *register.New) { n.Serial, n.SerialAgain = ptr("KD408-B217"), "KD408-B217" })
		g.must(t)(g.Take(ctx, g.techA, all[9], Take{}))
		g.clock.advance(time.Minute)
		if _, err := g.CountPlan(ctx, g.boss, PlanWithin); err != nil { // it is made once, from all tools
			t.Fatal(err)
		}
		fatal := func(err error) {
			t.Helper()
			if err != nil {
				t.Fatal(err)
			}
		}
		done := g.watching(t)
		c := g.count(t, StartCount{Scope: "place:Bay 1"})
		person := g.count(t, StartCount{Scope: "person:Tech A"})
		sample := g.count(t, StartCount{Scope: "place:Bay 1", How: counts.BySample, MissingAtLeast: 3})
		g.count(t, StartCount{Scope: "place:Bay 1", How: counts.ByStrata})
		g.look(t, g.techA, c.ID, "seen", ScanCount{Scanned: all[0], At: "Bay 1/Cart"})
		when := g.clock.Now().Format(time.RFC3339)
		g.look(t, g.techB, c.ID, "seen", ScanCount{Scanned: all[1], Happened: when})
		g.look(t, g.techB, c.ID, SeenAlready, ScanCount{Scanned: all[1]})
		g.look(t, g.techA, c.ID, "seen", ScanCount{Scanned: "serial:KD408-B217"})
		_, err := g.ConfirmCount(ctx, g.techA, c.ID, ConfirmCount{Number: all[9]})
		fatal(err)
		v, _, err := g.CountUnless(ctx, g.boss, c.ID)
		fatal(err)
		_, same, err := g.CountUnless(ctx, g.boss, c.ID, v.Tag)
		if fatal(err); !same {
			t.Fatal("nothing changed")
		}
		for _, which := range []string{ListAll, ListDifferences, ListExtra, ListToLookFor, "seen"} {
			_, _, err := g.CountTools(ctx, g.boss, c.ID, CountToolsQuery{Which: which, Limit: 5})
			fatal(err)
		}
		_, err = g.SettleDifference(ctx, g.boss, c.ID, SettleDifference{Number: all[2], How: "missing"})
		fatal(err)
		_, err = g.PauseCount(ctx, g.boss, c.ID)
		fatal(err)
		_, err = g.ResumeCount(ctx, g.boss, c.ID)
		fatal(err)
		for _, id := range []string{c.ID, person.ID, sample.ID} {
			_, err = g.CloseCount(ctx, g.boss, id)
			fatal(err)
		}
		_, err = g.CountReport(ctx, g.boss, c.ID)
		fatal(err)
		for _, q := range []CountQuery{{}, {Open: true}, {Limit: 1}} {
			_, q.Cursor, err = g.Counts(ctx, g.boss, q)
			if fatal(err); q.Cursor != "" {
				_, _, err = g.Counts(ctx, g.boss, q)
				fatal(err)
			}
		}
		_, err = g.CountPlan(ctx, g.boss, PlanWithin)
		fatal(err)
		_, _, err = g.MissingTools(ctx, g.boss, 1, "")
		fatal(err)
		done(60)
	})
}

// watching keeps every statement that is asked from now on. What it gives holds that so
// many were, and that each goes by an index in what grows.
func (g *garage) watching(t *testing.T) (done func(least int)) {
	t.Helper()
	type asked struct {
		query string
		args  []any
	}
	var all []asked
	var mu sync.Mutex
	g.db.Watch(func(query string, args []any) {
		mu.Lock()
		defer mu.Unlock()
		all = append(all, asked{query, slices.Clone(args)})
	})
	return func(least int) {
		t.Helper()
		g.db.Watch(nil)
		if len(all) < least {
			t.Fatalf("only %d statements were seen", len(all))
		}
		seen := map[string]bool{}
		db := g.planning(t)
		for _, a := range all {
			for _, line := range plan(t, db, g.engine, a.query, a.args) {
				if table := readThrough(line); slices.Contains(grows, table) && !seen[a.query] {
					seen[a.query] = true
					t.Errorf("%s\n\treads %s through: %s", a.query, table, line)
				}
			}
		}
	}
}

// planning is a connection on which the engine goes by an index wherever there is one:
// in a small shop PostgreSQL would read through what takes one page.
func (g *garage) planning(t *testing.T) *sql.Conn {
	t.Helper()
	c, err := g.raw(t).Conn(ctx)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	if g.engine == "postgres" {
		if _, err := c.ExecContext(ctx, "SET enable_seqscan = off"); err != nil {
			t.Fatal(err)
		}
	}
	return c
}

func plan(t *testing.T, c *sql.Conn, engine, query string, args []any) (out []string) {
	t.Helper()
	explain := "EXPLAIN QUERY PLAN "
	if engine == "postgres" {
		explain = "EXPLAIN "
	}
	rows, err := c.QueryContext(ctx, explain+query, args...)
	if err != nil {
		t.Fatalf("%s: %v", query, err)
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		t.Fatal(err)
	}
	for rows.Next() {
		cells := make([]any, len(columns))
		for i := range cells {
			cells[i] = new(any)
		}
		if err := rows.Scan(cells...); err != nil {
			t.Fatal(err)
		}
		out = append(out, fmt.Sprint(*cells[len(cells)-1].(*any)))
	}
	return out
}

var scans = regexp.MustCompile(`^\s*(?:->\s+)?(?:SCAN (\w+)(.*)|(?:Parallel )?Seq Scan on (\w+))`)

// fromItsEnd are indexes that are read from one end, no further than as many as are
// shown: those that have only what is open or waits, and the newest line of the ledger.
var fromItsEnd = regexp.MustCompile(`USING (COVERING )?INDEX (wrongs_newest|wrongs_open|loans_due|tools_unfinished|evidence_unsorted|lines_at)\b`)

// readThrough names the table that one line of a plan reads from end to end; "" is none.
func readThrough(line string) string {
	m := scans.FindStringSubmatch(line)
	switch {
	case m == nil, fromItsEnd.MatchString(line):
		return ""
	case m[1] != "":
		return strings.ToLower(m[1])
	}
	return m[3]
}

// A plan that reads through is told from one that does not.
func TestReadThrough(t *testing.T) {
	for line, want := range map[string]string{
		"SCAN tools": "tools", "SCAN tools USING INDEX tools_kind": "tools", "SEARCH tools USING INDEX tools_place (place=?)": "",
		"SCAN wrongs USING INDEX wrongs_newest": "", "Seq Scan on loans  (cost=1.00..2.00 rows=1 width=8)": "loans",
		"  ->  Seq Scan on lines  (cost=1.00..2.00 rows=1 width=8)": "lines", "Index Scan using due_day on due  (cost=0.1..8.1 rows=1 width=320)": "",
	} {
		if got := readThrough(line); got != want {
			t.Errorf("%q reads %q through, want %q", line, got, want)
		}
	}
}
