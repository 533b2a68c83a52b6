package labels

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pawl/model/fault"
)

// TestSheets compares each geometry with identity-labels-evidence 2.5: number
// of labels, and the opposite margins as printed there.
func TestSheets(t *testing.T) {
	published := map[string]struct {
		cells         int
		right, bottom float64
	}{
		"letter-3x10": {30, 4.76, 12.7}, "letter-2x10": {20, 3.97, 12.7}, "letter-2x7": {14, 3.97, 21.17},
		"letter-2x5": {10, 3.97, 12.7}, "letter-4x20": {80, 7.14, 12.7},
		"a4-3x7": {21, 7.3, 15.15}, "a4-2x8": {16, 4.44, 12.80}, "a4-3x11": {33, 0, 12},
		"a4-5x13": {65, 4.80, 10.50}, "a4-5x16": {80, 11, 13.6},
	}
	const slack = 0.035 // the printed dimensions are rounded to 0.01 mm, and a pitch counts up to six times
	if len(Sheets()) != len(published) {
		t.Errorf("%d sheets, want %d", len(Sheets()), len(published))
	}
	for _, s := range Sheets() {
		if err := s.Check(); err != nil {
			t.Errorf("%s: %v", s.Name, err)
		}
		want := published[s.Name]
		right, bottom := s.margins()
		if s.cells() != want.cells || math.Abs(right-want.right) > slack || math.Abs(bottom-want.bottom) > slack {
			t.Errorf("%s: %d labels, margins %.2f, %.2f; want %+v", s.Name, s.cells(), right, bottom, want)
		}
		if got, err := SheetByName(s.Name); got != s || err != nil {
			t.Errorf("SheetByName(%q) = %+v, %v", s.Name, got, err)
		}
	}
	_, err := SheetByName("a5-1x1")
	if !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), "letter-3x10, letter-2x10") {
		t.Errorf("an unknown sheet: %v; want invalid with the names", err)
	}
}

// TestSlip: whichever dimension of a sheet is off by 3 mm, the self-test finds it.
func TestSlip(t *testing.T) {
	for _, sheet := range Sheets() {
		for _, slip := range []float64{-3, 3} {
			s := sheet
			for name, mm := range map[string]*float64{
				"left": &s.Left, "top": &s.Top, "w": &s.W, "h": &s.H, "pitch x": &s.PitchX, "pitch y": &s.PitchY,
				"paper w": &s.PaperW, "paper h": &s.PaperH,
			} {
				*mm += slip
				if err := s.Check(); !fault.Is(err, fault.Invalid) {
					t.Errorf("%s with %s off by %g mm: %v, want invalid", s.Name, name, slip, err)
				}
				*mm -= slip
			}
		}
	}
}

func TestCheckOwnSheet(t *testing.T) {
	roll := Sheet{Name: "roll", Paper: "roll 62", PaperW: 62, PaperH: 30, Cols: 1, Rows: 1, W: 58, H: 26, Left: 2, Top: 2}
	for _, c := range []struct {
		name   string
		change func(*Sheet)
		says   string // empty: it is fine
	}{
		{"one label on a roll, which has no pitch", func(*Sheet) {}, ""},
		{"no columns", func(s *Sheet) { s.Cols = 0 }, "0 x 1"},
		{"a million rows", func(s *Sheet) { s.Rows = 1_000_000 }, "1000000"},
		{"no figure", func(s *Sheet) { s.Left = math.NaN() }, "left"},
		{"endless paper", func(s *Sheet) { s.PaperH = math.Inf(1) }, "height of the paper"},
		{"a negative margin", func(s *Sheet) { s.Top = -1 }, "top"},
		{"letter paper of another size", func(s *Sheet) { s.Paper = "letter" }, "215.9"},
		{"overlapping labels", func(s *Sheet) { s.Cols, s.PitchX, s.W = 2, 20, 38 }, "overlap"},
		{"off the paper", func(s *Sheet) { s.W = 61 }, "off the paper"},
		{"lopsided", func(s *Sheet) { s.W = 50 }, "right comes out at 10.00 mm"},
	} {
		s := roll
		c.change(&s)
		err := s.Check()
		if ok := c.says == ""; ok != (err == nil) || err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v; want %q", c.name, err, c.says)
		}
	}
}

// TestCorner: labels count by rows, from the first label's corner in steps of
// the pitch.
func TestCorner(t *testing.T) {
	s, err := SheetByName("letter-3x10")
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range map[int]string{0: "4.76 12.70", 1: "74.61 12.70", 3: "4.76 38.10", 29: "144.46 241.30"} {
		x, y := s.corner(i)
		if got := fmt.Sprintf("%.2f %.2f", x, y); got != want {
			t.Errorf("label %d is at %s, want %s", i, got, want)
		}
	}
}
