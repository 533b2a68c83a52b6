package calibration

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/units"
)

// threePoints are the readings of a worked calibration of a setting wrench, five at a
// point (the sequence of ISO 6789), and both is the same in either direction.
const (
	threePoints = "40=40.9,41.2,40.6,41.0,40.8,120=121.8,122.9,121.4,122.1,122.3,200=203.4,204.8,202.9,205.1,203.8"
	both        = threePoints + ",ccw:40=40.9,41.2,40.6,41.0,40.8,ccw:120=121.8,122.9,121.4,122.1,122.3,ccw:200=203.4,204.8,202.9,205.1,203.8"
)

// certified is a laboratory's certificate of 2026-05-04 for wrench, which states
// W = 1.418264 %.
func certified(t testing.TB, left string) Kept {
	t.Helper()
	read, err := ParseReadings(left, units.NewtonMeter, Clockwise)
	if err != nil {
		t.Fatal(err)
	}
	return kept(t, "K-1", wrench(), Result{On: "2026-05-04", By: "a lab", Paper: Certificate, Claim: ClaimsPass, Uncertainty: "1.418264", AsLeft: read})
}

func kept(t testing.TB, id string, q Requirement, r Result) Kept {
	t.Helper()
	j, err := Judge(q, r, Around{SafetyJobs: true})
	if err != nil {
		t.Fatal(err)
	}
	return Kept{ID: id, Judgement: j}
}

// good is a wrench that nothing can be said against.
func good(t testing.TB) Facts {
	t.Helper()
	q := wrench()
	q.GripToDrive = units.Quantity{Value: "400", Unit: units.Millimeter}
	return Facts{Number: "00E-KM5", Kind: "torque wrench", Requirement: &q, Today: "2026-08-01", Calibrations: []Kept{certified(t, both)},
		Cycles: Cycles{Counted: true, AtLeast: 800}}
}

func asks(t testing.TB, target, limits string) Question {
	t.Helper()
	q := Question{Target: qty(t, target), Direction: Clockwise}
	l, err := ParseLimits(limits, q.Target.Unit)
	if err != nil {
		t.Fatal(err)
	}
	q.Limits = l
	return q
}

