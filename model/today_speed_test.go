package model

import (
	"fmt"
	"testing"
	"time"

	"pawl/model/dates"
	"pawl/model/internal/store"
	"pawl/model/register"
)

// BenchmarkToday opens Today in a small shop and in a large one of the same make, and
// gives the ratio of the two: at full size 1,000,000 tools beside 10,000.
func BenchmarkToday(b *testing.B) {
	by := By{Actor: Actor{Role: "manager", Via: "local"}}
	small := 0.0
	for _, tools := range []int{sized(1_000, 10_000), sized(20_000, 1_000_000)} {
		b.Run(fmt.Sprint(tools), func(b *testing.B) {
			s := shopOf(b, by, tools)
			openToday(b, s, by)
			best := time.Hour
			for b.Loop() {
				from := time.Now()
				openToday(b, s, by)
				best = min(best, time.Since(from))
			}
			if small == 0 {
				small = best.Seconds()
			}
			b.ReportMetric(best.Seconds()*1e3, "ms-fastest")
			b.ReportMetric(best.Seconds()/small, "x-small") // of the fastest: a busy machine slows the others
		})
	}
}

// Today takes as long in a large shop as in a small one: at most 1.5 times, with twice
// that for a machine that is busy. The fastest of many is taken, in turn.
func TestTodayTakesAsLongInALargeShop(t *testing.T) {
	if testing.Short() {
		t.Skip("a ratio of times means nothing here")
	}
	by := By{Actor: Actor{Role: "manager", Via: "local"}}
	shops := []*Shop{shopOf(t, by, 1_000), shopOf(t, by, sized(30_000, 1_000_000))}
	for _, s := range shops {
		if _, err := s.CountPlan(ctx, by, PlanWithin); err != nil { // it is made once, from all tools
			t.Fatal(err)
		}
	}
	best := []time.Duration{time.Hour, time.Hour}
	for range 40 {
		for i, s := range shops {
			from := time.Now()
			openToday(t, s, by)
			best[i] = min(best[i], time.Since(from))
		}
	}
	t.Logf("%v and %v", best[0], best[1])
	if best[1] > 3*best[0] {
		t.Errorf("%v in a shop of 1,000 tools, %v in the large one", best[0], best[1])
	}
}

// openToday reads what the page of today shows.
func openToday(t testing.TB, s *Shop, by By) {
	t.Helper()
	v, err := s.Today(ctx, by)
	if err != nil || len(v.Due) != todayRows {
		t.Fatal(len(v.Due), err)
	}
	if _, _, err := s.Counts(ctx, by, CountQuery{Open: true, Limit: 5}); err != nil {
		t.Fatal(err)
	}
	plan, _, err := s.PlanToday(ctx, by)
	if err != nil || plan.Look < planToday || len(plan.Tools) != planToday {
		t.Fatalf("%+v, %v", plan, err)
	}
}

// shopOf is a shop of so many tools that came within 200 days: of each hundred, two lifts
// never inspected and ten tools whose warranty ends within a year.
func shopOf(b testing.TB, by By, tools int) *Shop {
	b.Helper()
	s, err := Open(ctx, Options{Dir: b.TempDir(), Program: "bench"})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { s.Close() })
	const each = 5_000
	for from := 0; from < tools; from += each {
		_, err := store.Write(ctx, s.db, store.Act{Verb: "bench", Actor: by.Recorded()}, func(tx *store.Tx) (bool, error) {
			rows := make([]register.Tool, min(each, tools-from))
			for i := range rows {
				n := from + i
				t := register.Tool{ID: fmt.Sprintf("T-%08d", n), Kind: "ratchet", Created: tx.Now() - dates.Instant(n%200)*microsPerDay}
				switch {
				case n%50 == 0:
					t.Kind = "two-post lift"
				case n%10 == 1:
					t.WarrantyMonths, t.WarrantyFrom = 12, tx.Now().Day(time.UTC).AddDays(-n%365)
				}
				rows[i] = t
			}
			return true, store.PutNew(tx, rows)
		})
		if err != nil {
			b.Fatal(err)
		}
	}
	return s
}
