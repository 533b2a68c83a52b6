package matching

import (
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
)

// inPacks says to follow in packs or not, for one test.
func inPacks(t *testing.T, do bool) {
	t.Helper()
	if do && !packed {
		t.Skip("this processor has no AVX-512, and follows no packs")
	}
	before := packed
	packed = do
	t.Cleanup(func() { packed = before })
}

// followed holds every pack of some serials, begun where they no longer agree, against
// the likelihood of each serial worked out by itself: what a pack says is no more than
// that, and with what it let go of no less.
func followed(t *testing.T, reading Reading, serials []string, least float64) (whole, left int) {
	t.Helper()
	b := NewBuilder()
	for i, s := range serials {
		b.Add(Entry{Handle: uint64(i), Serial: s})
	}
	ix, a := b.Index(), Usual.ask(reading)
	full := newTable(a)
	l := ix.looking(t.Context(), Query{Reading: reading}, a, full)
	l.least = max(least*l.most, leastInAll)
	p := l.packing
	for i := range ix.base.groups {
		g := &ix.base.groups[i]
		bounds := l.boundsOf(i)
		if !l.begin(bounds, g.length) {
			continue
		}
		p.ask(bounds, l.least)
		for from := g.from; from < g.to; from += lanes {
			to, at := min(from+lanes, g.to), g.length-1
			for _, same := range ix.base.same[from+1 : to] {
				at = min(at, int(same))
			}
			at, alive := l.follow(ix.base.in(g, from), 0, at, bounds)
			if !alive {
				continue
			}
			seen := l.seen
			l.pack(g, from, to, at)
			if columns := (l.seen - seen) / (to - from); at+columns < g.length {
				left++
			} else {
				whole++
			}
			for k := from; k < to; k++ {
				want := full.likelihood(ix.base.in(g, k))
				said, lost := float64(p.sum[k-from])/scaled, float64(p.lost[k-from])/scaled+l.lost[at]
				if at+(l.seen-seen)/(to-from) < g.length {
					said, lost = 0, lost+said
				}
				rounded := rounding*float64(len(p.steps)+g.length)*(want+lost) + 1e-50
				if said > want+rounded || said+lost < want-rounded {
					t.Errorf("%q of %q: a pack says %g and lost %g, it is %g", reading, string(symbolsOf(ix.base.in(g, k))), said, lost, want)
				}
			}
		}
	}
	return whole, left
}

// symbolsOf writes codes out.
func symbolsOf(codes []byte) (out []byte) {
	for _, c := range codes {
		if int(c) == other {
			out = append(out, '#')
			continue
		}
		out = append(out, symbols[c])
	}
	return out
}

// A pack comes to what each of its serials comes to, whatever stands in a reading.
func TestPack(t *testing.T) {
	inPacks(t, true)
	serials := newWorld(3000).serials
	for i := range 40 {
		serials = append(serials, strings.Repeat("7K2QQQQ", maxGaps)+strings.Repeat("A4Z", 9)+strconv.Itoa(100+i))
	}
	long := strings.Repeat("7K2*{3,9}", maxGaps) + strings.Repeat("A4?", 10)
	for _, text := range []string{
		"K", "KD40782", "?????7", "KD*", "*82P", "K*2", "*{0,1}D4", "K*{1,1}4", "KD*{2,3}07*{0,57}2", "*4*7*2*",
		"{B8}{O0}4@0.6 7@0.3 ??9", "KD40782KD40782KD40782", "K*{4,64}9", long,
	} {
		whole, left := 0, 0
		for _, least := range []float64{0, 1e-18, 1e-9, 1e-4, 0.5} {
			w, l := followed(t, read(t, text), serials, least)
			whole, left = whole+w, left+l
		}
		if whole == 0 {
			t.Errorf("%s: no pack was followed to its end", text)
		}
		t.Logf("%s: %d packs to their end, %d given up", text, whole, left)
	}
}

// Serials and readings of any kind.
func FuzzPack(f *testing.F) {
	f.Add("KD4?8{B8}2*", "KD40882 KD40782 KD4 ZX-77/1 KD40882P", 1e-9)
	f.Add("*{0,64}7*{2,3}?", strings.Repeat("A7Q4 ", 40), 0.0)
	f.Add("7@0.2 K*", strings.Repeat("Ä1 ", 17)+strings.Repeat("9", maxCells), 1e-3)
	f.Fuzz(func(t *testing.T, text, serials string, least float64) {
		inPacks(t, true)
		reading, err := Parse(text)
		if err != nil || !(least >= 0 && least <= 1) || len(serials) > 4096 {
			return
		}
		followed(t, reading, strings.Fields(serials), least)
	})
}

// In packs and without, as on processors that have none, a search says of every
// candidate what all serials taken one by one say.
func TestSearchInPacksAndWithout(t *testing.T) {
	for _, do := range []bool{true, false} {
		t.Run(map[bool]string{true: "in packs", false: "one by one"}[do], func(t *testing.T) {
			inPacks(t, do)
			w, r := newWorld(6000), rand.New(rand.NewPCG(8, 9))
			for i := range 200 {
				q := Query{Reading: read(t, w.channel.damage(r, w.serials[r.IntN(len(w.serials))], i%5).text), None: 0.2}
				a := answered(t, w.ix, q, 10)
				want, none := brute(w.ix, q, Usual)
				if math.Abs(a.None-none) > Precision {
					t.Errorf("%s: none %g, want %g", q.Reading, a.None, none)
				}
				for _, c := range a.Candidates {
					if math.Abs(c.Posterior-want[c.Handle]) > Precision {
						t.Errorf("%s: %d has %g, want %g", q.Reading, c.Handle, c.Posterior, want[c.Handle])
					}
				}
			}
		})
	}
}