func answered(t testing.TB, f Facts, q Question) Answer {
	t.Helper()
	a, err := Ready(f, q)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func has(a Answer, code ReasonCode, weighs Readiness) bool {
	return slices.ContainsFunc(a.Reasons, func(r Reason) bool { return r.Code == code && r.Weighs == weighs && r.Text != "" })
}

func codes(a Answer) string {
	var out []string
	for _, r := range a.Reasons {
		out = append(out, fmt.Sprintf("%s→%s", r.Code, r.Weighs))
	}
	return strings.Join(out, ", ")
}

// at sets a wrench into its interval: days since the calibration of days in all, and
// cycles of 5,000.
func at(f Facts, t, interval int, cycles int64) Facts {
	k := f.Calibrations[0]
	k.NextDue = k.On.AddDays(interval)
	f.Calibrations = []Kept{k}
	f.Today = k.On.AddDays(t)
	f.Cycles = Cycles{Counted: true, AtLeast: cycles}
	return f
}

// The probability is that of conformance of JCGM 106:2012 clause 7 on the relative
// error of ISO 6789-2:2017 5.1; expected figures come from a script that shares
// nothing with this program.
func TestReadyWorkedOut(t *testing.T) {
	for _, c := range []struct {
		limits             string
		days               int // of 360
		cycles             int64
		notSafety          bool
		drift, v, inside   float64
		want               Readiness
		weighing           ReasonCode
		deviation, percent float64
	}{
		{"100..116", 90, 800, false, 1.020427, 1.457015, 0.999771, Yes, "", -1.790228, 0},
		{"100..116", 360, 800, false, 0, 2.290569, 0.987093, Yes, "", -1.790228, 0},
		{"103..113", 90, 800, false, 1.020427, 1.457015, 0.964708, CannotConfirm, ReasonProbability, -1.790228, 0},
		{"103..113", 90, 800, true, 1.020427, 1.457015, 0.964708, Yes, "", -1.790228, 0},
		{"103..113", 324, 1000, false, 0, 2.197771, 0.883435, CannotConfirm, ReasonProbability, -1.790228, 0},
	} {
		q := asks(t, "108 N·m", c.limits)
		q.NotSafety = c.notSafety
		a := answered(t, at(good(t), c.days, 360, c.cycles), q)
		what := fmt.Sprintf("108 in %s after %d of 360 days", c.limits, c.days)
		equal(t, what+": probability", a.Inside, c.inside, 1e-6)
		equal(t, what+": deviation", a.DeviationPercent, c.deviation, 1e-6)
		equal(t, what+": 1.96·v", a.UncertaintyPercent, 1.96*c.v, 2e-6)
		equal(t, what+": low end applied", a.Low, 108/(1+(c.deviation+1.96*c.v)/100), 1e-5)
		equal(t, what+": high end applied", a.High, 108/(1+(c.deviation-1.96*c.v)/100), 1e-5)
		if a.Verdict != c.want || a.Fit != (c.want == Yes) || c.weighing != "" && !has(a, c.weighing, CannotConfirm) {
			t.Errorf("%s: %s (%s), want %s", what, a.Verdict, codes(a), c.want)
		}
		if a.Setting != nm("108") || a.Target != 108 || a.Calibration != "K-1" || !a.Available {
			t.Errorf("%s: setting %s, target %v, %q, available %v", what, a.Setting, a.Target, a.Calibration, a.Available)
		}
	}
}

// The gate T/(1+p) >= lo and T/(1−p) <= hi: 108 with 4 % in 100 to 116 may be 103.8462
// to 112.5; 25 in 24 to 26 may be 26.0417 (the deviation of ISO 6789-2:2017 5.1).
func TestLimitsNarrowerThanTheTool(t *testing.T) {
	if a := answered(t, good(t), asks(t, "108 N·m", "100..116")); has(a, ReasonTooNarrow, No) {
		t.Errorf("108 in 100..116: %s", codes(a))
	}
	small := small(t)
	if a := answered(t, small, asks(t, "25 N·m", "24..26")); a.Verdict != No || !has(a, ReasonTooNarrow, No) || !strings.Contains(a.Words(), "24.038 N·m to 26.042 N·m") {
		t.Errorf("25 in 24..26: %s: %s", a.Verdict, a.Words())
	}
	// Exactly at the edge, within binary rounding, is inside.
	if a := answered(t, small, asks(t, "25 N·m", "24.038461538462..26.041666666666")); has(a, ReasonTooNarrow, No) {
		t.Errorf("25 at the very edge: %s", codes(a))
	}
}

func small(t testing.TB) Facts {
	f := good(t)
	q := *f.Requirement
	q.Scale = Scale{Low: nm("10"), High: nm("50"), Graduation: nm("0.5")}
	read, _ := ParseReadings("10=10,10,10,10,10.01,30=30,30,30,30,30.01,50=50,50,50,50,50.01", units.NewtonMeter, Clockwise)
	f.Requirement = &q
	f.Calibrations = []Kept{kept(t, "K-2", q, Result{On: "2026-05-04", Paper: Certificate, Uncertainty: "1.0", AsLeft: read})}
	return f
}

// 25 in 24 to 26.1 passes the gate, and with a certificate of +3.9 % only 64.6388 %
// of uses land inside (u = 0.71 %; JCGM 106:2012 7).
func TestTheGateAloneIsNotEnough(t *testing.T) {
	equal(t, "P", inside(25, 3.9, 0.71, 24, 26.1), 0.646388, 1e-6)
}

// On a point, that point alone speaks; between two, f is linear and the larger scatter
// counts.
func TestSingleUseScatterAndInterpolation(t *testing.T) {
	a := newAsking(ptr(Prepare(good(t))), asks(t, "40 N·m", ""), conversions{})
	a.calibration()
	if err := a.value(); err != nil {
		t.Fatal(err)
	}
	a.limit = 4
	for _, c := range []struct{ x, mean, s, delta, between float64 }{
		{40, -2.198150, 0.757471, 0, 0},
		{120, -1.718242, 0.639354, 0, 0},
		{200, -1.959155, 0.632927, 0, 0},
		{108, -1.790228, 0.757471, 0.479908, 2 * 0.85 * 0.15 * 0.479908 / math.Sqrt(3)},
	} {
		a.at = c.x
		got, ok := a.pointSpread(a.figures.Left(Clockwise))
		if !ok {
			t.Fatalf("nothing at %v", c.x)
		}
		equal(t, fmt.Sprintf("ā at %v", c.x), got.mean, c.mean, 1e-6)
		equal(t, fmt.Sprintf("s at %v", c.x), got.s, c.s, 1e-6)
		equal(t, fmt.Sprintf("w at %v", c.x), got.w, 0.709132, 1e-9)
		equal(t, fmt.Sprintf("Δ at %v", c.x), got.delta, c.delta, 1e-6)
		equal(t, fmt.Sprintf("between at %v", c.x), got.between, c.between, 1e-6)
	}
}

func ptr[T any](v T) *T { return &v }

func TestEveryKnownFactAgainstIt(t *testing.T) {
	event := func(kind EventKind, on dates.Date) func(*Facts, *Question) {
		return func(f *Facts, _ *Question) { f.Events = []Event{{Kind: kind, On: on}} }
	}
	for _, c := range []struct {
		name   string
		change func(*Facts, *Question)
		code   ReasonCode
	}{
		{"gone", func(f *Facts, _ *Question) { f.Gone = "sold" }, ReasonGone},
		{"do not use", func(f *Facts, _ *Question) { f.DoNotUse = "dropped" }, ReasonDoNotUse},
		{"dropped since", event(Dropped, "2026-06-01"), ReasonTrustEnded},
		{"dropped on the day of the calibration", event(Dropped, "2026-05-04"), ReasonTrustEnded},
		{"dropped on an unknown day", event(Dropped, ""), ReasonTrustEnded},
		{"overloaded since", event(Overloaded, "2026-06-01"), ReasonTrustEnded},
		{"used to break loose since", event(BrokeLoose, "2026-06-01"), ReasonTrustEnded},
		{"repaired since", event(Repaired, "2026-06-01"), ReasonTrustEnded},
		{"something new since", event("kicked", "2026-06-01"), ReasonTrustEnded},
		{"past due", func(f *Facts, _ *Question) { f.Today = "2027-05-05" }, ReasonPastDue},
		{"cycles used up", func(f *Facts, _ *Question) { f.Cycles = Cycles{Counted: true, AtLeast: 5000} }, ReasonCycles},
		{"above its scale", func(_ *Facts, q *Question) { q.Target = nm("201") }, ReasonRange},
		{"below its scale", func(_ *Facts, q *Question) { q.Target = nm("39") }, ReasonRange},
		{"no graduation", func(_ *Facts, q *Question) { q.Target = nm("107.5") }, ReasonGraduation},
		{"a pressure", func(_ *Facts, q *Question) { q.Target, q.Limits = qty(t, "35 psi"), Limits{} }, ReasonQuantity},
		{"another direction", func(f *Facts, q *Question) {
			q.Direction = Counterclockwise
			f.Calibrations[0] = certified(t, threePoints)
		}, ReasonDirection},
		{"narrow limits", func(_ *Facts, q *Question) { q.Limits = Limits{Low: nm("105"), High: nm("111")} }, ReasonTooNarrow},
		{"a coarse scale", func(f *Facts, q *Question) {
			q.Target, q.Limits = nm("90"), Limits{Low: nm("80"), High: nm("100")}
			r := *f.Requirement
			r.Scale.Graduation = nm("10")
			f.Requirement = &r
		}, ReasonCoarse},
		{"outside what was calibrated", func(f *Facts, q *Question) {
			q.Target, q.Limits = nm("50"), Limits{Low: nm("45"), High: nm("55")}
			f.Calibrations[0] = certified(t, "60=60,60,60,60,60.1,200=200,200,200,200,200.1")
		}, ReasonCalRange},
		{"a failed bench check", func(f *Facts, _ *Question) { f.Checks = []Kept{checked(t, "2026-06-01", "120=110,110,110")} }, ReasonFailedCheck},
	} {
		f, q := good(t), asks(t, "108 N·m", "100..116")
		if a := answered(t, f, q); a.Verdict != Yes {
			t.Fatalf("the wrench that nothing is said against: %s", codes(a))
		}
		c.change(&f, &q)
		a := answered(t, f, q)
		if a.Verdict != No || a.Fit || !has(a, c.code, No) || !strings.HasPrefix(a.Words(), "NO: ") || a.Reasons[0].Weighs != No {
			t.Errorf("%s: %s (%s), want no for %q", c.name, a.Verdict, codes(a), c.code)
		}
		// The last calibration of a tool that may not be used says nothing on today.
		if slices.Contains(ended, c.code) && !math.IsNaN(a.Inside) {
			t.Errorf("%s: inside with probability %v", c.name, a.Inside)
		}
	}
}

func checked(t testing.TB, on dates.Date, readings string) Kept {
	t.Helper()
	read, err := ParseReadings(readings, units.NewtonMeter, Clockwise)
	if err != nil {
		t.Fatal(err)
	}
	return kept(t, "B-"+string(on), wrench(), Result{On: on, Paper: Own, BenchCheck: true, Standard: fitStandard(), Temperature: units.Quantity{Value: "21", Unit: units.Celsius}, AsLeft: read,
		Budget: Budget{Reproducibility: "0.20", OutputDrive: "0.16", Interface: "0.12", LoadingPoint: "0.24"}})
}

func TestEveryMissingOrDoubtfulFact(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*Facts, *Question)
		code   ReasonCode
	}{
		{"nothing required", func(f *Facts, _ *Question) { f.Requirement = nil }, ReasonNoRequirement},
		{"never calibrated", func(f *Facts, _ *Question) { f.Calibrations = nil }, ReasonNoCalibration},
		{"clock doubtful", func(f *Facts, _ *Question) { f.Doubtful = true }, ReasonClock},
		{"no day", func(f *Facts, _ *Question) { f.Today = "" }, ReasonClock},
		{"dated in the future", func(f *Facts, _ *Question) { f.Today = "2026-05-03" }, ReasonFuture},
		{"a bench check in the future", func(f *Facts, _ *Question) { f.Checks = []Kept{checked(t, "2026-10-01", "120=120,120,120,120,120.1")} }, ReasonFuture},
		{"unreadable", func(f *Facts, _ *Question) { f.Unreadable = []string{"its last calibration"} }, ReasonUnreadable},
		{"no due date", func(f *Facts, _ *Question) { f.Calibrations[0].NextDue, f.Calibrations[0].IntervalEnds = "", "" }, ReasonNoDue},
		{"limit from memory", func(f *Facts, _ *Question) { f.Requirement.LimitSource = Source{Standing: FromMemory, Where: "x"} }, ReasonLimitMemory},
		{"limit from nowhere", func(f *Facts, _ *Question) { f.Requirement.LimitSource = Source{} }, ReasonLimitMemory},
		{"limit from its paper, which is not named", func(f *Facts, _ *Question) { f.Requirement.LimitSource = Source{Standing: OwnPaper} }, ReasonLimitMemory},
		{"no limit", func(f *Facts, _ *Question) { f.Requirement.Limit = Limit{} }, ReasonFigures},
		{"no graduation", func(f *Facts, _ *Question) { f.Requirement.Scale.Graduation = units.Quantity{} }, ReasonNoGraduation},
		{"back without paper", func(f *Facts, _ *Question) { f.Events = []Event{{Kind: BackWithoutPaper, On: "2026-06-01"}} }, ReasonTrustEnded},
		{"back with another serial", func(f *Facts, _ *Question) { f.Events = []Event{{Kind: BackOtherSerial, On: "2026-06-01"}} }, ReasonTrustEnded},
		{"no uncertainty", func(f *Facts, _ *Question) {
			read, _ := ParseReadings(threePoints, units.NewtonMeter, Clockwise)
			f.Calibrations[0] = kept(t, "K", wrench(), Result{On: "2026-05-04", Paper: Certificate, AsLeft: read})
		}, ReasonUnsupported},
		{"pass-only paper", func(f *Facts, _ *Question) {
			f.Calibrations[0] = kept(t, "K", wrench(), Result{On: "2026-05-04", Paper: PassOnly, Claim: ClaimsPass})
		}, ReasonUnsupported},
		{"adjusted without as left", func(f *Facts, _ *Question) {
			read, _ := ParseReadings(threePoints, units.NewtonMeter, Clockwise)
			f.Calibrations[0] = kept(t, "K", wrench(), Result{On: "2026-05-04", Paper: Certificate, Uncertainty: "1", Adjusted: true, AsFound: read})
		}, ReasonUnsupported},
		{"the lab says pass, the readings fail", func(f *Facts, _ *Question) {
			f.Calibrations[0] = certified(t, "40=40,40,40,40,40.1,120=110,110,110,110,110.1,200=200,200,200,200,200.1")
		}, ReasonUnsupported},
		{"a weak probability", func(_ *Facts, q *Question) { q.Limits = Limits{Low: nm("103"), High: nm("113")} }, ReasonProbability},
		{"points that differ", func(f *Facts, _ *Question) {
			f.Calibrations[0] = certified(t, "40=40.8,40.8,40.8,40.8,40.81,120=118.8,118.8,118.8,118.8,118.81,200=198,198,198,198,198.01")
		}, ReasonAddPoint},
		{"yield", func(_ *Facts, q *Question) { q.Method = ByYield }, ReasonMethod},
		{"an angle without a device", func(_ *Facts, q *Question) { q.Method = ByTorqueAngle }, ReasonMethod},
		{"a universal joint", func(_ *Facts, q *Question) { q.Adapter = Adapter{Kind: UniversalJoint} }, ReasonAdapter},
		{"a torque-limiting bar", func(_ *Facts, q *Question) { q.Adapter = Adapter{Kind: TorqueBar} }, ReasonAdapter},
		{"a multiplier whose certificate ran out", func(_ *Facts, q *Question) {
			q.Target, q.Limits = nm("400"), Limits{Low: nm("350"), High: nm("450")}
			q.Adapter = Adapter{Kind: Multiplier, Certificate: &AdapterCertificate{Factor: "4", Uncertainty: "2", Due: "2026-07-31"}}
		}, ReasonAdapter},
		{"an offset adapter without a grip length", func(f *Facts, q *Question) {
			f.Requirement.GripToDrive = units.Quantity{}
			q.Adapter = Adapter{Kind: Crowfoot, Length: qty(t, "50 mm"), Angle: "0"}
		}, ReasonGrip},
		{"the unit was denied", func(_ *Facts, q *Question) { q.UnitConfirmed = RepliedNo }, ReasonAskUnit},
		{"a negative count", func(f *Facts, _ *Question) { f.Cycles = Cycles{Counted: true, AtLeast: -1} }, ReasonUnreadable},
	} {
		f, q := good(t), asks(t, "108 N·m", "100..116")
		c.change(&f, &q)
		a := answered(t, f, q)
		if a.Verdict != CannotConfirm || !has(a, c.code, CannotConfirm) ||
			!strings.HasPrefix(a.Words(), "We cannot show that this ") || !strings.Contains(a.Words(), "is good for this. Treat it as no.") {
			t.Errorf("%s: %s (%s), want cannot confirm for %q", c.name, a.Verdict, codes(a), c.code)
		}
	}
}

