package numbers

import (
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

// TAG-01 and TAG-02
func TestPublishedToolNumbers(t *testing.T) {
	for _, row := range vectors(t, "tool-numbers.txt") {
		n, err := strconv.ParseInt(row[0], 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		got, err := FromCounter(n)
		if err != nil || string(got) != row[1] || got.Counter() != n {
			t.Errorf("FromCounter(%d) = %s (back %d), %v; want %s", n, string(got), got.Counter(), err, row[1])
		}
		if want := row[1][:3] + "-" + row[1][3:]; got.String() != want {
			t.Errorf("%s prints as %s, want %s", row[1], got, want)
		}
	}
}

func TestCounterHasEnds(t *testing.T) {
	for _, n := range []int64{-1, MaxCounter + 1, 1 << 62, -1 << 63} {
		if got, err := FromCounter(n); got != "" || !fault.Is(err, fault.Invalid) {
			t.Errorf("FromCounter(%d) = %s, %v; want an invalid fault", n, got, err)
		}
	}
	for _, n := range []Number{"", "00EKM6", "00E-KM5", "00ekm5", "00EKM", "00EKM55", "OOEKM5"} {
		if n.Counter() != -1 || n.Valid() || n.Skipped() {
			t.Errorf("%q is taken for a number: counter %d", string(n), n.Counter())
		}
	}
}

// TAG-03, and further ways to type the same number
func TestTypedNumbersFold(t *testing.T) {
	for _, typed := range []string{"00-ekm5", "OOEKMS", "QOEKMS", "0OEKM5", "ooekms", "00E-KM5", " 00E KM5 ", "00.ekm.5", "0-0-E-K-M-5", "00E\u2011KM5", "00E\u00a0KM5"} {
		if got, err := ParseNumber(typed); err != nil || got != "00EKM5" {
			t.Errorf("ParseNumber(%q) = %s, %v; want 00E-KM5", typed, got, err)
		}
	}
}

// TAG-04, and other slips
func TestTypedNumbersAreChecked(t *testing.T) {
	for _, typed := range []string{"00EKM6", "00EMK5", "", "-", "00EKM", "00EKM55", "00E/KM5", "00E_KM5", "T/00EKM5", "００EKM5", "00E\u0131KM", "00EK\x005", "00EK\xff5"} {
		if got, err := ParseNumber(typed); got != "" || !fault.Is(err, fault.Invalid) || fault.Of(err).Hint == "" {
			t.Errorf("ParseNumber(%q) = %s, %v; want an invalid fault with a hint", typed, got, err)
		}
	}
}

func TestScannedNumbersAreNotFolded(t *testing.T) {
	for _, scanned := range []string{"00EKM5", "00ekm5", "00E-KM5"} {
		if got, err := ParseExact(scanned); err != nil || got != "00EKM5" {
			t.Errorf("ParseExact(%q) = %s, %v", scanned, got, err)
		}
	}
	for _, scanned := range []string{"OOEKM5", "00EKMS", "00E KM5", "00E.KM5", " 00EKM5", "00EKM6", ""} {
		if got, err := ParseExact(scanned); got != "" || !fault.Is(err, fault.Invalid) {
			t.Errorf("ParseExact(%q) = %s, %v; want an invalid fault", scanned, got, err)
		}
	}
}

// TAG-05
func TestEverySubstitutionAndSwapIsCaught(t *testing.T) {
	chance := rand.New(rand.NewPCG(29, 2))
	for range 20_000 {
		n, err := FromCounter(chance.Int64N(MaxCounter + 1))
		if err != nil {
			t.Fatal(err)
		}
		for i := range numberLength {
			slip := []byte(n)
			for _, c := range []byte(Alphabet) {
				if slip[i] = c; c != n[i] && ours.Valid(string(slip)) {
					t.Fatalf("%s with %c at %d is accepted", n, c, i)
				}
			}
			for j := i + 1; j < numberLength; j++ {
				swapped := []byte(n)
				swapped[i], swapped[j] = n[j], n[i]
				if n[i] != n[j] && ours.Valid(string(swapped)) {
					t.Fatalf("%s with %d and %d swapped is accepted", n, i, j)
				}
			}
		}
	}
}

// The share of all-letter numbers is about (19/29)^6 = 7.9 % (identity-labels-evidence 1.5).
func TestSkippedNumbers(t *testing.T) {
	skipped := 0
	const sample = 200_000
	for i := range int64(sample) {
		n, err := FromCounter(i * 102 % (MaxCounter + 1))
		if err != nil {
			t.Fatal(err)
		}
		want := strings.Trim(string(n), "ABCDEFGHJKMNPRTVWXY") == "" || strings.HasPrefix(string(n), "00000")
		if n.Skipped() != want {
			t.Fatalf("Skipped(%s) = %v", n, n.Skipped())
		}
		if want {
			skipped++
		}
	}
	if share := float64(skipped) / sample; share < 0.075 || share > 0.083 {
		t.Errorf("%.2f %% of numbers are skipped, want about 7.9 %%", share*100)
	}
	if !Number("000001").Skipped() || Number("00001Y").Skipped() || Number("00EKM5").Skipped() {
		t.Error("zero is issued, or a good number is not")
	}
}

func TestCountersAndNumbersMatchOneToOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.Int64Range(0, MaxCounter).Draw(t, "counter")
		n, err := FromCounter(c)
		if err != nil || n.Counter() != c || !polynomialValid(ours, string(n)) {
			t.Fatalf("FromCounter(%d) = %s, back %d, %v", c, n, n.Counter(), err)
		}
		for _, text := range []string{string(n), n.String(), strings.ToLower(n.String())} {
			typed, err1 := ParseNumber(text)
			scanned, err2 := ParseExact(text)
			if err1 != nil || err2 != nil || typed != n || scanned != n {
				t.Fatalf("%q reads as %s and %s (%v, %v)", text, typed, scanned, err1, err2)
			}
		}
	})
}

// The oracle folds with a table of its own and verifies by the polynomial form.
func FuzzParseNumber(f *testing.F) {
	for _, s := range []string{"00E-KM5", "ooekms", "00EKM6", "", "yyyyy5", "0 0.0-0001", "00E\u2011KM5"} {
		f.Add(s)
	}
	table := map[rune]rune{'O': '0', 'Q': '0', 'I': '1', 'L': '1', 'S': '5', 'U': 'V', 'Z': '2'}
	f.Fuzz(func(t *testing.T, s string) {
		got, err := ParseNumber(s)
		folded := strings.Map(func(r rune) rune {
			if strings.ContainsRune(" -.\t\u00a0\u2010\u2011", r) {
				return -1
			}
			if r < 128 {
				r = rune(strings.ToUpper(string(r))[0])
			}
			if to, ok := table[r]; ok {
				return to
			}
			return r
		}, s)
		if want := len(folded) == 6 && polynomialValid(ours, folded); (err == nil) != want || want && string(got) != folded {
			t.Fatalf("ParseNumber(%q) = %s, %v; the oracle says %q, %v", s, string(got), err, folded, want)
		}
		if err != nil && (got != "" || !fault.Is(err, fault.Invalid)) {
			t.Fatalf("ParseNumber(%q) = %s, %v; want an invalid fault alone", s, got, err)
		}
		if exact, err := ParseExact(s); err == nil && exact != got {
			t.Fatalf("%q scans as %s but types as %s", s, exact, got)
		}
	})
}
