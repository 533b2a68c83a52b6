package counts

import (
	"math"
	"math/big"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

// vectors reads a file of testdata/vectors: rows of words; # says where they are from.
func vectors(t *testing.T, name string) (rows [][]string) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "vectors", name))
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(data)) {
		if line = strings.TrimSpace(line); line != "" && !strings.HasPrefix(line, "#") {
			rows = append(rows, strings.Fields(line))
		}
	}
	if len(rows) == 0 {
		t.Fatalf("%s is empty", name)
	}
	return rows
}

func whole(t *testing.T, s string) int {
	t.Helper()
	n, err := strconv.Atoi(s)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// near fails where got is not want within the tolerance, NaN included.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.10g, want %.10g ± %g", what, got, want, tolerance)
	}
}

func smallest(t interface{ Fatal(...any) }, listed, missing int, confidence float64) int {
	n, err := Smallest(listed, missing, confidence)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func TestSmallestSampleEveryCell(t *testing.T) {
	for _, row := range vectors(t, "samples.txt") {
		for i, confidence := range []float64{0.90, 0.95, 0.99} {
			listed, missing, want := whole(t, row[0]), whole(t, row[1]), whole(t, row[2+i])
			if got := smallest(t, listed, missing, confidence); got != want {
				t.Errorf("%d listed, %d missing, %v: look at %d, want %d", listed, missing, confidence, got, want)
			}
		}
	}
}

func TestSmallestSampleAsPublished(t *testing.T) {
	tests := []struct {
		source          string
		listed, missing int
		confidence      float64
		want            int
	}{
		{"Cannon & Roe 1982, 1 % of 1600, 99 %", 1600, 16, .99, 399},
		{"ISPM 31 table 1, 5 %, 95 %, lot of 100", 100, 5, .95, 45},
		{"ISPM 31, 200", 200, 10, .95, 51},
		{"ISPM 31, 300", 300, 15, .95, 54},
		{"ISPM 31, 400", 400, 20, .95, 55},
		{"ISPM 31, 500", 500, 25, .95, 56},
		{"ISPM 31, 600", 600, 30, .95, 56},
		{"ISPM 31, 1000", 1000, 50, .95, 57},
		// Large lots come to the binomial sizes of the usual audit tables (from memory).
		{"tolerable 1 %, no errors, 95 %", MostListed, MostListed / 100, .95, 299},
		{"tolerable 2 %", MostListed, MostListed / 50, .95, 149},
		{"tolerable 5 %", MostListed, MostListed / 20, .95, 59},
		{"tolerable 10 %", MostListed, MostListed / 10, .95, 29},
		{"tolerable 5 %, 90 %", MostListed, MostListed / 20, .90, 45},
		// Own values with exact fractions: row 14 of the table of check values, and
		// ties, which a comparison in floating point gets wrong by one.
		{"row 14", 200, 10, .95, 51},
		{"row 14", 50, 5, .90, 18},
		{"tie", 20, 1, .95, 19},
		{"tie", 40, 1, .95, 38},
		{"tie", 60, 1, .95, 57},
		{"tie", 40, 2, .90, 27},
		{"tie", 100, 1, .99, 99},
		{"one tool", 1, 1, .95, 1},
		{"all missing", 40, 40, .999999, 1},
	}
	for _, tt := range tests {
		if got := smallest(t, tt.listed, tt.missing, tt.confidence); got != tt.want {
			t.Errorf("%s: %d, want %d", tt.source, got, tt.want)
		}
	}
}

// TestSmallestSampleBesideTheApproximation: the documentation of the R package
// RSurveillance (n.hypergeo) prints sizes by n = (N/se)(1 − (1 − C)^(1/d)), se = 1,
// which are none to two too high.
func TestSmallestSampleBesideTheApproximation(t *testing.T) {
	tests := []struct {
		listed, missing  int
		confidence       float64
		published, exact int
	}{
		{100, 5, .5, 13, 13}, {100, 5, .8, 28, 27}, {100, 5, .9, 37, 37}, {100, 5, .95, 46, 45},
		{80, 1, .95, 76, 76}, {80, 2, .95, 63, 62}, {80, 5, .95, 37, 36}, {80, 10, .95, 21, 20},
		{100, 1, .95, 95, 95}, {200, 2, .95, 156, 155}, {500, 5, .95, 226, 225},
		{1000, 10, .95, 259, 258}, {10000, 100, .95, 296, 294},
	}
	for _, tt := range tests {
		formula := math.Ceil(float64(tt.listed)*(1-math.Pow(1-tt.confidence, 1/float64(tt.missing))) - 1e-9)
		if int(formula) != tt.published {
			t.Errorf("%v: the formula gives %v", tt, formula)
		}
		if got := smallest(t, tt.listed, tt.missing, tt.confidence); got != tt.exact {
			t.Errorf("%v: exact %d", tt, got)
		}
	}
}

func TestSmallestSampleRefuses(t *testing.T) {
	for _, tt := range []struct {
		listed, missing int
		confidence      float64
	}{
		{0, 1, .95}, {-5, 1, .95}, {MostListed + 1, 1, .95}, {20, 0, .95}, {20, -1, .95}, {20, 21, .95},
		{20, 1, 0}, {20, 1, 1}, {20, 1, 1.5}, {20, 1, -.95}, {20, 1, 95}, {20, 1, math.NaN()}, {20, 1, math.Inf(1)},
	} {
		if n, err := Smallest(tt.listed, tt.missing, tt.confidence); !fault.Is(err, fault.Invalid) || n != 0 || fault.Of(err).Hint == "" {
			t.Errorf("%v: %d, %v", tt, n, err)
		}
	}
}

func TestMissingAtMost(t *testing.T) {
	// Own values with exact fractions (money and statistics 4.2 and row 16): the bound,
	// and the probability of finding no more with that many and with one more missing.
	tests := []struct {
		listed, looked, missing int
		confidence              float64
		want                    int
		at, above               float64
	}{
		{100, 45, 0, .95, 4, .086977, .046206},
		{100, 45, 1, .95, 8, .055615, .032146},
		{200, 50, 0, .95, 10, .052094, .038385},
		{200, 50, 1, .95, 16, .056102, .043319},
		{200, 50, 2, .95, 22, .050691, .040031},
		{120, 40, 0, .95, 7, .053401, .034498},
		{120, 40, 1, .95, 11, .065769, .045467},
		{120, 40, 2, .95, 15, .066117, .047312},
		{120, 50, 3, .95, 15, .058567, .038836},
		{60, 20, 1, .95, 11, .056215, .037033},
		{60, 20, 1, .90, 9, .122540, .083779},
	}
	for _, tt := range tests {
		if got := MissingAtMost(tt.listed, tt.looked, tt.missing, tt.confidence); got != tt.want {
			t.Errorf("%v: at most %d", tt, got)
		}
		near(t, "P at the bound", atMost(tt.listed, tt.looked, tt.missing, tt.want), tt.at, 5e-7)
		near(t, "P above it", atMost(tt.listed, tt.looked, tt.missing, tt.want+1), tt.above, 5e-7)
	}
	for _, tt := range []struct {
		listed, looked, missing int
		confidence              float64
	}{{20, 0, 0, .95}, {20, 21, 0, .95}, {20, 5, 6, .95}, {20, 5, -1, .95}, {20, 5, 1, 1}, {20, 5, 1, math.NaN()}, {20, 20, 20, .95}} {
		if got := MissingAtMost(tt.listed, tt.looked, tt.missing, tt.confidence); got != tt.listed {
			t.Errorf("%v: claims at most %d", tt, got)
		}
	}
}

// cumulative is P(X ≤ k | N, D, n) from its definition.
func cumulative(listed, looked, k, missing int) *big.Rat {
	sum := new(big.Int)
	for x := 0; x <= k; x++ {
		if x <= missing && looked-x >= 0 && looked-x <= listed-missing {
			a := new(big.Int).Binomial(int64(missing), int64(x))
			sum.Add(sum, a.Mul(a, new(big.Int).Binomial(int64(listed-missing), int64(looked-x))))
		}
	}
	return new(big.Rat).SetFrac(sum, new(big.Int).Binomial(int64(listed), int64(looked)))
}

var confidences = []float64{.5, .8, .9, .95, .975, .99, .999}

func TestMissingAtMostIsWhatTryingEveryNumberGives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		listed := rapid.IntRange(1, 60).Draw(t, "listed")
		looked := rapid.IntRange(0, listed).Draw(t, "looked")
		k := rapid.IntRange(0, looked).Draw(t, "missing")
		confidence := rapid.SampledFrom(confidences).Draw(t, "confidence")
		want := -1
		for d := range listed + 1 {
			if cumulative(listed, looked, k, d).Cmp(missed(confidence)) > 0 {
				want = d
			}
		}
		if got := MissingAtMost(listed, looked, k, confidence); got != want {
			t.Fatalf("at most %d, want %d", got, want)
		}
	})
}

