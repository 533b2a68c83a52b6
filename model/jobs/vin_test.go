package jobs

import (
	"strings"
	"testing"
	"unicode/utf8"
)

// Check digits of published samples; the underscore stands for the digit.
func TestVINCheck(t *testing.T) {
	for _, c := range []struct {
		vin, source string
		sum         int
		want        rune
	}{
		{"1G4AH59H_5G118341", "49 CFR 565, table V", 411, '4'},
		{"JH2RC360_MM101581", "reprint of the rule", 280, '5'},
		{"1J9RP1A3_A1644345", "NHTSA, outline for new manufacturers", 314, '6'},
		{"1M8GDM9A_KP042788", "customary example, from memory", 351, 'X'},
		{"11111111_11111111", "customary example, from memory", 89, '1'},
	} {
		if sum, known := vinSum([]rune(c.vin)); sum != c.sum || !known {
			t.Errorf("%s: sum %d, %v; want %d (%s)", c.vin, sum, known, c.sum, c.source)
		}
		if got, ok := VINCheck(c.vin); got != c.want || !ok {
			t.Errorf("%s: %c, %v; want %c (%s)", c.vin, got, ok, c.want, c.source)
		}
		good := strings.Replace(c.vin, "_", string(c.want), 1)
		if w := VINWarnings(good); len(w) > 0 {
			t.Errorf("%s: %q", good, w)
		}
	}
}

// Two characters that count the same are not told apart: 42 of the 528 pairs, J and 1
// among them, S and 5 not (row VIN-04 of our table, counted there by hand).
func TestWhatTheDigitDoesNotNotice(t *testing.T) {
	const letters = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ"
	pairs, same := 0, map[string]bool{}
	for i, a := range letters {
		for _, b := range letters[i+1:] {
			pairs++
			x, _ := vinValue(a)
			y, _ := vinValue(b)
			if x%11 == y%11 {
				same[string(a)+string(b)] = true
			}
		}
	}
	if pairs != 528 || len(same) != 42 || !same["1J"] || same["5S"] {
		t.Errorf("%d of %d pairs; J/1 %v, S/5 %v; want 42 of 528, true, false", len(same), pairs, same["1J"], same["5S"])
	}
}

// A VIN is warned about and never refused.
func TestVINWarnings(t *testing.T) {
	for _, c := range []struct{ vin, says string }{
		{"", ""},
		{"1m8gdm9a xkp042788", ""}, // in groups, in lower case
		{"1M8GDM9A-XKP042788", ""},
		{"1M8GDM9AXPK042788", "the ninth character"}, // two neighbors swapped
		{"1M8GDM9A4KP042788", "it would be X"},
		{"1M8GDM9AXKPO42788", "I, O or Q"},
		{"WDB123", "6 characters"},
		{"1M8GDM9AXKP04278é", "neither a letter nor a digit"},
	} {
		got := strings.Join(VINWarnings(c.vin), "; ")
		if c.says == "" && got != "" || !strings.Contains(got, c.says) {
			t.Errorf("%q: %q, want %q", c.vin, got, c.says)
		}
	}
}

// Whatever is typed, a warning is readable text, and one changed digit of a good VIN
// never goes unnoticed: its weight and 11 have no common factor.
func FuzzVIN(f *testing.F) {
	for _, seed := range []string{"1M8GDM9AXKP042788", "11111111111111111", "", "1G4AH59H45G118341", "ſſſſſſſſſſſſſſſſſ"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, vin string) {
		for _, w := range VINWarnings(vin) {
			if !utf8.ValidString(w) {
				t.Errorf("%q: %q", vin, w)
			}
		}
		check, ok := VINCheck(vin)
		if !ok {
			return
		}
		all := bareVIN(vin)
		all[vinCheckAt] = check
		if w := VINWarnings(string(all)); len(w) > 0 && !strings.ContainsAny(string(all), "IOQ") {
			t.Errorf("%q with its own digit: %q", string(all), w)
		}
		for i, r := range all {
			if i != vinCheckAt && r >= '0' && r <= '9' {
				other := append([]rune{}, all...)
				other[i] = '0' + (r-'0'+1)%10
				if len(VINWarnings(string(other))) == 0 {
					t.Errorf("%q is as good as %q", string(other), string(all))
				}
			}
		}
	})
}
