package units

import (
	"math/big"
	"strings"

	"pawl/model/fault"
)

// Unit is the canonical symbol of a unit; "" is none.
type Unit string

// The units that Pawl takes.
const (
	NewtonMeter             Unit = "N·m"
	FootPound               Unit = "ft-lb"
	InchPound               Unit = "in-lb"
	KilogramForceMeter      Unit = "kgf·m"
	KilogramForceCentimeter Unit = "kgf·cm"
	Kilopascal              Unit = "kPa"
	Megapascal              Unit = "MPa"
	Bar                     Unit = "bar"
	PSI                     Unit = "psi"
	InchMercury             Unit = "inHg"
	Millimeter              Unit = "mm"
	Centimeter              Unit = "cm"
	Meter                   Unit = "m"
	Inch                    Unit = "in"
	Micrometer              Unit = "µm" // with the micro sign U+00B5
	Celsius                 Unit = "°C"
	Fahrenheit              Unit = "°F"
	Volt                    Unit = "V"
	Millivolt               Unit = "mV"
	Ampere                  Unit = "A"
	Milliampere             Unit = "mA"
	Ohm                     Unit = "Ω" // the Greek letter U+03A9
	Kiloohm                 Unit = "kΩ"
	Megaohm                 Unit = "MΩ"
	Kilogram                Unit = "kg"
	Gram                    Unit = "g"
	Ounce                   Unit = "oz"
)

// Dimension is what a unit measures.
type Dimension string

const (
	Torque      Dimension = "torque"
	Pressure    Dimension = "pressure" // vacuum in inHg too: the sign is the gauge's
	Length      Dimension = "length"
	Temperature Dimension = "temperature"
	Voltage     Dimension = "voltage"
	Current     Dimension = "current"
	Resistance  Dimension = "resistance"
	Mass        Dimension = "mass"
)

// definition turns a value into the base of its dimension: (value + offset) × factor.
type definition struct {
	dimension Dimension
	factor    *big.Rat
	offset    *big.Rat
}

// Factors are exact. Definitions: calibration 9 (1 in = 0.0254 m, 1 lb =
// 0.45359237 kg, standard gravity 9.80665 m/s²), as in NIST SP 811 appendix B.
// The base is the first unit of each group.
var definitions = map[Unit]definition{
	NewtonMeter:             scale(Torque, "1"),
	FootPound:               scale(Torque, "1.3558179483314004"),
	InchPound:               scale(Torque, "0.1129848290276167"),
	KilogramForceMeter:      scale(Torque, "9.80665"),
	KilogramForceCentimeter: scale(Torque, "0.0980665"),

	Kilopascal:  scale(Pressure, "1"),
	Megapascal:  scale(Pressure, "1000"),
	Bar:         scale(Pressure, "100"),
	PSI:         scale(Pressure, "4.4482216152605/0.64516"), // lbf/in²: 0.0254² m² is 0.00064516 m²
	InchMercury: scale(Pressure, "3.386388640341"),          // conventional: 13 595.1 kg/m³

	Millimeter: scale(Length, "1"),
	Centimeter: scale(Length, "10"),
	Meter:      scale(Length, "1000"),
	Inch:       scale(Length, "25.4"),
	Micrometer: scale(Length, "0.001"),

	Celsius:    scale(Temperature, "1"),
	Fahrenheit: {Temperature, ratio("5/9"), ratio("-32")},

	Volt:        scale(Voltage, "1"),
	Millivolt:   scale(Voltage, "0.001"),
	Ampere:      scale(Current, "1"),
	Milliampere: scale(Current, "0.001"),
	Ohm:         scale(Resistance, "1"),
	Kiloohm:     scale(Resistance, "1000"),
	Megaohm:     scale(Resistance, "1000000"),

	Gram:     scale(Mass, "1"),
	Kilogram: scale(Mass, "1000"),
	Ounce:    scale(Mass, "28.349523125"), // 1/16 lb
}

func scale(d Dimension, factor string) definition {
	return definition{d, ratio(factor), new(big.Rat)}
}

// ratio reads a decimal, or two with a slash between them.
func ratio(s string) *big.Rat {
	above, below, _ := strings.Cut(s, "/")
	r, ok := new(big.Rat).SetString(above)
	if below == "" {
		below = "1"
	}
	d, ok2 := new(big.Rat).SetString(below)
	if !ok || !ok2 {
		panic("units: bad factor " + s)
	}
	return r.Quo(r, d)
}

