package intervals

import (
	"encoding/json"
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/calibration"
	"pawl/model/dates"
)

// steady draws a tool that was found well inside every second year.
func steady(t *rapid.T, outer *testing.T, number string) History {
	var all []comparison
	for i := range rapid.IntRange(4, 8).Draw(t, "calibrations") {
		d := fmt.Sprintf("%.2f", rapid.Float64Range(119.9, 120.1).Draw(t, "delivered"))
		all = append(all, comparison{on: dates.Date("2010-01-01").AddMonths(24 * i), found: d, left: d})
	}
	return history(outer, number, all...)
}

// anyHistory draws a tool's calibrations, some months apart: in tolerance, out of it,
// adjusted with or without as-found, or a word on paper.
func anyHistory(t *rapid.T, outer *testing.T, number string) History {
	day := dates.Date("2010-01-01")
	var all []comparison
	for i := range rapid.IntRange(0, 8).Draw(t, "calibrations") {
		left := fmt.Sprintf("%.1f", rapid.Float64Range(117, 123).Draw(t, "left"))
		c := comparison{on: day, found: fmt.Sprintf("%.1f", rapid.Float64Range(110, 130).Draw(t, "found")), left: left}
		switch rapid.IntRange(0, 5).Draw(t, "sort") {
		case 0:
			c.found = ""
			c.adjusted = i > 0
		case 1:
			c.found, c.left = "", ""
		case 2, 3:
			c.found = left
		}
		all = append(all, c)
		day = day.AddMonths(rapid.IntRange(0, 30).Draw(t, "months"))
	}
	h := history(outer, number, all...)
	for _, kind := range []calibration.EventKind{calibration.Dropped, calibration.FoundFailed} {
		if rapid.Bool().Draw(t, string(kind)) {
			h.Events = append(h.Events, calibration.Event{Kind: kind, On: dates.Date("2010-01-01").AddMonths(rapid.IntRange(0, 100).Draw(t, "when"))})
		}
	}
	return h
}

// Whatever the record is: longer only on three results in a row of the tool itself, the
// last well inside and after the whole interval, and never past 24 months or a maximum;
// nothing is advised without data; every figure can be written as JSON; a conservative
// figure is never the longer one.
func TestWhatAdviceNeverDoes(t *testing.T) {
	longer := 0
	rapid.Check(t, func(r *rapid.T) {
		q := wrench(rapid.IntRange(0, 30).Draw(r, "interval"))
		if rapid.Bool().Draw(r, "limited") {
			q.MaximumMonths, q.MaximumWhy = max(1, q.Months+rapid.IntRange(0, 2).Draw(r, "room")), "contract 12-B"
		}
		draw := anyHistory
		if rapid.Bool().Draw(r, "steady") {
			draw = steady
		}
		own := draw(r, t, "00E-KM5")
		like := []History{own}
		for i := range rapid.IntRange(0, 4).Draw(r, "like") {
			like = append(like, draw(r, t, fmt.Sprintf("00F-%03d", i)))
		}
		got := Advise(Question{Requirement: q, Own: own, Like: like, Today: "2026-11-29"})
		if _, err := json.Marshal(got); err != nil {
			r.Fatal(err)
		}
		results, lives := own.Results()
		for _, o := range lives {
			if !(o.After >= 0 && o.By > o.After) {
				r.Fatalf("a life of %+v", o)
			}
		}
		switch got.What {
		case Lengthen:
			longer++
			n := len(results)
			if n < 3 || *got.Months <= q.Months || *got.Months > 24 || q.MaximumMonths > 0 && *got.Months > q.MaximumMonths || results[n-1].Outcome != Near || inARow(results) < 3 ||
				results[n-1].Months < float64(q.Months)-0.5 {
				r.Fatalf("%d months from %d: %+v", *got.Months, q.Months, results)
			}
		case Shorten:
			if *got.Months >= q.Months || *got.Months < 1 {
				r.Fatalf("shortened from %d to %d", q.Months, *got.Months)
			}
		case Keep:
			if *got.Months != q.Months || got.Accept != nil {
				r.Fatalf("kept %d as %d", q.Months, *got.Months)
			}
		case Insufficient:
			if got.Months != nil || got.Accept != nil {
				r.Fatalf("without data: %+v", got)
			}
		}
		for _, f := range got.Figures {
			if f.Nominal != nil && f.Conservative != nil && *f.Conservative > *f.Nominal {
				r.Fatalf("%s: conservative %g past %g", f.Method, *f.Conservative, *f.Nominal)
			}
		}
	})
	if longer == 0 {
		t.Error("a longer interval was never advised: nothing was tried")
	}
}
