package numbers

import (
	"bytes"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

// Seven passes over all bytes are 7 × 232 draws without the refused ones: 232
// ids, in which each of the 29 characters must come up equally often.
func TestIDsAreDrawnEvenly(t *testing.T) {
	var all []byte
	for range 7 {
		for b := range 256 {
			all = append(all, byte(b))
		}
	}
	chance, count := bytes.NewReader(all), map[rune]int{}
	for range 232 {
		id, err := NewID('L', chance)
		if err != nil || len(id) != 10 || id[:2] != "L-" || !polynomialValid(ours, id[2:]) {
			t.Fatalf("NewID = %q, %v", id, err)
		}
		for _, c := range id[2:9] {
			count[c]++
		}
	}
	for _, c := range Alphabet {
		if count[c] != 56 {
			t.Errorf("%c was drawn %d times of 1624, want 56", c, count[c])
		}
	}
}

func TestNewIDRefuses(t *testing.T) {
	if id, err := NewID('L', strings.NewReader("abc")); id != "" || !fault.Is(err, fault.Internal) {
		t.Errorf("NewID without enough chance = %q, %v; want an internal fault", id, err)
	}
	for _, letter := range []byte{'l', '1', 0, 0xff} {
		if id, err := NewID(letter, strings.NewReader("abcdefghijkl")); id != "" || !fault.Is(err, fault.Internal) {
			t.Errorf("NewID(%q) = %q, %v; want an internal fault", letter, id, err)
		}
	}
}

func TestIDsReadBackHoweverTyped(t *testing.T) {
	look := strings.NewReplacer("0", "o", "1", "l", "5", "s", "V", "u", "2", "z")
	rapid.Check(t, func(t *rapid.T) {
		letter := rapid.SampledFrom([]byte("LCNUABPSXZ")).Draw(t, "letter")
		seed := rapid.Uint64().Draw(t, "seed")
		id, err := NewID(letter, rand.NewChaCha8([32]byte{byte(seed), byte(seed >> 8), byte(seed >> 16), letter}))
		if err != nil {
			t.Fatal(err)
		}
		for _, typed := range []string{id, strings.ToLower(id), look.Replace(id), strings.ReplaceAll(id, "-", ""), id[:6] + " " + id[6:]} {
			if got, err := ParseID(letter, typed); err != nil || got != id {
				t.Fatalf("ParseID(%c, %q) = %q, %v; want %s", letter, typed, got, err, id)
			}
		}
		if got, err := ParseID('K', id); got != "" || !fault.Is(err, fault.Invalid) {
			t.Fatalf("%s passes as an id with K: %q, %v", id, got, err)
		}
		slip := []byte(id)
		at := rapid.IntRange(2, 9).Draw(t, "place")
		slip[at] = rapid.SampledFrom([]byte(Alphabet)).Draw(t, "character")
		if got, err := ParseID(letter, string(slip)); (err == nil) != (string(slip) == id) {
			t.Fatalf("%s for %s gives %q, %v", slip, id, got, err)
		}
	})
}

func FuzzParseID(f *testing.F) {
	for _, s := range []string{"L-00000001", "l-ooooooo1", "1-00000001", "C-00000001", "L00000001", "L-0000001", ""} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, err := ParseID('L', s)
		if err != nil {
			if got != "" || !fault.Is(err, fault.Invalid) || fault.Of(err).Hint == "" {
				t.Fatalf("ParseID(%q) = %q, %v", s, got, err)
			}
			return
		}
		if len(got) != 10 || got[:2] != "L-" || !polynomialValid(ours, got[2:]) {
			t.Fatalf("ParseID(%q) = %q: not an id", s, got)
		}
		if again, err := ParseID('L', got); err != nil || again != got {
			t.Fatalf("%q reads back as %q, %v", got, again, err)
		}
	})
}
