package matching

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
)

// The hidden channel: serials of invented makers, worn and misread in another way
// than the model thinks. Its confusions, its rates, its dropped and doubled
// characters and its wrong lengths are not those of the model.

// patterns make serials of invented makers; the same seed goes on in the same
// batches.
var patterns = []struct {
	maker string
	next  func(r *rand.Rand) string
}{
	{"BRINDLE", batches("KD40", "KD41")},
	{"HALVORSEN", batches("HV22", "HV23", "HX22")},
	{"TORVIK", func(r *rand.Rand) string { return fmt.Sprintf("%08d", r.IntN(1e8)) }},
	{"ASHDOWN", func(r *rand.Rand) string {
		return fmt.Sprintf("%c%06d%c", letterOf(r), r.IntN(1e6), letterOf(r))
	}},
	{"QUELL", func(r *rand.Rand) string {
		var b strings.Builder
		for range 10 {
			b.WriteByte(symbols[r.IntN(nSymbols)])
		}
		return b.String()
	}},
	{"MARROW", func(r *rand.Rand) string { return fmt.Sprintf("SN%07d", 2_300_000+r.IntN(90_000)) }},
	{"PELL", func(r *rand.Rand) string { return fmt.Sprintf("%04d%c%04d", r.IntN(1e4), letterOf(r), r.IntN(1e4)) }},
	{"OSTROW", func(r *rand.Rand) string {
		return fmt.Sprintf("20%02d%02d%02d%04d", 19+r.IntN(6), 1+r.IntN(12), 1+r.IntN(28), r.IntN(3000))
	}},
}

func letterOf(r *rand.Rand) byte { return symbols[10+r.IntN(26)] }

// batches are stems with five digits after them, nine in ten; the tenth has a letter.
func batches(stems ...string) func(r *rand.Rand) string {
	return func(r *rand.Rand) string {
		s := []byte(fmt.Sprintf("%s%05d", stems[r.IntN(len(stems))], r.IntN(1e5)))
		if r.IntN(10) == 0 {
			s[len(s)-1-r.IntN(5)] = letterOf(r)
		}
		return string(s)
	}
}

// trueChannel is how serials are really misread: other pairs than the model's, in
// other shares, and much that looks like nothing.
type trueChannel struct {
	to [nSymbols][nSymbols]float64
}

const (
	trueDrop, trueDouble = 0.01, 0.01
	wrongLength          = 0.1 // of worn stretches, one character more or less than there are
)

// trueErrors is how often a character of each stated confidence is wrong.
var trueErrors = []struct{ stated, share, wrong float64 }{{0, 0.7, 0.03}, {0.8, 0.2, 0.18}, {0.6, 0.1, 0.35}}

func newTrueChannel() *trueChannel {
	c := &trueChannel{}
	worn := strings.Fields("06 08 B0 E8 35 39 49 7Z 71 5B 6E CO GO UO VN KH MW PF RK TY SG 2Z IT LE 8S DB AH XY JU")
	for t := range c.to {
		near := []int{}
		for _, p := range worn {
			a, b := strings.IndexByte(symbols, p[0]), strings.IndexByte(symbols, p[1])
			if a == t {
				near = append(near, b)
			}
			if b == t {
				near = append(near, a)
			}
		}
		for o := range c.to[t] {
			if o != t {
				c.to[t][o] = 0.35 / 35
			}
		}
		for i, o := range near {
			c.to[t][o] += 0.65 * 2 * float64(len(near)-i) / float64(len(near)*(len(near)+1))
		}
		if len(near) == 0 {
			for o := range c.to[t] {
				c.to[t][o] /= 0.35
			}
		}
	}
	return c
}

func (c *trueChannel) misread(r *rand.Rand, t byte) byte {
	x := r.Float64()
	for o, p := range c.to[t] {
		if x -= p; x < 0 {
			return byte(o)
		}
	}
	return t
}

// worn is a reading as somebody types it: characters, and a stretch of which
// nothing is left.
type worn struct {
	text  string
	cells []wornCell
}

type wornCell struct {
	code  byte
	error float64 // how often a character that is stated so is wrong
	lost  int     // characters stated to be lost here; -1: some
}

