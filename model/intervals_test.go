package model

import (
	"strings"
	"testing"
	"time"

	"pawl/model/calibration/intervals"
	"pawl/model/fault"
)

// yearly enters laboratory papers a year apart that found what is given delivered for
// 120 clockwise, the first as left.
func (g *garage) yearly(t *testing.T, number string, delivered ...string) {
	t.Helper()
	for i, d := range delivered {
		in := Calibrate{By: "Own words", CertificateNumber: "C-1", On: string(rune('0'+i)) + "-01-15", Direction: "cw", Uncertainty: "1.42%", AsLeft: "120=" + d}
		in.On = "202" + in.On
		if i > 0 {
			in.AsFound = in.AsLeft
		}
		if d == "110" {
			in.AsLeft = "120=120"
		}
		if _, err := g.Calibrate(ctx, g.boss, number, in); err != nil {
			t.Fatal(err)
		}
	}
}

// The advice follows the record of the tool and of those that must hold the same,
// writes nothing, and never lengthens from like tools alone.
func TestIntervalAdvice(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		q := wrenchScale
		q.Months = ptr(12)
		mine, other := g.measuring(t, "torque wrench", "AB-1", q), g.measuring(t, "torque wrench", "AB-2", q)
		gauge := g.measuring(t, "pressure gauge", "PG-1", Requirement{Preset: "pressure-gauge:B", Unit: "psi", Range: "0..100", Graduation: "1"})
		g.yearly(t, mine, "120", "120.1", "119.9", "120")
		g.yearly(t, other, "120", "110", "110", "110")
		before := g.lines(t)
		v, err := g.IntervalAdvice(ctx, g.techA, mine)
		if after := g.lines(t); after != before {
			t.Errorf("asking left %d lines", after-before)
		}
		if err != nil || v.What != intervals.Shorten || len(v.Like.Tools) != 2 || v.Like.Tools[1].Failures != 3 || v.Like.Calibrations != 6 || len(v.Cautions) == 0 {
			t.Fatalf("%v: %s, %+v", err, v.Words, v.Like)
		}
		if !strings.Contains(strings.Join(v.Because, " "), "like tools: ") {
			t.Errorf("because %q", v.Because)
		}
		chart, err := v.Chart()
		if err != nil || len(chart.Points) != 1 || len(chart.Points[0].Marks) != 4 {
			t.Errorf("the chart has %+v, %v", chart.Points, err)
		}
		record, err := g.Calibrations(ctx, g.boss, mine)
		if err != nil || record.Requirement.Months != 12 {
			t.Errorf("asking changed the interval to %d, %v", record.Requirement.Months, err)
		}
		if v, err := g.IntervalAdvice(ctx, g.boss, gauge); err != nil || v.What != intervals.Insufficient || len(v.Like.Tools) != 0 {
			t.Errorf("a gauge that was never compared: %+v, %v", v.Advice, err)
		}
		if _, err := g.DriftChart(ctx, g.boss, gauge); !fault.Is(err, fault.NotFound) {
			t.Errorf("its chart: %v", err)
		}
	})
}

// A drop explains what was found after it; cycles recorded end an interval before its
// months do.
func TestIntervalAdviceFollowsWhatHappened(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		q := wrenchScale
		q.Months, q.Cycles = ptr(12), ptr(int64(10))
		number := g.measuring(t, "torque wrench", "AB-1", q)
		in := labPaper("2026-10-01")
		if _, err := g.Calibrate(ctx, g.boss, number, in); err != nil {
			t.Fatal(err)
		}
		use := Use{Ask: nuts, Job: "1042", Name: "front wheel nuts", Count: 12}
		if _, err := g.Tighten(ctx, g.techA, number, use); err != nil {
			t.Fatal(err)
		}
		v, err := g.IntervalAdvice(ctx, g.boss, number)
		if err != nil || v.NextDue.Because != "cycles" || v.NextDue.AtLeastCycles != 12 || *v.NextDue.Day >= *v.NextDue.ByMonths {
			t.Fatalf("%v: %+v", err, v.NextDue)
		}
		if _, err := g.Wrong(ctx, g.techA, number, Wrong{What: "dropped"}); err != nil {
			t.Fatal(err)
		}
		g.clock.advance(48 * time.Hour)
		if _, err := g.Calibrate(ctx, g.boss, number, Calibrate{By: "Own words", On: string(v.On.AddDays(1)), Direction: "cw", Uncertainty: "0.6%",
			AsFound: "40=40,120=110,200=200", AsLeft: "40=40,120=120,200=200"}); err != nil {
			t.Fatal(err)
		}
		v, err = g.IntervalAdvice(ctx, g.boss, number)
		if err != nil || v.Like.Failures != 0 || v.What != intervals.Insufficient || v.Staircase.Results[0].Why != "it was dropped before" {
			t.Errorf("found out after a drop: %v, %+v", err, v.Staircase)
		}
	})
}

// What a law or a contract allows at most holds for every later change.
func TestMaximumInterval(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		number := g.goodWrench(t, "AB-1")
		change := func(q Requirement) error {
			_, err := g.Calibrate(ctx, g.boss, number, Calibrate{Requirement: &q})
			return err
		}
		for name, q := range map[string]Requirement{
			"without what sets it": {Maximum: ptr(12)}, "below what is in force": {Maximum: ptr(6), MaximumWhy: "contract 12-B"},
			"what sets none": {MaximumWhy: "contract 12-B"}, "negative": {Maximum: ptr(-1), MaximumWhy: "contract 12-B"},
		} {
			if err := change(q); !fault.Is(err, fault.Invalid) {
				t.Errorf("%s: %v", name, err)
			}
		}
		if err := change(Requirement{Maximum: ptr(12), MaximumWhy: "contract 12-B"}); err != nil {
			t.Fatal(err)
		}
		if err := change(Requirement{Months: ptr(13)}); !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), "contract 12-B") {
			t.Errorf("past it: %v", err)
		}
		if err := change(Requirement{Maximum: ptr(0)}); err != nil {
			t.Error(err)
		}
		if err := change(Requirement{Months: ptr(13)}); err != nil {
			t.Errorf("without one: %v", err)
		}
	})
}
