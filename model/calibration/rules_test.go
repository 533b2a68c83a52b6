package calibration

import (
	"math"
	"strings"
	"testing"

	"pawl/model/units"
)

const even = "40=40,40.1,40,39.9,40,120=120,120.1,120,119.9,120,200=200,200.1,200,199.9,200"
const evenBoth = even + ",ccw:40=40,40.1,40,39.9,40,ccw:120=120,120.1,120,119.9,120,ccw:200=200,200.1,200,199.9,200"

func TestOneValueTools(t *testing.T) {
	q := wrench()
	q.Class, q.Scale = FixedWrench, Scale{Low: nm("108"), High: nm("108")}
	q.GripToDrive = units.Quantity{Value: "400", Unit: units.Millimeter}
	read, err := ParseReadings("108=108,108.1,107.9,108,108", units.NewtonMeter, Clockwise)
	if err != nil {
		t.Fatal(err)
	}
	f := good(t)
	f.Requirement = &q
	f.Calibrations = []Kept{kept(t, "K", q, Result{On: "2026-05-04", Paper: Certificate, Uncertainty: "1", AsLeft: read})}
	for _, c := range []struct {
		target, limits string
		crowfoot       string
		want           Readiness
		code           ReasonCode
	}{
		{"108 N·m", "100..116", "", Yes, ""},
		{"108.0 N·m", "100..116", "", Yes, ""},
		{"107 N·m", "99..115", "", No, ReasonOneValue},
		{"80 ft-lb", "74..86", "", Yes, ""}, // 108.47 N·m, 0.43 % off
		{"82 ft-lb", "74..90", "", No, ReasonOneValue},
		{"121.5 N·m", "110..133", "50mm", Yes, ""}, // 108 × 450/400
		{"108 N·m", "100..116", "50mm", No, ReasonOneValue},
	} {
		ask := asks(t, c.target, c.limits)
		if c.crowfoot != "" {
			ask.Adapter, _ = ParseCrowfoot(c.crowfoot, "0")
		}
		a := answered(t, f, ask)
		if a.Verdict != c.want || c.code != "" && !has(a, c.code, No) || c.want == Yes && !sameQuantity(a.Setting, nm("108")) {
			t.Errorf("%s: %s at %s (%s), want %s", c.target, a.Verdict, a.Setting, codes(a), c.want)
		}
	}
}

func TestToolsWithoutAScale(t *testing.T) {
	q := wrench()
	q.Class, q.Scale.Graduation = NonGraduatedWrench, units.Quantity{}
	withPoints := func(text string) Facts {
		read, err := ParseReadings(text, units.NewtonMeter, Clockwise)
		if err != nil {
			t.Fatal(err)
		}
		f := good(t)
		f.Requirement = &q
		f.Calibrations = []Kept{kept(t, "K", q, Result{On: "2026-05-04", Paper: Certificate, Uncertainty: "1", AsLeft: read})}
		return f
	}
	one := withPoints("108=108,108.1,107.9,108,108,108,108,108,108,108")
	several := withPoints("100=100,100.1,108=108,108.1")
	for _, c := range []struct {
		name   string
		facts  Facts
		target string
		reply  Reply
		want   Readiness
		code   ReasonCode
	}{
		{"unchanged", one, "108 N·m", RepliedYes, Yes, ""},
		{"not asked", one, "108 N·m", Unanswered, CannotConfirm, ReasonAskSetting},
		{"changed", one, "108 N·m", RepliedNo, No, ReasonSettingMoved},
		{"another value", one, "109 N·m", RepliedYes, No, ReasonOneValue},
		{"in a unit that was not read", one, "108 N·m", RepliedYes, CannotConfirm, ReasonAskUnit},
		{"which of two", several, "108 N·m", RepliedYes, CannotConfirm, ReasonAskSetting},
	} {
		ask := asks(t, c.target, "100..116")
		ask.SettingUnchanged = c.reply
		if c.code == ReasonAskUnit {
			ask.UnitConfirmed = RepliedNo
		}
		a := answered(t, c.facts, ask)
		if a.Verdict != c.want || c.code != "" && !has(a, c.code, c.want) {
			t.Errorf("%s: %s (%s), want %s", c.name, a.Verdict, codes(a), c.want)
		}
	}
	// A changed setting is recorded: no bench check brings the old one back.
	one.Events = []Event{{Kind: SettingChanged, On: "2026-06-01"}}
	ask := asks(t, "108 N·m", "100..116")
	ask.SettingUnchanged = RepliedYes
	if a := answered(t, one, ask); a.Verdict != No || !has(a, ReasonTrustEnded, No) {
		t.Errorf("changed on record: %s (%s)", a.Verdict, codes(a))
	}
}

