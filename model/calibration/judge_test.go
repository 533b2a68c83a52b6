package calibration

import (
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/fault"
	"pawl/model/units"
)

// ISO 6789-2:2017 5.1.
func TestDeviations(t *testing.T) {
	q := wrench()
	for _, row := range table(t, "torque-deviations.txt") {
		p := judged(t, q, own(t, row[0]+"="+row[1]), Around{}).Left(Clockwise)[0]
		for i, want := range strings.Split(row[2], ",") {
			equal(t, "deviation at "+row[0], p.DeviationsPercent[i], number(t, want), 1e-6)
		}
		equal(t, "mean at "+row[0], p.MeanPercent, number(t, row[3]), 1e-6)
		equal(t, "worst at "+row[0], p.WorstPercent, number(t, row[4]), 1e-6)
		if row[5] != "" {
			equal(t, "scatter at "+row[0], p.ScatterPercent, number(t, row[5]), 1e-6)
		}
		if p.Within != (row[6] == "yes") {
			t.Errorf("set %s, delivered %s: within is %v", row[0], row[1], p.Within)
		}
	}
}

// The denominator is the reference (ISO 6789-2:2017 5.1), so the window about a
// setting is not symmetric: ±4 % about 100 N·m is 96.1538 to 104.1667.
func TestPassWindowIsNotSymmetric(t *testing.T) {
	q := wrench()
	for reading, within := range map[string]bool{"96.1538": false, "96.1539": true, "104.1666": true, "104.1667": false, "96": false, "104.0": true} {
		if p := judged(t, q, own(t, "100="+reading), Around{}).Points[0]; p.Within != within {
			t.Errorf("set 100, delivered %s: within is %v", reading, p.Within)
		}
	}
	// Exactly on the limit is within, though 24.96/0.96 is not 26 in binary.
	if p := judged(t, fine("25 % of reference"), own(t, "100=80"), Around{}).Points[0]; !p.Within || p.Decision != ConditionalPass {
		t.Errorf("on the limit: %+v", p)
	}
}

func fine(text string) Requirement {
	q := wrench()
	q.Limit = limit(text)
	return q
}

// The seven contributions of ISO 6789-2:2017 6 (their forms from memory), worked by
// two programs: X̄_r 40.9, r 0.5, spreads 0.20, 0.16, 0.12, 0.24 N·m, W_md 1.0 %.
func TestTorqueBudget(t *testing.T) {
	q := wrench()
	q.Resolution = nm("0.5")
	for bias, interval := range map[Decimal]float64{"0": 3.616414, "0.3": 3.916414, "-0.3": 3.916414} {
		r := own(t, "40=40.9,41.2,40.6,41.0,40.8")
		r.Standard.Bias = bias
		p := judged(t, q, r, Around{}).Points[0]
		want := map[string]float64{"W_md/2": 0.500000, "w_r": 0.352904, "w_rep": 0.141161, "w_od": 0.112929, "w_int": 0.084697, "w_l": 0.169394, "w_re": 0.244499}
		if len(p.Parts) != len(want) {
			t.Fatalf("%d contributions: %+v", len(p.Parts), p.Parts)
		}
		for _, c := range p.Parts {
			equal(t, c.Symbol, c.Percent, want[c.Symbol], 1e-6)
			if c.Assumed {
				t.Errorf("%s is assumed", c.Symbol)
			}
		}
		equal(t, "w", p.ExpandedPercent/2, 0.709132, 1e-6)
		equal(t, "W", p.ExpandedPercent, 1.418264, 1e-6)
		equal(t, "U", p.Expanded, 0.58007, 1e-5)
		equal(t, "W'", p.Interval, interval, 1e-6)
		equal(t, "TUR", p.TUR, 4/1.418264, 1e-5)
	}
}

// TUR is limit over expanded uncertainty (handbook of ANSI/NCSL Z540.3), not the
// ratio of accuracies: 4/1.42.
func TestTUR(t *testing.T) {
	r := lab(t, "40=40.1,120=120.2,200=200.1", "1.42")
	r.AsLeft[1].Uncertainty = "1.0"
	j := judged(t, wrench(), r, Around{})
	equal(t, "at 40", j.Points[0].TUR, 2.816901, 1e-6)
	equal(t, "at 120", j.Points[1].TUR, 4, 1e-6)
	equal(t, "lowest", j.TUR, 2.816901, 1e-6)
}

