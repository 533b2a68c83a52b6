package calibration

import (
	"strings"

	"pawl/model/fault"
	"pawl/model/pattern"
	"pawl/model/units"
)

var scaleShape = pattern.Late(`^([^0-9]*[^0-9.\s-])\s+(-?[0-9.]+\.\.-?[0-9.]+|-?[0-9.]+)(?:\s+by\s+([0-9.]+))?$`)

// ParseScale reads a graduated scale: unit, range, step: "ft-lb 30..150 by 1".
// Without a step the scale has no graduation.
func ParseScale(s string) (Scale, error) {
	m := scaleShape().FindStringSubmatch(strings.Join(strings.Fields(strings.ReplaceAll(s, "−", "-")), " "))
	if m == nil {
		return Scale{}, fault.New(fault.Invalid, "%q is not a scale", fault.Clip(s)).WithHint("write unit, range and step, such as ft-lb 30..150 by 1")
	}
	unit, err := units.ParseUnit(m[1])
	if err != nil {
		return Scale{}, err
	}
	out, err := ParseRange(m[2], unit)
	if err != nil || m[3] == "" {
		return out, err
	}
	step, err := parseStep(m[3])
	if err != nil {
		return Scale{}, err
	}
	out.Graduation = units.Quantity{Value: string(step), Unit: unit}
	return out, nil
}

func parseStep(s string) (Decimal, error) {
	d, err := ParseDecimal(s)
	if err != nil {
		return "", err
	}
	if !(d.Float() > 0) {
		return "", fault.New(fault.Invalid, "a graduation of %s is no step", d).WithHint("give the step between two marks, such as 1")
	}
	return d, nil
}

// ParseRange reads the two ends of a scale, "40..200", or the one value of a tool
// that has only one, "108".
func ParseRange(s string, unit units.Unit) (Scale, error) {
	below, above, two := strings.Cut(s, "..")
	low, err := ParseDecimal(below)
	if err != nil {
		return Scale{}, err
	}
	high := low
	if two {
		if high, err = ParseDecimal(above); err != nil {
			return Scale{}, err
		}
		if !(low.Float() < high.Float()) {
			return Scale{}, fault.New(fault.Invalid, "range %q does not rise", fault.Clip(s)).WithHint("write the low end first, such as 40..200")
		}
	}
	return Scale{Low: units.Quantity{Value: string(low), Unit: unit}, High: units.Quantity{Value: string(high), Unit: unit}}, nil
}

// String writes the scale as ParseScale reads it; "" for none.
func (s Scale) String() string {
	if s.Low.IsZero() {
		return ""
	}
	text := string(s.Low.Unit) + " " + s.Low.Value
	if s.High.Value != s.Low.Value {
		text += ".." + s.High.Value
	}
	if !s.Graduation.IsZero() {
		text += " by " + s.Graduation.Value
	}
	return text
}

// ends gives the two ends in a unit.
func (s Scale) ends(unit units.Unit) (low, high float64, err error) {
	if low, err = amountIn(s.Low, unit); err != nil {
		return 0, 0, err
	}
	if high, err = amountIn(s.High, unit); err != nil {
		return 0, 0, err
	}
	if low > high {
		return 0, 0, fault.New(fault.Invalid, "the scale %s does not rise", s).WithHint("write the low end first, such as 40..200")
	}
	return low, high, nil
}

// Holds says whether a value lies on the scale, its ends included; one of another
// dimension does not.
func (s Scale) Holds(v units.Quantity) bool {
	x, err := amountIn(v, s.Low.Unit)
	if err != nil {
		return false
	}
	low, high, err := s.ends(s.Low.Unit)
	return err == nil && atMost(low, x) && atMost(x, high)
}
