package calibration

import (
	"fmt"
	"math"
	"testing"
	"time"

	"pawl/model/dates"
	"pawl/model/units"
)

// when reads a time in UTC.
func when(t testing.TB, text string) dates.Instant {
	t.Helper()
	at, err := time.Parse("2006-01-02T15:04", text)
	if err != nil {
		t.Fatal(err)
	}
	return dates.InstantOf(at)
}

// compared is a comparison of the wrench of vectors, by a laboratory that states W = 2 %.
func compared(t testing.TB, id string, on dates.Date, edit func(*Result)) Comparison {
	t.Helper()
	r := Result{On: on, By: "a lab", Paper: Certificate, Uncertainty: "2.0"}
	edit(&r)
	q := wrench()
	q.Rule, q.GripToDrive = SimpleRule, units.Quantity{Value: "400", Unit: units.Millimeter}
	return Comparison{Kept: kept(t, id, q, r), Entered: 1}
}

func read(t testing.TB, text string) []Point {
	t.Helper()
	out, err := ParseReadings(text, units.NewtonMeter, Clockwise)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// The worked example 7-A: as found −1.0, +9.0909 and +8.0 % at 40, 120 and 200 N·m,
// left before within ±0.6 %, W = 2.0 %.
const (
	leftBefore = "40=40.24144869,120=119.28429423,200=201.20724346"
	foundBad   = "40=40.404040404040,120=110.0,200=185.185185185185"
)

func worked(t testing.TB) History {
	q := wrench()
	q.Rule, q.GripToDrive = SimpleRule, units.Quantity{Value: "400", Unit: units.Millimeter}
	return History{Requirement: &q, Zone: time.UTC, Now: when(t, "2026-11-20T12:00"), Compared: []Comparison{
		compared(t, "A-1", "2026-01-05", func(r *Result) { r.AsLeft = read(t, leftBefore) }),
		compared(t, "A-2", "2026-11-02", func(r *Result) {
			r.AsFound, r.AsLeft, r.Adjusted = read(t, foundBad), read(t, "40=40,120=120,200=200"), true
		}),
	}}
}

// use is a tightening set to a value.
func use(t testing.TB, id, at, target, limits string, edit ...func(*Done)) Done {
	t.Helper()
	d := Done{ID: "V-" + id, Job: "J-" + id, At: when(t, at), What: UsedToTighten, Said: Said{Asked: asks(t, target, limits), Set: qty(t, target)}}
	for _, e := range edit {
		e(&d)
	}
	return d
}

func lineOf(out Rechecked, id string) (RecheckLine, bool) {
	for _, l := range out.Lines {
		if l.Use == "V-"+id || l.Custody == id {
			return l, true
		}
	}
	return RecheckLine{}, false
}

// Rows O-01 to O-04 of the table of check values: the worked example 7-A, recomputed
// there by two programs.
func TestRecheckWorkedOut(t *testing.T) {
	h := worked(t)
	jobs := []struct {
		target, limits string
		a, applied     float64
		verdict        RecheckVerdict
	}{
		{"60 N·m", "54..66", 1.52273, 59.1001, RecheckIndeterminate},
		{"108 N·m", "100..116", 7.57727, 100.3930, RecheckIndeterminate},
		{"150 N·m", "140..160", 8.68182, 138.0176, RecheckIndeterminate},
		{"180 N·m", "160..200", 8.27273, 166.2469, RecheckWithin},
	}
	for i, j := range jobs {
		h.Done = append(h.Done, use(t, fmt.Sprint(i+1), "2026-06-01T09:00", j.target, j.limits))
	}
	out := Recheck(h)
	if len(out.Windows) != 1 || out.Windows[0].Trigger != FailedAsFound || out.Windows[0].From.On != "2026-01-05" || out.Windows[0].To.On != "2026-11-02" {
		t.Fatalf("%+v", out.Windows)
	}
	for i, j := range jobs {
		l, _ := lineOf(out, fmt.Sprint(i+1))
		equal(t, "a at "+j.target, l.Deviation, j.a, 1e-5)
		equal(t, "applied at "+j.target, l.Applied, j.applied, 1e-4)
		if l.Verdict != j.verdict {
			t.Errorf("%s in %s is %s, want %s", j.target, j.limits, l.Verdict, j.verdict)
		}
	}
	second, _ := lineOf(out, "2")
	equal(t, "U at 108", second.Uncertainty, 2.0079, 1e-4) // O-02
	fourth, _ := lineOf(out, "4")                          // O-04: the ends ± U
	for i, want := range [][2]float64{{161.7, 168.3}, {163.3333, 170.0}} {
		e := fourth.Ends[i]
		equal(t, "least", e.Applied-e.Uncertainty, want[0], 1e-4)
		equal(t, "most", e.Applied+e.Uncertainty, want[1], 1e-4)
	}
	if last := out.Lines[3]; last.Use != "V-4" {
		t.Errorf("what is within is not last: %+v", last)
	}
}

// The window and what can be said of each piece of work, by the rules of the project
// on this instrument; expected by hand.
func TestRecheckRules(t *testing.T) {
	offset := func(d *Done) { // 450 mm of reach on 400 mm of wrench: 1.125 times what is set
		d.Said.Asked.Adapter = Adapter{Kind: Crowfoot, Length: units.Quantity{Value: "50", Unit: units.Millimeter}, Angle: "0"}
		d.Said.Set = qty(t, "96 N·m")
	}
	bench := func(on dates.Date, readings string) Comparison {
		c := compared(t, "A-B", on, func(r *Result) {
			*r = Result{On: on, Paper: Own, BenchCheck: true, Standard: fitStandard(), AsFound: read(t, readings), Uncertainty: "0.8",
				Temperature: units.Quantity{Value: "21", Unit: units.Celsius}, Budget: Budget{Reproducibility: "0.1", OutputDrive: "0.1", Interface: "0.1", LoadingPoint: "0.1"}}
		})
		return c
	}
	for _, c := range []struct {
		name string
		edit func(*History)
		use  Done
		want RecheckVerdict // "" not on the list
	}{
		{"before the last good one", nil, use(t, "x", "2026-01-04T23:59", "108 N·m", "100..116"), ""},
		{"on the first day", nil, use(t, "x", "2026-01-05T07:00", "108 N·m", "100..116"), RecheckIndeterminate},
		{"on the last day", nil, use(t, "x", "2026-11-02T23:00", "108 N·m", "100..116"), RecheckIndeterminate},
		{"after it was left good", nil, use(t, "x", "2026-11-03T00:00", "108 N·m", "100..116"), ""},
		// At 120 and 200 it applied 97.0 to 102.0 with its uncertainty.
		{"outside at every end", nil, use(t, "x", "2026-06-01T09:00", "120 N·m", "118..122"), RecheckOutside},
		{"no limits: the target and the tool's own", nil, use(t, "x", "2026-06-01T09:00", "200 N·m", ""), RecheckOutside},
		{"outside the range that was read", nil, use(t, "x", "2026-06-01T09:00", "30 N·m", "10..60"), RecheckIndeterminate},
		{"the other direction was not read", nil, use(t, "x", "2026-06-01T09:00", "180 N·m", "100..300", func(d *Done) { d.Said.Asked.Direction = Counterclockwise }), RecheckIndeterminate},
		{"one open limit", nil, use(t, "x", "2026-06-01T09:00", "180 N·m", "150.."), RecheckWithin},
		// 96 set, 1.125 times: 108 asked; 96 at +9.0909 and -1.0 %: 99 and 109.1 times 0.98 … 1.02.
		{"with an offset adapter", nil, use(t, "x", "2026-06-01T09:00", "108 N·m", "97..112", offset), RecheckWithin},
		{"with an offset adapter, narrower", nil, use(t, "x", "2026-06-01T09:00", "108 N·m", "98..112", offset), RecheckIndeterminate},
		{"nothing before it", func(h *History) { h.Compared = h.Compared[1:] }, use(t, "x", "2020-06-01T09:00", "180 N·m", "160..200"), RecheckIndeterminate},
		{"adjusted before it was read", func(h *History) {
			h.Compared[1] = compared(t, "A-2", "2026-11-02", func(r *Result) { r.AsLeft, r.Adjusted = read(t, "40=40,120=120,200=200"), true })
		}, use(t, "x", "2026-06-01T09:00", "180 N·m", "160..200"), RecheckUnjudged},
		// Between use and failure a bench check that supports nothing read it right at every point.
		{"a check that supports nothing clears nothing", func(h *History) {
			c := bench("2026-08-01", "40=40,120=120,200=200")
			c.Supports = false
			h.Compared = []Comparison{h.Compared[0], c, h.Compared[1]}
		}, use(t, "x", "2026-06-01T09:00", "120 N·m", "118..122"), RecheckOutside},
		// The use is before it; had it counted as good, nothing before it would be in doubt.
		{"a calibration that supports nothing is no last good one", func(h *History) {
			c := compared(t, "A-O", "2026-08-01", func(r *Result) { r.AsFound = read(t, "40=40,120=120,200=200") })
			c.Supports = false
			h.Compared = []Comparison{h.Compared[0], c, h.Compared[1]}
		}, use(t, "x", "2026-06-01T09:00", "180 N·m", "160..200"), RecheckWithin},
		{"paper that says fail", func(h *History) {
			h.Compared[1] = compared(t, "A-2", "2026-11-02", func(r *Result) { r.Paper, r.Claim, r.Uncertainty = PassOnly, ClaimsFail, "" })
		}, use(t, "x", "2026-06-01T09:00", "180 N·m", "160..200"), RecheckIndeterminate},
		{"it goes on while it is failing", func(h *History) {
			h.Compared[1] = compared(t, "A-2", "2026-11-02", func(r *Result) { r.AsFound = read(t, foundBad) })
		}, use(t, "x", "2026-11-15T09:00", "180 N·m", "160..200"), RecheckIndeterminate},
		{"used after it failed and was taken out of use", func(h *History) {
			h.Compared[1] = compared(t, "A-2", "2026-11-02", func(r *Result) { r.AsFound = read(t, foundBad) })
			h.Mishaps = []Mishap{{Kind: FoundFailed, At: when(t, "2026-11-10T08:00"), Out: when(t, "2026-11-10T08:00")}}
		}, use(t, "x", "2026-11-15T09:00", "180 N·m", "160..200"), RecheckIndeterminate},
		{"used after it was dropped", func(h *History) {
			h.Compared = h.Compared[:1]
			h.Mishaps = []Mishap{{Kind: Dropped, At: when(t, "2026-07-01T08:00"), Out: when(t, "2026-07-01T08:00")}}
		}, use(t, "x", "2026-07-01T08:05", "180 N·m", "160..200"), RecheckIndeterminate},
		{"used after it was dropped, and found failing since", func(h *History) {
			h.Mishaps = []Mishap{{Kind: Dropped, At: when(t, "2026-07-01T08:00"), Out: when(t, "2026-07-01T08:00")}}
		}, use(t, "x", "2026-07-02T09:00", "120 N·m", "118..122"), RecheckOutside},
		{"used after it was dropped, found good, and cleared", func(h *History) {
			h.Compared = append(h.Compared[:1], compared(t, "A-3", "2026-07-05", func(r *Result) { r.AsFound = read(t, "40=40,120=120,200=200") }))
			h.Mishaps = []Mishap{{Kind: Dropped, At: when(t, "2026-07-01T08:00"), Out: when(t, "2026-07-01T08:00"), Cleared: when(t, "2026-07-08T08:00")}}
		}, use(t, "x", "2026-07-06T09:00", "180 N·m", "160..200"), ""},
		{"found good before it was reported", func(h *History) {
			h.Compared = append(h.Compared[:1], compared(t, "A-3", "2026-07-05", func(r *Result) { r.AsFound = read(t, "40=40,120=120,200=200") }))
			h.Mishaps = []Mishap{{Kind: Dropped, At: when(t, "2026-07-01T08:00"), Out: when(t, "2026-07-20T08:00")}}
		}, use(t, "x", "2026-07-21T09:00", "180 N·m", "160..200"), ""},
		{"dropped, and nothing compared since", func(h *History) {
			h.Compared = h.Compared[:1]
			h.Mishaps = []Mishap{{Kind: Dropped, At: when(t, "2026-07-01T08:00"), Out: when(t, "2026-07-01T08:00")}}
		}, use(t, "x", "2026-06-01T09:00", "180 N·m", "160..200"), RecheckIndeterminate},
		{"dropped, said late, used meanwhile", func(h *History) {
			h.Compared = h.Compared[:1]
			h.Mishaps = []Mishap{{Kind: Dropped, At: when(t, "2026-07-01T08:00"), Out: when(t, "2026-07-03T08:00")}}
		}, use(t, "x", "2026-07-02T09:00", "180 N·m", "160..200"), RecheckIndeterminate},
		{"dropped, and found good since", func(h *History) {
			h.Compared[1] = compared(t, "A-2", "2026-11-02", func(r *Result) { r.AsFound = read(t, "40=40,120=120,200=200") })
			h.Mishaps = []Mishap{{Kind: Dropped, At: when(t, "2026-07-01T08:00"), Out: when(t, "2026-07-01T08:00")}}
		}, use(t, "x", "2026-06-01T09:00", "180 N·m", "160..200"), RecheckWithin},
		{"lost", func(h *History) {
			h.Compared, h.Gone, h.Lost = h.Compared[:1], when(t, "2026-10-01T08:00"), true
		}, use(t, "x", "2026-06-01T09:00", "180 N·m", "160..200"), RecheckIndeterminate},
		{"a good bench check of its span came between", func(h *History) { h.Compared = append(h.Compared, bench("2026-07-01", "120=120,200=200")) },
			use(t, "x", "2026-06-01T09:00", "180 N·m", "160..200"), ""},
		{"a good bench check of another span came between", func(h *History) { h.Compared = append(h.Compared, bench("2026-07-01", "40=40,120=120")) },
			use(t, "x", "2026-06-01T09:00", "180 N·m", "160..200"), RecheckWithin},
		{"its standard was found out", func(h *History) { h.Compared = h.Compared[:1]; h.Compared[0].Doubted = "00F-LN6 was found out" },
			use(t, "x", "2026-06-01T09:00", "180 N·m", "160..200"), RecheckIndeterminate},
		{"found good, but too far off for these limits", func(h *History) {
			h.Compared[1] = compared(t, "A-2", "2026-11-02", func(r *Result) { r.AsFound = read(t, "40=38.6,120=115.6,200=193") })
		}, use(t, "x", "2026-06-01T09:00", "120 N·m", "116..124"), RecheckIndeterminate},
		{"found good, with room", func(h *History) {
			h.Compared[1] = compared(t, "A-2", "2026-11-02", func(r *Result) { r.AsFound = read(t, "40=38.6,120=115.6,200=193") })
		}, use(t, "x", "2026-06-01T09:00", "120 N·m", "100..140"), ""},
		{"repaired in between by nobody knows what", func(h *History) { h.Changed = []dates.Instant{when(t, "2026-08-01T10:00")} },
			use(t, "x", "2026-06-01T09:00", "180 N·m", "160..200"), RecheckIndeterminate},
	} {
		h := worked(t)
		if c.edit != nil {
			c.edit(&h)
		}
		h.Done = []Done{c.use}
		l, listed := lineOf(Recheck(h), "x")
		if listed != (c.want != "") || listed && l.Verdict != c.want {
			t.Errorf("%s: listed %v, %q, want %q; %+v", c.name, listed, l.Verdict, c.want, l.Impact)
		}
		if listed && l.Verdict != RecheckWithin && l.Verdict != RecheckOutside && l.Why == "" {
			t.Errorf("%s: no reason", c.name)
		}
	}
}

// What was measured: the true value by the definition of the error, as an amount where
// the limit is one. A gauge with ±1.6 % of 0 to 160 psi that shows 4 psi too much.
func TestRecheckOfMeasurements(t *testing.T) {
	psi := func(v string) units.Quantity { return units.Quantity{Value: v, Unit: units.PSI} }
	q := Requirement{Instrument: PressureGauge, Unit: units.PSI, Scale: Scale{Low: psi("0"), High: psi("160"), Graduation: psi("2")},
		Limit: limit("1.6 % of span"), LimitSource: Source{OwnPaper, "its dial"}, Months: 12, IntervalSource: Source{ShopRule, ""}, Rule: SimpleRule}
	comparison := func(id string, on dates.Date, found string, left bool) Comparison {
		p, err := ParseReadings(found, units.PSI, NoDirection)
		if err != nil {
			t.Fatal(err)
		}
		r := Result{On: on, By: "a lab", Paper: Certificate, Uncertainty: "0.5"}
		if r.AsFound = p; left {
			r.AsFound, r.AsLeft = nil, p
		}
		return Comparison{Kept: kept(t, id, q, r)}
	}
	h := History{Requirement: &q, Zone: time.UTC, Now: when(t, "2026-11-20T12:00"), Compared: []Comparison{
		comparison("A-1", "2026-01-05", "20=20,80=80,140=140", true), comparison("A-2", "2026-11-02", "20=16,80=76,140=136", false)}}
	h.Done = []Done{{ID: "V-1", Job: "J-1", At: when(t, "2026-06-01T09:00"), What: UsedToMeasure, Said: Said{Asked: Question{Target: psi("50"), Limits: Limits{Low: psi("49"), High: psi("55")}}}}}
	l, _ := lineOf(Recheck(h), "1")
	equal(t, "true value", l.Applied, 46, 1e-9)
	equal(t, "its uncertainty", l.Uncertainty, 0.38, 1e-9) // 0.5 % of 76, the larger
	equal(t, "deviation", l.Deviation, 100*4/46.0, 1e-9)
	if l.Verdict != RecheckOutside {
		t.Errorf("%s", l.Verdict)
	}
}

// How it was left says nothing of what it did later: without an as-found end the list
// gives no span, which would read as good.
func TestNoSpanWithoutAnAsFoundEnd(t *testing.T) {
	h := worked(t)
	h.Done = []Done{
		use(t, "1", "2026-06-01T09:00", "108 N·m", "100..116"),
		use(t, "2", "2026-06-01T09:00", "108 N·m", "100..116", func(d *Done) { d.Said.Asked.Direction = Counterclockwise }),
	}
	adjusted := worked(t)
	adjusted.Done = h.Done[:1]
	adjusted.Compared[1] = compared(t, "A-2", "2026-11-02", func(r *Result) { r.AsFound, r.AsLeft, r.Adjusted = nil, read(t, "40=40,120=120,200=200"), true })
	for _, c := range []struct {
		name, use string
		h         History
		span      bool
	}{
		{"read in its direction", "1", h, true},
		{"not read in its direction", "2", h, false},
		{"adjusted before it was read", "1", adjusted, false},
	} {
		l, found := lineOf(Recheck(c.h), c.use)
		if !found || math.IsNaN(l.Low) == c.span || math.IsNaN(l.High) == c.span {
			t.Errorf("%s: %v, %g to %g", c.name, found, l.Low, l.High)
		}
	}
}

// The list starts from custody, and is never empty where the tool was out.
func TestRecheckStartsFromCustody(t *testing.T) {
	h := worked(t)
	h.Done = []Done{use(t, "1", "2026-06-01T09:00", "180 N·m", "160..200")}
	h.Stretches = []Stretch{
		{ID: "O-0", Job: "J-0", From: when(t, "2025-12-01T08:00"), To: when(t, "2026-01-04T08:00")}, // before
		{ID: "O-1", Job: "J-1", From: when(t, "2026-06-01T08:00"), To: when(t, "2026-06-01T10:00")}, // on record
		{ID: "O-2", Job: "J-2", From: when(t, "2026-06-02T08:00"), To: when(t, "2026-06-02T10:00")},
		{ID: "O-3", Job: "J-2", From: when(t, "2026-06-03T08:00"), To: when(t, "2026-06-03T10:00")}, // the same job
		{ID: "O-4", From: when(t, "2026-10-30T08:00")},                                              // still out, for no job: 4 days of the window
		{ID: "O-5", Job: "J-5", From: when(t, "2026-11-03T08:00"), To: when(t, "2026-11-03T10:00")}, // after
	}
	out := Recheck(h)
	if len(out.Jobs) != 1 || out.Jobs[0] != "J-2" || out.DaysNoJob != 4 || len(out.Lines) != 3 {
		t.Errorf("jobs %v, %d days, %d lines: %+v", out.Jobs, out.DaysNoJob, len(out.Lines), out.Lines)
	}
	if l, _ := lineOf(out, "O-2"); l.Verdict != RecheckIndeterminate || l.To != h.Stretches[3].To || !math.IsNaN(l.Applied) {
		t.Errorf("%+v", l)
	}
	if id := RecheckID("O-7K3M9P4X"); id != "U-7K3M9P4X" {
		t.Error(id)
	}
}

// A click on a fastener that is already tight is no proof (Navy 14113).
func TestHowALineIsSettled(t *testing.T) {
	for _, c := range []struct {
		how, done string
		want      Settlement // "" refused
	}{
		{"", "loosened and tightened again, 108 N·m, with 00F-LN6", TightenedAgain},
		{"", "loosened; it clicked at 108 N·m", TightenedAgain},
		{"", "bolts replaced, new ones tightened", FastenerReplaced},
		{"", "told the owner by phone, comes in on Monday", CustomerTold},
		{"", "stretch measured with a micrometer as the maker says", CheckedByMethod},
		{"customer told", "by letter", CustomerTold},
		{"Fastener replaced", "all five", FastenerReplaced},
		{"", "rechecked with the tester", CheckedByMethod},
		{"", "se comprobó con el comparador", CheckedByMethod},
		{"", "signed", ""}, // it says nothing of the fastener
		{"", "OK", ""},
		{"checked", "by the maker's method, signed", CheckedByMethod},
		{"", "it clicked at 108 N·m", ""},
		{"checked", "clicks at 108", ""},
		{"checked", "set to 108 and it did not move", ""},
		{"loosened and tightened again", "clicked", ""},
		{"forgotten", "x", ""},
		{"", "  ", ""},
	} {
		if got, err := SettlementOf(c.how, c.done); got != c.want || (err != nil) != (c.want == "") {
			t.Errorf("%q %q: %q, %v; want %q", c.how, c.done, got, err, c.want)
		}
	}
}
