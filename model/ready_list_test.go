package model

import (
	"testing"

	"pawl/model/calibration"
	"pawl/model/fault"
	"pawl/model/internal/store"
)

// A list that has no room for every tool says how many it leaves out: those that hold
// something and those of which nothing is recorded, and none that is gone.
func TestTheListSaysHowManyItLeavesOut(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		g.plain(t, "torque wrench", "TW-1")
		gone := g.plain(t, "torque wrench", "TW-2")
		if _, err := g.Shop.Gone(ctx, g.boss, gone, Gone{Why: "sold"}); err != nil {
			t.Fatal(err)
		}
		g.plain(t, "hammer", "HM-1")
		if v, err := g.ReadyTools(ctx, g.boss, nuts); err != nil || len(v.Tools) != 1 || v.LeftOut != 0 {
			t.Errorf("of one: %d listed, %d left out, %v", len(v.Tools), v.LeftOut, err)
		}
		if _, err := store.Write(ctx, g.db, store.Act{Verb: "register", Actor: g.boss.Recorded()}, func(tx *store.Tx) (bool, error) {
			return true, manyWrenches(tx, mostRanked+2)
		}); err != nil {
			t.Fatal(err)
		}
		if v, err := g.ReadyTools(ctx, g.boss, nuts); err != nil || len(v.Tools) != mostRanked || v.LeftOut != 3 {
			t.Errorf("of many: %d listed, %d left out, %v", len(v.Tools), v.LeftOut, err)
		}
	})
}

// What is told of an adapter's certificate without its factor is not left out silently.
func TestAnAdaptersCertificateWithoutItsFactor(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		w := g.goodWrench(t, "TW-1")
		for name, tell := range map[string]func(*Ask){
			"uncertainty": func(in *Ask) { in.AdapterUncertainty = "3" },
			"due":         func(in *Ask) { in.AdapterDue = "2027-01-01" },
			"number":      func(in *Ask) { in.AdapterNumber = "C-118" },
		} {
			in := nuts
			in.Adapter = string(calibration.Multiplier)
			tell(&in)
			_, err := g.ReadyFor(ctx, g.techA, w, in)
			t.Log(name)
			wantFault(t, err, fault.Invalid, "the factor is missing")
			wantPointers(t, err, "#/adapter_factor")
		}
	})
}
