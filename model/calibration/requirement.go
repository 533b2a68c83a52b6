package calibration

import (
	"slices"

	"pawl/model/fault"
	"pawl/model/units"
)

const (
	maxMonths = 120
	maxCycles = 10_000_000
)

// Sets says whether the tool is set to a value and trips there (ISO 6789-1 type
// II); others show what they measure.
func (c Class) Sets() bool { return len(c) > 3 && c[:3] == "II-" }

// OneValue says whether tools of the class have one fixed value.
func (c Class) OneValue() bool { return c == FixedWrench || c == FixedScrewdriver }

// NonGraduated says whether tools of the class are set without a scale, against a
// reference: their calibration ends when the setting is changed.
func (c Class) NonGraduated() bool { return c == NonGraduatedWrench || c == NonGraduatedScrewdriver }

// wrench says whether the place where the hand pulls matters.
func (c Class) wrench() bool {
	return slices.Contains([]Class{BeamWrench, DialWrench, ElectronicWrench, SettingWrench, FixedWrench, NonGraduatedWrench, FlexionBarSettingWrench}, c)
}

var classes = []Class{
	BeamWrench, DialWrench, ElectronicWrench, DialScrewdriver, ElectronicScrewdriver,
	SettingWrench, FixedWrench, NonGraduatedWrench, SettingScrewdriver, FixedScrewdriver, NonGraduatedScrewdriver, FlexionBarSettingWrench,
}

// Turns says whether the tool is compared by direction of turning.
func (i Instrument) Turns() bool {
	return i == TorqueWrench || i == TorqueScrewdriver || i == TorqueTester
}

var dimensions = map[Instrument][]units.Dimension{
	TorqueWrench: {units.Torque}, TorqueScrewdriver: {units.Torque}, TorqueTester: {units.Torque},
	PressureGauge: {units.Pressure}, TireGauge: {units.Pressure}, VacuumGauge: {units.Pressure}, FuelPressureGauge: {units.Pressure},
	Caliper: {units.Length}, OutsideMicrometer: {units.Length}, DialIndicator: {units.Length}, BrakeRotorGauge: {units.Length}, TreadDepthGauge: {units.Length},
	Multimeter: {units.Voltage, units.Current, units.Resistance}, ClampMeter: {units.Current, units.Voltage, units.Resistance},
	InfraredThermometer: {units.Temperature}, RefrigerantScale: {units.Mass}, BatteryTester: {units.Voltage, units.Current},
	OtherInstrument: {units.Torque, units.Pressure, units.Length, units.Temperature, units.Voltage, units.Current, units.Resistance, units.Mass},
}

// Check says what is not acceptable in a requirement, every field of it at once.
func (q Requirement) Check() error {
	var bad []fault.Field
	at := func(pointer string, err error) {
		if err != nil {
			bad = append(bad, fault.Field{Pointer: pointer, Detail: fault.Of(err).Error()})
		}
	}
	at("#/instrument", q.checkInstrument())
	at("#/scale", q.checkScale())
	at("#/second_scale", q.checkSecond())
	if len(bad) == 0 {
		_, err := q.Limit.Bind(q.Scale, q.Unit)
		at("#/limit", err)
	}
	at("#/limit_source", q.LimitSource.check())
	at("#/interval_source", q.IntervalSource.check())
	at("#/directions", q.checkDirections())
	at("#/months", checkInterval(q))
	at("#/maximum_months", checkMaximum(q))
	at("#/rule", checkRule(q.Rule))
	at("#/reliability", checkReliability(q.Reliability))
	at("#/grip_to_drive", checkGrip(q.GripToDrive))
	at("#/ambient_low", checkAmbient(q.AmbientLow, q.AmbientHigh))
	if len(bad) == 0 {
		return nil
	}
	f := fault.New(fault.Invalid, "%s", bad[0].Detail)
	f.Fields = bad
	return f
}

