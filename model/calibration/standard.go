package calibration

import (
	"pawl/model/fault"
	"pawl/model/register"
)

// MayBeStandard asks whether a tool of that kind, which must hold have (nil: nothing is
// recorded of it), can be the standard for one that must hold q: it only measures, and
// the same quantity. Whether it is good enough is judged with the comparison. The
// refusal is Invalid.
func MayBeStandard(kind string, have *Requirement, q Requirement) error {
	turned := have != nil && have.Class != NoClass || register.Says(kind, "torque wrench", "torque screwdriver")
	switch {
	case turned:
		return fault.New(fault.Invalid, "a %s applies a value; it is no standard to compare others with", kind).WithHint("name what the readings came from, such as a torque tester")
	case have == nil && !register.Measures(kind):
		return fault.New(fault.Invalid, "a %s measures nothing, so it is no standard", kindOr(kind)).WithHint("name what the readings came from, such as a torque tester")
	case have != nil && have.Unit.Dimension() != q.Unit.Dimension():
		return fault.New(fault.Invalid, "a %s measures %s, and %s is compared", kind, have.Unit.Dimension(), q.Unit.Dimension()).WithHint("name what the readings came from")
	}
	return nil
}

func kindOr(kind string) string {
	if kind == "" {
		return "tool whose kind is not typed yet"
	}
	return kind
}