func TestNoComesBeforeCannotConfirm(t *testing.T) {
	f, q := good(t), asks(t, "108 N·m", "100..116")
	f.Doubtful, f.DoNotUse = true, "dropped"
	a := answered(t, f, q)
	if a.Verdict != No || a.Reasons[0].Code != ReasonDoNotUse || !has(a, ReasonClock, CannotConfirm) {
		t.Errorf("%s: %s", a.Verdict, codes(a))
	}
}

func TestItIsGoodThroughItsDueDate(t *testing.T) {
	f := good(t)
	f.Today = "2027-05-04"
	if a := answered(t, f, asks(t, "108 N·m", "100..116")); a.Verdict != Yes || a.Due != "2027-05-04" {
		t.Errorf("on its due date: %s, %s", a.Verdict, codes(a))
	}
}

func TestWordsOfAYes(t *testing.T) {
	a := answered(t, good(t), asks(t, "98 N·m", "90..106"))
	want := "YES, for the wrench only: calibrated 2026-05-04, next due 2027-05-04; it can be set to 98 N·m clockwise. " +
		"It does not confirm value, sequence, lubrication or fastener. Ask again after a drop."
	if a.Words() != want {
		t.Errorf("%s\nwant\n%s", a.Words(), want)
	}
}

func TestWordsNameTheAdapter(t *testing.T) {
	for _, c := range []struct {
		adapter Adapter
		want    string
	}{
		{Adapter{Kind: Crowfoot, Length: qty(t, "50 mm"), Angle: "0"}, "it can be set to 96 N·m clockwise with the offset adapter 50 mm at 0°, and not without it. "},
		{Adapter{Kind: Crowfoot, Length: qty(t, "50 mm"), Angle: "90"}, "it can be set to 108 N·m clockwise. "},
		{Adapter{Kind: Extension}, "it can be set to 108 N·m clockwise. "},
	} {
		q := asks(t, "108 N·m", "100..116")
		q.Adapter = c.adapter
		if a := answered(t, good(t), q); a.Verdict != Yes || !strings.Contains(a.Words(), c.want) {
			t.Errorf("%s: %s", c.adapter.Words(), a.Words())
		}
	}
}

