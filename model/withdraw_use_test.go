package model

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/calibration"
	"pawl/model/claims"
	"pawl/model/fault"
	"pawl/model/packets"
)

// tightened records wheel nuts on a job.
func (g *garage) tightened(t *testing.T, by By, number string, in Use) UseView {
	t.Helper()
	g.clock.advance(time.Minute)
	in.Ask, in.Job, in.Name, in.Count = nuts, "1042", "front wheel nuts", 5
	v, err := g.Tighten(ctx, by, number, in)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// usesOn gives what is on record of the job, by id.
func (g *garage) usesOn(t *testing.T, by By) map[string]UseView {
	t.Helper()
	all, err := g.UsesOn(ctx, by, "1042")
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]UseView{}
	for _, v := range all {
		out[v.ID] = v
	}
	return out
}

// Tightenings that are taken back hold nothing, do nothing again and wear nothing: the tool
// stands as if they had never been.
func TestATighteningTakenBack(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		good := g.goodWrench(t, "TW-1")
		worn := wrenchScale
		worn.Cycles = ptr(int64(8))
		old := g.measuring(t, "torque wrench", "TW-2", worn)
		if _, err := g.OpenJob(ctx, g.boss, NewJob{Number: "1042"}); err != nil {
			t.Fatal(err)
		}

		// With a wrench that nobody compared it holds the job, and a technician keeps it so.
		held := g.tightened(t, g.techA, old, Use{})
		if !held.Holds || g.usesOn(t, g.techA)[held.ID].TakesBack || !g.usesOn(t, g.boss)[held.ID].TakesBack {
			t.Fatalf("%+v", held)
		}
		if _, err := g.WithdrawTightening(ctx, g.techA, old, held.ID, "x"); !fault.Is(err, fault.Forbidden) {
			t.Errorf("whoever works lets the job go: %v", err)
		}
		again := g.tightened(t, g.techA, good, Use{Redoes: held.ID})
		if g.usesOn(t, g.techA)[held.ID].Holds {
			t.Fatal("it was done again")
		}
		for name, do := range map[string]func() (UseView, error){
			"of another tool": func() (UseView, error) { return g.WithdrawTightening(ctx, g.boss, old, again.ID, "x") },
			"no measurement":  func() (UseView, error) { return g.WithdrawMeasurement(ctx, g.boss, good, again.ID, "x") },
			"unknown":         func() (UseView, error) { return g.WithdrawTightening(ctx, g.boss, good, "V-2H4K9Q7M", "x") },
		} {
			if v, err := do(); !fault.Is(err, fault.NotFound) {
				t.Errorf("%s: %+v, %v", name, v, err)
			}
		}
		if _, err := g.WithdrawTightening(ctx, g.techA, good, again.ID, ""); !fault.Is(err, fault.Invalid) {
			t.Errorf("no reason: %v", err)
		}

		// What did it again is taken back: it is not done again, and holds the job as before.
		v, err := g.WithdrawTightening(ctx, g.techB, good, again.ID, "it was the other car")
		if err != nil || v.Withdrawn == 0 || v.WithdrawnBy != "Tech B" || v.Why != "it was the other car" || !strings.Contains(v.Words, held.ID) {
			t.Errorf("%+v, %v", v, err)
		}
		if all := g.usesOn(t, g.boss); !all[held.ID].Holds || all[held.ID].RedoneBy != "" || all[again.ID].Withdrawn == 0 {
			t.Errorf("%+v", all)
		}
		if _, err := g.WithdrawTightening(ctx, g.boss, good, again.ID, "x"); !fault.Is(err, fault.Conflict) {
			t.Errorf("twice: %v", err)
		}
		if _, err := g.Tighten(ctx, g.techA, good, Use{Ask: nuts, Job: "1042", Name: "front wheel nuts", Count: 5, Redoes: again.ID}); !fault.Is(err, fault.Conflict) {
			t.Errorf("what is taken back is done again: %v", err)
		}
		if _, err := g.WithdrawTightening(ctx, g.boss, old, held.ID, "it was the other wrench"); err != nil {
			t.Error(err)
		}
		if _, err := g.SignUse(ctx, g.boss, held.ID, "fine"); !fault.Is(err, fault.Conflict) {
			t.Errorf("what is taken back is signed for: %v", err)
		}
		if names, err := g.Fasteners(ctx, g.techA); err != nil || len(names) != 0 {
			t.Errorf("the names are remembered: %q, %v", names, err)
		}
	})
}