// Dimension returns what the unit measures; "" for a unit that Pawl does not know.
func (u Unit) Dimension() Dimension { return definitions[u].dimension }

// Words returns the unit as screens and papers print it. in-lb becomes
// INCH-pounds: read as ft-lb it would be wrong by a factor of twelve.
func (u Unit) Words() string {
	if u == InchPound {
		return "INCH-pounds"
	}
	return string(u)
}

// spellings are exact, since case tells units apart (mPa is not MPa).
var spellings = map[string]Unit{
	"Nm": NewtonMeter, "N m": NewtonMeter, "N.m": NewtonMeter, "N*m": NewtonMeter, "N-m": NewtonMeter, "N⋅m": NewtonMeter, "N•m": NewtonMeter,
	"kgfm": KilogramForceMeter, "kgf m": KilogramForceMeter, "kgf.m": KilogramForceMeter, "kgf-m": KilogramForceMeter, "kgf⋅m": KilogramForceMeter,
	"kgfcm": KilogramForceCentimeter, "kgf cm": KilogramForceCentimeter, "kgf.cm": KilogramForceCentimeter, "kgf-cm": KilogramForceCentimeter, "kgf⋅cm": KilogramForceCentimeter,
	"um": Micrometer, "μm": Micrometer,
	"C": Celsius, "degC": Celsius, "℃": Celsius, "F": Fahrenheit, "degF": Fahrenheit, "℉": Fahrenheit,
	"\u2126": Ohm, "k\u2126": Kiloohm, "M\u2126": Megaohm, "kohm": Kiloohm, "Mohm": Megaohm,
}

// looseSpellings are in lower case: these can be nothing else in any case.
var looseSpellings = map[string]Unit{
	"ft-lb": FootPound, "lb-ft": FootPound, "ft-lbs": FootPound, "lbs-ft": FootPound, "ft lb": FootPound, "lb ft": FootPound,
	"ft·lb": FootPound, "lb·ft": FootPound, "ft-lbf": FootPound, "lbf-ft": FootPound, "ft·lbf": FootPound, "lbf·ft": FootPound,
	"ft.lb": FootPound, "lb.ft": FootPound, "ftlb": FootPound, "lbft": FootPound, "foot-pounds": FootPound, "foot-pound": FootPound,
	"in-lb": InchPound, "lb-in": InchPound, "in-lbs": InchPound, "lbs-in": InchPound, "in lb": InchPound, "lb in": InchPound,
	"in·lb": InchPound, "lb·in": InchPound, "in-lbf": InchPound, "lbf-in": InchPound, "in·lbf": InchPound, "lbf·in": InchPound,
	"in.lb": InchPound, "lb.in": InchPound, "inlb": InchPound, "lbin": InchPound, "inch-pounds": InchPound, "inch-pound": InchPound,
	"psi": PSI, "bar": Bar, "inhg": InchMercury, "in hg": InchMercury, "in-hg": InchMercury, "kpa": Kilopascal,
	"in": Inch, "inch": Inch, "inches": Inch, `"`: Inch, "ohm": Ohm, "ohms": Ohm, "oz": Ounce,
}

// ParseUnit reads a unit in any of its accepted spellings. `lb` alone and unknown
// units are fault.Invalid.
func ParseUnit(s string) (Unit, error) {
	if _, ok := definitions[Unit(s)]; ok {
		return Unit(s), nil
	}
	if u, ok := spellings[s]; ok {
		return u, nil
	}
	if u, ok := looseSpellings[strings.ToLower(s)]; ok {
		return u, nil
	}
	return "", fault.New(fault.Invalid, "%q is not a unit that Pawl takes", fault.Clip(s)).WithHint("%s", unitHint(s))
}

func unitHint(s string) string {
	switch strings.ToLower(s) {
	case "":
		return "a value needs its unit, such as 108 N·m or 80 ft-lb"
	case "lb", "lbs", "lbf", "#", "pound", "pounds":
		return "say ft-lb or in-lb for a torque (they differ by a factor of twelve), psi for a pressure, kg for a mass"
	case "nm":
		return "write N·m or Nm for newton meters"
	case "kg-m", "kg·m", "kgm", "kg-cm", "kg·cm", "kgcm":
		return "write kgf·m or kgf·cm for a torque"
	}
	return "use N·m, ft-lb, in-lb, kgf·cm, kPa, MPa, bar, psi, inHg, mm, cm, m, in, µm, °C, °F, V, mV, A, mA, Ω, kΩ, MΩ, kg, g or oz"
}