func TestAQuestionBackEndsAsOne(t *testing.T) {
	a := Answer{Verdict: CannotConfirm, noun: "tester", Reasons: []Reason{{Code: ReasonAskZero, Weighs: CannotConfirm, Text: "is its battery good?"}}}
	if want := "We cannot show that this tester is good for this. Treat it as no. Is its battery good?"; a.Words() != want {
		t.Errorf("%q", a.Words())
	}
}

func TestWhoHasItIsSaidApart(t *testing.T) {
	for _, c := range []struct {
		holder, away    string
		mine, available bool
		code            ReasonCode
	}{{"", "", false, true, ""}, {"Lee", "", true, true, ""}, {"Lee", "", false, false, ReasonHeld}, {"", "the lab", false, false, ReasonAway}} {
		f := good(t)
		f.Holder, f.Mine, f.Away = c.holder, c.mine, c.away
		a := answered(t, f, asks(t, "108 N·m", "100..116"))
		if a.Verdict != Yes || a.Available != c.available || c.code != "" && (!has(a, c.code, "") || !strings.Contains(a.Words(), max(c.holder, c.away))) {
			t.Errorf("%+v: %s, available %v, %s", c, a.Verdict, a.Available, a.Words())
		}
	}
}

func TestWithoutLimitsNothingIsSaidOfTheJob(t *testing.T) {
	a := answered(t, good(t), asks(t, "108 N·m", ""))
	if a.Verdict != Yes || !has(a, ReasonNoLimits, "") || !math.IsNaN(a.Inside) || math.IsNaN(a.Low) || math.IsNaN(a.DeviationPercent) {
		t.Errorf("%s: %s, P %v", a.Verdict, codes(a), a.Inside)
	}
	for _, r := range a.Reasons {
		if r.Code == ReasonNoLimits && !strings.Contains(r.Text, "±4 % of what the reference shows when calibrated; you gave no limits, so nothing is said about the job's") {
			t.Errorf("no limits: %q", r.Text)
		}
	}
}

