package numbers

import (
	"bufio"
	"math/big"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

// vectors reads the rows of a table in testdata/vectors; lines with # say where
// it comes from.
func vectors(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "vectors", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var rows [][]string
	for lines := bufio.NewScanner(f); lines.Scan(); {
		if line := lines.Text(); !strings.HasPrefix(line, "#") {
			rows = append(rows, strings.Fields(line))
		}
	}
	if len(rows) == 0 {
		t.Fatalf("%s holds no rows", name)
	}
	return rows
}

// The two named systems whose examples are published, and ours.
var systems = map[string]System{
	"11-2": {Modulus: 11, Radix: 2, Alphabet: "0123456789X", CheckOnly: "X"},
	"37-2": {Modulus: 37, Radix: 2, Alphabet: "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*", CheckOnly: "*"},
	"29-2": ours,
}

// polynomialValid is the other form of ISO/IEC 7064's rule: the sum of value ×
// radix^(place from the right) is 1. It shares no step with System.Check.
func polynomialValid(s System, full string) bool {
	sum := new(big.Int)
	for i := range len(full) {
		value := strings.IndexByte(s.Alphabet, full[i])
		if value < 0 || i < len(full)-1 && strings.IndexByte(s.CheckOnly, full[i]) >= 0 {
			return false
		}
		weight := new(big.Int).Exp(big.NewInt(int64(s.Radix)), big.NewInt(int64(len(full)-1-i)), nil)
		sum.Add(sum, weight.Mul(weight, big.NewInt(int64(value))))
	}
	return len(full) >= 2 && sum.Mod(sum, big.NewInt(int64(s.Modulus))).Int64() == 1
}

func TestPublishedCheckCharacters(t *testing.T) {
	for _, row := range vectors(t, "check-characters.txt") {
		s, payload, want := systems[row[0]], row[1], row[2]
		got, err := s.Check(payload)
		if err != nil || string(got) != want {
			t.Errorf("MOD %s of %s = %q, %v; published %s", row[0], payload, got, err, want)
		}
		if !s.Valid(payload+want) || !polynomialValid(s, payload+want) {
			t.Errorf("MOD %s: %s%s does not verify", row[0], payload, want)
		}
	}
}

func TestCheckAgreesWithThePolynomialForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := systems[rapid.SampledFrom([]string{"11-2", "37-2", "29-2"}).Draw(t, "system")]
		allowed := strings.Trim(s.Alphabet, s.CheckOnly)
		payload := rapid.StringOfN(rapid.RuneFrom([]rune(allowed)), 1, 20, -1).Draw(t, "payload")
		check, err := s.Check(payload)
		if err != nil {
			t.Fatal(err)
		}
		for i := range len(s.Alphabet) {
			full := payload + s.Alphabet[i:i+1]
			if want := s.Alphabet[i] == check; polynomialValid(s, full) != want || s.Valid(full) != want {
				t.Fatalf("%s: polynomial %v, Valid %v, want %v", full, polynomialValid(s, full), s.Valid(full), want)
			}
		}
	})
}

func TestCheckRefuses(t *testing.T) {
	for _, c := range []struct {
		system  System
		payload string
		kind    fault.Kind
	}{
		{systems["11-2"], "", fault.Invalid},
		{systems["11-2"], "07X9", fault.Invalid},
		{systems["37-2"], "G12*3", fault.Invalid},
		{systems["37-2"], "g123", fault.Invalid},
		{ours, "00OKM", fault.Invalid},
		{System{Modulus: 11, Radix: 2, Alphabet: "0123"}, "012", fault.Internal},
		{System{}, "0", fault.Internal},
	} {
		if got, err := c.system.Check(c.payload); got != 0 || !fault.Is(err, c.kind) {
			t.Errorf("Check(%q) modulo %d = %q, %v; want %s", c.payload, c.system.Modulus, got, err, c.kind)
		}
	}
	for _, short := range []string{"", "1", "X", "\x00\x00"} {
		if ours.Valid(short) {
			t.Errorf("%q is valid", short)
		}
	}
}

// 2 has order 28 modulo 29 (identity-labels-evidence 1.5): up to 27 places apart
// no two weights are equal.
func TestRadixIsAPrimitiveRoot(t *testing.T) {
	order, p := 1, 2
	for ; p != 1; order++ {
		p = p * 2 % 29
	}
	if order != 28 || len(Alphabet) != 29 || strings.ContainsAny(Alphabet, "ILOQSUZ") {
		t.Errorf("order of 2 is %d, alphabet %s", order, Alphabet)
	}
}