func (q Requirement) checkInstrument() error {
	of, known := dimensions[q.Instrument]
	switch {
	case !known:
		return fault.New(fault.Invalid, "%q is not an instrument that Pawl judges", fault.Clip(string(q.Instrument))).WithHint("use other, with a limit of its own")
	case !slices.Contains(of, q.Unit.Dimension()):
		return fault.New(fault.Invalid, "%s is not a unit of a %s", q.Unit, q.Instrument).WithHint("give the unit on the tool's scale")
	case q.Class != NoClass && !slices.Contains(classes, q.Class):
		return fault.New(fault.Invalid, "%q is not a class of ISO 6789-1", fault.Clip(string(q.Class))).WithHint("I-A to I-E, or II-A to II-G")
	case q.Class != NoClass && q.Class.wrench() != (q.Instrument == TorqueWrench), q.Class != NoClass && q.Instrument != TorqueWrench && q.Instrument != TorqueScrewdriver:
		return fault.New(fault.Invalid, "class %s is not one of a %s", q.Class, q.Instrument).WithHint("correct the class or the instrument")
	case q.Class == NoClass && (q.Instrument == TorqueWrench || q.Instrument == TorqueScrewdriver):
		return fault.New(fault.Invalid, "a %s needs its class", q.Instrument).WithHint("II-A is a setting wrench with a scale; see the presets")
	}
	return nil
}

func (q Requirement) checkScale() error {
	low, high, err := q.Scale.ends(q.Unit)
	switch {
	case err != nil:
		return err
	case q.Scale.Low.Unit != q.Unit || q.Scale.High.Unit != q.Unit:
		return fault.New(fault.Invalid, "the scale is not in %s", q.Unit).WithHint("give the range in the tool's own unit, and another scale as the second one")
	case q.Class.OneValue() && low != high:
		return fault.New(fault.Invalid, "a tool of class %s has one value, not %s", q.Class, q.Scale).WithHint("give the one value, such as 108")
	case !q.Class.OneValue() && low == high:
		return fault.New(fault.Invalid, "the scale %s has one value", q.Scale).WithHint("give both ends, such as 40..200")
	case q.Instrument.Turns() && low < 0:
		return fault.New(fault.Invalid, "a torque range does not go below zero").WithHint("name the directions apart: cw and ccw")
	}
	if err := checkStep(q.Scale.Graduation, q.Unit); err != nil {
		return err
	}
	return checkStep(q.Resolution, q.Unit)
}

func checkStep(step units.Quantity, unit units.Unit) error {
	if step.IsZero() {
		return nil
	}
	if step.Unit != unit || !(Decimal(step.Value).Float() > 0) {
		return fault.New(fault.Invalid, "a step of %s is not one of a scale in %s", step, unit).WithHint("give a step above zero in the scale's unit")
	}
	return nil
}

// secondScaleSlack is how far a second scale may reach past the first: printed
// ends are rounded. A scale in the wrong unit is off by 12 or by 1.36.
const secondScaleSlack = 0.05

func (q Requirement) checkSecond() error {
	if q.Second == nil {
		return nil
	}
	unit := q.Second.Low.Unit
	if unit == q.Unit {
		return fault.New(fault.Invalid, "the second scale is in %s like the first", unit).WithHint("a second scale has a unit of its own")
	}
	if err := checkStep(q.Second.Graduation, unit); err != nil {
		return err
	}
	low, high, err := q.Second.ends(q.Unit)
	if err != nil {
		return err
	}
	first, last, err := q.Scale.ends(q.Unit)
	if err != nil {
		return err
	}
	room := secondScaleSlack * last
	if low < first-room || high > last+room {
		return fault.New(fault.Invalid, "the second scale %s is %.1f to %.1f %s, and the tool goes from %s to %s", q.Second, low, high, q.Unit, q.Scale.Low.Value, q.Scale.High.Value).
			WithHint("check the unit: ft-lb and in-lb differ by a factor of twelve")
	}
	return nil
}

func (s Source) check() error {
	switch s.Standing {
	case Seen, OwnPaper:
		if s.Where == "" {
			return fault.New(fault.Invalid, "a figure that was read needs the place where it was read").WithHint("name the paper and page, such as: its certificate, page 2")
		}
	case FromMemory, CommonPractice, ShopRule:
	default:
		return fault.New(fault.Invalid, "%q does not say where a figure comes from", fault.Clip(string(s.Standing))).WithHint("seen, own paper, shop rule, common practice or from memory")
	}
	return nil
}

// Confirmed says whether somebody read the figure where it is written, or the
// shop decided it.
func (s Source) Confirmed() bool {
	return s.Standing == Seen || s.Standing == OwnPaper || s.Standing == ShopRule
}

