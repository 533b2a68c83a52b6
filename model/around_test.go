package model

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"pawl/model/calibration"
	"pawl/model/register"
)

// newest gives a tool's newest calibration as it is shown.
func (g *garage) newest(t *testing.T, number string) calibration.Shown {
	t.Helper()
	v, err := g.Calibrations(ctx, g.boss, number)
	if err != nil || len(v.Calibrations) == 0 {
		t.Fatalf("%+v, %v", v.Calibrations, err)
	}
	return v.Calibrations[0]
}

// borrowed takes a tool on a job, or on none, and brings it back.
func (g *garage) borrowed(t *testing.T, number, job string) {
	t.Helper()
	if _, err := g.Take(ctx, g.techA, number, Take{Job: job}); err != nil {
		t.Fatal(err)
	}
	g.clock.advance(time.Minute)
	if _, err := g.Return(ctx, g.techA, number, Return{}); err != nil {
		t.Fatal(err)
	}
}

// Which decision rule stands in where none is agreed follows what is on record of a
// tool's use; what is not known counts as a safety job.
func TestToolsUsedOnSafetyJobs(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		for number, safety := range map[string]string{"airbox": "no", "brakes": "yes", "unknown": "unknown"} {
			if _, err := g.OpenJob(ctx, g.boss, NewJob{Number: number, Safety: &safety}); err != nil {
				t.Fatal(err)
			}
		}
		for i, c := range []struct {
			name  string
			do    func(t *testing.T, w string)
			rule  calibration.Rule
			owner string
		}{
			{"never used", func(*testing.T, string) {}, calibration.GuardedRule, ""},
			{"on a job marked as not", func(t *testing.T, w string) { g.borrowed(t, w, "airbox") }, calibration.FourZoneRule, ""},
			{"on one of which that is not known", func(t *testing.T, w string) { g.borrowed(t, w, "unknown") }, calibration.GuardedRule, ""},
			{"on one, and once on a safety job", func(t *testing.T, w string) { g.borrowed(t, w, "airbox"); g.borrowed(t, w, "brakes") }, calibration.GuardedRule, ""},
			{"on one, and once on none", func(t *testing.T, w string) { g.borrowed(t, w, "airbox"); g.borrowed(t, w, "") }, calibration.GuardedRule, ""},
			{"somebody's own", func(t *testing.T, w string) { g.borrowed(t, w, "airbox") }, calibration.GuardedRule, "Tech A"},
			{"tightened with, marked as not", func(t *testing.T, w string) {
				_, err := g.Tighten(ctx, g.techA, w, Use{Ask: Ask{Target: "108 N·m", NotSafety: true}, Job: "unknown", Name: "air box", Count: 1, NotSafetyWhy: "a plastic cover"})
				if err != nil {
					t.Fatal(err)
				}
			}, calibration.FourZoneRule, ""},
			{"tightened with", func(t *testing.T, w string) {
				g.borrowed(t, w, "airbox")
				if _, err := g.Tighten(ctx, g.techA, w, Use{Ask: nuts, Job: "unknown", Name: `"not_safety":true`, Count: 1}); err != nil {
					t.Fatal(err)
				}
			}, calibration.GuardedRule, ""},
		} {
			w := g.goodWrench(t, fmt.Sprintf("TW-%d", i))
			if c.owner != "" {
				v, err := g.Tool(ctx, g.boss, w)
				if err == nil {
					_, err = g.ChangeTool(ctx, g.boss, w, v.Tool.Rev, register.Change{Owner: &c.owner})
				}
				if err != nil {
					t.Fatal(err)
				}
			}
			c.do(t, w)
			if got := g.newest(t, w).Rule; got != c.rule {
				t.Errorf("%s: %s, want %s", c.name, got, c.rule)
			}
		}
	})
}

// An interval that the shop decided runs from the first use that custody tells of;
// one that nobody decided, and that of a person's own tool, from the comparison.
func TestTheIntervalRunsFromTheFirstUse(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		today, months := g.clock.Now().Format("2006-01-02"), 12
		decided := wrenchScale
		decided.Months = &months
		shop, preset := g.measuring(t, "torque wrench", "TW-1", decided), g.measuring(t, "torque wrench", "TW-2", wrenchScale)
		old := g.measuring(t, "torque wrench", "TW-3", decided)
		for _, w := range []string{shop, preset} {
			if _, err := g.Calibrate(ctx, g.boss, w, labPaper(today)); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := g.Calibrate(ctx, g.boss, old, labPaper("2026-10-01")); err != nil { // nobody recorded its use before today
			t.Fatal(err)
		}
		due := func(w string) string { return *g.newest(t, w).NextDue }
		before := due(shop)
		g.clock.advance(60 * 24 * time.Hour) // from 30 October to 29 December
		for _, w := range []string{shop, preset, old} {
			g.borrowed(t, w, "")
		}
		if before != "2027-10-30" || due(shop) != "2027-12-29" || due(preset) != "2027-10-30" || due(old) != "2027-10-01" {
			t.Errorf("due %s, after its first use %s; by the preset %s; of before it was registered %s", before, due(shop), due(preset), due(old))
		}
	})
}

// With enough like calibrations the risk follows how they were found: 38 of 40 at a
// test uncertainty ratio of 4, as worked for an observed 95 % (Castrup, "Risk Analysis
// Methods for Complying with Z540.3": PFA 0.7705 %, PFR 1.4484 %, row R-07).
func TestObservedReliability(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		w := g.measuring(t, "torque wrench", "TW-1", wrenchScale)
		var last CalibrationView
		for i := range 40 {
			on := time.Date(2026, 1, 5, 0, 0, 0, 0, time.UTC).AddDate(0, 0, 7*i).Format("2006-01-02")
			paper := labPaper(on)
			paper.Uncertainty = "1.0%"
			if i < 2 {
				paper.AsFound, paper.Adjusted = badPaper(on).AsLeft, true
			}
			v, err := g.Calibrate(ctx, g.boss, w, paper)
			if err != nil {
				t.Fatal(err)
			}
			if last = v; i == 27 && (v.Calibration.Variant != "worst case" || v.Calibration.PFR != nil) {
				t.Errorf("of 28: %+v", v.Calibration.Variant)
			}
		}
		c := last.Calibration
		if !strings.Contains(c.Variant, "38 of 40") || c.PFA == nil || c.PFR == nil || *c.TUR != 4 || math.Abs(*c.PFA-0.7705) > 0.001 || math.Abs(*c.PFR-1.4484) > 0.001 {
			t.Errorf("%s: PFA %v, PFR %v, TUR %v", c.Variant, c.PFA, c.PFR, c.TUR)
		}
		// A tool of another sort takes no part in it.
		other := g.measuring(t, "torque screwdriver", "TS-1", Requirement{Preset: "torque-screwdriver-setting", Unit: "N·m", Range: "2..10", Graduation: "0.1", Directions: "cw"})
		v, err := g.Calibrate(ctx, g.boss, other, Calibrate{By: "Own words", On: "2026-10-01", Direction: "cw", Uncertainty: "1.0%", AsLeft: "2=2.0,6=6.0,10=10.0"})
		if err != nil || v.Calibration.Variant != "worst case" {
			t.Errorf("%+v, %v", v.Calibration, err)
		}
	})
}