func TestSmallestIsWhatTryingEveryNumberGives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		listed := rapid.IntRange(1, 80).Draw(t, "listed")
		missing := rapid.IntRange(1, listed).Draw(t, "missing")
		confidence := rapid.SampledFrom(confidences).Draw(t, "confidence")
		want := 0
		for cumulative(listed, want, 0, missing).Cmp(missed(confidence)) > 0 {
			want++
		}
		got := smallest(t, listed, missing, confidence)
		if got != want {
			t.Fatalf("look at %d, want %d", got, want)
		}
		exact, _ := cumulative(listed, got, 0, missing).Float64()
		if d := Detects(listed, got, missing); math.Abs(d-(1-exact)) > 1e-12 {
			t.Fatalf("detects %v, want %v", d, 1-exact)
		}
	})
}

// TestSizeAndBoundAgree: a sample of the least size for d missing that finds all it
// looked at leaves room for d − 1 at most, and for exactly that unless the same size
// already serves d − 1.
func TestSizeAndBoundAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		listed := rapid.IntRange(1, 3000).Draw(t, "listed")
		missing := rapid.IntRange(1, listed).Draw(t, "missing")
		confidence := rapid.SampledFrom(confidences).Draw(t, "confidence")
		n := smallest(t, listed, missing, confidence)
		bound := MissingAtMost(listed, n, 0, confidence)
		if bound > missing-1 {
			t.Fatalf("%d looks leave room for %d", n, bound)
		}
		if bound < missing-1 && smallest(t, listed, missing-1, confidence) != n {
			t.Fatalf("%d looks leave room for %d only", n, bound)
		}
	})
}

