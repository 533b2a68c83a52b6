package calibration_test

import (
	"fmt"
	"time"

	"pawl/model/calibration"
	"pawl/model/dates"
	"pawl/model/units"
)

// The bridge writes a plain case in the package's own types. It judges nothing.

func (m milli) in(unit string) units.Quantity {
	return units.Quantity{Value: m.decimal(), Unit: units.Unit(unit)}
}

func (m milli) given() calibration.Decimal {
	if m == 0 {
		return ""
	}
	return calibration.Decimal(m.decimal())
}

// signed is a value as it is written: a vacuum gauge's stand below zero.
func (c oracleCase) signed(m milli) milli {
	if c.Vacuum {
		return -m
	}
	return m
}

func (c oracleCase) sign() float64 {
	if c.Vacuum {
		return -1
	}
	return 1
}

// ends writes a range from its lower to its higher end.
func (c oracleCase) ends(low, high milli, unit string) (units.Quantity, units.Quantity) {
	if c.Vacuum {
		low, high = -high, -low
	}
	return low.in(unit), high.in(unit)
}

func (s oracleScale) product() calibration.Scale {
	out := calibration.Scale{Low: s.Low.in(s.Unit), High: s.High.in(s.Unit)}
	if s.Step != 0 {
		out.Graduation = s.Step.in(s.Unit)
	}
	return out
}

func (d oracleDay) date() dates.Date { return dates.Date(d.text()) }

func (d oracleDay) at(hour int) dates.Instant {
	if hour == 0 {
		return 0
	}
	return dates.InstantOf(d.civil().Add(time.Duration(hour) * time.Hour))
}

func (l oracleLimit) product(unit string) calibration.Limit {
	a, b, to := l.Amount.decimal(), l.Other.decimal()+" "+unit, l.To.decimal()+" "+unit
	text := a + " % " + l.Kind
	switch l.Kind {
	case "absolute":
		text = a + " " + unit
	case "quarters":
		text = a + "/" + l.Other.decimal() + "/" + a + " % of span"
	case "sum":
		text = a + " % of indicated + " + b
	case "larger":
		text = "larger of " + a + " % of indicated and " + b
	case "steps":
		text = a + " " + unit + " to " + to + ", " + b
	}
	limit, err := calibration.ParseLimit(text)
	if err != nil {
		panic(fmt.Sprintf("limit %q: %v", text, err))
	}
	return limit
}

func directions(in []string) (out []calibration.Direction) {
	for _, d := range in {
		out = append(out, calibration.Direction(d))
	}
	return out
}

func (c oracleCase) instrument() calibration.Instrument {
	switch c.Class {
	case "":
		return calibration.PressureGauge
	case "I-D", "I-E", "II-D", "II-E", "II-F":
		return calibration.TorqueScrewdriver
	}
	return calibration.TorqueWrench
}

func (c oracleCase) requirement() calibration.Requirement {
	q := calibration.Requirement{
		Instrument: c.instrument(), Class: calibration.Class(c.Class), Electronic: c.Electronic,
		Unit: units.Unit(c.Scale.Unit), Directions: directions(c.Directions),
		Limit: c.Limit.product(c.Scale.Unit), LimitSource: calibration.Source{Standing: calibration.OwnPaper, Where: "its manual, page 3"},
		Months: c.Months, Cycles: c.Cycles, Reliability: c.Reliability.given(),
		IntervalSource: calibration.Source{Standing: calibration.ShopRule, Where: "the shop's own rule"},
	}
	q.Rule, q.Scale = calibration.Rule(c.Rule), c.Scale.product()
	q.Scale.Low, q.Scale.High = c.ends(c.Scale.Low, c.Scale.High, c.Scale.Unit)
	if c.FromMemory {
		q.LimitSource = calibration.Source{Standing: calibration.FromMemory}
	}
	if c.Resolution != 0 {
		q.Resolution = c.Resolution.in(c.Scale.Unit)
	}
	if c.Second != nil {
		second := c.Second.product()
		q.Second = &second
	}
	if c.Grip != 0 {
		q.GripToDrive = c.Grip.in("mm")
	}
	if c.AmbientHigh != 0 {
		q.AmbientLow, q.AmbientHigh = c.AmbientLow.in("°C"), c.AmbientHigh.in("°C")
	}
	return q
}

func (c oracleCase) points(in []oraclePoint) (out []calibration.Point) {
	for _, p := range in {
		point := calibration.Point{Direction: calibration.Direction(p.Direction), Set: calibration.Decimal(c.signed(p.Set).decimal()), Uncertainty: p.W.given()}
		for _, r := range p.Readings {
			point.Readings = append(point.Readings, calibration.Decimal(c.signed(r).decimal()))
		}
		out = append(out, point)
	}
	return out
}

func (c oracleCase) result(k oracleCalibration) calibration.Result {
	unit := c.Scale.Unit
	r := calibration.Result{
		On: k.On.date(), By: "a lab", Paper: calibration.Paper(k.Paper), BenchCheck: k.Bench, Adjusted: k.Adjusted,
		AsFound: c.points(k.Found), AsLeft: c.points(k.Left), Uncertainty: k.W.given(), OnlyUncertainty: k.OnlyW, Claim: calibration.Claim(k.Claim),
	}
	if !k.NoTemp {
		r.Temperature = k.Temperature.in("°C")
	}
	switch {
	case k.Paper == "declaration":
		r.Declared = &calibration.Declared{Class: "class", Points: k.Declared.Points, Directions: directions(k.Declared.Directions)}
		r.Declared.Low, r.Declared.High = c.ends(k.Declared.Low, k.Declared.High, unit)
		if k.Declared.Limit != 0 {
			limit := oracleLimit{Kind: "of reference", Amount: k.Declared.Limit}.product(unit)
			r.Declared.Limit = &limit
		}
	case k.Paper == "own":
		c.reference(k, &r)
	}
	return r
}

