package calibration

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/fault"
	"pawl/model/units"
)

func TestReadings(t *testing.T) {
	cw, ccw := Clockwise, Counterclockwise
	for _, c := range []struct {
		typed string
		want  []Point
	}{
		{"40=40.4,120=110.0,200=185.2", []Point{{cw, "40", []Decimal{"40.4"}, ""}, {cw, "120", []Decimal{"110.0"}, ""}, {cw, "200", []Decimal{"185.2"}, ""}}},
		{"40=39.8,40.1,39.9", []Point{{cw, "40", []Decimal{"39.8", "40.1", "39.9"}, ""}}},
		{"ccw:40=39.7", []Point{{ccw, "40", []Decimal{"39.7"}, ""}}},
		{"40=39.8,ccw:40=39.7,39.6", []Point{{cw, "40", []Decimal{"39.8"}, ""}, {ccw, "40", []Decimal{"39.7", "39.6"}, ""}}},
		{" Clockwise : 40 = 39.8 , 40.1 ", []Point{{cw, "40", []Decimal{"39.8", "40.1"}, ""}}},
		{"40 N·m=39.8 Nm,40.10", []Point{{cw, "40", []Decimal{"39.8", "40.10"}, ""}}},
		{"-20=-19.5,−19.6", []Point{{cw, "-20", []Decimal{"-19.5", "-19.6"}, ""}}},
	} {
		got, err := ParseReadings(c.typed, units.NewtonMeter, cw)
		if err != nil || !reflect.DeepEqual(got, c.want) {
			t.Errorf("ParseReadings(%q) = %v, %v; want %v", c.typed, got, err, c.want)
		}
	}
}

func TestReadingsRefuseWithAHint(t *testing.T) {
	for _, c := range []struct{ typed, hint string }{
		{"", "start with a point"}, {"39.8", "start with a point"}, {"40=", "write digits"}, {"=40", "write digits"}, {"40=39.8,,40", "write digits"}, {"40=39.8,", "write digits"},
		{"120=-8.3%", "not a percent"}, {"120=+110", "write digits"}, {"40=39.8=39.9", "write digits"}, {"40=1e2", "write digits"}, {"40=NaN", "write digits"},
		{"40=29.5 ft-lb", "tool's own unit"}, {"30 ft-lb=40", "tool's own unit"}, {"up:40=39.8", "cw (clockwise)"}, {"40=39.8,40.0=39.9", "put its readings behind"},
		{"ccw:40=39.8,120=119", "before each point"}, {"40=39.8;120=119", "write digits"}, {"40=" + strings.Repeat("39,", 100) + "39", "leave some out"},
	} {
		got, err := ParseReadings(c.typed, units.NewtonMeter, Clockwise)
		if got != nil || !fault.Is(err, fault.Invalid) || !strings.Contains(fault.Of(err).Hint, c.hint) {
			t.Errorf("ParseReadings(%q) = %v, %v; want a hint with %q", c.typed, got, err, c.hint)
		}
	}
}

func TestReadingsFile(t *testing.T) {
	found, left := []Point{{Clockwise, "40", []Decimal{"40.4", "40.6"}, ""}}, []Point{{Clockwise, "40", []Decimal{"39.8"}, ""}, {Counterclockwise, "40", []Decimal{"39.7"}, ""}}
	for name, c := range map[string]struct {
		text        string
		found, left []Point
	}{
		"four columns":  {"phase,direction,set,delivered\nas found,cw,40,40.4\nas-found,,40,40.6\nas left,cw,40,39.8\nas left,ccw,40,39.7\n", found, left},
		"from Windows":  {"\ufeffPhase,Direction,Set,Delivered\r\nAS FOUND,CW,40,40.4\r\nfound,cw,40,40.6\r\nleft,cw,40,39.8\r\nas_left,counterclockwise,40,39.7\r\n", found, left},
		"interleaved":   {"phase,direction,set,delivered\nas left,ccw,40,39.7\nas found,cw,40,40.4\nas left,cw,40,39.8\nas found,cw,40,40.6\n", found, []Point{left[1], left[0]}},
		"two columns":   {"set,reading\n40,40.4\n40,40.6\n", nil, found},
		"text":          {"# wrench 2\nas found\n40=40.4,40.6\n\nAs left:\n40=39.8\nccw:40=39.7\n", found, left},
		"text, no word": {"40=40.4,40.6", nil, found},
	} {
		f, l, err := ParseReadingsFile([]byte(c.text), units.NewtonMeter, Clockwise)
		if err != nil || !reflect.DeepEqual(f, c.found) || !reflect.DeepEqual(l, c.left) {
			t.Errorf("%s: %v, %v, %v; want %v, %v", name, f, l, err, c.found, c.left)
		}
	}
}

