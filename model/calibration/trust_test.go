package calibration

import (
	"testing"

	"pawl/model/dates"
	"pawl/model/units"
)

func dayOf(s string) dates.Date { return dates.Date(s) }

func TestWhatGivesTrustBack(t *testing.T) {
	weak := fitStandard()
	weak.Uncertainty = "1.2" // over a quarter of 4 %
	withStandard := func(s Standard) Kept {
		k := checked(t, "2026-06-02", evenBoth)
		read, _ := ParseReadings(evenBoth, wrench().Unit, Clockwise)
		k.Judgement = judged(t, wrench(), Result{On: "2026-06-02", Paper: Own, BenchCheck: true, Standard: s, Temperature: qty(t, "21 °C"), AsLeft: read}, Around{})
		return k
	}
	out := fitStandard()
	out.Due = "2026-06-01"
	for _, c := range []struct {
		name   string
		check  Kept
		day    dates.Date // of the drop
		atDrop dates.Instant
		atTest dates.Instant
		want   bool
	}{
		{"the whole range both ways, the day after", checked(t, "2026-06-02", evenBoth), "2026-06-01", 0, 0, true},
		{"on the same day, no times", checked(t, "2026-06-02", evenBoth), "2026-06-02", 0, 0, false},
		{"on the same day, later", checked(t, "2026-06-02", evenBoth), "2026-06-02", 1000, 2000, true},
		{"on the same day, earlier", checked(t, "2026-06-02", evenBoth), "2026-06-02", 2000, 1000, false},
		{"before the drop", checked(t, "2026-05-20", evenBoth), "2026-06-01", 0, 0, false},
		{"one way only", checked(t, "2026-06-02", even), "2026-06-01", 0, 0, false},
		{"not the whole range", checked(t, "2026-06-02", "60=60,60,60,60,60.1,200=200,200,200,200,200.1,ccw:60=60,60,60,60,60.1,ccw:200=200,200,200,200,200.1"), "2026-06-01", 0, 0, false},
		{"a weak standard", withStandard(weak), "2026-06-01", 0, 0, false},
		{"a standard past its due date", withStandard(out), "2026-06-01", 0, 0, false},
	} {
		f := good(t)
		f.Events = []Event{{Kind: Dropped, On: c.day, At: c.atDrop}}
		c.check.At = c.atTest
		f.Checks = []Kept{c.check}
		a := answered(t, f, asks(t, "108 N·m", "100..116"))
		if (a.Verdict == Yes) != c.want || c.want != has(a, ReasonRestored, "") {
			t.Errorf("%s: %s (%s)", c.name, a.Verdict, codes(a))
		}
		if c.want {
			// What it was before the drop no longer counts: the figures are the check's.
			equal(t, c.name+": ā", a.DeviationPercent, c.check.Left(Clockwise)[1].MeanPercent, 1e-3)
			if a.Calibration != "K-1" || a.CheckedBy != c.check.ID || a.Due != "2027-05-04" {
				t.Errorf("%s: calibration %q, checked by %q, due %s", c.name, a.Calibration, a.CheckedBy, a.Due)
			}
		}
	}
}

func TestADropAfterTheCheckEndsItAgain(t *testing.T) {
	f := good(t)
	f.Checks = []Kept{checked(t, "2026-06-02", evenBoth)}
	f.Events = []Event{{Kind: Dropped, On: "2026-06-01"}, {Kind: Overloaded, On: "2026-06-03"}}
	if a := answered(t, f, asks(t, "108 N·m", "100..116")); a.Verdict != No || !has(a, ReasonTrustEnded, No) {
		t.Errorf("%s (%s)", a.Verdict, codes(a))
	}
}

func TestACalibrationAfterTheDropEndsTheDoubt(t *testing.T) {
	f := good(t)
	f.Events = []Event{{Kind: Dropped, On: "2026-05-03"}, {Kind: BackWithoutPaper, On: "2026-05-01"}}
	if a := answered(t, f, asks(t, "108 N·m", "100..116")); a.Verdict != Yes {
		t.Errorf("%s (%s)", a.Verdict, codes(a))
	}
}