func TestElectronicTools(t *testing.T) {
	q := wrench()
	q.Class, q.Electronic = ElectronicWrench, true
	q.Scale.Graduation = nm("0.1")
	q.GripToDrive = units.Quantity{Value: "400", Unit: units.Millimeter}
	celsius := func(v string) units.Quantity { return units.Quantity{Value: v, Unit: units.Celsius} }
	q.AmbientLow, q.AmbientHigh = celsius("5"), celsius("40")
	f := good(t)
	f.Requirement = &q
	read, _ := ParseReadings(even, units.NewtonMeter, Clockwise)
	f.Calibrations = []Kept{kept(t, "K", q, Result{On: "2026-05-04", Paper: Certificate, Uncertainty: "1", AsLeft: read})}
	crowfoot, _ := ParseCrowfoot("50mm", "0")
	bare := q
	bare.AmbientLow, bare.AmbientHigh = units.Quantity{}, units.Quantity{}
	for _, c := range []struct {
		name    string
		change  func(*Facts, *Question)
		want    Readiness
		code    ReasonCode
		setting string
	}{
		{"all answered", func(*Facts, *Question) {}, Yes, "", "108.0"},
		{"at the edge of the ambient range", func(_ *Facts, a *Question) { a.Ambient = qty(t, "104 °F") }, Yes, "", "108.0"},
		{"zero and battery not asked", func(_ *Facts, a *Question) { a.ZeroAndBattery = Unanswered }, CannotConfirm, ReasonAskZero, ""},
		{"battery low", func(_ *Facts, a *Question) { a.ZeroAndBattery = RepliedNo }, No, ReasonZeroBattery, ""},
		{"temperature not asked", func(_ *Facts, a *Question) { a.Ambient = units.Quantity{} }, CannotConfirm, ReasonAskAmbient, ""},
		{"too cold", func(_ *Facts, a *Question) { a.Ambient = celsius("-2") }, No, ReasonAmbient, ""},
		{"maker's range not known", func(f *Facts, _ *Question) { f.Requirement = &bare }, CannotConfirm, ReasonAskAmbient, ""},
		{"adapter length not asked", func(_ *Facts, a *Question) { a.Adapter = crowfoot }, CannotConfirm, ReasonAskLength, ""},
		{"adapter length not in the wrench", func(_ *Facts, a *Question) { a.Adapter, a.LengthInWrench = crowfoot, RepliedNo }, Yes, "", "96.0"},
		{"adapter length in the wrench", func(_ *Facts, a *Question) { a.Adapter, a.LengthInWrench = crowfoot, RepliedYes }, Yes, "", "108.0"},
	} {
		facts, ask := f, asks(t, "108 N·m", "98..118")
		ask.ZeroAndBattery, ask.Ambient = RepliedYes, celsius("20")
		c.change(&facts, &ask)
		a := answered(t, facts, ask)
		if a.Verdict != c.want || c.code != "" && !has(a, c.code, c.want) || c.setting != "" && a.Setting.Value != c.setting {
			t.Errorf("%s: %s at %s (%s), want %s at %s", c.name, a.Verdict, a.Setting, codes(a), c.want, c.setting)
		}
	}
	// A value that the display can show, at a torque on the drive that the wrench does not reach.
	ask := asks(t, "210 N·m", "190..230")
	ask.ZeroAndBattery, ask.Ambient, ask.Adapter, ask.LengthInWrench = RepliedYes, celsius("20"), crowfoot, RepliedYes
	if a := answered(t, f, ask); a.Verdict != No || !has(a, ReasonRange, No) {
		t.Errorf("210 on a display to 200: %s (%s)", a.Verdict, codes(a))
	}
}

