package matching

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// The notation is that of identity-labels-evidence 3.1.
func TestFits(t *testing.T) {
	for _, c := range []struct {
		reading, key string
		fits, open   bool
	}{
		{"KD408B217", "KD408B217", true, false},
		{"kd-408 b217", "KD408B217", true, false},
		{"KD408B2?7", "KD408B217", true, true},
		{"KD4?8{B8}2*", "KD408B217", true, true},
		{"K*", "KD408B217", true, true}, // eight are gone, and nobody counted them
		{"K*8", "KD408B217", false, true},
		{"KD4*{0,3}7", "KD408B217", false, true}, // five are gone
		{"KD4*{0,5}7", "KD408B217", true, true},
		{"KD408B218", "KD408B217", false, false},
		{"KD408B2I7", "KD408B217", false, false}, // forgives no look-alike
		{"KD408B2", "KD408B217", false, false},   // too short
		{"KD408B217?", "KD408B217", false, true}, // too long
	} {
		r, err := Parse(c.reading)
		if err != nil {
			t.Fatalf("%s: %v", c.reading, err)
		}
		if r.Fits(c.key) != c.fits || r.Partial() != c.open {
			t.Errorf("%s of %s: fits %v, open %v", c.reading, c.key, r.Fits(c.key), r.Partial())
		}
	}
}

// Whatever is lost of a serial, what is left of it fits; another character in it does not.
func TestWhatIsLeftFits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		key := rapid.StringMatching(`[0-9A-Z]{3,20}`).Draw(t, "key")
		left := []byte(key)
		for i := range left[1:] {
			if rapid.Bool().Draw(t, "gone") {
				left[i+1] = '?'
			}
		}
		r, err := Parse(string(left))
		if err != nil || !r.Fits(key) {
			t.Fatalf("%s of %s: %v", left, key, err)
		}
		other := "X"
		if key[0] == 'X' {
			other = "Y"
		}
		if wrong, _ := Parse(other + string(left[1:])); wrong.Fits(key) {
			t.Fatalf("%s%s fits %s", other, left[1:], key)
		}
		if gap, _ := Parse(key[:1] + "*{" + "0,60}"); !gap.Fits(key) || strings.Contains(gap.String(), "?") {
			t.Fatalf("%s does not fit %s", gap, key)
		}
	})
}
