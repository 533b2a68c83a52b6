package model

import (
	"testing"
	"time"
)

// What must not be used stays on today under any number of labels that are gone, also of
// tools that are gone themselves, and so does what one person is late with under what
// others are.
func TestTodayLeavesNothingOut(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		unfit := g.tool(t)
		g.must(t)(g.Wrong(ctx, g.techA, unfit, Wrong{What: "dropped"}))
		gone := g.tool(t)
		g.must(t)(g.Wrong(ctx, g.techA, gone, Wrong{What: "dropped"}))
		if _, err := g.Gone(ctx, g.manager, gone, Gone{Why: "lost"}); err != nil {
			t.Fatal(err)
		}
		due := g.clock.Now().Add(time.Hour).Format(time.RFC3339)
		for range 101 {
			number := g.tool(t)
			g.must(t)(g.Wrong(ctx, g.techA, number, Wrong{What: "label gone"}))
			g.must(t)(g.Take(ctx, g.techB, number, Take{Due: due}))
		}
		late := g.tool(t)
		g.must(t)(g.Take(ctx, g.techA, late, Take{Due: g.clock.Now().Add(2 * time.Hour).Format(time.RFC3339)}))
		g.clock.advance(3 * time.Hour)
		for by, want := range map[*By]int{&g.techA: 1, &g.techB: todayRows, &g.manager: todayRows} {
			v, err := g.Today(ctx, *by)
			if err != nil {
				t.Fatal(err)
			}
			if len(v.DoNotUse) != 1 || v.DoNotUse[0].Number.String() != unfit || len(v.NoLabel) != todayRows {
				t.Errorf("%s: must not be used: %v, without a label %d", by.Name, v.DoNotUse, len(v.NoLabel))
			}
			if len(v.Overdue) != want || want == 1 && v.Overdue[0].Number.String() != late {
				t.Errorf("%s: %d late, want %d", by.Name, len(v.Overdue), want)
			}
		}
	})
}