// Cycles that were none end no calibration, and the interval runs from the first use that
// was one.
func TestCyclesTakenBack(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		worn := wrenchScale
		worn.Cycles = ptr(int64(8))
		w := g.measuring(t, "torque wrench", "TW-1", worn)
		g.calibrated(t, w, labPaper("2026-10-20"))
		if _, err := g.OpenJob(ctx, g.boss, NewJob{Number: "1042"}); err != nil {
			t.Fatal(err)
		}
		before := g.standing(t, w, true)
		first, second := g.tightened(t, g.techA, w, Use{}), g.tightened(t, g.techA, w, Use{})
		g.wantReady(t, w, calibration.No, "") // 10 of 8
		for _, u := range []UseView{first, second} {
			if _, err := g.WithdrawTightening(ctx, g.techA, w, u.ID, "typed under the wrong wrench"); err != nil {
				t.Fatal(err)
			}
		}
		if after := g.standing(t, w, true); after != before {
			t.Errorf("it stands\n%s\nand before\n%s", after, before)
		}
	})
}

// A failure that is found later asks for no recheck of what was never done with the tool.
func TestWhatIsTakenBackIsNotRechecked(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		w := g.goodWrench(t, "TW-1")
		if _, err := g.OpenJob(ctx, g.boss, NewJob{Number: "1042"}); err != nil {
			t.Fatal(err)
		}
		done, mistaken := g.tightened(t, g.techA, w, Use{}), g.tightened(t, g.techA, w, Use{})
		g.clock.advance(48 * time.Hour)
		g.calibrated(t, w, badPaper("2026-11-01"))
		if r := g.recheckOf(t, w); len(r.Lines) != 2 {
			t.Fatalf("%+v", r.Lines)
		}
		if _, err := g.WithdrawTightening(ctx, g.boss, w, mistaken.ID, "typed twice"); err != nil {
			t.Fatal(err)
		}
		if r := g.recheckOf(t, w); len(r.Lines) != 1 || r.Lines[0].Use != done.ID || g.unsettledOf(t, w) != 1 {
			t.Errorf("%+v", r.Lines)
		}
		_, err := g.SettleRecheck(ctx, g.techA, calibration.RecheckID(mistaken.ID), SettleRecheck{Done: "fastener replaced"})
		if !fault.Is(err, fault.NotFound) {
			t.Errorf("its line is settled: %v", err)
		}
	})
}

// A value typed under the wrong tool is taken back, and stays in the list of the job.
func TestAMeasurementTakenBack(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		tester := g.tester(t, "TT-1")
		if _, err := g.OpenJob(ctx, g.boss, NewJob{Number: "1042"}); err != nil {
			t.Fatal(err)
		}
		m, err := g.Measure(ctx, g.techA, tester, Use{Ask: Ask{Target: "101 N·m", Direction: "cw"}, Job: "1042", Name: "breakaway torque"})
		if err != nil {
			t.Fatal(err)
		}
		seen := func() bool {
			all, err := g.UsesOn(ctx, g.techA, "1042")
			if err != nil {
				t.Fatal(err)
			}
			return slices.ContainsFunc(all, func(v UseView) bool { return v.ID == m.ID && v.Withdrawn != 0 && v.WithdrawnBy == "Manager M" })
		}
		if _, err := g.WithdrawTightening(ctx, g.manager, tester, m.ID, "x"); !fault.Is(err, fault.NotFound) || seen() {
			t.Errorf("a measurement is no tightening: %v", err)
		}
		if _, err := g.WithdrawMeasurement(ctx, g.manager, tester, m.ID, "read at the other wheel"); err != nil || !seen() {
			t.Errorf("it is not in the list: %v", err)
		}
	})
}

// A packet that tells tightenings tells of one that was taken back that it was, and why;
// from the copy kept elsewhere as well.
func TestAPacketTellsWhatWasTakenBack(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		w, claim := used(t, g)
		for id := range g.usesOn(t, g.boss) {
			if _, err := g.WithdrawTightening(ctx, g.boss, w, id, "typed under the wrong wrench"); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := g.Checkpoint(ctx, g.boss); err != nil {
			t.Fatal(err)
		}
		add := []string{"tightenings"}
		kept := g.keptWith(t, g.boss, packets.Had{}, add...)
		p, err := PacketFromCopies(ctx, []CopyFile{fileOf(kept)}, FromCopy{Claim: claim, Add: add})
		if err != nil {
			t.Fatal(err)
		}
		defer p.Close()
		const want = "wheel nuts, answered yes, WITHDRAWN 2026-11-01: typed under the wrong wrench"
		for from, v := range map[string]claims.Statement{"shop": g.packetOf(t, g.boss, NewPacket{Claim: claim, Add: add}).Statement, "copy": p.Statement} {
			if said := v.Lines[0].Extra; len(said) != 1 || !strings.HasSuffix(said[0], want) {
				t.Errorf("%s: %q", from, said)
			}
		}
	})
}