// lab is a laboratory's certificate with readings as left and its stated W.
func lab(t *testing.T, left, w string) Result {
	return Result{On: "2026-05-04", By: "a laboratory", Number: "C-118", Paper: Certificate, AsLeft: points(t, left), Uncertainty: Decimal(w)}
}

// A reading outside fails the point though its mean is inside (ISO 6789-1, as a
// torque-equipment maker's article has it: all readings).
func TestEveryReadingCounts(t *testing.T) {
	j := judged(t, wrench(), lab(t, "120=126,120,120,120,120", "0.5"), Around{})
	if p := j.Points[0]; p.Within || p.Decision != Pass || j.Verdict != Failed {
		t.Errorf("within %v, decision %s, verdict %s", p.Within, p.Decision, j.Verdict)
	}
}

func TestVerdicts(t *testing.T) {
	good, bad := "40=40.1,120=120.2,200=200.1", "40=40.4,120=110.0,200=185.2"
	for name, c := range map[string]struct {
		change      func(*Result)
		left, found Verdict
		supports    bool
	}{
		"left as found": {func(*Result) {}, Passed, Passed, true},
		"adjusted": {func(r *Result) { r.Adjusted, r.AsFound = true, points(t, bad) },
			Passed, Failed, true},
		"adjusted, never found": {func(r *Result) { r.Adjusted = true },
			Passed, CannotBeJudged, true},
		"adjusted, never left": {func(r *Result) { r.Adjusted, r.AsFound, r.AsLeft = true, r.AsLeft, nil },
			CannotBeJudged, Passed, false},
		"only found": {func(r *Result) { r.AsFound, r.AsLeft = r.AsLeft, nil }, Passed, Passed, true},
		"fails":      {func(r *Result) { r.AsLeft = points(t, bad) }, Failed, Failed, false},
		"paper says pass": {func(r *Result) { r.AsLeft, r.Claim = points(t, bad), ClaimsPass },
			Failed, Failed, false},
		"paper says fail": {func(r *Result) { r.Claim = ClaimsFail }, Failed, Passed, false},
		"no results":      {func(r *Result) { r.AsLeft = nil }, CannotBeJudged, CannotBeJudged, false},
		"no uncertainty":  {func(r *Result) { r.Uncertainty = "" }, Passed, Passed, false},
		"weak":            {func(r *Result) { r.Uncertainty = "2.1" }, Passed, Passed, false},
		"half the limit":  {func(r *Result) { r.Uncertainty = "2.0" }, Passed, Passed, true},
		"pass only": {func(r *Result) { r.Paper, r.AsLeft, r.Uncertainty, r.Claim = PassOnly, nil, "", ClaimsPass },
			CannotBeJudged, CannotBeJudged, false},
		"fail only": {func(r *Result) { r.Paper, r.AsLeft, r.Uncertainty, r.Claim = PassOnly, nil, "", ClaimsFail },
			Failed, Failed, false},
	} {
		r := lab(t, good, "1.0")
		c.change(&r)
		j := judged(t, wrench(), r, Around{})
		if j.Verdict != c.left || j.FoundVerdict != c.found || j.Supports != c.supports {
			t.Errorf("%s: left %s, found %s, supports %v; want %s, %s, %v (%v)", name, j.Verdict, j.FoundVerdict, j.Supports, c.left, c.found, c.supports, j.Doubts)
		}
		if (j.NextDue != "") != (j.Verdict == Passed) || j.IntervalEnds != "2027-05-04" {
			t.Errorf("%s: due %q after %s, ends %s", name, j.NextDue, j.Verdict, j.IntervalEnds)
		}
	}
}

// Where the paper says pass and its readings fail by our denominator, both stay.
func TestPaperAndReadingsDisagree(t *testing.T) {
	r := lab(t, "100=96.0", "0.5")
	r.Claim = ClaimsPass
	j := judged(t, wrench(), r, Around{})
	d, has := doubt(j, DoubtLabDisagrees)
	if !j.Disagrees || j.Claim != ClaimsPass || j.Verdict != Failed || !has || !d.Blocks {
		t.Errorf("%+v", j)
	}
}