func (q Requirement) checkDirections() error {
	for i, d := range q.Directions {
		if d != Clockwise && d != Counterclockwise || slices.Contains(q.Directions[:i], d) {
			return fault.New(fault.Invalid, "%q is not a direction of its own", fault.Clip(string(d))).WithHint("cw, ccw or both")
		}
	}
	switch {
	case q.Instrument.Turns() && len(q.Directions) == 0:
		return fault.New(fault.Invalid, "a %s is compared by direction", q.Instrument).WithHint("say cw, ccw or both")
	case !q.Instrument.Turns() && len(q.Directions) > 0:
		return fault.New(fault.Invalid, "a %s has no direction of turning", q.Instrument).WithHint("leave the directions out")
	}
	return nil
}

func checkInterval(q Requirement) error {
	if q.Months < 0 || q.Months > maxMonths || q.Cycles < 0 || q.Cycles > maxCycles {
		return fault.New(fault.Invalid, "an interval of %d months and %d cycles is not acceptable", q.Months, q.Cycles).WithHint("0 to 120 months, 0 to 10000000 cycles; 0 is none")
	}
	return nil
}

// checkMaximum: an interval never goes past what a law or a contract allows, and who
// reads it later must know which.
func checkMaximum(q Requirement) error {
	switch top := q.MaximumMonths; {
	case top < 0 || top > maxMonths:
		return fault.New(fault.Invalid, "a maximum of %d months is not acceptable", top).WithHint("1 to %d months; 0 is none", maxMonths)
	case top > 0 && q.MaximumWhy == "":
		return fault.New(fault.Invalid, "a maximum of %d months needs what sets it", top).WithHint("name the law, contract or paper")
	case top == 0 && q.MaximumWhy != "":
		return fault.New(fault.Invalid, "what sets a maximum is there without one").WithHint("say how many months it allows")
	case top > 0 && q.Months > top:
		return fault.New(fault.Invalid, "an interval of %d months is past the maximum of %d: %s", q.Months, top, fault.Clip(q.MaximumWhy)).
			WithHint("keep to %d months or fewer, or correct the maximum", top)
	}
	return nil
}

func checkRule(r Rule) error {
	switch r {
	case DefaultRule, SimpleRule, GuardedRule, FourZoneRule:
		return nil
	}
	return fault.New(fault.Invalid, "%q is not a decision rule", fault.Clip(string(r))).WithHint("simple, guarded or four-zone")
}

func checkReliability(d Decimal) error {
	if d == "" {
		return nil
	}
	if r := d.Float(); !d.valid() || r < 0.5 || r >= 1 {
		return fault.New(fault.Invalid, "a reliability of %q is not acceptable", fault.Clip(string(d))).WithHint("0.5 up to, not including, 1, such as 0.95")
	}
	return nil
}

func checkGrip(q units.Quantity) error {
	if q.IsZero() {
		return nil
	}
	mm, err := amountIn(q, units.Millimeter)
	if err == nil && !(mm > 0) {
		err = fault.New(fault.Invalid, "a grip-to-drive length of %s is none", q).WithHint("measure from the mark on the grip to the center of the drive")
	}
	return err
}

func checkAmbient(low, high units.Quantity) error {
	if low.IsZero() && high.IsZero() {
		return nil
	}
	if low.IsZero() || high.IsZero() {
		return fault.New(fault.Invalid, "one end of the ambient range is missing").WithHint("give both, such as 10 °C and 35 °C")
	}
	if low.Unit.Dimension() != units.Temperature {
		return fault.New(fault.Invalid, "%s is not a temperature", low).WithHint("give °C or °F")
	}
	if order, err := low.Compare(high); err != nil || order >= 0 {
		return fault.New(fault.Invalid, "the ambient range %s to %s does not rise", low, high).WithHint("give the lower temperature first, both in °C or °F")
	}
	return nil
}

// resolution is the smallest step that can be read on the tool, in its unit; 0
// where it has no scale.
func (q Requirement) resolution() float64 {
	switch {
	case !q.Resolution.IsZero():
		return Decimal(q.Resolution.Value).Float()
	case !q.Scale.Graduation.IsZero():
		return Decimal(q.Scale.Graduation.Value).Float()
	}
	return 0
}
