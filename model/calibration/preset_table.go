package calibration

import "pawl/model/units"

func quantity(value string, u units.Unit) units.Quantity {
	return units.Quantity{Value: value, Unit: u}
}

var (
	torqueUnits   = []units.Unit{units.NewtonMeter, units.FootPound, units.InchPound, units.KilogramForceCentimeter, units.KilogramForceMeter}
	pressureUnits = []units.Unit{units.PSI, units.Bar, units.Kilopascal, units.Megapascal}
	lengthUnits   = []units.Unit{units.Millimeter, units.Inch}
)

// fourOrSix is the limit of hand torque tools whose maximum decides: 6 % up to
// 10 N·m, 4 % above (ISO 6789-1:2017 5.1.5).
func fourOrSix(above Source) []LimitChoice {
	return []LimitChoice{
		{UpTo: quantity("10", units.NewtonMeter), Limit: "6 % of reference", Source: fromMemory("ISO 6789-1:2017 5.1.5, maximum up to 10 N·m")},
		{Limit: "4 % of reference", Source: above},
	}
}

func six() []LimitChoice {
	return []LimitChoice{{Limit: "6 % of reference", Source: fromMemory("ISO 6789-1:2017 5.1.5")}}
}

var (
	settingSeen    = seen("ISO 6789, maximum above 10 N·m, as a setting wrench's manual gives it")
	fourFromMemory = fromMemory("ISO 6789-1:2017 5.1.5, maximum above 10 N·m")
	bench          = []Figure{
		{"compare at 20 %, 60 % and 100 % of the maximum, rising; where 20 % is not marked, at the lowest mark", seen("a setting wrench's manual")},
		{"18 °C to 28 °C, steady within 1 °C", seen("a setting wrench's manual")},
		{"every reading inside the limit, not their mean", seen("a torque-equipment maker's article on ISO 6789:2003")},
	}
	setting = append([]Figure{
		{"five operations at the maximum first, not recorded, in each direction", seen("a torque-equipment maker's article on ISO 6789:2003; a setting wrench's manual")},
		{"from 80 % of the set value to the trip slowly and evenly, in 0.5 s to 4 s", seen("a torque-equipment maker's article; a setting wrench's manual")},
	}, bench...)
	indicating = append([]Figure{
		{"once to the maximum first in the direction of the test; release; zero", seen("a torque-equipment maker's article on ISO 6789:2003")},
	}, bench...)
	five = Figure{"five readings a point", fromMemory("ISO 6789-1:2017 6")}
	ten  = Figure{"ten readings a point", fromMemory("ISO 6789-1:2017 6")}
)

func hand(name, title string, i Instrument, c Class, limits []LimitChoice, sequence []Figure) Preset {
	count := five
	if c.NonGraduated() {
		count = ten
	}
	return Preset{
		Name: name, Title: title, Instrument: i, Class: c, Electronic: c == ElectronicWrench || c == ElectronicScrewdriver,
		Units: torqueUnits, Limits: limits, Months: 12, Cycles: 5000, Interval: handToolInterval,
		Sequence: append(sequence[:len(sequence):len(sequence)], count),
	}
}