func TestClassPaperInAnAnswer(t *testing.T) {
	f := good(t)
	r := Result{On: "2026-05-04", Paper: Declaration, Claim: ClaimsPass, Declared: &Declared{Class: "II-A", Low: nm("40"), High: nm("200"), Points: 3, Directions: []Direction{Clockwise}}}
	f.Calibrations = []Kept{kept(t, "K", wrench(), r)}
	f = at(f, 90, 360, 800)
	a := answered(t, f, asks(t, "108 N·m", "95..125"))
	// v² = MPD²/3 + (MPD/8)² + (MPD/4)² + sD², MPD 4 %: a uniform error over the class
	// (JCGM 100:2008 4.3.7), W and scatter assumed.
	v := math.Sqrt(16.0/3 + 0.25 + 1 + 1.020427*1.020427)
	equal(t, "v", a.UncertaintyPercent/1.96, v, 1e-6)
	equal(t, "ā", a.DeviationPercent, 0, 0)
	equal(t, "P", a.Inside, normalCDF(100*(108.0/95-1)/v)-normalCDF(100*(108.0/125-1)/v), 1e-12)
	if a.Verdict != Yes || !has(a, ReasonClassPaper, "") || !has(a, ReasonScatterAssumed, "") {
		t.Errorf("%s: %s", a.Verdict, codes(a))
	}
	if a := answered(t, f, asks(t, "108 N·m", "103..113")); a.Verdict != CannotConfirm || !has(a, ReasonProbability, CannotConfirm) {
		t.Errorf("tight limits: %s (%s)", a.Verdict, codes(a))
	}
	ccw := asks(t, "108 N·m", "95..125")
	ccw.Direction = Counterclockwise
	if a := answered(t, f, ccw); a.Verdict != No || !has(a, ReasonDirection, No) {
		t.Errorf("a direction that the paper does not name: %s (%s)", a.Verdict, codes(a))
	}
	r.Declared = &Declared{Class: "II-A", Low: nm("40"), High: nm("200"), Points: 3}
	f.Calibrations = []Kept{kept(t, "K", wrench(), r)}
	if a := answered(t, f, asks(t, "108 N·m", "95..125")); a.Verdict != CannotConfirm || !has(a, ReasonDirection, CannotConfirm) {
		t.Errorf("a paper that names no direction: %s (%s)", a.Verdict, codes(a))
	}
	r.Declared = &Declared{Class: "II-A", Low: nm("100"), High: nm("200"), Points: 3, Directions: []Direction{Clockwise}}
	f.Calibrations = []Kept{kept(t, "K", wrench(), r)}
	if a := answered(t, f, asks(t, "90 N·m", "80..100")); a.Verdict != No || !has(a, ReasonCalRange, No) {
		t.Errorf("outside the stated range: %s (%s)", a.Verdict, codes(a))
	}
	r.Declared = &Declared{Class: "II-A", Low: nm("40"), High: nm("200"), Points: 2, Directions: []Direction{Clockwise}}
	f.Calibrations = []Kept{kept(t, "K", wrench(), r)}
	if a := answered(t, f, asks(t, "108 N·m", "95..125")); a.Verdict != CannotConfirm {
		t.Errorf("two points only: %s (%s)", a.Verdict, codes(a))
	}
}

