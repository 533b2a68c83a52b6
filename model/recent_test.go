package model

import (
	"slices"
	"testing"
)

// The last lines are those at the end of the history, the other way round, and
// hide as much.
func TestRecentIsTheEndOfHistory(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t)
		if _, err := g.Take(ctx, g.techA, n, Take{Job: "1042"}); err != nil {
			t.Fatal(err)
		}
		if _, err := g.Return(ctx, g.techA, n, Return{}); err != nil {
			t.Fatal(err)
		}
		for _, by := range []By{g.boss, g.techB} {
			all, _, err := g.History(ctx, by, n, 0, "")
			if err != nil {
				t.Fatal(err)
			}
			got, err := g.Recent(ctx, by, n, 3)
			if err != nil || len(got) != 3 || len(all) < 4 {
				t.Fatal(len(got), len(all), err)
			}
			slices.Reverse(got)
			for i, want := range all[len(all)-3:] {
				if got[i].Seq != want.Seq || len(got[i].After) != len(want.After) || got[i].ActorName != want.ActorName {
					t.Errorf("line %d is %+v, want %+v", i, got[i], want)
				}
			}
		}
		if _, err := g.Recent(ctx, g.boss, "00E-KM5", 3); err == nil {
			t.Error("a number that no tool has is answered")
		}
		if _, err := g.Recent(ctx, g.boss, n, 201); err == nil {
			t.Error("more than a page is given")
		}
	})
}
