package calibration

import (
	"strings"
	"testing"

	"pawl/model/units"
)

// A decimal comma splits 120,5 into 120 and 5.
func TestFarApart(t *testing.T) {
	for readings, want := range map[string]bool{
		"120 5": true, "2 1": true, "5 120 121": true,
		"1.99 1": false, "120 120.5": false, "120": false, "": false, "0 5": false, "-1 -5": false,
	} {
		var p ShownPoint
		for _, v := range strings.Fields(readings) {
			p.Readings = append(p.Readings, units.Quantity{Value: v})
		}
		if got := p.FarApart(); got != want {
			t.Errorf("%q far apart: %v, want %v", readings, got, want)
		}
	}
}
