package calibration

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/units"
)

func qty(t testing.TB, s string) units.Quantity {
	t.Helper()
	q, err := units.ParseQuantity(s)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

func near(got, want, tolerance float64) bool { return math.Abs(got-want) <= tolerance }

// The settings that published manuals work out. Lengths are as the manuals give them,
// wrench first.
func TestOffsetAdapterAsPublished(t *testing.T) {
	for _, c := range []struct {
		source              string
		target              float64
		grip, length, angle string
		want, tolerance     float64
	}{
		{"TM 9-2350-261-20-1 p. 2-29", 40, "12 in", "4 in", "0", 30, 1e-9},
		{"TM 5-3805-274-13&P WP 0051, which rounds to 17", 19, "22 in", "3 in", "0deg", 16.72, 1e-9},
		{"Navy training manual 14315 fig. 3-45, which states 66.7", 100, "12 in", "6 in", "0", 66.6667, 1e-4},
		{"a light helicopter's maintenance manual 20.4, which states 117.39", 135, "10 in", "1.5 in", "0", 117.3913, 1e-4},
		{"the same, pointing back, which states 158.82", 135, "10 in", "1.5 in", "180", 158.8235, 1e-4},
		{"a light aeroplane's maintenance manual 2-90 (1 ft and 0.25 ft)", 30, "12 in", "3 in", "0", 24, 1e-9},
		// The formula of TM 9-254 fig. 46, worked out by a second script.
		{"TM 9-254 fig. 46", 80, "400 mm", "50 mm", "0", 71.1111, 1e-4},
		{"TM 9-254 fig. 46", 80, "400 mm", "50 mm", "30", 72.1857, 1e-4},
		{"TM 9-254 fig. 46", 80, "400 mm", "50 mm", "45°", 73.5032, 1e-4},
		{"TM 9-254 fig. 46", 80, "400 mm", "50 mm", "60", 75.2941, 1e-4},
		{"Navy training manual 14008: square to the wrench nothing changes", 80, "400 mm", "50 mm", "90", 80, 1e-9},
		{"TM 9-254 fig. 46", 80, "400 mm", "50 mm", "135", 87.7567, 1e-4},
		{"Navy training manual 14008: pointed back, subtract", 80, "40 cm", "5 cm", "180 degrees", 91.4286, 1e-4},
		{"TM 9-254 fig. 46", 140, "500 mm", "60 mm", "0", 125, 1e-9},
		{"TM 9-254 fig. 46", 140, "500 mm", "60 mm", "22.5", 126.0279, 1e-4},
	} {
		a, err := ParseCrowfoot(c.length, c.angle)
		if err != nil {
			t.Fatal(err)
		}
		got, err := a.SetFor(c.target, qty(t, c.grip))
		if err != nil || !near(got, c.want, c.tolerance) {
			t.Errorf("%s: %v with %s at %s on %s: set %v, %v; want %v", c.source, c.target, c.length, c.angle, c.grip, got, err, c.want)
		}
		back, err := a.Applied(got, qty(t, c.grip))
		if err != nil || !near(back, c.target, 1e-9*c.target) {
			t.Errorf("%s: set %v applies %v, %v; want %v", c.source, got, back, err, c.target)
		}
	}
}

// Forgetting the correction: 80 set on 400 mm with 50 mm in line applies 90 (moments).
func TestForgottenCorrection(t *testing.T) {
	a, _ := ParseCrowfoot("50 mm", "0")
	if got, err := a.Applied(80, qty(t, "400 mm")); err != nil || !near(got, 90, 1e-9) {
		t.Errorf("applied %v, %v; want 90", got, err)
	}
}

// The propagation of JCGM 100:2008 5.1.2, worked out by a second script; the last row
// has half-widths of its own.
func TestOffsetAdapterUncertainty(t *testing.T) {
	for _, c := range []struct {
		grip, length, angle, half string
		want                      float64
	}{
		{"400 mm", "50 mm", "0", "", 0.205380},
		{"400 mm", "50 mm", "45", "", 0.435831},
		{"200 mm", "100 mm", "45", "2 mm", 1.546438},
	} {
		a, err := ParseCrowfoot(c.length, c.angle)
		if err != nil {
			t.Fatal(err)
		}
		if c.half != "" {
			a.LengthHalf = qty(t, c.half)
		}
		got, err := a.Uncertainty(qty(t, c.grip))
		if err != nil || !near(got, c.want, 1e-6) {
			t.Errorf("%s on %s at %s: %v %%, %v; want %v", c.length, c.grip, c.angle, got, err, c.want)
		}
	}
}

func TestStraightBarChangesNothing(t *testing.T) {
	for _, kind := range []AdapterKind{NoAdapter, Extension} {
		a := Adapter{Kind: kind}
		k, err := a.Factor(units.Quantity{})
		u, err2 := a.Uncertainty(units.Quantity{})
		if k != 1 || u != 0 || err != nil || err2 != nil || a.Changes() {
			t.Errorf("%q: K %v, u %v, %v, %v", kind, k, u, err, err2)
		}
	}
}

func TestOnlyItsOwnCertificateTellsAFactor(t *testing.T) {
	for _, kind := range []AdapterKind{TorqueBar, UniversalJoint, Multiplier} {
		if _, err := (Adapter{Kind: kind}).Factor(units.Quantity{}); !fault.Is(err, fault.Invalid) {
			t.Errorf("a %s without certificate has a factor: %v", kind, err)
		}
		a := Adapter{Kind: kind, Certificate: &AdapterCertificate{Factor: "4.85", Uncertainty: "3", Due: dates.Date("2027-01-01")}}
		k, err := a.Factor(units.Quantity{})
		u, err2 := a.Uncertainty(units.Quantity{})
		if k != 4.85 || u != 1.5 || err != nil || err2 != nil {
			t.Errorf("a %s with certificate: K %v, u %v, %v, %v", kind, k, u, err, err2)
		}
	}
}

func TestAdaptersThatCannotBe(t *testing.T) {
	for _, c := range []struct{ length, angle string }{
		{"", "0"}, {"50", "0"}, {"50 N·m", "0"}, {"0 mm", "0"}, {"-5 mm", "0"}, {"50mm", ""}, {"50mm", "abc"}, {"50mm", "-10"}, {"50mm", "181"},
		{"50mm", "1e2"}, {"50mm", "NaN"},
	} {
		if _, err := ParseCrowfoot(c.length, c.angle); !fault.Is(err, fault.Invalid) {
			t.Errorf("an adapter of %q at %q is taken: %v", c.length, c.angle, err)
		}
	}
	back, _ := ParseCrowfoot("400 mm", "180")
	for _, grip := range []units.Quantity{qty(t, "400 mm"), qty(t, "399 mm"), {}, qty(t, "0 mm"), qty(t, "400 N·m")} {
		_, errK := back.Factor(grip)
		_, errU := back.Uncertainty(grip)
		_, errD := back.Draw(grip)
		if !fault.Is(errK, fault.Invalid) || !fault.Is(errU, fault.Invalid) || !fault.Is(errD, fault.Invalid) {
			t.Errorf("400 mm pointing back on %s is taken: %v, %v, %v", grip, errK, errU, errD)
		}
	}
	for _, a := range []Adapter{
		{Kind: "elbow"},
		{Kind: Multiplier, Certificate: &AdapterCertificate{Factor: "0", Uncertainty: "1"}},
		{Kind: Multiplier, Certificate: &AdapterCertificate{Factor: "4", Uncertainty: ""}},
		{Kind: Crowfoot, Length: qty(t, "50 mm"), Angle: "0", AngleHalf: "x"},
		{Kind: Crowfoot, Length: qty(t, "50 mm"), Angle: "0", GripHalf: qty(t, "5 V")},
	} {
		if err := a.Check(); !fault.Is(err, fault.Invalid) {
			t.Errorf("%+v is taken: %v", a, err)
		}
	}
}

func TestDrawingTellsTheNumbers(t *testing.T) {
	a, _ := ParseCrowfoot("2 in", "45")
	d, err := a.Draw(qty(t, "40 cm"))
	if err != nil || !near(d.GripToDrive, 400, 1e-9) || !near(d.Length, 50.8, 1e-9) || d.Angle != 45 || !near(d.Factor, (400+50.8*math.Sqrt2/2)/400, 1e-12) {
		t.Errorf("%+v, %v", d, err)
	}
	if _, err := (Adapter{Kind: Extension}).Draw(qty(t, "40 cm")); !fault.Is(err, fault.Invalid) {
		t.Errorf("a straight bar has a drawing: %v", err)
	}
}

// The uncertainty by first order agrees with moving each length by a little.
func TestOffsetAdapterUncertaintyIsTheSlope(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		grip := rapid.Float64Range(150, 1200).Draw(t, "L")
		length := rapid.Float64Range(5, 140).Draw(t, "E")
		angle := float64(rapid.IntRange(0, 180).Draw(t, "angle"))
		a := Adapter{Kind: Crowfoot, Length: units.Quantity{Value: string(decimalOf(length)), Unit: units.Millimeter}, Angle: decimalOf(angle)}
		got, err := a.Uncertainty(units.Quantity{Value: string(decimalOf(grip)), Unit: units.Millimeter})
		if err != nil {
			t.Fatal(err)
		}
		lnK := func(l, e, deg float64) float64 { return math.Log((l + e*math.Cos(deg*math.Pi/180)) / l) }
		slope := func(f func(h float64) float64) float64 { return (f(1e-4) - f(-1e-4)) / 2e-4 }
		dl := slope(func(h float64) float64 { return lnK(grip+h, length, angle) }) * 10
		de := slope(func(h float64) float64 { return lnK(grip, length+h, angle) }) * 1
		da := slope(func(h float64) float64 { return lnK(grip, length, angle+h) }) * 5
		if want := 100 * math.Sqrt((dl*dl+de*de+da*da)/3); !near(got, want, 1e-4) {
			t.Fatalf("uext %v, by slopes %v", got, want)
		}
	})
}
