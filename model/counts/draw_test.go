package counts

import (
	"encoding/hex"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

func TestDrawsAsTheDocumentationSays(t *testing.T) {
	for _, row := range vectors(t, "draws.txt") {
		number, err := strconv.ParseInt(row[0], 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		drawn := Draw(ChosenSeed(number), whole(t, row[1]), whole(t, row[2]))
		if got, want := fmt.Sprint(drawn), "["+strings.Join(row[4:], " ")+"]"; got != want {
			t.Errorf("seed %d: %s, want %s", number, got, want)
		}
	}
	// By the same second program.
	if got := Below(PartSeed(ChosenSeed(7), "units"), 26_882); got != 22_101 {
		t.Errorf("start %d", got)
	}
}

func TestSeeds(t *testing.T) {
	// sha256sum of "checkpointnonce", of "pawl chosen seed 7", and of the latter's
	// bytes followed by "B".
	for _, tt := range []struct {
		got  [32]byte
		want string
	}{
		{Seed([]byte("checkpoint"), []byte("nonce")), "2113cd5e41889f4e6f6196307815d251572031090aaace182746df943392fe76"},
		{ChosenSeed(7), "fc83470c48b45549fdde2a0bbb99c88de855599b350824f2b7ded4d3bed92374"},
		{PartSeed(ChosenSeed(7), "B"), "d53a8178213f89e1ef4206b3e444b51735b4dc7dc500d807dae4b51b9a23d762"},
	} {
		if got := hex.EncodeToString(tt.got[:]); got != tt.want {
			t.Errorf("%s, want %s", got, tt.want)
		}
	}
}

func TestADrawIsAChoice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seed := ChosenSeed(rapid.Int64().Draw(t, "seed"))
		listed := rapid.IntRange(0, 2000).Draw(t, "listed")
		n := rapid.IntRange(-2, listed+2).Draw(t, "n")
		drawn := Draw(seed, listed, n)
		if len(drawn) != max(0, min(n, listed)) || !slices.IsSorted(drawn) || len(slices.Compact(slices.Clone(drawn))) != len(drawn) {
			t.Fatalf("drew %v", drawn)
		}
		if len(drawn) > 0 && (drawn[0] < 0 || drawn[len(drawn)-1] >= listed) {
			t.Fatalf("drew %v", drawn)
		}
		if !slices.Equal(drawn, Draw(seed, listed, n)) {
			t.Fatal("the same seed draws something else")
		}
		members := Draw(ChosenSeed(1), 3*listed, listed)
		for i, m := range DrawFrom(seed, members, n) {
			if m != members[drawn[i]] {
				t.Fatal("a member that was not drawn")
			}
		}
	})
}

// fair fails where a statistic of chi-square is one that a fair draw gives less often
// than once in a thousand times, on either side: too even is no chance either.
func fair(t *testing.T, what string, statistic float64, freedom int) {
	t.Helper()
	d := distuv.ChiSquared{K: float64(freedom)}
	if low, high := d.Quantile(.0005), d.Quantile(.9995); statistic < low || statistic > high {
		t.Errorf("%s: chi-square %.2f with %d degrees of freedom is outside %.2f to %.2f", what, statistic, freedom, low, high)
	}
}

const draws = 10_000

// TestDrawIsUniform counts over 10,000 seeds how often every position is drawn, and
// every pair, and every set of three; all seeds are fixed.
func TestDrawIsUniform(t *testing.T) {
	for _, tt := range []struct{ listed, n int }{{20, 1}, {20, 5}, {37, 12}, {100, 45}} {
		times := make([]float64, tt.listed)
		for i := range draws {
			for _, at := range Draw(ChosenSeed(int64(i)), tt.listed, tt.n) {
				times[at]++
			}
		}
		// Drawn without replacement, the counts are of variance R·p(1−p) and sum to
		// R·n, so the sum of squares goes with that variance times N/(N−1).
		N, p := float64(tt.listed), float64(tt.n)/float64(tt.listed)
		sum := 0.0
		for _, c := range times {
			sum += (c - draws*p) * (c - draws*p)
		}
		fair(t, fmt.Sprintf("positions of %d in %d", tt.n, tt.listed), sum/(draws*p*(1-p))*(N-1)/N, tt.listed-1)
	}
	for _, tt := range []struct{ listed, n, sets int }{{20, 2, 190}, {45, 2, 990}, {9, 3, 84}, {7, 4, 35}} {
		times := map[string]float64{}
		for i := range draws {
			times[fmt.Sprint(Draw(ChosenSeed(int64(i)), tt.listed, tt.n))]++
		}
		each, sum := float64(draws)/float64(tt.sets), 0.0
		for _, c := range times {
			sum += (c - each) * (c - each) / each
		}
		sum += each * float64(tt.sets-len(times)) // sets never drawn
		fair(t, fmt.Sprintf("sets of %d in %d", tt.n, tt.listed), sum, tt.sets-1)
	}
}

// TestAnUnfairDrawIsNoticed: the test above has teeth. A byte modulo 100 gives the
// first 56 numbers three times in 256 and the others twice.
func TestAnUnfairDrawIsNoticed(t *testing.T) {
	times := make([]float64, 100)
	for i := range draws {
		seed := ChosenSeed(int64(i))
		times[seed[0]%100]++
	}
	sum, each := 0.0, float64(draws)/100
	for _, c := range times {
		sum += (c - each) * (c - each) / each
	}
	if high := (distuv.ChiSquared{K: 99}).Quantile(.9995); sum < high {
		t.Errorf("a byte modulo 100 passes for fair: %.1f under %.1f", sum, high)
	}
}

// TestRefusedWords: words at the top that would favor small numbers are passed over.
func TestRefusedWords(t *testing.T) {
	const m = 1<<63 + 1 // nearly half of all words are refused
	s, plain := stream{seed: ChosenSeed(3)}, stream{seed: ChosenSeed(3)}
	refused := 0
	for range 200 {
		got := s.below(m)
		w := plain.next()
		for w >= m { // the greatest multiple of m up to 2^64 is m itself
			w = plain.next()
			refused++
		}
		if got != w {
			t.Fatalf("%d, want %d", got, w)
		}
	}
	if refused < 100 {
		t.Errorf("only %d words refused", refused)
	}
}
