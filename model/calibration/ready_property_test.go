package calibration

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/dates"
	"pawl/model/units"
)

// anyCase draws a wrench with a certificate, and a question, of which a good part can
// be answered with yes.
func anyCase(t *rapid.T, tb testing.TB) (Facts, Question) {
	f := good(tb)
	r := *f.Requirement
	f.Requirement = &r
	off := rapid.IntRange(-250, 250)
	reading := func(set int) string {
		mean := float64(set) / (1 + float64(off.Draw(t, "deviation"))/10000)
		text := fmt.Sprintf("%d=", set)
		for i := range 5 {
			if i > 0 {
				text += ","
			}
			text += fmt.Sprintf("%.3f", mean*(1+float64(rapid.IntRange(-40, 40).Draw(t, "scatter"))/10000))
		}
		return text
	}
	read, err := ParseReadings(reading(40)+","+reading(120)+","+reading(200), units.NewtonMeter, Clockwise)
	if err != nil {
		t.Fatal(err)
	}
	w := Decimal(fmt.Sprintf("%.2f", float64(rapid.IntRange(20, 200).Draw(t, "W"))/100))
	j, err := Judge(r, Result{On: "2026-05-04", Paper: Certificate, Uncertainty: w, AsLeft: read}, Around{})
	if err != nil {
		t.Fatal(err)
	}
	f.Calibrations = []Kept{{ID: "K", Judgement: j}}
	f.Today = dates.Date("2026-05-04").AddDays(rapid.IntRange(0, 366).Draw(t, "days"))
	f.Cycles = Cycles{Counted: rapid.Bool().Draw(t, "counted"), AtLeast: rapid.Int64Range(0, 5001).Draw(t, "cycles")}
	target := rapid.IntRange(38, 202).Draw(t, "target")
	q := Question{Target: nm(fmt.Sprint(target)), Direction: Clockwise, NotSafety: rapid.Bool().Draw(t, "not safety")}
	if rapid.IntRange(0, 9).Draw(t, "low limit") > 0 {
		q.Limits.Low = nm(fmt.Sprintf("%.1f", float64(target)*(1-float64(rapid.IntRange(2, 12).Draw(t, "low"))/100)))
	}
	if rapid.IntRange(0, 9).Draw(t, "high limit") > 0 {
		q.Limits.High = nm(fmt.Sprintf("%.1f", float64(target)*(1+float64(rapid.IntRange(2, 12).Draw(t, "high"))/100)))
	}
	return f, q
}

// never says that a change for the worse makes the answer better.
func never(t *rapid.T, what string, before, after Answer) {
	if after.Verdict == Yes && before.Verdict != Yes {
		t.Fatalf("%s turns %s (%s) into yes", what, before.Verdict, codes(before))
	}
}

// More time, more cycles, more drift, a wider W or a stricter job never make a yes.
func TestNothingWorseMakesAYes(t *testing.T) {
	yes := 0
	rapid.Check(t, func(rt *rapid.T) {
		f, q := anyCase(rt, t)
		before := answered(t, f, q)
		if before.Verdict == Yes {
			yes++
		}
		ask := func(change func(*Facts, *Question)) Answer {
			g, p := f, q
			g.Calibrations = []Kept{f.Calibrations[0]}
			change(&g, &p)
			return answered(t, g, p)
		}
		never(rt, "a month more", before, ask(func(f *Facts, _ *Question) { f.Today = f.Today.AddDays(30) }))
		never(rt, "a hundred cycles more", before, ask(func(f *Facts, _ *Question) { f.Cycles.AtLeast += 100 }))
		never(rt, "a safety job", before, ask(func(_ *Facts, q *Question) { q.NotSafety = false }))
		never(rt, "a wider W", before, ask(func(f *Facts, _ *Question) {
			k := &f.Calibrations[0]
			k.Points, k.left = append([]JudgedPoint(nil), k.Points...), nil
			for i := range k.Points {
				k.Points[i].ExpandedPercent *= 1.5
				k.Points[i].Expanded *= 1.5
			}
		}))
		never(rt, "more scatter", before, ask(func(f *Facts, _ *Question) {
			k := &f.Calibrations[0]
			k.Points, k.left = append([]JudgedPoint(nil), k.Points...), nil
			for i := range k.Points {
				k.Points[i].ScatterPercent *= 1.5
			}
		}))
		drift := func(change float64) Answer {
			return ask(func(f *Facts, _ *Question) {
				for range 10 {
					f.Pairs = append(f.Pairs, Pair{Days: 365, Change: change})
				}
			})
		}
		never(rt, "more drift of tools like it", drift(0.5), drift(2.5))
		never(rt, "narrower limits", before, ask(func(_ *Facts, q *Question) {
			if q.Limits.IsZero() {
				return // without limits another question is asked
			}
			if !q.Limits.High.IsZero() {
				q.Limits.High = nm(string(decimalOf(Decimal(q.Limits.High.Value).Float() - 0.1)))
			}
			if !q.Limits.Low.IsZero() && !sameQuantity(q.Limits.Low, q.Limits.High) {
				q.Limits.Low = nm(string(decimalOf(Decimal(q.Limits.Low.Value).Float() + 0.1)))
			}
		}))
	})
	if yes == 0 {
		t.Error("no case was a yes, so nothing was shown")
	}
}