func TestReadingsFileRefuses(t *testing.T) {
	for name, c := range map[string]struct{ text, says string }{
		"empty":             {"", "not one of readings"},
		"other header":      {"torque,value\n40,40.4\n", "not one of readings"},
		"no rows":           {"set,reading\n", "no readings"},
		"only a heading":    {"as found\nas left\n40", "row 3"},
		"phase":             {"phase,direction,set,delivered\nbefore,cw,40,40.4\n", "row 2: \"before\" is not a phase"},
		"direction":         {"phase,direction,set,delivered\nas left,up,40,40.4\n", "row 2: \"up\" is not a direction"},
		"percent":           {"set,reading\n40,40.4\n120,-8.3 %\n", "row 3"},
		"decimal comma":     {"set,reading\n40,\"40,4\"\n", "decimal point"},
		"short row":         {"set,reading\n40\n", "row 2"},
		"semicolons":        {"set;reading\n40;40.4\n", "not one of readings"},
		"point twice":       {"40=40.4\n40=40.6\n", "row 2: the point cw:40 is there twice"},
		"not UTF-8":         {"set,reading\n40,\xb540\n", "UTF-8"},
		"too many rows":     {"set,reading\n" + strings.Repeat("40,40.4\n", 101), "more than 100 readings"},
		"too many points":   {"set,reading\n" + manyPoints(201), "more than 200 points"},
		"unclosed quote":    {"set,reading\n\"40,40.4\n", "row"},
		"NUL in the middle": {"set,reading\n40,4\x000.4\n", "row 2"},
	} {
		f, l, err := ParseReadingsFile([]byte(c.text), units.NewtonMeter, Clockwise)
		if f != nil || l != nil || !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, %v, %v; want %q", name, f, l, err, c.says)
		}
	}
	if _, _, err := ParseReadingsFile(make([]byte, maxFile+1), units.NewtonMeter, Clockwise); !fault.Is(err, fault.TooLarge) {
		t.Errorf("a large file: %v", err)
	}
}

func manyPoints(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "%d,40\n", i+1)
	}
	return b.String()
}

// A percent is entered only with its meaning; the reading behind it gives the same
// percent back under that definition, and under ISO 6789-2:2017 5.1 another.
func TestPercentsNeedTheirMeaning(t *testing.T) {
	for _, c := range []struct {
		meaning Meaning
		percent Decimal
		reading float64
	}{
		{SetLessDeliveredOfDelivered, "9.090909", 110}, {SetLessDeliveredOfSet, "8.333333", 110}, {DeliveredLessSetOfSet, "-8.333333", 110}, {DeliveredLessSetOfDelivered, "-9.090909", 110},
	} {
		got, err := FromPercent("120", c.percent, c.meaning)
		if err != nil {
			t.Fatal(err)
		}
		equal(t, string(c.meaning), got.Float(), c.reading, 1e-5)
		if again, err := ParseMeaning(strings.ToUpper(strings.ReplaceAll(string(c.meaning), " - ", "−"))); err != nil || again != c.meaning {
			t.Errorf("%q reads as %q, %v", c.meaning, again, err)
		}
	}
	for _, c := range []struct {
		set, percent Decimal
		meaning      Meaning
	}{{"120", "8.3", ""}, {"120", "8.3", "error"}, {"120", "-100", DeliveredLessSetOfSet}, {"120", "100", SetLessDeliveredOfSet}, {"120", "x", DeliveredLessSetOfSet}, {"", "1", DeliveredLessSetOfSet}} {
		if got, err := FromPercent(c.set, c.percent, c.meaning); got != "" || !fault.Is(err, fault.Invalid) {
			t.Errorf("FromPercent(%q, %q, %q) = %q, %v", c.set, c.percent, c.meaning, got, err)
		}
	}
}

