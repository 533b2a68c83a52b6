package chart

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pawl/model/fault"
	"pawl/model/units"
)

func adapter(angle float64) Adapter {
	mm := func(v string) units.Quantity { return units.Quantity{Value: v, Unit: units.Millimeter} }
	nm := func(v string) units.Quantity { return units.Quantity{Value: v, Unit: units.NewtonMeter} }
	return Adapter{Grip: mm("400"), Length: mm("50"), Angle: angle, Target: nm("80"), Set: nm("73.503")}
}

var ends = regexp.MustCompile(`<path id="(L|E)" d="M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)"`)

// drawnEnds gives the two ends of the wrench and of the adapter, as drawn.
func drawnEnds(t *testing.T, a Adapter) map[string][4]float64 {
	t.Helper()
	var b bytes.Buffer
	if err := a.SVG(&b); err != nil {
		t.Fatal(err)
	}
	for d := xml.NewDecoder(bytes.NewReader(b.Bytes())); ; {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatalf("%v in %s", err, b.String())
		}
	}
	out := map[string][4]float64{}
	for _, m := range ends.FindAllStringSubmatch(b.String(), -1) {
		var at [4]float64
		for i := range at {
			var err error
			if at[i], err = strconv.ParseFloat(m[2+i], 64); err != nil {
				t.Fatal(err)
			}
			if at[i] < 0 || at[i] > adapterWide {
				t.Errorf("%s is drawn at %v, beside the sheet", m[1], at)
			}
		}
		out[m[1]] = at
	}
	return out
}

// TestAdapterIsToScale reads L, E and the angle back out of the drawing: the lengths
// stand as 400 to 50, the angle is that which was given, and the fastener is never
// drawn on the far side of the grip.
func TestAdapterIsToScale(t *testing.T) {
	for _, angle := range []float64{0, 30, 45, 60, 90, 135, 180} {
		drawn := drawnEnds(t, adapter(angle))
		l, e := drawn["L"], drawn["E"]
		long, short := math.Hypot(l[2]-l[0], l[3]-l[1]), math.Hypot(e[2]-e[0], e[3]-e[1])
		if ratio := long / short; math.Abs(ratio-8) > 0.01 { // 400 mm to 50 mm
			t.Errorf("at %v°: L is %v times E, want 8", angle, ratio)
		}
		if e[0] != l[2] || e[1] != l[3] {
			t.Errorf("at %v°: the adapter begins at %v, the drive is at %v", angle, e[:2], l[2:])
		}
		// The axis of a sheet points down; straight ahead is away from the grip.
		if got := math.Atan2(e[1]-e[3], e[2]-e[0]) * 180 / math.Pi; math.Abs(got-angle) > 0.1 {
			t.Errorf("drawn at %v°, want %v°", got, angle)
		}
		if l[0] >= l[2] || l[1] != l[3] {
			t.Errorf("the wrench lies from %v to %v", l[:2], l[2:])
		}
	}
}

// TestAdapterCaption: the formula stands with its figures (TM 9-254 fig. 46), with
// the caution; what a straight bar does is told beside it; nothing has a color of its
// own.
func TestAdapterCaption(t *testing.T) {
	var b bytes.Buffer
	if err := adapter(45).SVG(&b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Set = target · L / (L + E · cos 45°)", "80 N·m · 400 mm / (400 mm + 50 mm · cos 45°) = 73.503 N·m", "L = 400 mm", "E = 50 mm", ">45°<",
		"service information governs", "Pull at the middle of the grip", "a straight bar on the drive", "It changes nothing", `role="img"`} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("%q is not there", want)
		}
	}
	if colored := regexp.MustCompile(`"#[0-9a-f]{3}|rgb\(|"(red|green)"`).FindString(b.String()); colored != "" {
		t.Errorf("there is color: %s", colored)
	}
}

// TestAdapterThatCannotBe: lengths that are none, or an adapter that reaches back to
// the hand, are refused.
func TestAdapterThatCannotBe(t *testing.T) {
	for name, change := range map[string]func(*Adapter){
		"no grip":          func(a *Adapter) { a.Grip = units.Quantity{} },
		"no length":        func(a *Adapter) { a.Length.Value = "0" },
		"another quantity": func(a *Adapter) { a.Length.Unit = units.Volt },
		"beyond the hand":  func(a *Adapter) { a.Length.Value, a.Angle = "400", 180 },
		"an odd angle":     func(a *Adapter) { a.Angle = -1 },
		"not an angle":     func(a *Adapter) { a.Angle = math.NaN() },
	} {
		a := adapter(45)
		change(&a)
		if err := a.SVG(io.Discard); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