// Only a calibration that passes gives trust back, not every paper dated after.
func TestWeakPaperAfterTheDropEndsNothing(t *testing.T) {
	read, err := ParseReadings(both, wrench().Unit, Clockwise)
	if err != nil {
		t.Fatal(err)
	}
	for name, r := range map[string]Result{
		"pass only":             {On: "2026-06-10", Paper: PassOnly, Claim: ClaimsPass},
		"two points":            {On: "2026-06-10", Paper: Declaration, Declared: &Declared{Class: "II-A", Low: nm("40"), High: nm("200"), Points: 2, Directions: []Direction{Clockwise}}},
		"adjusted, not as left": {On: "2026-06-10", Paper: Certificate, Uncertainty: "1", Adjusted: true, AsFound: read},
	} {
		f := good(t)
		f.Calibrations = append([]Kept{kept(t, "W", wrench(), r)}, f.Calibrations...)
		if a := answered(t, f, asks(t, "108 N·m", "100..116")); a.Verdict != CannotConfirm {
			t.Errorf("%s: %s (%s)", name, a.Verdict, codes(a))
		}
		f.Events = []Event{{Kind: Dropped, On: "2026-06-01"}}
		if a := answered(t, f, asks(t, "108 N·m", "100..116")); a.Verdict != No || !has(a, ReasonTrustEnded, No) {
			t.Errorf("%s after a drop: %s (%s)", name, a.Verdict, codes(a))
		}
		f.Events, f.Checks = nil, []Kept{checked(t, "2026-06-01", "120=110,110,110")}
		if a := answered(t, f, asks(t, "108 N·m", "100..116")); a.Verdict != No || !has(a, ReasonFailedCheck, No) {
			t.Errorf("%s after a failed check: %s (%s)", name, a.Verdict, codes(a))
		}
	}
}

func TestAFailedCheckIsUndoneByALaterGoodOneOnly(t *testing.T) {
	f := good(t)
	bad := checked(t, "2026-06-01", "120=110,110,110")
	f.Checks = []Kept{checked(t, "2026-06-02", evenBoth), bad}
	if a := answered(t, f, asks(t, "108 N·m", "100..116")); a.Verdict != Yes {
		t.Errorf("a later good one: %s (%s)", a.Verdict, codes(a))
	}
	f.Checks = []Kept{bad, checked(t, "2026-05-31", evenBoth)}
	if a := answered(t, f, asks(t, "108 N·m", "100..116")); a.Verdict != No || !has(a, ReasonFailedCheck, No) {
		t.Errorf("an earlier good one: %s (%s)", a.Verdict, codes(a))
	}
}

// A good check without an event before it changes nothing: it moves no date and
// brings no other figures.
func TestACheckAloneChangesNothing(t *testing.T) {
	f := good(t)
	before := answered(t, f, asks(t, "108 N·m", "100..116"))
	f.Checks = []Kept{checked(t, "2026-06-02", evenBoth)}
	after := answered(t, f, asks(t, "108 N·m", "100..116"))
	if after.Inside != before.Inside || after.Due != before.Due || after.CheckedBy != "" {
		t.Errorf("%v, due %s; before %v, %s", after.Inside, after.Due, before.Inside, before.Due)
	}
}

func timed(k Kept, at dates.Instant) Kept {
	k.At = at
	return k
}

func TestTheNewestDayCounts(t *testing.T) {
	old := certified(t, both)
	old.On, old.NextDue = "2026-03-01", "2027-03-01"
	ccw := certified(t, "ccw:40=40,40,40,40,40.1,ccw:120=120,120,120,120,120.1,ccw:200=200,200,200,200,200.1")
	cw := certified(t, threePoints)
	passOnly := kept(t, "P", wrench(), Result{On: "2026-05-04", Paper: PassOnly, Claim: ClaimsPass})
	failed := certified(t, "ccw:40=30,30,30,ccw:200=150,150")
	failed.Disagrees = false
	for _, c := range []struct {
		name string
		all  []Kept
		want Readiness
		code ReasonCode
	}{
		{"each direction on a paper of its own", []Kept{ccw, cw}, Yes, ""},
		{"an older day does not stand in", []Kept{ccw, old}, No, ReasonDirection},
		{"a failure of the same day", []Kept{failed, cw}, No, ReasonFailed},
		{"a failure of the same day, who knows when", []Kept{cw, failed}, No, ReasonFailed},
		{"a failure of the same day, before", []Kept{timed(cw, 2000), timed(failed, 1000)}, Yes, ""},
		{"a failure of the same day, after, in any order", []Kept{timed(cw, 1000), timed(failed, 2000)}, No, ReasonFailed},
		{"a weak paper of the same day, entered later", []Kept{passOnly, cw}, CannotConfirm, ReasonUnsupported},
		{"in any order of days", []Kept{old, cw}, Yes, ""},
	} {
		f := good(t)
		f.Calibrations = c.all
		a := answered(t, f, asks(t, "108 N·m", "100..116"))
		if a.Verdict != c.want || c.code != "" && !has(a, c.code, c.want) {
			t.Errorf("%s: %s (%s), want %s", c.name, a.Verdict, codes(a), c.want)
		}
	}
}