func TestMoreLooksNeverSayLess(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		listed := rapid.IntRange(2, 20000).Draw(t, "listed")
		looked := rapid.IntRange(1, listed-1).Draw(t, "looked")
		k := rapid.IntRange(0, looked).Draw(t, "missing")
		missing := rapid.IntRange(1, listed-1).Draw(t, "really missing")
		c := rapid.SampledFrom(confidences[:6]).Draw(t, "confidence")
		bound := MissingAtMost(listed, looked, k, c)
		if more := MissingAtMost(listed, looked+1, k, c); more > bound {
			t.Fatalf("one look more, at most %d instead of %d", more, bound)
		}
		if worse := MissingAtMost(listed, looked, min(k+1, looked), c); worse < bound {
			t.Fatalf("one more missing, at most %d instead of %d", worse, bound)
		}
		if surer := MissingAtMost(listed, looked, k, .999); surer < bound {
			t.Fatalf("surer, at most %d instead of %d", surer, bound)
		}
		if bound < k || bound > listed-(looked-k) {
			t.Fatalf("at most %d missing of %d, %d of %d looked at were", bound, listed, k, looked)
		}
		p := Detects(listed, looked, missing)
		if p < 0 || p > 1 || Detects(listed, looked+1, missing) < p || Detects(listed, looked, missing+1) < p {
			t.Fatalf("detects %v", p)
		}
		if smallest(t, listed, missing+1, c) > smallest(t, listed, missing, c) || smallest(t, listed, missing, .999) < smallest(t, listed, missing, c) {
			t.Fatal("more missing needs more looks, or more confidence fewer")
		}
	})
}

// TestFloatsAgreeWithFractions: the plain cases are decided in floating point, whose
// error has to stay far below where whole numbers take over.
func TestFloatsAgreeWithFractions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		listed := rapid.IntRange(1, 3000).Draw(t, "listed")
		looked := rapid.IntRange(0, listed).Draw(t, "looked")
		k := rapid.IntRange(0, looked).Draw(t, "k")
		missing := rapid.IntRange(0, listed).Draw(t, "missing")
		exact, _ := exactlyAtMost(listed, looked, k, missing).Float64()
		if listed < 200 {
			if again, _ := cumulative(listed, looked, k, missing).Float64(); again != exact {
				t.Fatalf("by recursion %v, by definition %v", exact, again)
			}
		}
		if got := atMost(listed, looked, k, missing); math.Abs(got-exact) > 1e-8*exact+1e-300 {
			t.Fatalf("%v, exactly %v", got, exact)
		}
	})
}

