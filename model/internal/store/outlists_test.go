package store

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"gorm.io/gorm"

	"pawl/model/custody"
)

// No list of what to look after reads a whole table: SQLite plans each by an index, also
// narrowed, on a later page, and where it is only counted
// (sqlite.org/eqp.html: a SCAN without an index reads every row).
func TestListsGoByIndexes(t *testing.T) {
	at := newSite(t, "sqlite")
	d := at.open(t)
	for _, which := range custody.Lists() {
		for name, narrow := range map[string]func(*OutQuery){
			"all": func(*OutQuery) {}, "a place": func(q *OutQuery) { q.Places = []string{"G-1", "G-2"} }, "a person": func(q *OutQuery) { q.Person = "H-1" },
			"a later page": func(q *OutQuery) { q.AfterAt, q.AfterID = 5, "O-1" },
			"an owner":     func(q *OutQuery) { q.Owner = new("H-1") }, "an owner outside": func(q *OutQuery) { q.From = "A neighbor" },
			"and of those after it": func(q *OutQuery) {
				q.Also = custody.Lists()[slices.Index(custody.Lists(), which)+1:]
			},
			"a later page of a person in a place": func(q *OutQuery) {
				q.Places, q.Person, q.AfterAt, q.AfterID = []string{"G-1"}, "H-1", 5, "O-1"
			},
		} {
			t.Run(strings.ReplaceAll(fmt.Sprint(which, " of ", name), " ", "-"), func(t *testing.T) {
				q := OutQuery{Which: which, Due: 7, Since: 7, Left: []string{"H-1", "H-2"}, Limit: 51}
				narrow(&q)
				plan := planOf(t, d, q)
				if plan == "" || strings.Contains(plan, "SCAN tools") || strings.Contains(plan, "SCAN t\n") {
					t.Errorf("it reads every tool:\n%s", plan)
				}
				for _, line := range strings.Split(plan, "\n") {
					if strings.HasPrefix(line, "SCAN") && !strings.Contains(line, "INDEX wrongs_newest") {
						t.Errorf("it reads every row: %s", line)
					}
				}
			})
		}
	}
}

// The check can fail: a list by what no index holds is a scan.
func TestThePlanOfAScan(t *testing.T) {
	d := newSite(t, "sqlite").open(t)
	if plan := explained(t, d, "SELECT id FROM loans WHERE condition = 'x'"); !strings.HasPrefix(plan, "SCAN loans") {
		t.Errorf("%q", plan)
	}
}

// planOf gives how SQLite would go about a list.
func planOf(t *testing.T, d *DB, q OutQuery) (plan string) {
	t.Helper()
	err := d.Read(ctx, func(rx *Rx) error {
		p := q.parts()
		dry := rx.g.Session(&gorm.Session{DryRun: true}).Where(p.where, p.args...).Order(p.order).Limit(q.Limit)
		if q.Which == custody.Unfit {
			dry = dry.Find(&[]custody.Wrong{})
		} else {
			dry = dry.Find(&[]custody.Loan{})
		}
		plan = explain(t, rx, dry.Statement.SQL.String(), dry.Statement.Vars...)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return plan
}

func explained(t *testing.T, d *DB, query string) (plan string) {
	t.Helper()
	if err := d.Read(ctx, func(rx *Rx) error { plan = explain(t, rx, query); return nil }); err != nil {
		t.Fatal(err)
	}
	return plan
}

func explain(t *testing.T, rx *Rx, query string, args ...any) string {
	t.Helper()
	var lines []string
	err := rx.query(func(scan func(...any) error) error {
		var id, parent, unused int
		var detail string
		err := scan(&id, &parent, &unused, &detail)
		lines = append(lines, detail)
		return err
	}, "EXPLAIN QUERY PLAN "+query, args...)
	if err != nil {
		t.Fatal(err, query)
	}
	return strings.Join(lines, "\n") + "\n"
}

// What was seen in a place is looked up by it.
func TestSeenInGoesByIndexes(t *testing.T) {
	d := newSite(t, "sqlite").open(t)
	err := d.Read(ctx, func(rx *Rx) error {
		plan := explain(t, rx, seenIn+" AND coalesce(t.place, '') NOT IN (?, ?) ORDER BY e.seen DESC, e.tool LIMIT ?", "G-1", "G-1", "G-1", "G-2", 100)
		for _, line := range strings.Split(plan, "\n") {
			if strings.HasPrefix(strings.TrimSpace(line), "SCAN") && line != "SCAN e" { // e is what the indexes gave
				t.Errorf("it reads every row: %s", line)
			}
		}
		if !strings.Contains(plan, "sightings_place") || !strings.Contains(plan, "differences_place") {
			t.Errorf("it goes about it so:\n%s", plan)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