func TestTheShopsDefaultLimits(t *testing.T) {
	q := asks(t, "108 N·m", "")
	q.DefaultPercent = "10"
	a := answered(t, good(t), q)
	if a.Verdict != Yes || a.ByDefault != "10" || !strings.Contains(a.Words(), "shop's default of ±10 %, 97.2..118.8 N·m") || a.Limits.String() != "97.2..118.8 N·m" || !has(a, ReasonDefaultLimits, "") || math.IsNaN(a.Inside) {
		t.Errorf("%s: %s, %s", a.Verdict, a.Limits, codes(a))
	}
	q.DefaultPercent = "3"
	if a := answered(t, good(t), q); a.Verdict != No || !has(a, ReasonTooNarrow, No) {
		t.Errorf("±3 %%: %s", codes(a))
	}
}

func TestOneLimitOnly(t *testing.T) {
	for _, c := range []struct {
		limits string
		want   func(v, mean float64) float64
	}{
		{"104..", func(v, mean float64) float64 { return normalCDF((100*(108.0/104-1) - mean) / v) }},
		{"..113", func(v, mean float64) float64 { return 1 - normalCDF((100*(108.0/113-1)-mean)/v) }},
	} {
		a := answered(t, good(t), asks(t, "108 N·m", c.limits))
		equal(t, c.limits, a.Inside, c.want(a.UncertaintyPercent/1.96, a.DeviationPercent), 1e-12)
	}
}