func TestAMillionTools(t *testing.T) {
	if got := MissingAtMost(1_000_000, 1_000_000, 17, .95); got != 17 {
		t.Errorf("all looked at: at most %d", got)
	}
	// Half looked at, none missing: four missing would hide with nearly 1/16, five 1/32.
	if got := MissingAtMost(1_000_000, 500_000, 0, .95); got != 4 {
		t.Errorf("half looked at: at most %d", got)
	}
	if got := smallest(t, MostListed, 1, .95); got != MostListed/20*19 {
		t.Errorf("the only missing one: look at %d", got)
	}
}

func TestShares(t *testing.T) {
	low, high := Share(4, 20, .90) // NIST/SEMATECH e-Handbook 7.2.4.1
	near(t, "low of 4 in 20", low, 0.071354, 2e-6)
	near(t, "high of 4 in 20", high, 0.401029, 2e-6)
	low, high = Share(682, 925, .95) // the documented example of R's binom.test (from memory)
	near(t, "low of 682 in 925", low, 0.7076683, 1e-7)
	near(t, "high of 682 in 925", high, 0.7654066, 1e-7)
	near(t, "one-sided high of 1 in 40", ShareAtMost(1, 40, .95), 0.1131884, 1e-7) // own value
	near(t, "one-sided low of 47 in 50", ShareAtLeast(47, 50, .95), 0.852163, 1e-6)
	for _, tt := range []struct{ k, n int }{{0, 0}, {-1, 5}, {6, 5}, {1, -1}} {
		if low, high := Share(tt.k, tt.n, .95); low != 0 || high != 1 {
			t.Errorf("%v: %v to %v", tt, low, high)
		}
	}
	if low, high := Share(0, 20, .95); low != 0 || high >= .2 {
		t.Errorf("none of 20: %v to %v", low, high)
	}
	if low, high := Share(20, 20, .95); low <= .8 || high != 1 {
		t.Errorf("all of 20: %v to %v", low, high)
	}
}

// TestSharesCover: the bounds are where the tail of the binomial distribution is what
// it may be, which is how they are defined.
func TestSharesCover(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 300).Draw(t, "n")
		k := rapid.IntRange(0, n).Draw(t, "k")
		c := rapid.SampledFrom(confidences).Draw(t, "confidence")
		low, high := Share(k, n, c)
		tail := (1 - c) / 2
		if k > 0 && math.Abs(1-binomial(k-1, n, low)-tail) > 1e-9 {
			t.Fatalf("from %v the upper tail is %v", low, 1-binomial(k-1, n, low))
		}
		if k < n && math.Abs(binomial(k, n, high)-tail) > 1e-9 {
			t.Fatalf("to %v the lower tail is %v", high, binomial(k, n, high))
		}
	})
}

func binomial(k, n int, p float64) (sum float64) {
	for x := 0; x <= k; x++ {
		sum += math.Exp(logChoose(float64(n), float64(x)) + float64(x)*math.Log(p) + float64(n-x)*math.Log1p(-p))
	}
	return sum
}

func TestRecordAccuracy(t *testing.T) {
	a, err := AccuracyOf(120, 50, 47, .95) // row 38
	if err != nil {
		t.Fatal(err)
	}
	near(t, "share", a.Share, .94, 1e-12)
	near(t, "low of an endless list", a.LowOfMany, .852163, 1e-6)
	near(t, "low of 120", a.Low, .875, 1e-12)
	if a.WrongAtMost != 15 {
		t.Errorf("at most %d wrong", a.WrongAtMost)
	}
	for _, bad := range [][3]int{{120, 0, 0}, {120, 50, 51}, {120, 121, 1}, {120, 50, -1}, {0, 0, 0}} {
		if _, err := AccuracyOf(bad[0], bad[1], bad[2], .95); !fault.Is(err, fault.Invalid) {
			t.Errorf("%v: %v", bad, err)
		}
	}
	if _, err := AccuracyOf(120, 50, 47, 1); !fault.Is(err, fault.Invalid) {
		t.Error("certain accuracy", err)
	}
}
