package model

import (
	"testing"
	"time"

	"pawl/model/counts"
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
		if err != nil || !found || v.Usual < 1 || len(v.Tools) != 3*v.Usual || v.Late+v.Behind == 0 {
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