func TestOtherUnitsAndTheSecondScale(t *testing.T) {
	// 80 ft-lb is 108.465 N·m (NIST SP 811 app. B.8): the nearest mark is 108.
	f := good(t)
	a := answered(t, f, asks(t, "80 ft-lb", "74..86"))
	if a.Verdict != Yes || a.Setting != nm("108") || !has(a, ReasonNearest, "") {
		t.Errorf("80 ft-lb: %s, %s, %s", a.Verdict, a.Setting, codes(a))
	}
	equal(t, "80 ft-lb as set", a.Target, 108/1.3558179483314004, 1e-9)
	second, err := ParseScale("ft-lb 30..150 by 1")
	if err != nil {
		t.Fatal(err)
	}
	f.Requirement.Second = &second
	a = answered(t, f, asks(t, "80 ft-lb", "74..86"))
	if a.Verdict != Yes || a.Setting != qty(t, "80 ft-lb") || a.Target != 80 || has(a, ReasonNearest, "") {
		t.Errorf("80 ft-lb on its second scale: %s, %s, %s", a.Verdict, a.Setting, codes(a))
	}
	if a = answered(t, f, asks(t, "80.5 ft-lb", "74..86")); a.Verdict != No || !has(a, ReasonGraduation, No) {
		t.Errorf("80.5 ft-lb on its second scale: %s", codes(a))
	}
}

