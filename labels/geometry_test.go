package labels

import (
	"math"
	"strings"
	"testing"

	"pawl/model/fault"
)

func TestParseSheetReadsEveryBuiltIn(t *testing.T) {
	for _, s := range Sheets() {
		named, err := ParseSheet(s.Name)
		if err != nil || named != s {
			t.Errorf("%s by name: %+v, %v", s.Name, named, err)
		}
		own, err := ParseSheet(s.Geometry())
		own.Name = s.Name
		if err != nil || own != s {
			t.Errorf("%s as %q: %+v, %v", s.Name, s.Geometry(), own, err)
		}
	}
}

func TestParseSheet(t *testing.T) {
	for _, c := range []struct{ name, text, says string }{ // says empty: it is taken
		{"in any order", "py=25.4 px=69.85 top=12.7 left=4.7625 h=25.4 w=66.675 rows=10 cols=3 paper=letter", ""},
		{"a roll, without pitch", "paper=62x30 cols=1 rows=1 w=58 h=26 left=2 top=2", ""},
		{"four to a row, one row", "paper=120x30 cols=4 rows=1 w=28 h=26 left=2 top=2 px=29.3333", ""},
		{"unknown name", "letter-9x9", "own geometry"},
		{"a misspelt word", geometryExample + " gap=3", "gap=3"},
		{"a word without value", geometryExample + " left", "not part of a geometry"},
		{"a word twice", geometryExample + " left=4", "left stands twice"},
		{"words missing", "paper=a4 cols=3 rows=7", "lacks w, h, left, top, px, py"},
		{"pitch missing", "paper=a4 cols=3 rows=1 w=63 h=38 left=7 top=15", "lacks px"},
		{"unknown paper", strings.Replace(geometryExample, "letter", "foolscap", 1), "foolscap"},
		{"paper without height", strings.Replace(geometryExample, "letter", "210x", 1), "210x"},
		{"no columns", strings.Replace(geometryExample, "cols=3", "cols=0", 1), "from 1 to 100"},
		{"a comma", strings.Replace(geometryExample, "w=66.675", "w=66,675", 1), "66,675"},
		{"an exponent", strings.Replace(geometryExample, "w=66.675", "w=6e1", 1), "6e1"},
		{"inches", strings.Replace(geometryExample, "h=25.4", "h=1in", 1), "1in"},
		{"an empty width", strings.Replace(geometryExample, "w=66.675", "w=", 1), "w is empty"},
		{"negative", strings.Replace(geometryExample, "left=4.7625", "left=-4", 1), "-4"},
		// The opposite-margin self-test of identity-labels-evidence 2.5.
		{"a slip of 3 mm across", strings.Replace(geometryExample, "px=69.85", "px=68.35", 1), "left margin"},
		{"a slip of 3 mm along", strings.Replace(geometryExample, "top=12.7", "top=15.7", 1), "top margin"},
		{"very long", geometryExample + strings.Repeat(" ", 300), "at most 300"},
	} {
		_, err := ParseSheet(c.text)
		if c.says == "" {
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
			}
			continue
		}
		f := fault.Of(err)
		if !fault.Is(err, fault.Invalid) || !strings.Contains(f.Error()+" "+f.Hint, c.says) {
			t.Errorf("%s: %v (%v); want invalid, saying %q", c.name, err, f, c.says)
		}
	}
}

// FuzzParseSheet: whatever is taken has all its labels on the paper, none on
// another, and is written and read again as the same.
func FuzzParseSheet(f *testing.F) {
	f.Add(geometryExample)
	f.Add("paper=62x30 cols=1 rows=1 w=58 h=26 left=2 top=2")
	f.Add("paper=a4 cols=2 rows=2 w=9 h=9 left=0 top=0 px=1e3 py=NaN")
	f.Fuzz(func(t *testing.T, text string) {
		s, err := ParseSheet(text)
		if err != nil {
			if !fault.Is(err, fault.Invalid) {
				t.Fatalf("%q: %v, want invalid", text, err)
			}
			return
		}
		for i := range s.cells() {
			x, y := s.corner(i)
			if x < 0 || y < 0 || x+s.W > s.PaperW+0.05 || y+s.H > s.PaperH+0.05 {
				t.Fatalf("%q: label %d at %g, %g is off the paper", text, i, x, y)
			}
			if i > 0 {
				px, py := s.corner(i - 1)
				if math.Abs(x-px) < s.W-0.05 && math.Abs(y-py) < s.H-0.05 {
					t.Fatalf("%q: label %d lies on another", text, i)
				}
			}
		}
		again, err := ParseSheet(s.Geometry())
		if err != nil {
			t.Fatalf("%q as %q: %v", text, s.Geometry(), err)
		}
		if !strings.Contains(text, "=") {
			again.Name = s.Name
		}
		if again != s {
			t.Fatalf("%q comes back as %+v, was %+v", text, again, s)
		}
	})
}
