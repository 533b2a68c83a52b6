package register

import "testing"

// What a kind of tool does, by its name (common practice, no source).
func TestKinds(t *testing.T) {
	for _, c := range []struct {
		kind                   string
		measures, bears, check bool
	}{
		{"torque wrench", true, false, true},
		{"Torque Wrenches", true, false, true},
		{"torque-wrench tester", true, false, true},
		{"bore-gauge set", true, false, true},
		{"tire pressure gauge", true, false, true},
		{"voltmeter", true, false, true},
		{"clamp meter", true, false, true},
		{"battery tester", true, false, true},
		{"refrigerant scale", true, false, true},
		{"lift indicator", true, false, true}, // it measures, whatever it is for
		{"two-post lift", false, true, true},
		{"axle stands", false, true, true},
		{"insulating gloves", false, true, true},
		{"jack wrench", false, false, true}, // turns a jack; the word is there, so it is looked at
		{"insulating blanket", false, false, true},
		{"fire extinguisher", false, false, true},
		{"impact wrench", false, false, false},
		{"standard socket set", false, false, false},
		{"scaler", false, false, false},
		{"battery", false, false, false},
		{"", false, false, false},
	} {
		if m, b, n := Measures(c.kind), Bears(c.kind), NeedsCheck(c.kind); m != c.measures || b != c.bears || n != c.check {
			t.Errorf("%q: measures %v, bears %v, needs a check %v; want %v, %v, %v", c.kind, m, b, n, c.measures, c.bears, c.check)
		}
	}
}
