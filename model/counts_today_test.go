package model

import (
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"pawl/model/counts"
	"pawl/model/custody"
	"pawl/model/internal/store"
	"pawl/model/register"
)

// What is on the page of today is the share of the plan, and it is less by what was
// counted.
func TestPlanToday(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		for range 30 {
			g.tool(t)
		}
		v, found, err := g.PlanToday(ctx, g.boss)
		if err != nil || !found || len(v.Tools) != 0 {
			t.Fatalf("on the day they came: %+v, %v, %v", v, found, err)
		}
		g.clock.advance(PlanWithin * 24 * time.Hour)
		v, found, err = g.PlanToday(ctx, g.techA)
		if err != nil || !found || v.Usual < 1 || v.Look != 3*v.Usual || len(v.Tools) != min(v.Look, planToday) || v.Late+v.Behind == 0 {
			t.Fatalf("never counted: %+v, %v, %v", v, found, err)
		}
		c := g.count(t, StartCount{})
		for _, tool := range v.Tools {
			if _, err := g.ScanCount(ctx, g.techA, c.ID, ScanCount{Scanned: tool.Number.String()}); err != nil {
				t.Fatal(err)
			}
		}
		after, _, err := g.PlanToday(ctx, g.techA)
		if err != nil || after.Late != v.Late-len(v.Tools) {
			t.Errorf("after its share: %+v, %v", after, err)
		}
		for _, tool := range after.Tools {
			for _, seen := range v.Tools {
				if tool.Number == seen.Number {
					t.Errorf("%s was seen today and is asked for again", tool.Number)
				}
			}
		}
		if n := counts.RoundFor(counts.Unpriced, PlanWithin); n != 45 {
			t.Errorf("tools without a price within %d days", n)
		}
	})
}

// What a shop keeps of its plan follows every act that shows a tool, brings or takes one,
// or changes what it is worth; another process, which reads everything, says the same to
// everybody.
func TestThePlanFollowsWhatIsDone(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		var all []string
		for i := range 12 {
			all = append(all, g.tool(t, placed("Bay 1/Cart"), func(in *register.New) { in.Price = ptr(fmt.Sprintf("%d.00", 5+i*40)) }))
		}
		g.tool(t, owned(g.techA))
		same := func(after string) {
			t.Helper()
			fresh := g.open(t)
			for _, by := range []By{g.boss, g.manager, g.techA, g.techB} {
				for _, within := range []int{4, 90} {
					kept, err := g.CountPlan(ctx, by, within)
					if err != nil {
						t.Fatal(err)
					}
					want, err := fresh.CountPlan(ctx, by, within)
					if err != nil || !reflect.DeepEqual(kept, want) {
						t.Errorf("after %s, %s within %d days:\n%+v\nwant %+v, %v", after, by.Name, within, kept, want, err)
					}
				}
			}
		}
		same("registering")
		g.clock.advance(45 * 24 * time.Hour)
		same("half a round")
		g.must(t)(g.Take(ctx, g.techA, all[0], Take{}))
		same("a take")
		g.clock.advance(24 * time.Hour)
		g.must(t)(g.Return(ctx, g.techA, all[0], Return{}))
		same("a return")
		c := g.count(t, StartCount{})
		g.look(t, g.techA, c.ID, "seen", ScanCount{Scanned: all[1]})
		same("a count")
		if _, err := g.ChangeTool(ctx, g.boss, all[2], AnyRevision, register.Change{Price: ptr("4000.00")}); err != nil {
			t.Fatal(err)
		}
		same("a price")
		g.tool(t)
		same("another tool")
		if _, err := g.Gone(ctx, g.boss, all[3], Gone{Why: "sold"}); err != nil {
			t.Fatal(err)
		}
		same("a sale")
		if _, err := g.AddPlace(ctx, g.boss, "Bay 0"); err != nil {
			t.Fatal(err)
		}
		if _, err := g.ChangeTool(ctx, g.boss, all[4], AnyRevision, register.Change{Place: ptr("Bay 0")}); err != nil {
			t.Fatal(err)
		}
		same("a place")
		v, err := g.CountPlan(ctx, g.boss, 90)
		if err != nil || len(v.Tools) == 0 || !slices.ContainsFunc(v.Tools, func(p PlannedTool) bool { return p.Place == "Bay 0" }) && v.Behind == 0 {
			t.Errorf("%+v, %v", v, err)
		}
	})
}

// Whoever looks at today in a large shop while it is worked waits for what was done since
// the last look, and for no more: at most 1.5 times as long as in a small one, with twice
// that for a machine that is busy.
func TestThePlanIsToldAsSoonInALargeShop(t *testing.T) {
	if testing.Short() {
		t.Skip("a ratio of times means nothing here")
	}
	by := By{Actor: Actor{Role: "manager", Via: "local"}}
	shops := []*Shop{shopOf(t, by, 1_000), shopOf(t, by, sized(30_000, 1_000_000))}
	best := []time.Duration{time.Hour, time.Hour}
	for round := range 40 {
		for i, s := range shops {
			_, err := store.Write(ctx, s.db, store.Act{Verb: "take", Actor: by.Recorded()}, func(tx *store.Tx) (bool, error) {
				return true, store.Put(tx, &custody.Loan{ID: fmt.Sprintf("O-%d", round), Tool: fmt.Sprintf("T-%08d", 7*round), Person: "U-1", State: custody.Out, Since: tx.Now()})
			})
			if err != nil {
				t.Fatal(err)
			}
			if round == 0 {
				if _, err := s.CountPlan(ctx, by, PlanWithin); err != nil {
					t.Fatal(err)
				}
			}
			from := time.Now()
			v, found, err := s.PlanToday(ctx, by)
			if err != nil || !found || len(v.Tools) != planToday {
				t.Fatalf("%+v, %v, %v", v, found, err)
			}
			if round > 0 {
				best[i] = min(best[i], time.Since(from))
			}
		}
	}
	t.Logf("%v and %v", best[0], best[1])
	if best[1] > 3*best[0] {
		t.Errorf("%v in a shop of 1,000 tools, %v in the large one", best[0], best[1])
	}
}