// Taking away any one thing that is known never makes a yes, and where it matters
// never leaves one.
func TestAnUnknownNeverGivesAYes(t *testing.T) {
	unknowns := map[string]func(*Facts, *Question){
		"today":       func(f *Facts, _ *Question) { f.Today = "" },
		"the clock":   func(f *Facts, _ *Question) { f.Doubtful = true },
		"requirement": func(f *Facts, _ *Question) { f.Requirement = nil },
		"limit":       func(f *Facts, _ *Question) { f.Requirement.Limit = Limit{} },
		"source":      func(f *Facts, _ *Question) { f.Requirement.LimitSource = Source{} },
		"scale":       func(f *Facts, _ *Question) { f.Requirement.Scale = Scale{} },
		"graduation":  func(f *Facts, _ *Question) { f.Requirement.Scale.Graduation = units.Quantity{} },
		"calibration": func(f *Facts, _ *Question) { f.Calibrations = nil },
		"its day":     func(f *Facts, _ *Question) { f.Calibrations[0].On = "" },
		"due":         func(f *Facts, _ *Question) { f.Calibrations[0].NextDue = "" },
		"points":      func(f *Facts, _ *Question) { f.Calibrations[0].Points = nil },
		"support":     func(f *Facts, _ *Question) { f.Calibrations[0].Supports = false },
		"verdict":     func(f *Facts, _ *Question) { f.Calibrations[0].Verdict = "" },
		"W": func(f *Facts, _ *Question) {
			for i := range f.Calibrations[0].Points {
				f.Calibrations[0].Points[i].ExpandedPercent = math.NaN()
			}
		},
		"mean": func(f *Facts, _ *Question) {
			for i := range f.Calibrations[0].Points {
				f.Calibrations[0].Points[i].MeanPercent = math.NaN()
			}
		},
		"scatter": func(f *Facts, _ *Question) {
			for i := range f.Calibrations[0].Points {
				f.Calibrations[0].Points[i].ScatterPercent = math.NaN()
			}
		},
		"the day of a drop": func(f *Facts, _ *Question) { f.Events = []Event{{Kind: Dropped}} },
		"what happened":     func(f *Facts, _ *Question) { f.Events = []Event{{Kind: "", On: "2026-06-01"}} },
		"the adapter":       func(_ *Facts, q *Question) { q.Adapter = Adapter{Kind: Multiplier} },
		"a part of it all":  func(f *Facts, _ *Question) { f.Unreadable = []string{"a row"} },
	}
	for name, take := range unknowns {
		rapid.Check(t, func(rt *rapid.T) {
			f, q := anyCase(rt, t)
			k := &f.Calibrations[0]
			k.Points, k.left = append([]JudgedPoint(nil), k.Points...), nil
			take(&f, &q)
			if a := answered(t, f, q); a.Verdict == Yes || a.Fit {
				rt.Fatalf("without %s: yes (%s)", name, codes(a))
			}
		})
	}
}

// What is said agrees with itself: the probability is that of the interval's spread,
// and a yes has everything that a yes shows.
func TestAnAnswerAgreesWithItself(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		f, q := anyCase(rt, t)
		a := answered(t, f, q)
		if a.Fit != (a.Verdict == Yes) || len(a.Cautions) == 0 || a.Words() == "" {
			rt.Fatalf("%+v", a)
		}
		last := 0
		for _, r := range a.Reasons {
			at := map[Readiness]int{No: 0, CannotConfirm: 1, "": 2}[r.Weighs]
			if at < last || r.Text == "" {
				rt.Fatalf("reasons out of order: %s", codes(a))
			}
			last = at
		}
		if a.Verdict != Yes {
			return
		}
		if a.Setting.IsZero() || math.IsNaN(a.Low) || math.IsNaN(a.High) || a.Low >= a.High || a.Due == "" {
			rt.Fatalf("a yes without %+v", a)
		}
		if !q.Limits.IsZero() && !(a.Inside >= a.Threshold && a.Inside <= 1) {
			rt.Fatalf("a yes with probability %v", a.Inside)
		}
	})
}
