package calibration

import (
	"slices"
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

// A standard that is known to be off, and whose readings were not corrected, supports a yes
// only where that is at most a quarter of the limit, as its uncertainty is.
func TestAStandardThatIsKnownToBeOff(t *testing.T) {
	for bias, supports := range map[Decimal]bool{"0": true, "0.2": true, "-1": true, "1": true, "1.01": false, "-2": false, "50": false} {
		r := own(t, "40=40.1,120=120.1,200=200.1")
		r.Standard.Bias = bias
		j := judged(t, wrench(), r, Around{})
		said := slices.ContainsFunc(j.Doubts, func(d Doubt) bool { return d.Code == DoubtStandardOff && d.Blocks })
		if j.Supports != supports || said == supports {
			t.Errorf("off by %s %%: supports %t; %+v", bias, j.Supports, j.Doubts)
		}
	}
}
