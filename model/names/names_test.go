package names

import (
	"strings"
	"testing"
	"unicode/utf8"

	"pawl/model/fault"
)

func TestCheck(t *testing.T) {
	for typed, want := range map[string]string{
		"  Tech   A ":                "Tech A",
		"Cafe\u0301":                 "Caf\u00e9", // kept in NFC
		strings.Repeat("x", MaxLine): strings.Repeat("x", MaxLine),
	} {
		if got, err := Check(typed); err != nil || got != want {
			t.Errorf("%q: %q, %v; want %q", typed, got, err, want)
		}
	}
	for what, typed := range map[string]string{
		"nothing": " \t ", "too long": strings.Repeat("x", MaxLine+1), "a control character": "a\x00b", "no UTF-8": "a\xff",
		"a turn of direction": "a\u202eb", "a space of no width": "Tech\u200bA",
	} {
		if got, err := Check(typed); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: %q, %v; want Invalid", what, got, err)
		}
	}
}

func TestNoteKeepsItsLines(t *testing.T) {
	if got, err := Note("one\r\ntwo\tthree\n"); err != nil || got != "one\ntwo\tthree" {
		t.Errorf("%q, %v", got, err)
	}
	if _, err := Line("one\ntwo"); !fault.Is(err, fault.Invalid) {
		t.Errorf("a line takes two lines: %v", err)
	}
}

// What is taken once is taken again unchanged, and its key is settled.
func FuzzCheck(f *testing.F) {
	for _, s := range []string{"Tech A", " a  b ", "\u1e9e", "e\u0301", "\x7f", "\xff"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, typed string) {
		clean, err := Check(typed)
		if err != nil {
			return
		}
		if again, err := Check(clean); err != nil || again != clean || !utf8.ValidString(clean) {
			t.Fatalf("%q: %q, then %q, %v", typed, clean, again, err)
		}
		if key := Key(clean); Key(strings.ToLower(key)) != Key(key) {
			t.Fatalf("%q: the key %q is not settled", typed, key)
		}
	})
}