// A stated uncertainty of exactly half the limit is enough, whatever the readings:
// both are percents of reading.
func TestHalfTheLimitIsEnough(t *testing.T) {
	for _, text := range []string{"4 % of reference", "4 % of indicated"} {
		for reading, w := range map[string]string{"118.44": "2", "121.62": "2", "122.8": "2.0", "117.7": "1.9999"} {
			if j := judged(t, fine(text), lab(t, "120="+reading, w), Around{}); !j.Supports {
				t.Errorf("%s, W %s at %s: %v", text, w, reading, j.Doubts)
			}
			if j := judged(t, fine(text), lab(t, "120="+reading, "2.001"), Around{}); j.Supports {
				t.Errorf("%s: W 2.001 supports a yes", text)
			}
		}
	}
}

// Both phases with other readings mean an adjustment, said or not; the same
// readings do not, and a direction that was only found stays as it was found.
func TestAdjustedBySight(t *testing.T) {
	r := lab(t, "40=39.8,120=119.3,200=199.0", "2.0")
	r.AsFound = points(t, "40=40.4,120=110.0,200=185.2")
	if j := judged(t, wrench(), r, Around{}); !j.Adjusted || j.Verdict != Passed || j.FoundVerdict != Failed || !j.Supports {
		t.Errorf("adjusted %v, left %s, found %s", j.Adjusted, j.Verdict, j.FoundVerdict)
	}
	r.AsFound = points(t, "40=39.8,120=119.3,200=199.0,ccw:40=39.7,ccw:200=199.1")
	j := judged(t, wrench(), r, Around{})
	if len(j.Found(Counterclockwise)) != 2 || len(j.Found(Clockwise)) != 3 || j.Found(Clockwise)[0].Phase != AsFound {
		t.Errorf("found %v and %v", j.Found(Clockwise), j.Found(Counterclockwise))
	}
	if j.Adjusted || len(j.Left(Counterclockwise)) != 2 || len(j.Left(Clockwise)) != 3 || j.Left(Clockwise)[0].Phase != AsLeft {
		t.Errorf("adjusted %v, %v", j.Adjusted, j.Left(Counterclockwise))
	}
	r.Adjusted = true
	if j := judged(t, wrench(), r, Around{}); len(j.Left(Counterclockwise)) != 0 {
		t.Errorf("after an adjustment: %v", j.Left(Counterclockwise))
	}
}

// The paper says pass, every reading is inside, and the guarded rule still says
// fail: the words say which.
func TestWordsOfDisagreement(t *testing.T) {
	r := lab(t, "120=123.9669421488", "1.42")
	r.Claim = ClaimsPass
	d, _ := doubt(judged(t, wrench(), r, Around{SafetyJobs: true}), DoubtLabDisagrees)
	if !strings.Contains(d.Text, "every reading is inside") || !strings.Contains(d.Text, "guarded rule") {
		t.Errorf("%q", d.Text)
	}
	r.AsLeft = points(t, "120=110")
	d, _ = doubt(judged(t, wrench(), r, Around{}), DoubtLabDisagrees)
	if !strings.Contains(d.Text, "cw:120 is outside") {
		t.Errorf("%q", d.Text)
	}
}

func TestRuleByUse(t *testing.T) {
	// Mean −3.2 %, W 1.42 %: inside the limit, not by the uncertainty.
	left := "120=123.9669421488"
	for _, c := range []struct {
		rule     Rule
		safety   bool
		decision Decision
		verdict  Verdict
	}{
		{DefaultRule, true, Fail, Failed}, {DefaultRule, false, ConditionalPass, Passed}, {SimpleRule, true, Pass, Passed}, {FourZoneRule, true, ConditionalPass, Passed}, {GuardedRule, false, Fail, Failed},
	} {
		q := wrench()
		q.Rule = c.rule
		j := judged(t, q, lab(t, left, "1.42"), Around{SafetyJobs: c.safety})
		if p := j.Points[0]; p.Decision != c.decision || j.Verdict != c.verdict || !p.Within {
			t.Errorf("%q, safety %v: %s, %s", c.rule, c.safety, p.Decision, j.Verdict)
		}
		equal(t, "probability", j.Points[0].Conformance, 0.870078, 1e-5)
	}
}