// damage wears lost characters off a serial, in one stretch or one by one, and
// misreads the rest.
func (c *trueChannel) damage(r *rand.Rand, serial string, lost int) worn {
	gone := map[int]bool{}
	at := r.IntN(len(serial) - lost + 1)
	for k := range lost {
		gone[at+k] = true
	}
	if r.IntN(2) == 0 {
		for gone = map[int]bool{}; len(gone) < lost; {
			gone[r.IntN(len(serial))] = true
		}
	}
	var w worn
	for j, t := range codesOf(serial) {
		if gone[j] {
			if last := len(w.cells) - 1; last >= 0 && w.cells[last].lost > 0 {
				w.cells[last].lost++
			} else {
				w.cells = append(w.cells, wornCell{lost: 1})
			}
			continue
		}
		x := r.Float64()
		times := 1
		if x < trueDrop {
			times = 0
		} else if x < trueDrop+trueDouble {
			times = 2
		}
		for range times {
			w.cells = append(w.cells, c.oneRead(r, t))
		}
	}
	w.write(r)
	return w
}

func (c *trueChannel) oneRead(r *rand.Rand, t byte) wornCell {
	x, sure := r.Float64(), trueErrors[0]
	for _, e := range trueErrors {
		if sure = e; x < e.share {
			break
		}
		x -= e.share
	}
	if r.Float64() < sure.wrong {
		t = c.misread(r, t)
	}
	return wornCell{code: t, error: sure.wrong}
}

// write types the reading: a lost stretch as so many ?, sometimes one too few or
// too many, or as *.
func (w *worn) write(r *rand.Rand) {
	var b strings.Builder
	for i := range w.cells {
		c := &w.cells[i]
		if c.lost == 0 {
			b.WriteByte(symbols[c.code])
			for _, e := range trueErrors {
				if e.wrong == c.error && e.stated != 0 {
					fmt.Fprintf(&b, "@%.1f ", e.stated)
				}
			}
			continue
		}
		if r.IntN(3) == 0 {
			c.lost = -1
			b.WriteByte('*')
			continue
		}
		if x := r.Float64(); x < wrongLength/2 && c.lost > 1 {
			c.lost--
		} else if x > 1-wrongLength/2 {
			c.lost++
		}
		b.WriteString(strings.Repeat("?", c.lost))
	}
	w.text = b.String()
}

// likelihood of what was typed, by the channel that made it.
func (c *trueChannel) likelihood(w worn, serial []byte) float64 {
	n := len(serial)
	f := make([]float64, n+1)
	skip := func() {
		for j := 1; j <= n; j++ {
			f[j] += trueDrop * f[j-1]
		}
	}
	f[0] = 1
	skip()
	for i, cell := range w.cells {
		next := make([]float64, n+1)
		for j := range next {
			if cell.lost != 0 {
				for k := 1; k <= j && k <= 8; k++ {
					p := 1.0 / 3
					if cell.lost > 0 {
						if p = wrongLength / 3; k == cell.lost {
							p = 2 * (1 - wrongLength) / 3
						} else if k < cell.lost-1 || k > cell.lost+1 {
							p = 0
						}
					}
					next[j] += p * f[j-k]
				}
				continue
			}
			if j == 0 {
				continue
			}
			read := cell.error * c.to[serial[j-1]][cell.code]
			if serial[j-1] == cell.code {
				read += 1 - cell.error
			}
			next[j] += read * f[j-1]
			if i > 0 && w.cells[i-1].lost == 0 {
				next[j] += trueDouble * read * f[j] // read twice
			}
		}
		f = next
		skip()
	}
	return f[n]
}

// world is a register of invented serials, and others that might have been in it.
type world struct {
	ix       *Index
	serials  []string
	makers   []string
	channel  *trueChannel
	outsider func(r *rand.Rand, sameBatch bool) string
}

func newWorld(size int) *world {
	r := rand.New(rand.NewPCG(8, 1))
	w := &world{channel: newTrueChannel()}
	b, have := NewBuilder(), map[string]bool{}
	for len(w.serials) < size {
		p := patterns[len(w.serials)%len(patterns)]
		s := p.next(r)
		if have[s] {
			continue
		}
		have[s] = true
		b.Add(Entry{Handle: uint64(len(w.serials)), Maker: p.maker, Serial: s})
		w.serials, w.makers = append(w.serials, s), append(w.makers, p.maker)
	}
	w.ix = b.Index()
	w.outsider = func(r *rand.Rand, sameBatch bool) string {
		for {
			s := patterns[r.IntN(len(patterns))].next(r)
			if !sameBatch {
				s = stranger(r)
			}
			if !have[s] {
				return s
			}
		}
	}
	return w
}

// stranger is a serial of a maker that the register does not know.
func stranger(r *rand.Rand) string {
	switch r.IntN(3) {
	case 0:
		return fmt.Sprintf("%c%c%07d", letterOf(r), letterOf(r), r.IntN(1e7))
	case 1:
		return fmt.Sprintf("%09d", r.IntN(1e9))
	}
	return fmt.Sprintf("%04d%c%c%04d", r.IntN(1e4), letterOf(r), letterOf(r), r.IntN(1e4))
}

