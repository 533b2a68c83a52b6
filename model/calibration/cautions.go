package calibration

import (
	"slices"

	"pawl/model/units"
)

// Hazard is what a caution is about.
type Hazard string

const (
	HazardTorque    Hazard = "torque"
	HazardSetting   Hazard = "setting wrench" // torque tools that are set
	HazardBeam      Hazard = "beam wrench"    // flexible beam
	HazardMethod    Hazard = "angle or yield"
	HazardOffset    Hazard = "offset adapter"
	HazardDate      Hazard = "calibration date"
	HazardPressure  Hazard = "pressure"
	HazardVoltage   Hazard = "high voltage"
	HazardLift      Hazard = "lift"
	HazardMeasure   Hazard = "measuring part"
	HazardLabel     Hazard = "label"
	HazardSerial    Hazard = "serial"
	HazardPhotos    Hazard = "photos of a serial"
	HazardWheelNuts Hazard = "wheel nuts"
)

// ClickShowsNothing is said wherever a torque is (US Navy 14113).
const ClickShowsNothing = "A click on a fastener that is already tight does not show its torque."

// PullSteadily is the caution that carries it beside the others of torque.
const PullSteadily = "Pull slowly and steadily, at the middle of the grip. " + ClickShowsNothing

// cautions are the trade's own. The vehicle maker's service information, local rules
// and licensed practice come first everywhere. Sources, where there is one: US Navy
// training manuals 14113 and 14315, TM 1-1500-204-23-9 8-6; the rest is common
// practice, no source.
var cautions = map[Hazard][]string{
	HazardTorque: {
		"The vehicle maker's service information governs value, sequence, angle, lubrication and one-time fasteners.",
		PullSteadily,
		"Torque is an indirect measure of clamping force: friction decides most of it.",
		"Never loosen with it, never go beyond its range, no pipe on the handle. After a drop it is checked before its next use.",
	},
	HazardSetting: {
		"Where its maker says so, wind a setting wrench down to its lowest mark after use, never below.",
	},
	HazardBeam: {
		"Never file, mark, engrave or etch the beam: it is what measures.",
	},
	HazardMethod: {
		"A calibration for torque says nothing about the angle or about yield; one-time fasteners are replaced as the vehicle maker says.",
	},
	HazardOffset: {
		"Pull where the grip-to-drive length was measured to, and keep the adapter at the angle that was entered.",
	},
	HazardDate: {
		"A calibration speaks of its day; between dates it is a prediction.",
	},
	HazardWheelNuts: {
		"Tighten wheel nuts again after the first drive, at the distance that the vehicle or wheel maker states.",
	},
	HazardPressure: {
		"Let pressure off as the service information says before you open anything; zero on a gauge is not proof.",
		"Never engrave, file, etch or heat-mark a part that holds pressure.",
	},
	HazardVoltage: {
		"High voltage: trained people only, with the vehicle maker's shutdown and wait. An accurate meter does not clear the work.",
		"Category rating, leads, live-dead-live test and protective equipment as the vehicle maker says; gloves in test date, air-tested before each use, with protectors.",
	},
	HazardLift: {
		"An inspection date is not permission: look before each use, keep to the rated load and the vehicle maker's lifting points, never go under a vehicle held by a jack alone.",
	},
	HazardMeasure: {
		"A measured value is held against the vehicle maker's limits, never against one of ours.",
		"Never engrave, file, etch or heat-mark a part that measures, insulates, carries load or pressure, or a battery; ask whether marking ends a warranty.",
	},
	HazardLabel: {
		"Never label or mark gloves, insulation, vents or rating plates.",
	},
	HazardSerial: {
		"Never re-cut, restamp or alter the maker's serial: an owner's number goes beside it, both photographed.",
	},
	HazardPhotos: {
		"Photograph a serial before cleaning it: brake cleaner takes print off.",
	},
}

// ShortCaution is what stands on paper and pictures that have room for a line or two:
// the rest is behind the scan.
func ShortCaution(i Instrument) string {
	const day = "A calibration speaks of its day."
	switch {
	case i.Turns():
		return "The vehicle maker's service information governs value, sequence and lubrication. " + day
	case slices.Contains(Hazards(i, NoClass), HazardPressure):
		return "Let pressure off as the service information says; zero on a gauge is not proof. " + day
	case slices.Contains(Hazards(i, NoClass), HazardVoltage):
		return "High voltage: an accurate meter does not clear the work; the vehicle maker's procedure governs. " + day
	}
	return "A measured value is held against the vehicle maker's limits. " + day
}

// Cautions gives the cautions for the hazards, in order, each once.
func Cautions(hazards ...Hazard) (out []string) {
	for _, h := range hazards {
		for _, text := range cautions[h] {
			if !slices.Contains(out, text) {
				out = append(out, text)
			}
		}
	}
	return out
}

// Hazards gives what there is to be careful of with an instrument.
func Hazards(i Instrument, c Class) []Hazard {
	switch i {
	case TorqueWrench, TorqueScrewdriver:
		out := []Hazard{HazardTorque, HazardDate}
		if c == BeamWrench || c == FlexionBarSettingWrench {
			out = append(out, HazardBeam)
		}
		if c.Sets() && !c.OneValue() {
			out = append(out, HazardSetting)
		}
		return out
	case TorqueTester:
		return []Hazard{HazardTorque, HazardDate, HazardMeasure}
	case PressureGauge, FuelPressureGauge, TireGauge, VacuumGauge, RefrigerantScale:
		return []Hazard{HazardPressure, HazardDate, HazardMeasure}
	case Multimeter, ClampMeter, BatteryTester:
		return []Hazard{HazardVoltage, HazardDate, HazardMeasure}
	}
	return []Hazard{HazardDate, HazardMeasure}
}

// OfUnit gives what there is to be careful of wherever such a value is asked for,
// whatever the tool is.
func OfUnit(u units.Unit) []Hazard {
	switch u.Dimension() {
	case units.Torque:
		return []Hazard{HazardTorque}
	case units.Pressure:
		return []Hazard{HazardPressure}
	case units.Voltage, units.Current, units.Resistance:
		return []Hazard{HazardVoltage}
	}
	return nil
}

// cautions gives what stands beside an answer: by what the tool is, by what was asked
// in which unit where that is not known, and by the method and the adapter.
func (a *asking) cautions() []string {
	hazards := append(OfUnit(a.q.Target.Unit), Hazards(a.r.Instrument, a.r.Class)...)
	if a.q.Method == ByTorqueAngle || a.q.Method == ByYield {
		hazards = append(hazards, HazardMethod)
	}
	if a.changes() {
		hazards = append(hazards, HazardOffset)
	}
	return Cautions(hazards...)
}
