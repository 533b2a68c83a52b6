package matching

import (
	"math"
	"reflect"
	"strings"
	"testing"
	"unicode/utf8"

	"pawl/model/fault"
)

func TestParse(t *testing.T) {
	for text, want := range map[string]string{
		"KD4?8{B8}2*":           "KD4?8{B8}2*",
		"kd4-?8 {b8}/2.*":       "KD4?8{B8}2*",
		"K@0.8D@.95 4@1":        "K@0.8 D@0.95 4@1",
		"{B8}@0.9 *{0,3}":       "{B8}@0.9 *{0,3}",
		"A*{2}":                 "A*{2,2}",
		"A*{0,6}":               "A*",
		"A**{1,2}*{3}-B":        "A*{4,11}B",
		"A*B*C*D*":              "A*B*C*D*",
		"9@0.6 8@.85 Z 4":       "9@0.6 8@0.85 Z4", // no digit of the next one is taken for a confidence
		"ＫＤ４":                   "KD4",             // full width
		strings.Repeat("7", 64): strings.Repeat("7", 64),
	} {
		got, err := Parse(text)
		if err != nil || got.String() != want {
			t.Errorf("Parse(%q) = %q, %v; want %q", text, got, err, want)
		}
	}
	for _, bad := range []string{"", "???", "*", "? * ?", "É7", "K#4", "{", "{}", "{B", "{BB}", "{B?}", "A*{3,1}", "A*{0,0}", "A*{0,65}", "A*{x}", "A*{0,3",
		"A*B*C*D*E*", "A*{0,33}B*{0,32}", "A*{0,60}*{0,5}", strings.Repeat("*{0,64}", 63) + "A", strings.Repeat("*{0,64}A", 32),
		"A@", "A@0", "A@1.2", "A@80", "A@x", "A@0.5.5", "?@0.5A", "A*@0.5", strings.Repeat("7", 65), "A\xff", "A\x00"} {
		_, err := Parse(bad)
		f := fault.Of(err)
		if f == nil || f.Kind != fault.Invalid || f.Hint == "" || len(f.Fields) != 1 || f.Fields[0].Pointer != "#/reading" {
			t.Errorf("Parse(%q): %v; want an invalid fault at #/reading with a hint", bad, err)
		}
	}
}

// What parses is written as what parses to the same, and can be asked.
func FuzzParse(f *testing.F) {
	for _, s := range []string{"KD4?8{B8}2*", "K@0.8 *{0,3}", "{B8}@.9", "A*{64}", "ﬀ７@１", "*{0,3", "@", ""} {
		f.Add(s)
	}
	w := newWorld(60)
	f.Fuzz(func(t *testing.T, text string) {
		r, err := Parse(text)
		if err != nil {
			if fault.Of(err).Kind != fault.Invalid || !utf8.ValidString(err.Error()) {
				t.Fatalf("%q: %v", text, err)
			}
			return
		}
		again, err := Parse(r.String())
		if err != nil || !reflect.DeepEqual(again, r) {
			t.Fatalf("%q is written %q, which is %q, %v", text, r, again, err)
		}
		a := answered(t, w.ix, Query{Reading: r, None: 0.2}, 3)
		sum := a.None + a.Others
		for _, c := range a.Candidates {
			sum += c.Posterior
		}
		if !(a.None >= 0 && a.None <= 1 && math.Abs(sum-1) <= a.Error+1e-9) { // each may be wrong by as much
			t.Fatalf("%q: %+v", text, a)
		}
	})
}
