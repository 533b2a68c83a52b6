package model

import (
	"slices"
	"strings"
	"testing"

	"pawl/model/fault"
)

// A fact that was entered by mistake is taken back with why: it stays among the facts, a
// packet from before names it as changed, and one that is built later does not tell it.
func TestAFactIsWithdrawn(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		own := func() string {
			t.Helper()
			c, err := g.OpenClaim(ctx, g.manager, NewClaim{Kind: "ownership", Number: g.tool(t)})
			if err != nil {
				t.Fatal(err)
			}
			return c.ID
		}
		claim, other := own(), own()
		if _, err := g.AddFact(ctx, g.manager, claim, NewFact{On: "2026-10-29", What: "reported"}); err != nil {
			t.Fatal(err)
		}
		c, err := g.AddFact(ctx, g.manager, claim, NewFact{On: "2026-10-30", What: "second payment", Amount: "12.00"})
		if err != nil {
			t.Fatal(err)
		}
		wrong := c.Facts[1].ID
		before := g.packetOf(t, g.manager, NewPacket{Claim: claim})
		if len(before.Statement.Facts) != 2 {
			t.Fatalf("%+v", before.Statement.Facts)
		}
		_, err = g.WithdrawFact(ctx, g.manager, claim, wrong, " ")
		wantPointers(t, err, "#/why")
		for _, id := range []string{"F-00000000", "nothing", c.Claim.ID} {
			_, err = g.WithdrawFact(ctx, g.manager, claim, id, "typed twice")
			wantFault(t, err, fault.NotFound, "has no fact")
		}
		_, err = g.WithdrawFact(ctx, g.techB, claim, wrong, "typed twice")
		wantFault(t, err, fault.NotFound, "there is no claim")
		_, err = g.WithdrawFact(ctx, g.manager, other, wrong, "typed twice")
		wantFault(t, err, fault.NotFound, "has no fact")

		c, err = g.WithdrawFact(ctx, g.manager, claim, strings.ToLower(wrong), "it was another claim's")
		if err != nil || len(c.Facts) != 2 || c.Facts[0].Withdrawn != 0 || c.Facts[1].Withdrawn == 0 || c.Facts[1].Why != "it was another claim's" {
			t.Fatalf("%+v, %v", c.Facts, err)
		}
		_, err = g.WithdrawFact(ctx, g.manager, claim, wrong, "again")
		wantFault(t, err, fault.Conflict, "was withdrawn already: it was another claim's")

		again, err := g.Packet(ctx, g.manager, before.ID, true)
		if want := []string{`what happened on 2026-10-30, "second payment", was withdrawn`}; err != nil || !slices.Equal(again.Changed, want) {
			t.Errorf("changed since: %q, %v", again.Changed, err)
		}
		if after := g.packetOf(t, g.manager, NewPacket{Claim: claim}); len(after.Statement.Facts) != 1 || after.Statement.Facts[0].What != "reported" {
			t.Errorf("%+v", after.Statement.Facts)
		}
	})
}