func TestTheNearestMarkMayBeTooFarOff(t *testing.T) {
	f := good(t)
	r := *f.Requirement
	r.Scale.Graduation = nm("5")
	f.Requirement = &r
	// 45 ft-lb is 61.01 N·m; the nearest mark is 60, 1.66 % below.
	if a := answered(t, f, asks(t, "45 ft-lb", "")); a.Verdict != CannotConfirm || !has(a, ReasonSettingOff, CannotConfirm) {
		t.Errorf("45 ft-lb without limits: %s", codes(a))
	}
	if a := answered(t, f, asks(t, "45 ft-lb", "39..51")); a.Verdict != Yes || a.Setting != nm("60") {
		t.Errorf("45 ft-lb with limits: %s %s", a.Verdict, codes(a))
	}
	// Halfway between two marks the lower one is taken: 72.5/1 with a certified factor.
	q := asks(t, "145 N·m", "120..170")
	q.Adapter = Adapter{Kind: Multiplier, Certificate: &AdapterCertificate{Factor: "2", Uncertainty: "1", Due: "2027-01-01"}}
	if a := answered(t, f, q); a.Setting != nm("70") || a.Target != 140 {
		t.Errorf("72.5 between 70 and 75: set %s for %v", a.Setting, a.Target)
	}
}

