package serials

import (
	"slices"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
	"pgregory.net/rapid"

	"pawl/model/fault"
)

func TestKey(t *testing.T) {
	for asRead, want := range map[string]string{
		"sn 4471-b/02":       "SN4471B02",
		"SN4471B02":          "SN4471B02",
		"0O1IlL":             "0O1ILL", // look-alikes are not folded
		"ＡＢ１２":               "AB12",   // full width: NFKC
		"No. ②½":             "NO212",  // NFKC of circled and fraction digits
		"cafe\u0301 7":       "CAFÉ7",
		"stra\u00dfe":        "STRAßE", // upper case a letter at a time, as Go does
		"ı":                  "I",
		"\u1112\u0301\u1161": "하", // a dropped mark lets two letters join
		"":                   "",
		"--- . /":            "",
		"A\xffB":             "AB",
		"Ж12":                "Ж12",
	} {
		if got := Key(asRead); got != want {
			t.Errorf("Key(%q) = %q, want %q", asRead, got, want)
		}
	}
	if got := MakerKey("Brindle & Co."); got != "BRINDLECO" {
		t.Errorf("MakerKey = %q", got)
	}
}

// The pairs are those of tool numbers: identity-labels-evidence 1.5.
func TestFoldMakesLookAlikesEqual(t *testing.T) {
	for _, pair := range [][2]string{{"O0Q", "000"}, {"I1L", "111"}, {"S5", "55"}, {"U7V", "V7V"}, {"Z2", "22"}} {
		if Fold(pair[0]) != Fold(pair[1]) {
			t.Errorf("%s and %s fold to %s and %s", pair[0], pair[1], Fold(pair[0]), Fold(pair[1]))
		}
	}
	const rest = "0123456789ABCDEFGHJKMNPRTVWXY"
	if Fold(rest) != rest {
		t.Errorf("Fold(%s) = %s: more than look-alikes changed", rest, Fold(rest))
	}
}

func TestCheck(t *testing.T) {
	for asRead, want := range map[string]string{
		" SN 4471-B/02 ":         "SN 4471-B/02",
		"e\u0301":                "é",
		strings.Repeat("9", 64):  strings.Repeat("9", 64),
		strings.Repeat("é ", 32): strings.TrimSpace(strings.Repeat("é ", 32)),
		"\t7\n":                  "7",
		"²":                      "²",
	} {
		if got, err := Check(asRead); err != nil || got != want {
			t.Errorf("Check(%q) = %q, %v; want %q", asRead, got, err, want)
		}
	}
	for _, bad := range []string{"", "  ", "---", strings.Repeat("9", 65), "1\n2", "1\x002", "1\t2", "1\u202e2", "1\u200b2", "1\u20282", "1\xff2", "\ufe70", "\u0301"} {
		if got, err := Check(bad); got != "" || !fault.Is(err, fault.Invalid) || fault.Of(err).Hint == "" {
			t.Errorf("Check(%q) = %q, %v; want an invalid fault with a hint", bad, got, err)
		}
	}
}

func TestWords(t *testing.T) {
	for text, want := range map[string][]string{
		"Torque wrench, 1/2 in; TORQUE": {"1", "2", "in", "torque", "wrench"},
		"":                              nil,
		" - ":                           nil,
		"Cafe\u0301 CAFÉ":               {"café"},
		"x" + strings.Repeat("é", 40):   {"x" + strings.Repeat("é", 31)},
		"10mm 10MM b A":                 {"10mm", "a", "b"},
		"¼-inch":                        {"1", "4", "inch"},
	} {
		if got := Words(text); !slices.Equal(got, want) {
			t.Errorf("Words(%q) = %q, want %q", text, got, want)
		}
	}
}

// Every character that can leave something in a key, one at a time; of the long
// runs of Han and Hangul that map to themselves, one in a hundred.
func TestEveryCharacterSettles(t *testing.T) {
	for r := rune(0); r <= unicode.MaxRune; r++ {
		s := string(r)
		plain := norm.NFKC.String(s) == s
		if plain && !unicode.In(r, unicode.Letter, unicode.Mark, unicode.Number) || plain && unicode.In(r, unicode.Han, unicode.Hangul) && r%100 != 0 {
			continue
		}
		settled(t, s)
	}
}

func TestKeysSettle(t *testing.T) {
	letters := rapid.RuneFrom(nil, unicode.Letter, unicode.Mark, unicode.Number, unicode.Hangul)
	rapid.Check(t, func(t *rapid.T) {
		settled(t, rapid.OneOf(rapid.String(), rapid.StringOf(letters)).Draw(t, "text"))
	})
}

type reporter interface {
	Fatalf(format string, args ...any)
}

func settled(t reporter, text string) {
	key := Key(text)
	if again := Key(key); again != key {
		t.Fatalf("Key(%q) = %q, but Key of that is %q", text, key, again)
	}
	for _, r := range key {
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			t.Fatalf("Key(%q) = %q holds %q", text, key, r)
		}
	}
	if fold := Fold(key); Fold(fold) != fold || Key(fold) != fold || utf8.RuneCountInString(fold) != utf8.RuneCountInString(key) {
		t.Fatalf("Fold(%q) = %q is not settled", key, fold)
	}
	words := Words(text)
	if again := Words(strings.Join(words, " ")); !slices.Equal(again, words) {
		t.Fatalf("Words(%q) = %q, but words of those are %q", text, words, again)
	}
	for i, w := range words {
		if n := utf8.RuneCountInString(w); n < 1 || n > 32 || i > 0 && words[i-1] >= w {
			t.Fatalf("Words(%q) = %q: empty, too long or out of order", text, words)
		}
	}
}

func TestSpellingsOfOneSerialShareAKey(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		core := rapid.StringOfN(rapid.RuneFrom([]rune("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ")), 1, 20, -1).Draw(t, "serial")
		at := rapid.IntRange(0, len(core)).Draw(t, "place")
		typed := " " + strings.ToLower(core[:at]) + rapid.SampledFrom([]string{"-", " ", "/", ".", " - ", ""}).Draw(t, "separator") + core[at:]
		if Key(typed) != core {
			t.Fatalf("Key(%q) = %q, want %q", typed, Key(typed), core)
		}
	})
}

func FuzzSerials(f *testing.F) {
	for _, s := range []string{"SN 4471-B/02", "cafe\u0301", "\u1112\u0301\u1161", "①½ß", "1\u202e2", "\xff", "", "\u0345α"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		settled(t, s)
		kept, err := Check(s)
		if err != nil {
			if kept != "" || !fault.Is(err, fault.Invalid) {
				t.Fatalf("Check(%q) = %q, %v", s, kept, err)
			}
			return
		}
		if again, err := Check(kept); err != nil || again != kept {
			t.Fatalf("Check(%q) = %q, %v: not settled", kept, again, err)
		}
		if Key(kept) != Key(s) || Key(kept) == "" {
			t.Fatalf("%q and what is kept of it, %q, have keys %q and %q", s, kept, Key(s), Key(kept))
		}
	})
}
