package labels

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

var words = rapid.StringOf(rapid.RuneFrom([]rune("aWi0O…é№Ж Ω扳手\u0301\u200b\t😀-")))

// extent returns the area that a run may blacken, from the outlines.
func extent(r run) (x0, y0, x1, y1 float64) {
	x0, y0, x1, y1 = math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, s := range r.face.outline(r) {
		for _, p := range s.points {
			x0, y0, x1, y1 = min(x0, p.x), min(y0, p.y), max(x1, p.x), max(y1, p.y)
		}
	}
	return x0, y0, x1, y1
}

// TestArrange: on a label of any size with any text, the symbol with its quiet
// zone and every letter lie inside, no letter lies in the quiet zone, no text
// on another, and nothing is smaller than we allow.
func TestArrange(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := rapid.Float64Range(5, 200).Draw(t, "w")
		h := rapid.Float64Range(5, 200).Draw(t, "h")
		text := Text{
			Symbol: rapid.StringMatching(`[A-Z0-9]{1,60}`).Draw(t, "symbol"),
			Number: rapid.StringMatching(`[0-9A-Z]{1,3}-[0-9A-Z]{1,9}`).Draw(t, "number"),
			Lines:  rapid.SliceOfN(words, 0, 9).Draw(t, "lines"),
		}
		s, err := Encode(text.Symbol, Q)
		if err != nil {
			t.Fatal(err)
		}
		l, ok := arrange(w, h, s, text)
		if !ok {
			if side := float64(s.Side()+2*quiet) * 4 * dot300; w >= 2*side+50 && h >= side {
				t.Fatalf("%g x %g mm is ample for a symbol of %g mm", w, h, side)
			}
			return
		}
		inside(t, l, w, h)
		if l.texts[0].text != text.Number || l.texts[0].size < minNumber-1e-9 {
			t.Fatalf("the number prints as %q at %g mm", l.texts[0].text, l.texts[0].size)
		}
	})
}

func inside(t *rapid.T, l layout, w, h float64) {
	q, side := quiet*l.module, float64(l.symbol.Side())*l.module
	zone := box{l.x - q, l.y - q, side + 2*q, side + 2*q}
	if l.module < minModule || zone.x < -1e-6 || zone.y < -1e-6 || zone.x+zone.w > w+1e-6 || zone.y+zone.h > h+1e-6 {
		t.Fatalf("module %g mm; quiet zone %+v on %g x %g mm", l.module, zone, w, h)
	}
	for i, r := range l.texts {
		x0, y0, x1, y1 := extent(r)
		if zone.covers(x0, y0, x1, y1) {
			t.Fatalf("%q reaches into the quiet zone", r.text)
		}
		// An accent or a serif may stand out by the inset's half millimeter.
		if x0 < -0.5 || x1 > w+0.5 || y0 < -0.5 || y1 > h+0.5 {
			t.Fatalf("%q spans %g..%g, %g..%g mm on %g x %g mm", r.text, x0, x1, y0, y1, w, h)
		}
		if r.x+r.width() > w+1e-6 || r.text == "" || r.face == lineFace && r.size < minLine-1e-9 {
			t.Fatalf("%q of %g mm at %g on %g mm, %g mm high", r.text, r.width(), r.x, w, r.size)
		}
		if i > 0 && r.y-l.texts[i-1].y < r.size*0.99 {
			t.Fatalf("%q stands on %q", r.text, l.texts[i-1].text)
		}
	}
}

// TestFree: a label without a given size has its text outside the quiet zone
// and inside the label.
func TestFree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		module := rapid.Float64Range(minModule, 2).Draw(t, "module")
		text := Text{Number: rapid.StringMatching(`[0-9A-Z]{1,12}`).Draw(t, "number"), Lines: rapid.SliceOfN(words, 0, 9).Draw(t, "lines")}
		s, err := Encode(rapid.StringMatching(`[A-Z0-9]{1,60}`).Draw(t, "symbol"), Q)
		if err != nil {
			t.Fatal(err)
		}
		l, w, h := free(module, s, text)
		inside(t, l, w, h)
		if most := math.Max(2*h, l.texts[0].width()); w > h+textGap+most+quiet*module+1e-6 {
			t.Fatalf("%g mm wide at a height of %g", w, h)
		}
	})
}