func (c oracleCase) reference(k oracleCalibration, r *calibration.Result) {
	unit := c.Scale.Unit
	spread := func(m milli) calibration.Decimal { return calibration.Decimal(m.decimal()) }
	r.Budget = calibration.Budget{Reproducibility: spread(k.Spreads.Reproducibility), OutputDrive: spread(k.Spreads.Drive), Interface: spread(k.Spreads.Interface)}
	if c.wrench() {
		r.Budget.LoadingPoint = spread(k.Spreads.Loading)
	}
	s := k.Standard
	if s.Missing {
		return
	}
	r.Standard = calibration.Standard{Tool: "00A-AAA", Name: "bench tester", Uncertainty: s.Uncertainty.given(), Calibrated: s.On.date(), Due: s.Due.date(), OutOfUse: s.OutOfUse}
	r.Standard.Low, r.Standard.High = c.ends(s.Low, s.High, unit)
	if s.Absolute != 0 {
		r.Standard.Absolute = s.Absolute.in(unit)
	}
	if s.BiasSaid {
		r.Standard.Bias = calibration.Decimal(s.Bias.decimal())
	}
}

// kept judges the calibrations by the package, as whoever keeps them does.
func (c oracleCase) kept(in []oracleCalibration) (out []calibration.Kept, err error) {
	for i, k := range in {
		around := calibration.Around{SafetyJobs: c.SafetyJobs}
		if k.On == in[0].On && !k.Bench {
			around.FirstUse = c.FirstUse.date()
		}
		j, err := calibration.Judge(c.requirement(), c.result(k), around)
		if err != nil {
			return nil, err
		}
		out = append(out, calibration.Kept{ID: fmt.Sprintf("K%d", i), At: k.On.at(k.Hour), Judgement: j})
	}
	return out, nil
}

func (c oracleCase) facts() (f calibration.Facts, err error) {
	q := c.requirement()
	f = calibration.Facts{Number: "00E-KM5", Kind: string(c.instrument()), Requirement: &q, Today: c.Today.date(), Doubtful: c.Doubtful,
		Cycles: calibration.Cycles{Counted: c.Counted, AtLeast: c.Count}}
	if c.NoRequirement {
		f.Requirement = nil
	}
	if c.Gone {
		f.Gone = "sold"
	}
	if c.DoNotUse {
		f.DoNotUse = "dropped"
	}
	if c.Held {
		f.Holder = "Sam"
	}
	if c.Unreadable {
		f.Unreadable = []string{"a reading"}
	}
	for _, e := range c.Events {
		f.Events = append(f.Events, calibration.Event{Kind: calibration.EventKind(e.Kind), On: e.On.date(), At: e.On.at(e.Hour)})
	}
	for _, p := range c.Pairs {
		f.Pairs = append(f.Pairs, calibration.Pair{Days: p.Days, Change: p.Change.float(), Share: p.Share.float()})
	}
	if f.Calibrations, err = c.kept(c.Calibrations); err != nil {
		return f, err
	}
	f.Checks, err = c.kept(c.Checks)
	return f, err
}

var replies = map[known]calibration.Reply{unsaid: "", saidYes: calibration.RepliedYes, saidNo: calibration.RepliedNo}

func (c oracleCase) asked() calibration.Question {
	q := calibration.Question{Target: c.signed(c.Target).in(c.TargetUnit), Direction: calibration.Direction(c.Direction), Method: calibration.Method(c.Method),
		NotSafety: c.NotSafety, DefaultPercent: c.Default.given(), AngleDevice: c.AngleKnown,
		SettingUnchanged: replies[c.Unchanged], ZeroAndBattery: replies[c.Zero], LengthInWrench: replies[c.Entered], UnitConfirmed: replies[c.UnitRight]}
	low, high := c.ends(c.LimitLow, c.LimitHigh, c.LimitUnit)
	if c.HasLow && !c.Vacuum || c.HasHigh && c.Vacuum {
		q.Limits.Low = low
	}
	if c.HasHigh && !c.Vacuum || c.HasLow && c.Vacuum {
		q.Limits.High = high
	}
	if !c.NoAmbient {
		q.Ambient = c.Ambient.in("°C")
	}
	q.Adapter.Kind = calibration.AdapterKind(c.Adapter.Kind)
	switch a := c.Adapter; {
	case a.Kind == "offset adapter":
		q.Adapter.Length, q.Adapter.Angle = a.Length.in("mm"), calibration.Decimal(a.Angle.decimal())
		if a.OwnHalves {
			q.Adapter.GripHalf, q.Adapter.LengthHalf, q.Adapter.AngleHalf = a.Halves[0].in("mm"), a.Halves[1].in("mm"), a.Halves[2].given()
		}
	case a.Certificate:
		q.Adapter.Certificate = &calibration.AdapterCertificate{Number: "A-1", Factor: a.Factor.given(), Uncertainty: a.Uncertainty.given(), Due: a.Due.date()}
	}
	return q
}