// What must hold of a comparison made here before it supports a yes; each thing
// taken away alone.
func TestWhatMaySupportAYes(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Requirement, *Result)
		code   DoubtCode
	}{
		"no standard":         {func(_ *Requirement, r *Result) { r.Standard = Standard{} }, DoubtNoStandard},
		"standard out of use": {func(_ *Requirement, r *Result) { r.Standard.OutOfUse = true }, DoubtStandardOut},
		"standard never due":  {func(_ *Requirement, r *Result) { r.Standard.Due = "" }, DoubtStandardDate},
		"standard overdue":    {func(_ *Requirement, r *Result) { r.Standard.Due = "2026-11-01" }, DoubtStandardDate},
		"standard not yet":    {func(_ *Requirement, r *Result) { r.Standard.Calibrated = "2026-11-03" }, DoubtStandardDate},
		"standard's range":    {func(_ *Requirement, r *Result) { r.Standard.High = nm("200") }, DoubtStandardRange},
		"range unknown":       {func(_ *Requirement, r *Result) { r.Standard.Low, r.Standard.High = units.Quantity{}, units.Quantity{} }, DoubtStandardRange},
		"standard weak":       {func(_ *Requirement, r *Result) { r.Standard.Uncertainty = "1.01" }, DoubtStandardWeak},
		"standard weak below": {func(_ *Requirement, r *Result) { r.Standard.Uncertainty, r.Standard.Absolute = "", nm("0.5") }, DoubtStandardWeak},
		"no uncertainty":      {func(_ *Requirement, r *Result) { r.Standard.Uncertainty = "" }, DoubtNoUncertainty},
		"no bias":             {func(_ *Requirement, r *Result) { r.Standard.Bias = "" }, DoubtStandardBias},
		"no temperature":      {func(_ *Requirement, r *Result) { r.Temperature = units.Quantity{} }, DoubtTemperature},
		"too hot":             {func(_ *Requirement, r *Result) { r.Temperature.Value = "28.1" }, DoubtTemperatureRange},
		"limit from memory":   {func(q *Requirement, _ *Result) { q.LimitSource = Source{FromMemory, ""} }, DoubtLimitFromMemory},
		"limit by habit":      {func(q *Requirement, _ *Result) { q.LimitSource = Source{CommonPractice, ""} }, DoubtLimitFromMemory},
	} {
		q, r := wrench(), own(t, "40=40.1,40.0,40.2,40.1,40.1,120=120.2,120.1,120.2,120.0,120.1,200=200.1,200.3,200.2,200.2,200.0")
		if j := judged(t, q, r, Around{}); !j.Supports {
			t.Fatalf("nothing taken away: %v", j.Doubts)
		}
		c.change(&q, &r)
		j := judged(t, q, r, Around{})
		d, has := doubt(j, c.code)
		if j.Supports || !has || !d.Blocks || d.Text == "" {
			t.Errorf("%s: supports %v, %v", name, j.Supports, j.Doubts)
		}
		if j.Verdict != Passed {
			t.Errorf("%s: the result itself is %s", name, j.Verdict)
		}
	}
}

// The last day in date, and exactly a quarter, are enough.
func TestStandardOnTheEdge(t *testing.T) {
	r := own(t, "40=40.1,120=120.2,200=200.1")
	r.Standard.Due, r.Standard.Calibrated, r.Standard.High, r.Standard.Low = r.On, r.On, nm("200.1"), nm("40")
	r.Temperature = units.Quantity{Value: "64.4", Unit: units.Fahrenheit}
	if j := judged(t, wrench(), r, Around{}); !j.Supports {
		t.Errorf("%v", j.Doubts)
	}
}

func TestDoubtsThatOnlyTell(t *testing.T) {
	r := own(t, "40=40.1,200=200.1")
	r.Budget = Budget{}
	j := judged(t, wrench(), r, Around{})
	for _, code := range []DoubtCode{DoubtBudgetAssumed, DoubtScatterAssumed, DoubtFewReadings, DoubtPoints} {
		if d, has := doubt(j, code); !has || d.Blocks {
			t.Errorf("%s: %v in %v", code, has, j.Doubts)
		}
	}
	if !j.Supports {
		t.Errorf("%v", j.Doubts)
	}
	p := j.Points[0]
	if !p.ScatterAssumed {
		t.Error("one reading shows no scatter")
	}
	equal(t, "scatter", p.ScatterPercent, 1, 1e-9)
	whole := own(t, "40=40.1,200=200.1")
	if known := judged(t, wrench(), whole, Around{}).Points[0]; !(p.ExpandedPercent > known.ExpandedPercent) {
		t.Errorf("unknown spreads make W %g, known ones %g", p.ExpandedPercent, known.ExpandedPercent)
	}
}