func TestOffsetAdapterInAnAnswer(t *testing.T) {
	q := asks(t, "80 N·m", "70..90")
	q.Adapter, _ = ParseCrowfoot("50mm", "45deg")
	a := answered(t, good(t), q)
	// 73.5032 by the formula of TM 9-254 fig. 46; the nearest mark is 74.
	if a.Verdict != Yes || a.Setting != nm("74") {
		t.Errorf("%s, set %s: %s", a.Verdict, a.Setting, codes(a))
	}
	equal(t, "at the fastener", a.Target, 74*(400+50*math.Sqrt2/2)/400, 1e-9)
	plain := answered(t, good(t), asks(t, "74 N·m", "65..85"))
	v, v0 := a.UncertaintyPercent/1.96, plain.UncertaintyPercent/1.96
	equal(t, "what the adapter adds", math.Sqrt(v*v-v0*v0), 0.435831, 1e-6)
	q.Adapter.Angle, q.Adapter.Length = "180", qty(t, "500 mm")
	if _, err := Ready(good(t), q); !fault.Is(err, fault.Invalid) {
		t.Errorf("an adapter that reaches back to the hand: %v", err)
	}
}

func TestStraightBarInAnAnswer(t *testing.T) {
	q := asks(t, "108 N·m", "100..116")
	q.Adapter = Adapter{Kind: Extension}
	with, without := answered(t, good(t), q), answered(t, good(t), asks(t, "108 N·m", "100..116"))
	if with.Verdict != Yes || with.Setting != without.Setting || with.Inside != without.Inside {
		t.Errorf("%s at %s, P %v; without %v", with.Verdict, with.Setting, with.Inside, without.Inside)
	}
}

func TestDirectionIsClockwiseUnlessSaidAndIsEchoed(t *testing.T) {
	q := asks(t, "108 N·m", "100..116")
	q.Direction = NoDirection
	a := answered(t, good(t), q)
	if a.Direction != Clockwise || !has(a, ReasonDefaultTurn, "") || a.Verdict != Yes {
		t.Errorf("%s: %s", a.Direction, codes(a))
	}
	q.Direction = Counterclockwise
	if a := answered(t, good(t), q); a.Direction != Counterclockwise || a.Verdict != Yes || has(a, ReasonDefaultTurn, "") {
		t.Errorf("%s: %s", a.Direction, codes(a))
	}
}

func TestCyclesAreAFloor(t *testing.T) {
	f, q := good(t), asks(t, "108 N·m", "100..116")
	a := answered(t, f, q)
	if !has(a, ReasonCyclesFloor, "") || !strings.Contains(fmt.Sprint(a.Reasons), "at least 800 cycles recorded") {
		t.Errorf("%v", a.Reasons)
	}
	f.Cycles = Cycles{}
	if a := answered(t, f, q); !has(a, ReasonCyclesUncounted, "") || a.Verdict != Yes {
		t.Errorf("not counted: %s", codes(a))
	}
	f.Cycles = Cycles{Counted: true, AtLeast: 4999}
	if a := answered(t, f, q); a.Verdict != Yes {
		t.Errorf("one before the last: %s", codes(a))
	}
}

func TestKindsThatAreNeverAnsweredFor(t *testing.T) {
	for _, kind := range []string{"two-post lift", "Jack", "axle stands", "chain sling", "insulating gloves", "engine hoist", "jack stand"} {
		f := good(t)
		f.Kind = kind
		if _, err := Ready(f, asks(t, "108 N·m", "")); !fault.Is(err, fault.Refused) {
			t.Errorf("%s: %v", kind, err)
		}
	}
	for _, kind := range []string{"torque wrench", "standard socket", "pressure gauge", "refrigerant scale", "facelift trim tool", ""} {
		if err := Answers(kind); err != nil {
			t.Errorf("%s: %v", kind, err)
		}
	}
}

func TestRoundedIsForShowing(t *testing.T) {
	for v, want := range map[float64]string{108.46543586: "108.47", 80: "80", 0.0001: "0.0001", -20.5: "-20.5", 9.99999: "10", 123456.7: "123457", -0.00000001: "0"} {
		if got := Rounded(v, units.NewtonMeter); got.Value != want {
			t.Errorf("%v is shown as %q, want %q", v, got.Value, want)
		}
	}
	for _, v := range []float64{math.NaN(), math.Inf(1), 1e13} {
		if got := Rounded(v, units.NewtonMeter); !got.IsZero() {
			t.Errorf("%v is shown as %s", v, got)
		}
	}
}