// answered is what an index says of a query.
func answered(t testing.TB, ix *Index, q Query, most int) Answer {
	t.Helper()
	a, err := ix.Match(t.Context(), q, Usual, most)
	if err != nil {
		t.Fatal(q.Reading, err)
	}
	return a
}

func (w *world) match(t *testing.T, text string, none float64) Answer {
	t.Helper()
	return answered(t, w.ix, Query{Reading: read(t, text), None: none}, 10)
}

// hiddenSize is the share of the full size at which the hidden channel is tested.
func hiddenSize(full int) int {
	switch os.Getenv("PAWL_SIZE") {
	case "full":
		return full
	case "ci":
		return full / 4
	}
	return full / 10
}

// The bar of the matching, on the hidden channel at p0 0.2: what is called
// probable is right, strangers are not called probable, and what two lost
// characters leave is still enough half of the time.
func TestHiddenChannel(t *testing.T) {
	const none = 0.2
	w, r := newWorld(2000), rand.New(rand.NewPCG(8, 2))
	trues := hiddenSize(4000)
	probable, wrong, ahead, oracle, confident, right := 0, 0, 0, 0, 0, 0
	two, twoProbable := 0, 0
	for i := range trues {
		at, lost := r.IntN(len(w.serials)), i%4
		seen := w.channel.damage(r, w.serials[at], lost)
		a := w.match(t, seen.text, none)
		top := first(a).Posterior > 0 && first(a).Handle == uint64(at)
		if top {
			ahead++
		}
		if w.best(seen) == at {
			oracle++
		}
		if lost == 2 {
			two++
		}
		if c := first(a); c.Verdict == Probable {
			probable++
			if !top {
				wrong++
			}
			if lost == 2 {
				twoProbable++
			}
		}
		if c := first(a); c.Posterior >= 0.9 {
			confident++
			if top {
				right++
			}
		} else if a.None >= 0.9 {
			confident++
		}
	}
	outsiders, called := hiddenSize(12000), [2]int{}
	for i := range outsiders {
		seen := w.channel.damage(r, w.outsider(r, i%2 == 0), i/2%4)
		a := w.match(t, seen.text, none)
		if c := first(a); c.Verdict == Probable {
			called[i%2]++
		}
		if i >= trues/4 {
			continue // as many strangers as p0 says
		}
		if first(a).Posterior >= 0.9 {
			confident++
		} else if a.None >= 0.9 {
			confident++
			right++
		}
	}
	t.Logf("%d true readings: %d probable, %d of them wrong; first in the list %d, for the oracle %d", trues, probable, wrong, ahead, oracle)
	t.Logf("two lost: %d of %d probable; %d of %d answers from 0.9 on are right", twoProbable, two, right, confident)
	t.Logf("%d outsiders: %d of the same batches and %d others called probable", outsiders, called[0], called[1])
	if wrong*200 > probable {
		t.Errorf("%d of %d probable ones are wrong", wrong, probable)
	}
	// Fewer than at full size may by chance miss the bar by a few: two standard
	// deviations.
	most, half := float64(outsiders)/500, float64(two)/2
	if os.Getenv("PAWL_SIZE") != "full" {
		most, half = most+2*math.Sqrt(most), half-math.Sqrt(float64(two))
	}
	if float64(called[0]+called[1]) > most {
		t.Errorf("%d of %d outsiders are called probable", called[0]+called[1], outsiders)
	}
	if float64(twoProbable) < half {
		t.Errorf("%d of %d readings with two lost characters are probable", twoProbable, two)
	}
	if 10*right < 9*confident {
		t.Errorf("%d of %d answers at 0.9 and more are right", right, confident)
	}
	if float64(ahead) < float64(oracle)-0.05*float64(trues) {
		t.Errorf("first in the list %d times, for the oracle %d of %d", ahead, oracle, trues)
	}
}

// first is the likeliest candidate; of none, nothing.
func first(a Answer) (c Candidate) {
	if len(a.Candidates) > 0 {
		c = a.Candidates[0]
	}
	return c
}

// best is the serial that the true channel makes likeliest.
func (w *world) best(seen worn) int {
	best, at := 0.0, -1
	for i, s := range w.serials {
		if p := w.channel.likelihood(seen, codesOf(s)); p > best {
			best, at = p, i
		}
	}
	return at
}