// Paper that names a class bounds the tool by the whole class over its range.
func TestClassPaper(t *testing.T) {
	declared := Declared{Class: "ISO 6789 type II class A", Low: nm("40"), High: nm("200"), Points: 3, Directions: []Direction{Clockwise}}
	wide, narrow := limit("6 % of reference"), limit("3 % of reference")
	for name, c := range map[string]struct {
		change  func(*Declared)
		verdict Verdict
	}{
		"whole": {func(*Declared) {}, Passed}, "two points": {func(d *Declared) { d.Points = 2 }, CannotBeJudged},
		"a class that allows more": {func(d *Declared) { d.Limit = &wide }, CannotBeJudged}, "that allows less": {func(d *Declared) { d.Limit = &narrow }, Passed},
	} {
		d := declared
		c.change(&d)
		j := judged(t, wrench(), Result{On: "2026-05-04", Paper: Declaration, Declared: &d, Claim: ClaimsPass}, Around{})
		_, doubted := doubt(j, DoubtClassPaper)
		if j.Verdict != c.verdict || j.Supports != (c.verdict == Passed) || doubted == j.Supports {
			t.Errorf("%s: %s, supports %v, %v", name, j.Verdict, j.Supports, j.Doubts)
		}
		if c.verdict == Passed && (len(j.Covered) != 1 || j.Covered[0] != Span{Clockwise, 40, 200} || !j.Limited) {
			t.Errorf("%s: covers %v, limited %v", name, j.Covered, j.Limited)
		}
	}
}

func TestCovered(t *testing.T) {
	both := "cw:40=40,cw:200=200,ccw:60=60,ccw:200=200"
	j := judged(t, wrench(), lab(t, both, "1"), Around{})
	if len(j.Covered) != 2 || j.Covered[0] != (Span{Clockwise, 40, 200}) || j.Covered[1] != (Span{Counterclockwise, 60, 200}) || !j.Limited {
		t.Errorf("%v, limited %v", j.Covered, j.Limited)
	}
	j = judged(t, wrench(), lab(t, "cw:40=40,cw:200=200,ccw:40=40,ccw:200=200", "1"), Around{})
	if j.Limited {
		t.Errorf("the whole scale both ways is limited: %v", j.Covered)
	}
}

// The next date is a calendar month's (as Python's and Java's calendars clamp): a
// year after 29 February is 28 February. The interval runs from the first use where
// that is known (ISO 6789-1:2017 5.3, from memory).
func TestNextDue(t *testing.T) {
	for _, c := range []struct{ on, firstUse, from, due string }{
		{"2028-02-29", "", "2028-02-29", "2029-02-28"}, {"2026-05-04", "", "2026-05-04", "2027-05-04"}, {"2026-05-04", "2026-08-31", "2026-08-31", "2027-08-31"},
		{"2026-05-04", "2026-01-01", "2026-05-04", "2027-05-04"},
	} {
		r := lab(t, "40=40.1,120=120.2,200=200.1", "1")
		r.On = dateOf(t, c.on)
		a := Around{}
		if c.firstUse != "" {
			a.FirstUse = dateOf(t, c.firstUse)
		}
		if j := judged(t, wrench(), r, a); string(j.NextDue) != c.due || string(j.NextDueFrom) != c.from {
			t.Errorf("%+v: due %s from %s", c, j.NextDue, j.NextDueFrom)
		}
	}
	// What a law or a contract allows runs from the comparison, whoever first used the tool.
	for most, due := range map[int]string{0: "2027-08-31", 14: "2027-07-04", 16: "2027-08-31", 12: "2027-05-04"} {
		q, r := wrench(), lab(t, "40=40.1,120=120.2,200=200.1", "1")
		q.MaximumMonths, q.MaximumWhy = most, "the contract with the fleet"
		if most == 0 {
			q.MaximumWhy = ""
		}
		r.On = "2026-05-04"
		if j := judged(t, q, r, Around{FirstUse: "2026-08-31"}); string(j.NextDue) != due || j.IntervalEnds != j.NextDue {
			t.Errorf("at most %d months: due %s, want %s", most, j.NextDue, due)
		}
	}
	r := own(t, "40=40.1,120=120.2,200=200.1")
	r.BenchCheck = true
	if j := judged(t, wrench(), r, Around{}); j.NextDue != "" {
		t.Errorf("a bench check moves the date to %s", j.NextDue)
	}
	q := wrench()
	q.Months = 0
	if j := judged(t, q, lab(t, "40=40.1", "1"), Around{}); j.NextDue != "" {
		t.Errorf("without an interval it is due on %s", j.NextDue)
	}
}

