package labels

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

// TestCapacity is QR-01: the capacities of ISO/IEC 18004 as printed in
// identity-labels-evidence 2.1. A text of the printed length has the version,
// one character more has a larger one.
func TestCapacity(t *testing.T) {
	kinds := []struct{ name, char string }{{"alphanumeric", "A"}, {"byte", "a"}, {"digits", "7"}}
	for _, row := range []struct {
		version, side int
		most          [3][4]int // kind, level L M Q H
	}{
		{1, 21, [3][4]int{{25, 20, 16, 10}, {17, 14, 11, 7}, {41, 34, 27, 17}}},
		{2, 25, [3][4]int{{47, 38, 29, 20}, {32, 26, 20, 14}, {77, 63, 48, 34}}},
		{3, 29, [3][4]int{{77, 61, 47, 35}, {53, 42, 32, 24}, {127, 101, 77, 58}}},
		{4, 33, [3][4]int{{114, 90, 67, 50}, {78, 62, 46, 34}, {187, 149, 111, 82}}},
		{5, 37, [3][4]int{{154, 122, 87, 64}, {106, 84, 60, 44}, {255, 202, 144, 106}}},
		{6, 41, [3][4]int{{195, 154, 108, 84}, {134, 106, 74, 58}, {322, 255, 178, 139}}},
		{7, 45, [3][4]int{{224, 178, 125, 93}, {154, 122, 86, 64}, {370, 293, 207, 154}}},
		{10, 57, [3][4]int{{395, 311, 221, 174}, {271, 213, 151, 119}, {652, 513, 364, 288}}},
	} {
		for k, kind := range kinds {
			for i, most := range row.most[k] {
				level := L + Level(i)
				s := mustEncode(t, strings.Repeat(kind.char, most), level)
				if s.Version != row.version || s.Side() != row.side {
					t.Errorf("%d %s at %v: version %d, side %d; want %d, %d", most, kind.name, level, s.Version, s.Side(), row.version, row.side)
				}
				if s := mustEncode(t, strings.Repeat(kind.char, most+1), level); s.Version != row.version+1 {
					t.Errorf("%d %s at %v: version %d, want %d", most+1, kind.name, level, s.Version, row.version+1)
				}
			}
		}
	}
}

func mustEncode(t testing.TB, payload string, level Level) *Symbol {
	t.Helper()
	s, err := Encode(payload, level)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestVersionAndLevel is QR-02 and QR-03 of identity-labels-evidence 8, with
// our rule that a level is raised where that costs no size.
func TestVersionAndLevel(t *testing.T) {
	for _, c := range []struct {
		payload string
		want    Level
		version int
		level   Level
	}{
		{link, L, 2, Q}, {link, M, 2, Q}, {link, Q, 2, Q}, {link, H, 3, H}, {link, 0, 2, Q},
		{strings.ToLower(link), L, 2, L}, {strings.ToLower(link), M, 3, Q},
		{strings.ToLower(link), Q, 3, Q}, {strings.ToLower(link), H, 4, H},
		{"00EKM5", L, 1, H}, {"T/00EKM5", Q, 1, H}, // 2.2, last row; DESIGN 5
	} {
		s := mustEncode(t, c.payload, c.want)
		if s.Version != c.version || s.Level != c.level {
			t.Errorf("Encode(%q, %v): version %d at %v, want %d at %v", c.payload, c.want, s.Version, s.Level, c.version, c.level)
		}
		if got, err := unpack(s); got != c.payload {
			t.Errorf("Encode(%q, %v) decodes as %q, %v", c.payload, c.want, got, err)
		}
	}
}

func TestEncodeRefuses(t *testing.T) {
	for _, c := range []struct {
		name, payload string
		level         Level
		says          string
	}{
		{"nothing", "", Q, "nothing"},
		{"a letter beyond ASCII", "T/Ñ1", Q, "percent-encoded"},
		{"a control character", "T/1\n", Q, "byte 4"},
		{"too long", strings.Repeat("A", 1853), H, "1853 characters"}, // version 40-H holds 1852 (ISO/IEC 18004 table 7, from memory)
		{"an unknown level", "T/1", 9, "level 9"},
	} {
		_, err := Encode(c.payload, c.level)
		if !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v; want invalid, saying %q", c.name, err, c.says)
		}
	}
	if _, err := Encode(strings.Repeat("A", 1852), H); err != nil {
		t.Errorf("the longest text was refused: %v", err)
	}
}

func TestParseLevel(t *testing.T) {
	for _, l := range []Level{L, M, Q, H} {
		if got, err := ParseLevel(strings.ToLower(l.String())); got != l || err != nil {
			t.Errorf("ParseLevel(%v) = %v, %v", l, got, err)
		}
	}
	for _, s := range []string{"", "X", "LM", "high", "é"} {
		if _, err := ParseLevel(s); !fault.Is(err, fault.Invalid) {
			t.Errorf("ParseLevel(%q): %v, want invalid", s, err)
		}
	}
}

// TestEveryTextReads: whatever is encoded decodes to the same text, at the
// level that the symbol says or a higher one than asked.
func TestEveryTextReads(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		payload := rapid.StringMatching(`[ -~]{1,60}`).Draw(t, "payload")
		want := rapid.SampledFrom([]Level{L, M, Q, H}).Draw(t, "level")
		s, err := Encode(payload, want)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := unpack(s); got != payload {
			t.Fatalf("reads %q, %v", got, err)
		}
		if s.Level < want || s.Side() != 17+4*s.Version {
			t.Fatalf("level %v of %v asked, side %d of version %d", s.Level, want, s.Side(), s.Version)
		}
	})
}

// FuzzEncode: a text is refused exactly where it is empty, not printable ASCII
// or too long; any other decodes back.
func FuzzEncode(f *testing.F) {
	for _, seed := range []string{link, "", "T/00EKM5", "7", "a b", "Ñ", "\x00", "12345678901A%$"} {
		f.Add(seed, byte(Q))
	}
	f.Fuzz(func(t *testing.T, payload string, level byte) {
		if len(payload) > 300 {
			return
		}
		s, err := Encode(payload, Level(level))
		plain := payload != "" && strings.Trim(payload, ascii) == "" && level <= byte(H)
		if (err == nil) != plain {
			t.Fatalf("Encode(%q, %d): %v", payload, level, err)
		}
		if err != nil {
			return
		}
		if got, err := unpack(s); got != payload {
			t.Fatalf("%q reads %q, %v", payload, got, err)
		}
	})
}

const ascii = " !\"#$%&'()*+,-./0123456789:;<=>?@ABCDEFGHIJKLMNOPQRSTUVWXYZ[\\]^_`abcdefghijklmnopqrstuvwxyz{|}~"