func TestScatterIsAssumedFromOneReading(t *testing.T) {
	f := good(t)
	f.Calibrations = []Kept{certified(t, "40=40,120=120,200=200")}
	f = at(f, 90, 360, 800)
	a := answered(t, f, asks(t, "108 N·m", "95..125"))
	if !has(a, ReasonScatterAssumed, "") {
		t.Errorf("%s", codes(a))
	}
	// s = MPD/4 = 1 %.
	equal(t, "v", a.UncertaintyPercent/1.96, math.Sqrt(0.709132*0.709132+1+1.020427*1.020427), 1e-6)
}

func TestDriftOfToolsLikeIt(t *testing.T) {
	f := at(good(t), 90, 360, 800)
	v := func() float64 { return answered(t, f, asks(t, "120 N·m", "100..140")).UncertaintyPercent / 1.96 }
	fixed := 0.709132*0.709132 + 0.639354*0.639354
	for range 9 {
		f.Pairs = append(f.Pairs, Pair{Days: 360, Change: 0.8})
	}
	f.Pairs = append(f.Pairs, Pair{Days: 0, Change: 50}, Pair{Days: 10, Change: math.NaN()})
	equal(t, "nine that count", v(), math.Sqrt(fixed+1.020427*1.020427), 1e-6)
	// rms of nine 0.8 and one 1.6 over a quarter of the interval (that is 3.2 over one),
	// at t/I = 0.25.
	f.Pairs = append(f.Pairs, Pair{Days: 90, Change: 1.6})
	sd := math.Sqrt((9*0.64+10.24)/10) * 0.5
	equal(t, "ten", v(), math.Sqrt(fixed+sd*sd), 1e-6)
}

func TestCyclesOrDaysWhicheverWentFurther(t *testing.T) {
	for _, c := range []struct {
		days    int
		cycles  int64
		counted bool
		gone    float64
	}{{90, 800, true, 0.25}, {90, 2500, true, 0.5}, {0, 800, true, 0.16}, {0, 0, true, 0}, {90, 2500, false, 0.25}, {360, 100, true, 1}} {
		f := at(good(t), c.days, 360, c.cycles)
		f.Cycles.Counted = c.counted
		a := answered(t, f, asks(t, "120 N·m", "100..140"))
		drift := 4 / 1.959963984540054 * math.Sqrt(c.gone)
		equal(t, "v", a.UncertaintyPercent/1.96, math.Sqrt(0.709132*0.709132+0.639354*0.639354+drift*drift), 1e-6)
	}
}

func TestPairsComeFromConsecutiveCalibrations(t *testing.T) {
	on := func(day string, found, left string) Kept {
		f, _ := ParseReadings(found, units.NewtonMeter, Clockwise)
		l, _ := ParseReadings(left, units.NewtonMeter, Clockwise)
		return kept(t, day, wrench(), Result{On: dayOf(day), Paper: Certificate, Uncertainty: "1", Adjusted: true, AsFound: f, AsLeft: l})
	}
	all := []Kept{
		on("2026-05-04", "40=40.4,120=121.2", "40=40,120=120"),
		on("2025-05-04", "40=39,120=119", "40=40,120=120"),
		on("2025-05-04", "60=59", "60=60"),
		on("2024-05-04", "40=40", "40=40"),
	}
	got := Pairs(all)
	// (40 − 40.4)/40.4 = −0.990 %, (120 − 121.2)/121.2 = −0.990 %; as left both were 0.
	if len(got) != 1 || got[0].Days != 365 {
		// The second pair is on one day, the third has no point in common.
		t.Fatalf("%+v", got)
	}
	equal(t, "change", got[0].Change, 0.990099, 1e-6)
	equal(t, "share of 4 %", got[0].Share, 0.25, 1e-6) // 0.4 of 1.6 N·m, and 1.2 of 4.8
}