var presets = []Preset{
	hand("torque-wrench-setting", "setting torque wrench with a scale", TorqueWrench, SettingWrench, fourOrSix(settingSeen), setting),
	hand("torque-wrench-fixed", "torque wrench with one value", TorqueWrench, FixedWrench, fourOrSix(fourFromMemory), setting),
	hand("torque-wrench-without-scale", "adjustable torque wrench without a scale", TorqueWrench, NonGraduatedWrench, fourOrSix(fourFromMemory), setting),
	hand("torque-wrench-flexion-setting", "setting torque wrench with a flexion bar", TorqueWrench, FlexionBarSettingWrench, six(), setting),
	hand("torque-wrench-beam", "torque wrench with a bending or torsion bar", TorqueWrench, BeamWrench, six(), indicating),
	hand("torque-wrench-indicating", "torque wrench with a dial", TorqueWrench, DialWrench, fourOrSix(fourFromMemory), indicating),
	hand("torque-wrench-electronic", "electronic torque wrench", TorqueWrench, ElectronicWrench, fourOrSix(fourFromMemory), append([]Figure{
		{"the display's step is at most a quarter of the limit at every reading", seen("a torque-tool maker's 2017 article series on ISO 6789")},
	}, indicating...)),
	hand("torque-screwdriver-setting", "setting torque screwdriver with a scale", TorqueScrewdriver, SettingScrewdriver, six(), setting),
	hand("torque-screwdriver-fixed", "torque screwdriver with one value", TorqueScrewdriver, FixedScrewdriver, six(), setting),
	hand("torque-screwdriver-without-scale", "adjustable torque screwdriver without a scale", TorqueScrewdriver, NonGraduatedScrewdriver, six(), setting),
	hand("torque-screwdriver-indicating", "torque screwdriver with a dial", TorqueScrewdriver, DialScrewdriver, six(), indicating),
	hand("torque-screwdriver-electronic", "electronic torque screwdriver", TorqueScrewdriver, ElectronicScrewdriver, fourOrSix(fourFromMemory), indicating),
	{
		Name: "torque-tester", Title: "torque tester", Instrument: TorqueTester, Electronic: true, Units: torqueUnits, Months: 12, Interval: yearly,
		Limits: []LimitChoice{{Limit: "1 % of reference", Source: fromMemory("the device's uncertainty within 1 % of reading is what ISO 6789:2003 asked; its own limit is its maker's")}},
		Sequence: []Figure{
			{"a tester's accuracy is at most 25 % of the tolerance of what it tests", seen("ASME B107.300-2021 6.3, excerpt")},
			{"64 °F to 82 °F, changing by at most 2 °F", seen("ASME B107.300-2021 6.3, excerpt")},
		},
	},
	gauge("pressure-gauge", "pressure gauge", PressureGauge, pressureUnits),
	gauge("vacuum-gauge", "vacuum or compound gauge", VacuumGauge, append([]units.Unit{units.InchMercury}, pressureUnits...)),
	gauge("fuel-pressure-gauge", "fuel-pressure gauge", FuelPressureGauge, pressureUnits),
	{
		Name: "tire-gauge", Title: "tire gauge", Instrument: TireGauge, Units: pressureUnits, Months: 12, Interval: yearly,
		Limits:   []LimitChoice{{Limit: "0.08 bar to 4 bar, 0.16 bar to 10 bar, 0.25 bar", Source: fromMemory("OIML R 23 and 86/217/EEC; EN 12645:2014 is believed to be the same")}},
		Sequence: []Figure{{"EN 12645:2014 recommends verifying again from time to time", seen("scope text of EN 12645:2014")}},
	},
	{
		Name: "caliper", Title: "caliper", Instrument: Caliper, Units: lengthUnits, Months: 12, Interval: yearly, Ask: "look for the limit of error that its maker states (ISO 13385-1)",
		Limits: []LimitChoice{
			{UpTo: quantity("150", units.Millimeter), Limit: "0.03 mm", Source: seen("typical of a digital caliper to 150 mm, as a caliper guide gives it")},
			{UpTo: quantity("400", units.Millimeter), Limit: "0.03 mm", Source: fromMemory("DIN 862, 300 mm to 400 mm, from an extract that has to be checked again")},
		},
		Sequence: []Figure{
			{"the limit is never less than the display's step", seen("ISO 13385-1, excerpt")},
			{"20 °C", seen("ISO 13385-1:2019, reference temperature")},
		},
	},
	{
		Name: "outside-micrometer", Title: "outside micrometer", Instrument: OutsideMicrometer, Units: lengthUnits, Limits: micrometer, Months: 12, Interval: yearly,
		Ask: "look for the limit of error that its maker states (ISO 3611)",
	},
	{
		Name: "brake-rotor-gauge", Title: "brake-rotor gauge or micrometer", Instrument: BrakeRotorGauge, Units: lengthUnits, Limits: micrometer, Months: 12, Interval: yearly,
		Ask:      "look for the limit of error that its maker states",
		Sequence: []Figure{{"the rotor's discard thickness is the vehicle maker's figure, not the gauge's", Source{CommonPractice, "common practice, no source"}}},
	},
	{
		Name: "dial-indicator", Title: "dial indicator", Instrument: DialIndicator, Units: lengthUnits, Months: 12, Interval: yearly,
		Ask:      "look for the limit of error that its maker states: ISO 463 has no numbers",
		Limits:   []LimitChoice{{UpTo: quantity("10", units.Millimeter), Limit: "0.017 mm", Source: fromMemory("DIN 878:2006, total error, 0.01 mm and 10 mm range")}},
		Sequence: []Figure{{"ISO 463:2006 sets no numbers for the limit", seen("foreword of DIN 878")}},
	},
	{
		Name: "tread-depth-gauge", Title: "tread-depth gauge", Instrument: TreadDepthGauge, Units: lengthUnits, Months: 12, Interval: yearly,
		Ask:      "no standard sets its limit: look for what its maker states",
		Sequence: []Figure{{"it reads in steps of 1/32 in or less", seen("49 CFR 393.75 (b), (c), whose limits are whole thirty-seconds")}},
	},
	meter("multimeter", "multimeter", Multimeter, units.Volt, "look for ±(% of reading + counts) of the range in use: 0.5 % of indicated + 2 counts of 0.01 V",
		Figure{"the limit is percent of reading plus counts of the last digit on the range in use", seen("two meter makers' notes on accuracy")}),
	meter("clamp-meter", "clamp meter", ClampMeter, units.Ampere, "look for ±(% of reading + counts) of the range in use, with the conductor in the middle of the jaw",
		Figure{"the conductor stands in the middle of the jaw", fromMemory("makers' manuals")}),
	meter("infrared-thermometer", "infrared thermometer", InfraredThermometer, units.Celsius, "look for its maker's larger of an amount and a percent: larger of 2 °C and 2 % of indicated",
		Figure{"set the emissivity of the target, 0.95 as delivered; the target is at least 1.5 times the spot", seen("two infrared thermometers' manuals")}),
	{
		Name: "refrigerant-scale", Title: "refrigerant scale", Instrument: RefrigerantScale, Electronic: true, Units: []units.Unit{units.Gram, units.Ounce, units.Kilogram}, Months: 12, Interval: yearly,
		Limits:   []LimitChoice{{Limit: "15 g", Source: fromMemory("SAE J2788 (40 CFR 82 subpart B appendix C)")}},
		Sequence: []Figure{{"it keeps its accuracy after being moved", seen("SAE J2788, as a laboratory's summary gives it")}},
	},
	meter("battery-tester", "battery tester", BatteryTester, units.Volt, "look for what its maker states: 0.5 % of indicated + 2 counts of 0.01 V",
		Figure{"a verdict on a battery is not a measured value: only its volts can be compared", Source{CommonPractice, "common practice, no source"}}),
}