func TestDecimal(t *testing.T) {
	for typed, want := range map[string]Decimal{"39.7": "39.7", " 40.10 ": "40.10", "-20": "-20", "−20": "-20", "0": "0", "007": "007"} {
		if got, err := ParseDecimal(typed); err != nil || got != want {
			t.Errorf("ParseDecimal(%q) = %q, %v", typed, got, err)
		}
	}
	for _, typed := range []string{"", "+1", "1.", ".5", "1,5", "1e3", "NaN", "Inf", "0x1", "1 2", "--1", "1234567890.123456789", "٣", "8 %"} {
		if got, err := ParseDecimal(typed); got != "" || !fault.Is(err, fault.Invalid) || fault.Of(err).Hint == "" {
			t.Errorf("ParseDecimal(%q) = %q, %v", typed, got, err)
		}
	}
	if !math.IsNaN(Decimal("").Float()) {
		t.Error("nothing is a number")
	}
	for f, want := range map[float64]Decimal{0.1 + 0.2: "0.3", 120: "120", 1.0 / 3: "0.3333333333", -1e-12: "0"} {
		if got := decimalOf(f); got != want {
			t.Errorf("decimalOf(%v) = %q, want %q", f, got, want)
		}
	}
}

func TestReadingsRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := rapid.Custom(func(t *rapid.T) Decimal {
			return Decimal(fmt.Sprintf("%d.%0*d", rapid.IntRange(1, 999).Draw(t, "whole"), rapid.IntRange(1, 3).Draw(t, "digits"), rapid.IntRange(0, 9).Draw(t, "part")))
		})
		var want []Point
		for range rapid.IntRange(1, 6).Draw(t, "points") {
			p := Point{Direction: rapid.SampledFrom([]Direction{Clockwise, Counterclockwise}).Draw(t, "direction"), Set: value.Draw(t, "set"), Readings: rapid.SliceOfN(value, 1, 5).Draw(t, "readings")}
			if find(want, p.Direction, p.Set) < 0 {
				want = append(want, p)
			}
		}
		got, err := ParseReadings(FormatReadings(want), units.NewtonMeter, NoDirection)
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Fatalf("%q reads back as %v, %v", FormatReadings(want), got, err)
		}
	})
}

func FuzzParseReadings(f *testing.F) {
	for _, s := range []string{"40=40.4,120=110.0", "ccw:40=39.7,39.8", "40 N·m=39.8 Nm", "=", ",", "cw:", "40=-8.3%", "a=b,c"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		points, err := ParseReadings(s, units.NewtonMeter, Clockwise)
		if err != nil {
			if points != nil || !fault.Is(err, fault.Invalid) || fault.Of(err).Hint == "" {
				t.Fatalf("ParseReadings(%q) = %v, %v", s, points, err)
			}
			return
		}
		again, err := ParseReadings(FormatReadings(points), units.NewtonMeter, Clockwise)
		if err != nil || !reflect.DeepEqual(again, points) {
			t.Fatalf("%q gives %v, read back as %v, %v", s, points, again, err)
		}
		whole := wrench()
		whole.Scale.Low, whole.Scale.High = nm("1"), nm("999999")
		if j, err := Judge(whole, Result{On: "2026-05-04", Paper: Certificate, AsLeft: points}, Around{}); err == nil && len(j.Points) != len(points) {
			t.Fatalf("%d points judged of %d", len(j.Points), len(points))
		} else if err != nil && !fault.Is(err, fault.Invalid) {
			t.Fatal(err)
		}
	})
}

func FuzzParseReadingsFile(f *testing.F) {
	for _, s := range []string{"phase,direction,set,delivered\nas found,cw,40,40.4\n", "set,reading\n40,40.4\n", "# x\nas found\n40=40.4,40.6\n", "\ufeffset,reading\n\"40\",40\r\n", "as left\nccw:40=1", "\"", "a,b\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		found, left, err := ParseReadingsFile(data, units.NewtonMeter, Clockwise)
		if err != nil {
			if !fault.Is(err, fault.Invalid) && !fault.Is(err, fault.TooLarge) || fault.Of(err).Hint == "" {
				t.Fatalf("%q: %v", data, err)
			}
			return
		}
		for _, points := range [][]Point{found, left} {
			for i, p := range points {
				if len(p.Readings) == 0 || !p.Set.valid() || find(points[:i], p.Direction, p.Set) >= 0 {
					t.Fatalf("%q gives %v", data, points)
				}
			}
		}
	})
}