func TestWords(t *testing.T) {
	gauge := Requirement{Instrument: PressureGauge, Unit: units.PSI}
	beam := Requirement{Instrument: TorqueWrench, Class: BeamWrench, Unit: units.NewtonMeter}
	for _, c := range []struct {
		q            Requirement
		set, reading Decimal
		want         string
	}{
		{wrench(), "120", "110.0", "set 120, delivered 110.0: 8.3 % LOW"},
		{wrench(), "120", "130.0", "set 120, delivered 130.0: 8.3 % HIGH"},
		{wrench(), "120", "120.0", "set 120, delivered 120.0: the same"},
		{wrench(), "120", "119.99", "set 120, delivered 119.99: less than 0.1 % LOW"},
		{beam, "120", "110.0", "showed 120, delivered 110.0: 8.3 % LOW"},
		{gauge, "260", "250", "shows 260, reference 250: reads 4.0 % HIGH"}, // US Army SM0486's gauge: 260 shown at 250
		{gauge, "2", "0", "shows 2, reference 0: reads 2 psi HIGH"},
		{Requirement{Instrument: VacuumGauge, Unit: units.InchMercury}, "-20", "-19.5", "shows -20, reference -19.5: reads 2.6 % TOO FAR below zero"},
		{Requirement{Instrument: VacuumGauge, Unit: units.InchMercury}, "-20", "-20.4", "shows -20, reference -20.4: reads 2.0 % NOT FAR ENOUGH below zero"},
	} {
		if got := Echo(c.q, c.set, c.reading); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
	p := judged(t, wrench(), lab(t, "120=110.0", "2"), Around{}).Points[0]
	if want := "clockwise, set 120, delivered 110.0: 8.3 % LOW; OUTSIDE ±4 % of what the reference shows"; wrench().Words(p) != want {
		t.Errorf("%q, want %q", wrench().Words(p), want)
	}
	p = judged(t, wrench(), lab(t, "120=119.1,119.6,119.4", "2"), Around{}).Points[0]
	if want := "clockwise, set 120, delivered 119.37 on average of 3: 0.5 % LOW; worst: set 120, delivered 119.1: 0.8 % LOW; within ±4 % of what the reference shows"; wrench().Words(p) != want {
		t.Errorf("%q, want %q", wrench().Words(p), want)
	}
}

// A gauge error as percent of span: 260 shown at 250 on 0-500 psi is +2 % (US Army
// SM0486), inside grade D's 5 % and outside grade 1A's 1 %.
func TestGaugeJudged(t *testing.T) {
	for text, within := range map[string]bool{"5 % of span": true, "2 % of span": true, "1 % of span": false} {
		q := Requirement{Instrument: PressureGauge, Unit: units.PSI, Scale: scaleOf(t, "psi 0..500 by 10"), Limit: limit(text), LimitSource: Source{OwnPaper, "dial"}, IntervalSource: Source{ShopRule, ""}}
		r := Result{On: "2026-11-02", Paper: Certificate, Uncertainty: "0.5", AsLeft: []Point{{Set: "260", Readings: []Decimal{"250"}}, {Set: "0", Readings: []Decimal{"0"}}}}
		j := judged(t, q, r, Around{})
		zero, p := j.Points[0], j.Points[1]
		if p.Within != within {
			t.Errorf("%s: within is %v", text, p.Within)
		}
		equal(t, "error in percent of span", 100*p.MeanError/500, 2, 1e-9)
		if zero.DeviationsPercent != nil || !math.IsNaN(zero.MeanPercent) || !zero.Within {
			t.Errorf("at zero: %+v", zero)
		}
	}
}

// A tire gauge at 2.20 bar: readings, resolution 0.01 bar and the standard, by JCGM
// 100:2008 4.2, 4.3 and 5.1.2. With few degrees of freedom the factor is Student's:
// t_95.45(13) = 2.21 in its table G.2.
func TestGaugeBudget(t *testing.T) {
	q := Requirement{Instrument: TireGauge, Unit: units.Bar, Scale: scaleOf(t, "bar 0..4 by 0.01"), Limit: limit("0.08 bar"), LimitSource: Source{OwnPaper, "its leaflet"}, IntervalSource: Source{ShopRule, ""}}
	for u, want := range map[string]float64{"0.010": 2 * 0.0065828, "0.001": 2.21 * 0.0043109} {
		s := Standard{Name: "deadweight tester", Low: scaleOf(t, "bar 0..10").Low, High: scaleOf(t, "bar 0..10").High, Absolute: units.Quantity{Value: u, Unit: units.Bar}, Bias: "0", Calibrated: "2026-01-10", Due: "2027-01-10"}
		r := Result{On: "2026-11-02", Paper: Own, Standard: s, Temperature: units.Quantity{Value: "21", Unit: units.Celsius}, AsLeft: []Point{{Set: "2.20", Readings: []Decimal{"2.19", "2.20", "2.20", "2.21", "2.20"}}}}
		j := judged(t, q, r, Around{})
		p := j.Points[0]
		if len(p.Parts) != 3 || !j.Supports {
			t.Errorf("%d parts, %v", len(p.Parts), j.Doubts)
		}
		equal(t, "U with the standard's "+u, p.Expanded, want, 0.00002)
		equal(t, "TUR", p.TUR, 0.08/p.Expanded, 1e-9)
	}
}

func TestJSONRoundTrip(t *testing.T) {
	q := wrench()
	second := scaleOf(t, "ft-lb 30..150 by 1")
	q.Second, q.GripToDrive, q.Rule, q.Reliability = &second, units.Quantity{Value: "400", Unit: units.Millimeter}, GuardedRule, "0.95"
	r := own(t, "40=40.1,39.9,ccw:40=39.7")
	bound := limit("6 % of reference")
	r.Declared = &Declared{Class: "II-A", Limit: &bound, Low: nm("40"), High: nm("200"), Points: 3, Directions: []Direction{Clockwise}}
	var q2 Requirement
	var r2 Result
	for from, to := range map[any]any{&q: &q2, &r: &r2} {
		data, err := json.Marshal(from)
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(data, to); err != nil {
			t.Fatalf("%s: %v", data, err)
		}
		if !reflect.DeepEqual(from, to) {
			t.Errorf("%s reads back as %+v", data, to)
		}
	}
	var l Limit
	if err := json.Unmarshal([]byte(`"4 %"`), &l); !fault.Is(err, fault.Invalid) {
		t.Errorf("a percent of nothing: %v, %v", l, err)
	}
}

// More uncertainty never makes a decision better, and turning every sign round
// changes nothing.
func TestDecisionsAreMonotonic(t *testing.T) {
	rank := map[Decision]int{Pass: 0, ConditionalPass: 1, ConditionalFail: 2, Fail: 3}
	rapid.Check(t, func(t *rapid.T) {
		y, limit := rapid.Float64Range(-10, 10).Draw(t, "y"), rapid.Float64Range(0.1, 10).Draw(t, "limit")
		a, b := rapid.Float64Range(0, 10).Draw(t, "a"), rapid.Float64Range(0, 10).Draw(t, "b")
		a, b = min(a, b), max(a, b)
		if rank[decide(GuardedRule, y, a, limit)] > rank[decide(GuardedRule, y, b, limit)] {
			t.Fatalf("guarded: U %g is worse than %g", a, b)
		}
		inside := math.Abs(y) <= limit
		if inside && rank[decide(FourZoneRule, y, a, limit)] > rank[decide(FourZoneRule, y, b, limit)] {
			t.Fatalf("four-zone: U %g is worse than %g", a, b)
		}
		if d := decide(FourZoneRule, y, a, limit); !inside && !same(math.Abs(y), limit) && (d == Pass || d == ConditionalPass) {
			t.Fatalf("outside and %s", d)
		}
	})
}