// A gauge has no directions, and a point where the reference shows zero counts by its
// amounts.
func TestADroppedGaugeIsCheckedFromEndToEnd(t *testing.T) {
	q := Requirement{Instrument: PressureGauge, Unit: units.PSI, Scale: Scale{Low: qty(t, "0 psi"), High: qty(t, "200 psi")}, Limit: limit("2 % of span"),
		LimitSource: Source{OwnPaper, "its dial"}, Months: 12, IntervalSource: Source{ShopRule, ""}}
	compare := func(on dates.Date, bench bool, text string) Kept {
		read, err := ParseReadings(text, units.PSI, NoDirection)
		if err != nil {
			t.Fatal(err)
		}
		return kept(t, "K", q, Result{On: on, Paper: Own, BenchCheck: bench, AsLeft: read, Temperature: qty(t, "21 °C"),
			Standard: Standard{Name: "s", Low: qty(t, "0 psi"), High: qty(t, "300 psi"), Absolute: qty(t, "0.4 psi"), Bias: "0", Calibrated: "2026-01-10", Due: "2027-01-10"}})
	}
	whole := "0=0,0,0,0,0,100=100,100,100,100,100.1,200=200,200,200,200,200.1"
	f := Facts{Kind: "pressure gauge", Requirement: &q, Today: "2026-06-04", Calibrations: []Kept{compare("2026-05-04", false, whole)}, Events: []Event{{Kind: Dropped, On: "2026-06-01"}}}
	for text, want := range map[string]Readiness{whole: Yes, "100=100,100,100,100,100.1,200=200,200,200,200,200.1": No, "0=3,3,3,3,3,100=103.5,103.5,103.5,200=203.9,203.9,203.9": No} {
		f.Checks = []Kept{compare("2026-06-02", true, text)}
		if a := answered(t, f, asks(t, "100 psi", "80..120")); a.Verdict != want {
			t.Errorf("after %s: %s (%s), want %s", text, a.Verdict, codes(a), want)
		}
	}
}

func TestAScaleThatCannotBeReadIsSaid(t *testing.T) {
	for name, change := range map[string]func(*Requirement){
		"falls":                  func(r *Requirement) { r.Scale.Low, r.Scale.High = nm("200"), nm("40") },
		"in another quantity":    func(r *Requirement) { r.Scale.Low.Unit, r.Scale.High.Unit = units.PSI, units.PSI },
		"a step that is none":    func(r *Requirement) { r.Scale.Graduation = nm("-1") },
		"a step in another unit": func(r *Requirement) { r.Scale.Graduation = qty(t, "1 psi") },
		"no numbers":             func(r *Requirement) { r.Scale.Low.Value = "low" },
	} {
		f := good(t)
		change(f.Requirement)
		if a := answered(t, f, asks(t, "108 N·m", "100..116")); a.Verdict != CannotConfirm || !has(a, ReasonUnreadable, CannotConfirm) {
			t.Errorf("%s: %s (%s)", name, a.Verdict, codes(a))
		}
	}
}

// Two papers of one day, of which one has an hour: what came certainly after a drop
// gives trust back, in whichever order they stand; what may have come before does
// not, and without an hour for the drop nothing of that day does.
func TestTwoPapersOfOneDay(t *testing.T) {
	const morning, noon, evening = 8 * 3600, 12 * 3600, 17 * 3600
	paper := func(when dates.Instant) Kept {
		return Kept{At: when, Judgement: Judgement{On: "2026-11-02", Verdict: Passed}}
	}
	for _, c := range []struct {
		name   string
		drop   dates.Instant
		papers []dates.Instant
		undone bool
	}{
		{"one certainly after", morning, []dates.Instant{noon, 0}, true},
		{"both without an hour", morning, []dates.Instant{0, 0}, false},
		{"one before, one that may be", noon, []dates.Instant{morning, 0}, false},
		{"one before, one after", noon, []dates.Instant{morning, evening}, true},
		{"a drop without an hour", 0, []dates.Instant{morning, evening}, false},
	} {
		drop := []Event{{Kind: Dropped, On: "2026-11-02", At: c.drop}}
		first, second := paper(c.papers[0]), paper(c.papers[1])
		for order, papers := range [][]Kept{{first, second}, {second, first}} {
			if left, _ := Trust(drop, nil, papers, Requirement{}); (len(left) == 0) != c.undone {
				t.Errorf("%s, order %d: %+v", c.name, order, left)
			}
		}
	}
}