// gaugeTo200 is a pressure gauge to 200 psi a month after its calibration.
func gaugeTo200(t *testing.T, limits, readings string) Facts {
	t.Helper()
	q := Requirement{Instrument: PressureGauge, Unit: units.PSI, Scale: Scale{Low: qty(t, "0 psi"), High: qty(t, "200 psi"), Graduation: qty(t, "2 psi")},
		Limit: limit(limits), LimitSource: Source{OwnPaper, "its dial"}, Months: 12, IntervalSource: Source{ShopRule, ""}}
	read, err := ParseReadings(readings, units.PSI, NoDirection)
	if err != nil {
		t.Fatal(err)
	}
	return Facts{Kind: "pressure gauge", Requirement: &q, Today: "2026-06-04", Calibrations: []Kept{kept(t, "K", q, Result{On: "2026-05-04", Paper: Certificate, Uncertainty: "1", AsLeft: read})}}
}

// Ten gauges like it moved by half of their limits in a year. Low on the scale half of the
// limit is a far larger percent than the 1 % that it was high on theirs.
func TestDriftWhereErrorsAreAmounts(t *testing.T) {
	f := gaugeTo200(t, "2 % of span", "20=20,20,20,20,20.1,200=200,200,200,200,200.1")
	variance := func() float64 {
		v := answered(t, f, asks(t, "20 psi", "10..30")).UncertaintyPercent / 1.96
		return v * v
	}
	assumed := variance()
	for range 10 {
		f.Pairs = append(f.Pairs, Pair{Days: 365, Change: 1, Share: 0.5})
	}
	const limit, gone = 100 * 4.0 / 20, 31.0 / 365
	equal(t, "v²", assumed-variance(), limit*limit*gone*(1/(1.959963984540054*1.959963984540054)-0.25), 1e-6)
}

func TestToolsThatOnlyMeasure(t *testing.T) {
	f := gaugeTo200(t, "3/2/3 % of span", "0=0,50=51,51,51,51,51.1,150=151,151,151,151,151.1,200=201,201,201,201,201.1")
	a := answered(t, f, asks(t, "101.3 psi", "80..120"))
	if a.Verdict != Yes || !a.Setting.IsZero() || !a.Measures || a.Direction != NoDirection || !strings.Contains(a.Words(), "it can be used to measure") || strings.Contains(a.Words(), "set to") {
		t.Errorf("%s: %s: %s", a.Verdict, a.Words(), codes(a))
	}
	equal(t, "ā of −1.02 psi at 101.3 psi", a.DeviationPercent, -1.02/101.3*100, 1e-9)
	// Between a point at zero and one at 50 the error is an amount, so nothing is infinite.
	if a := answered(t, f, asks(t, "35 psi", "25..45")); math.IsNaN(a.DeviationPercent) || math.IsInf(a.UncertaintyPercent, 0) {
		t.Errorf("near zero: %+v", a)
	}
	for _, tiny := range []string{"0.001 psi", "4 psi", "4.2 psi"} {
		if a := answered(t, f, asks(t, tiny, "")); a.Verdict != CannotConfirm || !has(a, ReasonFigures, CannotConfirm) {
			t.Errorf("%s with a limit of 6 psi: %s (%s)", tiny, a.Verdict, codes(a))
		}
	}
	if a := answered(t, f, asks(t, "0 psi", "")); a.Verdict != CannotConfirm {
		t.Errorf("at zero: %s (%s)", a.Verdict, codes(a))
	}
	bent := asks(t, "101.3 psi", "80..120")
	bent.Adapter = Adapter{Kind: UniversalJoint}
	if a := answered(t, f, bent); a.Verdict != CannotConfirm || !has(a, ReasonAdapter, CannotConfirm) {
		t.Errorf("behind an adapter: %s (%s)", a.Verdict, codes(a))
	}
	if a := answered(t, f, asks(t, "201 psi", "")); a.Verdict != No || !has(a, ReasonRange, No) {
		t.Errorf("beyond the scale: %s (%s)", a.Verdict, codes(a))
	}
}

