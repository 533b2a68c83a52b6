package calibration

import (
	"strings"
	"testing"

	"pawl/model/fault"
	"pawl/model/units"
)

// refuses fails where one change to an acceptable requirement or result does not
// make it an invalid one that names the field.
func refuses(t *testing.T, changes map[string]func(*Requirement, *Result)) {
	t.Helper()
	for name, change := range changes {
		q, r := wrench(), lab(t, "40=40.1,120=120.2,200=200.1", "1")
		change(&q, &r)
		_, err := Judge(q, r, Around{})
		if !fault.Is(err, fault.Invalid) || len(fault.Of(err).Fields) == 0 || fault.Of(err).Fields[0].Pointer == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestRequirementRefuses(t *testing.T) {
	refuses(t, map[string]func(*Requirement, *Result){
		"no limit":              func(q *Requirement, _ *Result) { q.Limit = Limit{} },
		"no class":              func(q *Requirement, _ *Result) { q.Class = NoClass },
		"a screwdriver's class": func(q *Requirement, _ *Result) { q.Class = FixedScrewdriver },
		"falling scale":         func(q *Requirement, _ *Result) { q.Scale.Low, q.Scale.High = nm("200"), nm("40") },
		"torque in bar":         func(q *Requirement, _ *Result) { q.Unit = units.Bar },
		"no directions":         func(q *Requirement, _ *Result) { q.Directions = nil },
		"direction twice":       func(q *Requirement, _ *Result) { q.Directions = []Direction{Clockwise, Clockwise} },
		"months":                func(q *Requirement, _ *Result) { q.Months = 121 },
		"cycles":                func(q *Requirement, _ *Result) { q.Cycles = -1 },
		"rule":                  func(q *Requirement, _ *Result) { q.Rule = "kind" },
		"reliability":           func(q *Requirement, _ *Result) { q.Reliability = "1" },
		"grip":                  func(q *Requirement, _ *Result) { q.GripToDrive = units.Quantity{Value: "0", Unit: units.Millimeter} },
		"half an ambient range": func(q *Requirement, _ *Result) { q.AmbientLow = units.Quantity{Value: "5", Unit: units.Celsius} },
		"own paper unnamed":     func(q *Requirement, _ *Result) { q.LimitSource = Source{OwnPaper, ""} },
		"no source":             func(q *Requirement, _ *Result) { q.LimitSource = Source{} },
		"second in INCH-pounds": func(q *Requirement, _ *Result) { s := scaleOf(t, "in-lb 30..150 by 1"); q.Second = &s },
		"graduation of zero":    func(q *Requirement, _ *Result) { q.Scale.Graduation = nm("0") },
		"unknown instrument":    func(q *Requirement, _ *Result) { q.Instrument = "sextant" },
		"no such class":         func(q *Requirement, _ *Result) { q.Class = "III-A" },
		"torque below zero":     func(q *Requirement, _ *Result) { q.Scale.Low = nm("-40") },
		"range in ft-lb": func(q *Requirement, _ *Result) {
			q.Scale.Low.Unit, q.Scale.High.Unit = units.FootPound, units.FootPound
		},
		"resolution in bar": func(q *Requirement, _ *Result) { q.Resolution = units.Quantity{Value: "1", Unit: units.Bar} },
		"second, step of zero": func(q *Requirement, _ *Result) {
			s := scaleOf(t, "ft-lb 30..147 by 1")
			s.Graduation.Value = "0"
			q.Second = &s
		},
		"a gauge that turns": func(q *Requirement, _ *Result) {
			q.Instrument, q.Class, q.Unit, q.Scale = PressureGauge, NoClass, units.Bar, scaleOf(t, "bar 0..10")
		},
		"ambient in bar": func(q *Requirement, _ *Result) {
			q.AmbientLow, q.AmbientHigh = units.Quantity{Value: "5", Unit: units.Bar}, units.Quantity{Value: "9", Unit: units.Bar}
		},
		"ambient falls": func(q *Requirement, _ *Result) {
			q.AmbientLow, q.AmbientHigh = units.Quantity{Value: "35", Unit: units.Celsius}, units.Quantity{Value: "50", Unit: units.Fahrenheit}
		},
		"grip in N·m": func(q *Requirement, _ *Result) { q.GripToDrive = nm("400") },
	})
}

func TestResultRefuses(t *testing.T) {
	refuses(t, map[string]func(*Requirement, *Result){
		"no day":          func(_ *Requirement, r *Result) { r.On = "" },
		"no paper":        func(_ *Requirement, r *Result) { r.Paper = "letter" },
		"off the scale":   func(_ *Requirement, r *Result) { r.AsLeft[0].Set = "400" },
		"below the scale": func(_ *Requirement, r *Result) { r.AsLeft[0].Set = "39" },
		"no readings":     func(_ *Requirement, r *Result) { r.AsLeft[0].Readings = nil },
		"zero torque":     func(_ *Requirement, r *Result) { r.AsLeft[0].Readings[0] = "0" },
		"negative torque": func(_ *Requirement, r *Result) { r.AsLeft[0].Readings[0] = "-40" },
		"not a number":    func(_ *Requirement, r *Result) { r.AsLeft[0].Readings[0] = "NaN" },
		"no direction":    func(_ *Requirement, r *Result) { r.AsLeft[0].Direction = "" },
		"one not asked": func(q *Requirement, r *Result) {
			q.Directions, r.AsLeft[0].Direction = q.Directions[:1], Counterclockwise
		},
		"twice":            func(_ *Requirement, r *Result) { r.AsLeft = append(r.AsLeft, r.AsLeft[0]) },
		"uncertainty 0":    func(_ *Requirement, r *Result) { r.Uncertainty = "0" },
		"uncertainty 100":  func(_ *Requirement, r *Result) { r.Uncertainty = "100" },
		"own, no readings": func(_ *Requirement, r *Result) { r.AsLeft, r.Paper = nil, Own },
		"readings and pass only": func(_ *Requirement, r *Result) {
			r.Paper, r.Claim = PassOnly, ClaimsPass
		},
		"adjusted on the bench": func(_ *Requirement, r *Result) { r.Paper, r.BenchCheck, r.Adjusted = Own, true, true },
		"hot as an oven":        func(_ *Requirement, r *Result) { r.Temperature = units.Quantity{Value: "210", Unit: units.Celsius} },
		"temperature in bar":    func(_ *Requirement, r *Result) { r.Temperature = units.Quantity{Value: "21", Unit: units.Bar} },
		"humidity":              func(_ *Requirement, r *Result) { r.Humidity = "101" },
		"spread below zero":     func(_ *Requirement, r *Result) { r.Budget.LoadingPoint = "-1" },
		"half a range":          func(_ *Requirement, r *Result) { r.Standard.Low = nm("1") },
		"two uncertainties":     func(_ *Requirement, r *Result) { r.Standard.Uncertainty, r.Standard.Absolute = "1", nm("1") },
		"class on certificate": func(_ *Requirement, r *Result) {
			r.Declared = &Declared{Class: "A", Low: nm("40"), High: nm("200"), Points: 3}
		},
		"paper says maybe":   func(_ *Requirement, r *Result) { r.Claim = "maybe" },
		"pass only, no word": func(_ *Requirement, r *Result) { r.Paper, r.AsLeft = PassOnly, nil },
		"set is no number":   func(_ *Requirement, r *Result) { r.AsLeft[0].Set = "forty" },
		"bias of 100":        func(_ *Requirement, r *Result) { r.Standard.Bias = "100" },
		"standard in mm": func(_ *Requirement, r *Result) {
			r.Standard.Absolute = units.Quantity{Value: "1", Unit: units.Millimeter}
		},
		"standard of nothing": func(_ *Requirement, r *Result) { r.Standard.Absolute = nm("0") },
		"standard falls":      func(_ *Requirement, r *Result) { r.Standard.Low, r.Standard.High = nm("400"), nm("20") },
		"point's own":         func(_ *Requirement, r *Result) { r.AsLeft[0].Uncertainty = "-1" },
	})
}

func TestDeclarationRefuses(t *testing.T) {
	for name, change := range map[string]func(*Declared){
		"no class":      func(d *Declared) { d.Class = "" },
		"points":        func(d *Declared) { d.Points = -1 },
		"range":         func(d *Declared) { d.High = nm("400") },
		"range in bar":  func(d *Declared) { d.Low.Unit, d.High.Unit = units.Bar, units.Bar },
		"range falls":   func(d *Declared) { d.Low, d.High = d.High, d.Low },
		"direction":     func(d *Declared) { d.Directions = []Direction{"up"} },
		"limit in bar":  func(d *Declared) { l := limit("1 bar"); d.Limit = &l },
		"limit of none": func(d *Declared) { d.Limit = &Limit{} },
	} {
		d := Declared{Class: "II-A", Low: nm("40"), High: nm("200"), Points: 3}
		change(&d)
		_, err := Judge(wrench(), Result{On: "2026-05-04", Paper: Declaration, Declared: &d}, Around{})
		if !fault.Is(err, fault.Invalid) || fault.Of(err).Fields[0].Pointer != "#/declared" {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// A kind of tool is named as people say it.
func TestAnswersNamesTheKind(t *testing.T) {
	for kind, want := range map[string]string{"Jack": "whether a jack will hold", "insulating gloves": "whether insulating gloves will hold",
		"axle stands": "whether axle stands will hold", "engine hoist": "whether an engine hoist will hold"} {
		if err := Answers(kind); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", kind, err)
		}
	}
}

// What is wrong with a tightening is told in words; the fields stand beside it by the
// names that they were asked by.
func TestTighteningTellsWhatIsWrongInWords(t *testing.T) {
	u := Tightening{Use: Use{NotSafety: true, Asked: Question{Target: units.Quantity{Value: "80", Unit: units.PSI}, Direction: "left"}}, Fastener: "nuts", Count: 5000}
	f := fault.Of(u.Check())
	if f == nil {
		t.Fatal("nothing is wrong with it")
	}
	var pointers []string
	for _, field := range f.Fields {
		pointers = append(pointers, field.Pointer)
	}
	if got := strings.Join(pointers, " "); got != "#/job #/not_safety_why #/direction #/count #/target" || strings.ContainsAny(f.Message, "/_") {
		t.Errorf("%s: %s", got, f.Message)
	}
}
