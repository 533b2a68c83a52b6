package calibration

import (
	"testing"

	"pawl/model/fault"
	"pawl/model/units"
)

func TestScale(t *testing.T) {
	for _, c := range []struct{ typed, text string }{
		{"ft-lb 30..150 by 1", "ft-lb 30..150 by 1"}, {"lb-ft 30..150 by 0.5", "ft-lb 30..150 by 0.5"}, {"N·m 40..200", "N·m 40..200"}, {" in Hg  -30..0 by 1 ", "inHg -30..0 by 1"},
		{"inHg −30..0", "inHg -30..0"}, {"N·m 108", "N·m 108"}, {"bar -1..4 by 0.1", "bar -1..4 by 0.1"},
	} {
		s, err := ParseScale(c.typed)
		if err != nil || s.String() != c.text {
			t.Errorf("ParseScale(%q) = %q, %v; want %q", c.typed, s, err, c.text)
		}
		if again, err := ParseScale(s.String()); err != nil || again != s {
			t.Errorf("%q reads back as %q, %v", s, again, err)
		}
	}
	for _, typed := range []string{"", "30..150 by 1", "ft-lb", "ft-lb 150..30 by 1", "ft-lb 30..30", "ft-lb 30..150 by 0", "ft-lb 30..150 by -1", "ft-lb 30-150 by 1", "lb 30..150 by 1", "ft-lb 30..150 by 1 ft-lb", "ft-lb 30...150", "ft-lb 1e3..2e3"} {
		if s, err := ParseScale(typed); !fault.Is(err, fault.Invalid) || s != (Scale{}) || fault.Of(err).Hint == "" {
			t.Errorf("ParseScale(%q) = %v, %v; want an invalid fault with a hint", typed, s, err)
		}
	}
}

// A second scale that is the first one in other words is kept; one in the wrong
// unit of the three is not (NIST SP 811 appendix B.8: 1 N·m is 0.7376 ft-lb and
// 8.851 in-lb).
func TestSecondScale(t *testing.T) {
	for text, fits := range map[string]bool{
		"ft-lb 30..150 by 1": true, "kgf·m 4..20 by 0.1": true, "in-lb 360..1760 by 10": true, "ft-lb 60..140 by 1": true,
		"in-lb 30..150 by 1": false, "kgf·cm 4..20 by 0.1": false, "N·m 40..200 by 1": false, "bar 1..2": false, "ft-lb 20..150 by 1": false,
	} {
		q, s := wrench(), scaleOf(t, text)
		q.Second = &s
		if err := q.Check(); (err == nil) != fits || err != nil && !fault.Is(err, fault.Invalid) {
			t.Errorf("%s on a wrench of 40 to 200 N·m: %v", text, err)
		}
	}
}

func FuzzParseScale(f *testing.F) {
	for _, s := range []string{"ft-lb 30..150 by 1", "inHg -30..0", "N·m 108", "bar 1..2 by", "..", "mm 0..0"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		scale, err := ParseScale(s)
		if err != nil {
			if !fault.Is(err, fault.Invalid) {
				t.Fatalf("ParseScale(%q): %v", s, err)
			}
			return
		}
		if again, err := ParseScale(scale.String()); err != nil || again != scale {
			t.Fatalf("%q reads back as %v, %v", scale, again, err)
		}
		if _, _, err := scale.ends(scale.Low.Unit); err != nil {
			t.Fatalf("%q has no ends: %v", scale, err)
		}
		if scale.Low.Unit.Dimension() == units.Dimension("") {
			t.Fatalf("%q is in no unit", scale)
		}
	})
}