// TestFitRule is the fit test of identity-labels-evidence 2.5: a 12.7 mm
// label holds version 1 at 0.339 mm and not version 2; a 25.4 mm label holds
// version 2 at 0.508 mm or more.
func TestFitRule(t *testing.T) {
	for _, c := range []struct {
		w, h, least float64
		payload     string
	}{
		{42.45, 10.7, 0.338, "T/00EKM5"}, {42.45, 10.7, 0, link}, {64.675, 23.4, 0.508, link},
	} {
		l, ok := arrange(c.w, c.h, mustEncode(t, c.payload, Q), Text{Number: "00E-KM5"})
		if ok != (c.least > 0) || l.module < c.least {
			t.Errorf("%q on %g x %g mm: %v, module %.3f mm; want %.3f", c.payload, c.w, c.h, ok, l.module, c.least)
		}
	}
}

// TestSetLines: lines shrink to 1.6 mm and no further; what has no room then is
// cut, or left out with a mark.
func TestSetLines(t *testing.T) {
	long := strings.Repeat("wide ", 20)
	for _, c := range []struct {
		name  string
		lines []string
		w, h  float64
		want  []string
	}{
		{"all fit", []string{"one", "two"}, 30, 9, []string{"one 3.40", "two 3.40"}},
		{"shrunk by height", []string{"one", "two"}, 30, 5, []string{"one 2.00", "two 2.00"}},
		{"one left out", []string{"one", "two", "three"}, 30, 4.1, []string{"one 1.60", "two… 1.60"}},
		{"a long one is cut alone", []string{long, "two"}, 12, 9, []string{"wide wide wid… 1.60", "two 2.55"}},
		{"no height", []string{"one"}, 30, 1.9, nil},
		{"no lines", nil, 30, 9, nil},
	} {
		set, _ := setLines(c.lines, c.w, c.h, maxLine)
		var got []string
		for _, r := range set {
			got = append(got, fmt.Sprintf("%s %.2f", r.text, r.size))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

func TestClean(t *testing.T) {
	for text, want := range map[string]string{
		"Torque wrench":             "Torque wrench",
		"  two\t\nlines ":           "two lines",
		"e\u0301tau":                "étau", // composed
		"Ключ №5, Ω":                "Ключ №5, Ω",
		"扳手 7":                      "?? 7",
		"\u202eturned\u200b\ufeff":  "turned",
		"broken \xff bytes":         "broken " + replaced + " bytes",
		"\u0000\u0007":              "",
		"40–200 N·m":                "40–200 N·m",
		strings.Repeat("0", 10_000): strings.Repeat("0", 10_000),
	} {
		if got := lineFace.clean(text); got != want {
			t.Errorf("clean(%q) = %q, want %q", text, got, want)
		}
	}
}

// replaced is how Go reads a broken byte; the face has that character.
const replaced = "\uFFFD"

func TestCut(t *testing.T) {
	for _, c := range []struct {
		text string
		max  float64
		want string
	}{
		{"Torque wrench", 100, "Torque wrench"},
		{"Torque wrench", 4.5, "Torque…"}, // the blank before the mark goes
		{"Torque wrench", 0.5, ""},
		{"", 0, ""},
	} {
		if got := lineFace.cut(c.text, c.max); got != c.want {
			t.Errorf("cut(%q, %g) = %q, want %q", c.text, c.max, got, c.want)
		}
	}
}

// TestSlashedZero: in both faces a zero has more outlines than an O, whose two
// are the outer and the inner edge.
func TestSlashedZero(t *testing.T) {
	contours := func(f *face, text string) (n int) {
		for _, s := range f.outline(run{face: f, size: 1, text: text}) {
			if s.op == 0 {
				n++
			}
		}
		return n
	}
	for _, f := range []*face{numberFace, lineFace} {
		if zero, o := contours(f, "0"), contours(f, "O"); o != 2 || zero <= o {
			t.Errorf("%s: 0 has %d outlines, O has %d", f.name, zero, o)
		}
	}
	if narrow, wide := numberFace.width("1"), numberFace.width("W"); narrow != wide {
		t.Errorf("the number's face is not monospaced: %g, %g", narrow, wide)
	}
}
