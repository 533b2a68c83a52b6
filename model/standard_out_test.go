package model

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/calibration"
)

// What was compared with a standard that was out of use on that day shows nothing: the
// recheck names it and the work that relied on it, and no answer rests on it, whether the
// report or the comparison was entered first, and after the standard is found good too.
func TestAStandardThatWasOutOfUseThatDay(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		tester := g.tester(t, "TT-1")
		before, early, late, after := g.measuring(t, "torque wrench", "TW-0", wrenchScale), g.measuring(t, "torque wrench", "TW-1", wrenchScale),
			g.measuring(t, "torque wrench", "TW-2", wrenchScale), g.measuring(t, "torque wrench", "TW-3", wrenchScale)
		compare := func(number, on string) {
			t.Helper()
			if _, err := g.Calibrate(ctx, g.boss, number, Calibrate{Standard: tester, On: on, Temperature: "21 °C", AsLeft: cw(wrenchGood)}); err != nil {
				t.Fatal(err)
			}
		}
		compare(before, "2026-10-09")
		compare(early, "2026-10-12")
		g.wantReady(t, early, calibration.Yes, "")
		g.workOn(t, early, "1042", nuts)
		if _, err := g.Wrong(ctx, g.techA, tester, Wrong{What: "dropped", Happened: "2026-10-10T09:00"}); err != nil {
			t.Fatal(err)
		}
		shows := func(number, why string) {
			t.Helper()
			v := g.recheckOf(t, number)
			if v.Window == nil || !strings.Contains(v.Window.Why, why) {
				t.Errorf("recheck of %s: %+v, want %q", number, v.Windows, why)
			}
			a, err := g.ReadyFor(ctx, g.techA, number, nuts)
			if err != nil || a.Verdict != calibration.CannotConfirm || !slices.ContainsFunc(a.Reasons, func(r calibration.Reason) bool {
				return r.Code == calibration.ReasonUnsupported && strings.Contains(r.Text, "the standard was out of use on 2026-10-12")
			}) {
				t.Errorf("%s: %s, %v: the answer does not say so: %+v", number, a.Verdict, err, a.Reasons)
			}
			if c, err := g.Calibrations(ctx, g.techA, number); err != nil || c.Calibrations[0].Supports || c.Calibrations[0].Doubts[0].Code != calibration.DoubtStandardOut {
				t.Errorf("%s, %v: its record does not say so: %+v", number, err, c.Calibrations[0])
			}
		}
		with := " was made with " + tester + ", which was out of use then"
		shows(early, "was made against a standard that is in doubt: "+tester+" was found out: it was reported dropped on 2026-10-10")
		if v := g.recheckOf(t, early); len(v.Lines) != 1 || v.Lines[0].Job != "1042" || v.Lines[0].Verdict != calibration.RecheckIndeterminate || v.Open != 1 {
			t.Errorf("the work that relied on it: %+v", v.Lines)
		}
		g.compareWith(t, tester, "", "2026-10-29", testerGood)
		if _, err := g.Clear(ctx, g.boss, tester, Clear{Why: "the laboratory found it good"}); err != nil {
			t.Fatal(err)
		}
		compare(late, "2026-10-12")
		shows(early, "the tool calibration of 2026-10-12"+with)
		shows(late, "the tool calibration of 2026-10-12"+with)
		g.wantReady(t, before, calibration.Yes, "")
		g.clock.advance(24 * time.Hour)
		compare(after, g.clock.Now().Format(time.DateOnly))
		g.wantReady(t, after, calibration.Yes, "")
		if v := g.recheckOf(t, after); v.Window != nil {
			t.Errorf("compared with it after it was found good: %+v", v.Windows)
		}
	})
}

// A standard that was out of use only by a comparison that was entered by mistake, and
// taken back since, puts nothing in doubt that was compared with it before.
func TestAStandardThatOnlySeemedToFail(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		tester, wrench := g.tester(t, "TT-1"), g.measuring(t, "torque wrench", "TW-1", wrenchScale)
		if _, err := g.Calibrate(ctx, g.boss, wrench, Calibrate{Standard: tester, On: "2026-10-12", Temperature: "21 °C", AsLeft: cw(wrenchGood)}); err != nil {
			t.Fatal(err)
		}
		g.wantReady(t, wrench, calibration.Yes, "")
		mistaken := g.compareWith(t, tester, "", "2026-10-10", testerBad)
		if mistaken.DoNotUse == "" {
			t.Fatalf("a failed standard is not marked: %+v", mistaken)
		}
		g.wantReady(t, wrench, calibration.CannotConfirm, "")
		if v := g.recheckOf(t, wrench); v.Window == nil {
			t.Error("nothing is in doubt of what was compared with a failed standard")
		}
		g.give(t, tester, "Tech A")
		if back := g.takeBack(t, g.techA, tester, mistaken.Calibration); back.DoNotUse == "" {
			t.Fatal("a technician put a standard to use again") // the mark waits for a manager, the doubts do not
		}
		g.wantReady(t, wrench, calibration.Yes, "")
		if v := g.recheckOf(t, wrench); v.Window != nil {
			t.Errorf("recheck of it: %+v", v.Windows)
		}
	})
}

// What was compared with a standard while that only seemed to have failed is as good as if it
// had been entered after the mistake was taken back: what the standard brings to it is told
// by what stands. Something else that stood against the standard that day still does.
func TestAComparisonEnteredWhileItsStandardOnlySeemedToFail(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		compare := func(tester string) string {
			t.Helper()
			w := g.measuring(t, "torque wrench", "TW-"+tester, wrenchScale)
			if _, err := g.Calibrate(ctx, g.boss, w, Calibrate{Standard: tester, On: "2026-10-12", Temperature: "21 °C", AsLeft: cw(wrenchGood)}); err != nil {
				t.Fatal(err)
			}
			return w
		}
		for name, mistake := range map[string]func(tester string) func(){
			"a tool calibration": func(tester string) func() {
				v := g.compareWith(t, tester, "", "2026-10-10", testerBad)
				return func() { g.takeBack(t, g.manager, tester, v.Calibration) }
			},
			"a bench check": func(tester string) func() {
				v, err := g.Bench(ctx, g.boss, tester, Bench{On: "2026-10-10", Standard: "weights on an arm", At: []string{testerBad}, Temperature: "21 °C", StandardUncertainty: "0.05%", StandardBias: "0"})
				if err != nil || v.DoNotUse == "" {
					t.Fatalf("%+v, %v", v, err)
				}
				return func() {
					if _, err := g.WithdrawBench(ctx, g.manager, tester, v.Calibration.ID, "typed of another"); err != nil {
						t.Fatal(err)
					}
				}
			},
		} {
			tester, dropped := g.tester(t, "TT-"+name), g.tester(t, "TD-"+name)
			takeBack, also := mistake(tester), mistake(dropped)
			if _, err := g.Wrong(ctx, g.techA, dropped, Wrong{What: "dropped", Happened: "2026-10-10T09:00"}); err != nil {
				t.Fatal(err)
			}
			good, doubtful := compare(tester), compare(dropped)
			for _, w := range []string{good, doubtful} {
				g.wantReady(t, w, calibration.CannotConfirm, calibration.ReasonUnsupported)
			}
			g.clock.advance(time.Minute)
			takeBack()
			also()
			t.Log(name)
			g.wantReady(t, good, calibration.Yes, "")
			if v := g.recheckOf(t, good); v.Window != nil {
				t.Errorf("%s: recheck: %+v", name, v.Windows)
			}
			g.wantReady(t, doubtful, calibration.CannotConfirm, calibration.ReasonUnsupported)
		}
	})
}
