package calibration

import (
	"strings"
	"testing"

	"pawl/model/fault"
	"pawl/model/units"
)

// Only what measures the same quantity, and does nothing else, is a standard.
func TestMayBeStandard(t *testing.T) {
	wrench := wrench()
	tester := Requirement{Instrument: TorqueTester, Unit: units.FootPound}
	gauge := Requirement{Instrument: PressureGauge, Unit: units.PSI}
	for _, c := range []struct {
		kind string
		have *Requirement
		says string
	}{
		{"torque tester", &tester, ""},
		{"torque tester", nil, ""}, // never said what it must hold: kept, and supports nothing
		{"bench gauge", &tester, ""},
		{"two-post lift", nil, "measures nothing"},
		{"floor jack", nil, "measures nothing"},
		{"insulating gloves", nil, "measures nothing"},
		{"", nil, "not typed yet"},
		{"torque wrench", &wrench, "applies a value"},
		{"torque wrench", nil, "applies a value"},
		{"pressure gauge", &gauge, "measures pressure, and torque is compared"},
	} {
		err := MayBeStandard(c.kind, c.have, wrench)
		if (err == nil) != (c.says == "") || err != nil && (!fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), c.says)) {
			t.Errorf("%q: %v, want %q", c.kind, err, c.says)
		}
	}
}