// Below zero everything is as above zero, turned over.
func TestVacuumIsTheMirrorOfPressure(t *testing.T) {
	ask := func(low, high, set, target, limits string) Answer {
		u := units.InchMercury
		q := Requirement{Instrument: VacuumGauge, Unit: u, Scale: Scale{Low: qty(t, low), High: qty(t, high)}, Limit: limit("2 % of span"),
			LimitSource: Source{OwnPaper, "its dial"}, Months: 12, IntervalSource: Source{ShopRule, ""}}
		read, err := ParseReadings(set, u, NoDirection)
		if err != nil {
			t.Fatal(err)
		}
		f := Facts{Kind: "gauge", Requirement: &q, Today: "2026-06-04", Calibrations: []Kept{kept(t, "K", q, Result{On: "2026-05-04", Paper: Certificate, Uncertainty: "1", AsLeft: read})}}
		return answered(t, f, asks(t, target, limits))
	}
	below := ask("-30 inHg", "0 inHg", "-30=-29.7,-29.8,-10=-9.85,-9.8", "-20 inHg", "-22..-18.5")
	above := ask("0 inHg", "30 inHg", "10=9.85,9.8,30=29.7,29.8", "20 inHg", "18.5..22")
	equal(t, "P", below.Inside, above.Inside, 1e-12)
	equal(t, "v", below.UncertaintyPercent, above.UncertaintyPercent, 1e-12)
	equal(t, "low end", below.Low, -above.High, 1e-9)
	equal(t, "high end", below.High, -above.Low, 1e-9)
	equal(t, "deviation, in percent of the magnitude", below.DeviationPercent, -above.DeviationPercent, 1e-12)
	if below.Verdict != above.Verdict {
		t.Errorf("%s (%s) and %s (%s)", below.Verdict, codes(below), above.Verdict, codes(above))
	}
	// It shows deeper than it is: what is really there is nearer to zero.
	if middle := (below.Low + below.High) / 2; middle < -20 || math.Abs(below.DeviationPercent) < 1 {
		t.Errorf("shown −20, in truth about %v; deviation %v", middle, below.DeviationPercent)
	}
}

func TestUnitSlipsAreAskedAbout(t *testing.T) {
	inch := Scale{Low: qty(t, "40 in-lb"), High: qty(t, "200 in-lb")}
	foot := Scale{Low: qty(t, "30 ft-lb"), High: qty(t, "150 ft-lb")}
	for _, c := range []struct {
		target, limits string
		scale          Scale
		want           string
	}{
		{"100 ft-lb", "", inch, "in-lb"},           // a factor of twelve
		{"90 in-lb", "", foot, "N·m ft-lb"},        // the other way
		{"8 ft-lb", "", inch, ""},                  // 96 in-lb
		{"80 ft-lb", "", foot, ""},                 // as it should be
		{"160 ft-lb", "", foot, "N·m"},             // 118 ft-lb
		{"25 N·m", "", inch, ""},                   // 221 in-lb: only too much
		{"108 ft-lb", "100..116", foot, ""},        // its own limits
		{"108 ft-lb", "100..116 N·m", foot, "N·m"}, // limits in another unit
		{"5 ft-lb", "", foot, ""},
		{"35 psi", "", foot, ""},
	} {
		q := asks(t, c.target, c.limits)
		var got []string
		for _, u := range Slips(q.Target, q.Limits, c.scale, 1) {
			got = append(got, string(u))
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%s in %q on %s: %q, want %q", c.target, c.limits, c.scale, got, c.want)
		}
	}
	f, q := good(t), asks(t, "108 ft-lb", "100..116 N·m")
	if a := answered(t, f, q); a.Verdict != No || !has(a, ReasonAskUnit, CannotConfirm) {
		t.Errorf("%s (%s)", a.Verdict, codes(a))
	}
	q.UnitConfirmed = RepliedYes
	if a := answered(t, f, q); has(a, ReasonAskUnit, CannotConfirm) {
		t.Errorf("answered: %s", codes(a))
	}
}