func gauge(name, title string, i Instrument, u []units.Unit) Preset {
	return Preset{
		Name: name, Title: title, Instrument: i, Units: u, Graded: true, Months: 12, Interval: yearly,
		Ask: "look for the grade or class on the dial",
		Sequence: []Figure{
			{"73.4 °F (23 °C)", seen("ASME B40.100, as an instrument seller's grade page gives it")},
			{"the smallest graduation is at most twice the error allowed in the middle half", seen("ASME B40.100-2005 3.3.2, excerpt")},
		},
	}
}

func meter(name, title string, i Instrument, u units.Unit, ask string, note Figure) Preset {
	return Preset{Name: name, Title: title, Instrument: i, Electronic: true, Units: []units.Unit{u}, Ask: ask, Months: 12, Interval: yearly, Sequence: []Figure{note}}
}

// micrometer is the limit of error of DIN 863-1 by the end of the range.
var micrometer = func() []LimitChoice {
	var out []LimitChoice
	for _, c := range [][2]string{{"50", "4"}, {"100", "5"}, {"150", "6"}, {"200", "7"}, {"250", "8"}, {"300", "9"}} {
		out = append(out, LimitChoice{quantity(c[0], units.Millimeter), c[1] + " µm", seen("DIN 863-1, to " + c[0] + " mm, as a one-page extract gives it")})
	}
	return out
}()
