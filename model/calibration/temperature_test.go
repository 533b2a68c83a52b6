package calibration

import (
	"math"
	"testing"

	"pawl/model/units"
)

// The zero of °F is not that of °C: a percent of one is no percent of the other. What a
// thermometer is good for does not depend on the unit in which somebody asks, least of
// all about the zero of that unit, where a percent of it is next to nothing.
func TestATemperatureAskedForInTheOtherUnit(t *testing.T) {
	q := Requirement{Instrument: InfraredThermometer, Unit: units.Celsius, Scale: Scale{Low: qty(t, "-40 °C"), High: qty(t, "200 °C")}, Resolution: qty(t, "0.1 °C"),
		Limit: limit("2 °C"), LimitSource: Source{OwnPaper, "its card"}, Months: 12, IntervalSource: Source{ShopRule, ""}}
	read, err := ParseReadings("-40=-40.0,-40.1,-39.9,-40.0,-40.0,-20=-20.0,-20.1,-19.9,-20.0,-20.0,100=100.0,100.1,99.9,100.0,100.0,200=200.0,200.1,199.9,200.0,200.0", units.Celsius, NoDirection)
	if err != nil {
		t.Fatal(err)
	}
	f := Facts{Kind: "infrared thermometer", Requirement: &q, Today: "2026-11-04",
		Calibrations: []Kept{kept(t, "K", q, Result{On: "2026-05-04", Paper: Certificate, Uncertainty: "0.5", AsLeft: read})}}
	for _, c := range []struct {
		celsius, limitsCelsius, fahrenheit, limitsFahrenheit string
		want                                                 Readiness
	}{
		{"-20 °C", "-20.5..-19.5", "-4 °F", "-4.9..-3.1", No}, // within 2 °C it may be at -22 °C
		{"-20 °C", "-26..-14", "-4 °F", "-14.8..6.8", Yes},
		{"-17 °C", "-23..-11", "1.4 °F", "-9.4..12.2", Yes},
		{"100 °C", "90..110", "212 °F", "194..230", Yes},
		{"100 °C", "99..101", "212 °F", "210.2..213.8", No},
		{"100 °C", "", "212 °F", "", Yes},
	} {
		in, other := asks(t, c.celsius, c.limitsCelsius), asks(t, c.fahrenheit, c.limitsFahrenheit)
		in.Direction, other.Direction = NoDirection, NoDirection
		a, b := answered(t, f, in), answered(t, f, other)
		if a.Verdict != c.want || b.Verdict != c.want {
			t.Errorf("%s in %s: %s (%s); %s in %s: %s (%s); want %s", c.celsius, c.limitsCelsius, a.Verdict, codes(a), c.fahrenheit, c.limitsFahrenheit, b.Verdict, codes(b), c.want)
		}
		for _, end := range [][2]float64{{a.Low, b.Low}, {a.High, b.High}} {
			if want := end[0]*9/5 + 32; !near(end[1], want, 1e-6) {
				t.Errorf("%s: an end at %.4f °C is %.4f °F, and %.4f °F is told", c.celsius, end[0], want, end[1])
			}
		}
		if !(near(a.Inside, b.Inside, 1e-9) || math.IsNaN(a.Inside) && math.IsNaN(b.Inside)) {
			t.Errorf("%s: inside with %v, asked in °F with %v", c.celsius, a.Inside, b.Inside)
		}
	}
}
