package matching

import (
	"math"
	"testing"
)

// plainly is the model of the worked example: no arms, nothing mixed in.
var plainly = Model{Cap: 1, Seen: 0.95}

// The register and background of identity-labels-evidence 3.3.
var worked = []string{"KD408B217", "KD4088217", "KD40BB277", "RT5512093"}

const (
	readingA  = "K@.95 D@.80 4@.95 ? 8@.70 B@.60 2@.95 *{0,3}"
	readingB  = "K@.95 D@.80 4@.95 ? 8@.70 {B8}@.90 2@.95 *{0,3}"
	readingA2 = "K@.95 D@.80 4@.95 ? 8@.95 B@.92 2@.95 *{0,3}"
	readingD  = "X@.95 9@.95 4@.95 ? 0@.9 1@.9 *{0,3}"
	readingC  = "? ? 5@.6 ? *{0,6}"
)

func read(t testing.TB, text string) Reading {
	t.Helper()
	r, err := Parse(text)
	if err != nil {
		t.Fatal(text, err)
	}
	return r
}

// plain is "lengths 6..12 equally likely".
func plain() []component { return unmarked(nil) }

// withMaker is 0.5 plain and 0.5 of total length 9, KD40, then as beyond a stem.
func withMaker() []component {
	known := make([]*chances, 4)
	for j := range known {
		known[j] = &chances{}
		known[j][codesOf("KD40")[j]] = 1
	}
	all := []component{{0.5, 9, func(j int) *chances {
		if j < len(known) {
			return known[j]
		}
		return rest
	}}}
	for _, c := range plain() {
		c.weight /= 2
		all = append(all, c)
	}
	return all
}

// SN-01, SN-02, SN-03 and the values of 3.3.
func TestWorkedExample(t *testing.T) {
	const none = 0.2
	for _, c := range []struct {
		name, reading string
		n             float64
		background    []component
		want          [4]float64 // the first three and none; RT5512093 where it counts
		last          float64
	}{
		{"A uniform, SN-01", readingA, 4, plain(), [4]float64{0.630793, 0.194645, 0.174562, 6.449e-10}, 0},
		{"A maker", readingA, 4, withMaker(), [4]float64{0.630671, 0.194607, 0.174529, 0.000193}, 0},
		{"A of 500, SN-02", readingA, 500, withMaker(), [4]float64{0.615930, 0.190058, 0.170449, 0.023562}, 0},
		{"B, SN-03", readingB, 4, plain(), [4]float64{0.442913, 0.434517, 0.122570, 0}, 0},
		{"A2, SN-03", readingA2, 4, plain(), [4]float64{0.930896, 0.037467, 0.031636, 0}, 0},
		{"D, SN-03", readingD, 4, plain(), [4]float64{0.000361, 0.000361, 0.000361, 0.998918}, 0},
		{"C", readingC, 4, plain(), [4]float64{math.NaN(), math.NaN(), math.NaN(), 0.034176}, 0.954911},
	} {
		f := newTable(plainly.ask(read(t, c.reading)))
		post := make([]float64, 5)
		post[4] = none * f.expected(c.background)
		z := post[4]
		for i, s := range worked {
			post[i] = (1 - none) / c.n * f.likelihood(codesOf(s))
			z += post[i]
		}
		for i, want := range []float64{c.want[0], c.want[1], c.want[2], c.last, c.want[3]} {
			got := post[i] / z
			if math.IsNaN(want) || i == 3 && want == 0 {
				continue
			}
			if math.Abs(got-want) > 6e-7 || want > 0 && want < 1e-6 && math.Abs(got/want-1) > 1e-3 {
				t.Errorf("%s: %d is %.9g, want %.9g", c.name, i, got, want)
			}
		}
	}
	f := newTable(plainly.ask(read(t, readingA)))
	for s, want := range map[string]float64{worked[0]: 0.0720195, worked[1]: 0.0222232, worked[2]: 0.0199303, worked[3]: 2.611e-20} {
		if got := f.likelihood(codesOf(s)); math.Abs(got/want-1) > 2e-4 {
			t.Errorf("L(%s) = %g, want %g", s, got, want)
		}
	}
	if got := f.expected(plain()); math.Abs(got/7.3635e-11-1) > 1e-4 {
		t.Errorf("L0 = %g, want 7.3635e-11", got)
	}
	if got := f.expected(withMaker()); math.Abs(got/2.2040e-05-1) > 1e-4 {
		t.Errorf("L0 = %g, want 2.2040e-05", got)
	}
}

// SN-04: what characters are misread for; every row sums to 1, and so does that
// of slips.
func TestConfusions(t *testing.T) {
	at := func(b byte) int { return int(codesOf(string(b))[0]) }
	for _, c := range []struct {
		o, t byte
		want float64
	}{{'B', '8', 0.462857}, {'8', 'B', 0.645714}, {'O', '0', 0.405714}, {'D', '0', 0.205714}, {'K', 'R', 0.005714}} {
		if got := confusions[at(c.t)][at(c.o)]; math.Abs(got-c.want) > 5e-7 {
			t.Errorf("C(%c|%c) = %.6f, want %.6f", c.o, c.t, got, c.want)
		}
	}
	for c := range nSymbols {
		looks, keys, reads := 0.0, 0.0, 0.0
		for o := range nSymbols {
			looks += confusions[c][o]
			keys += slips[c][o]
			reads += Usual.reads(o, c, 0.8)
		}
		if math.Abs(looks-1) > 1e-12 || math.Abs(keys-1) > 1e-12 || math.Abs(reads-1) > 1e-12 {
			t.Errorf("the rows of %c sum to %g, %g and %g", symbols[c], looks, keys, reads)
		}
	}
}

// A reading may have been typed: a key beside the right one is hit more often than
// one that is neither beside it nor looks like it. The keys are those of the usual
// keyboard, from memory.
func TestTypedSlips(t *testing.T) {
	for _, c := range []struct{ serial, beside, apart string }{
		{"KD408B217", "JD408B217", "WD408B217"},
		{"KD408B217", "KS408B217", "KP408B217"},
		{"KD408B217", "KD408B216", "KD408B214"},
		{"KD408B217", "KD508B217", "KD708B217"},
	} {
		serial := codesOf(c.serial)
		likely := func(text string) float64 { return newTable(Usual.ask(read(t, text))).likelihood(serial) }
		if beside, apart := likely(c.beside), likely(c.apart); beside < 2*apart {
			t.Errorf("%s is read as %s with %g, as %s with %g", c.serial, c.beside, beside, c.apart, apart)
		}
		seen := Model{Arm: Usual.Arm, Mix: Usual.Mix, Cap: Usual.Cap, Seen: Usual.Seen} // without slips
		alone := newTable(seen.ask(read(t, c.beside))).likelihood(serial)
		if typed := likely(c.beside); typed <= alone {
			t.Errorf("%s as %s: %g with slips, %g without", c.serial, c.beside, typed, alone)
		}
	}
}
