package matching

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"runtime"
	"slices"
	"testing"
	"time"
)

// All of an index without any search: every serial by itself.
func brute(ix *Index, q Query, m Model) (posterior map[uint64]float64, none float64) {
	f := newTable(m.ask(q.Reading))
	likes, sum := map[uint64]float64{}, 0.0
	var hits []hit
	each := func(h uint64, maker string, s []byte) {
		likes[h] = f.likelihood(s)
		sum += likes[h]
		hits = append(hits, hit{h, maker, s, likes[h]})
	}
	for k := range ix.base.len() {
		if !ix.dead.has(k) {
			each(ix.base.handle[k], ix.base.makers[ix.base.makerAt(uint32(k))], ix.base.serial(k))
		}
	}
	for _, l := range ix.tail {
		each(l.Handle, l.Maker, l.codes)
	}
	slices.SortFunc(hits, func(a, b hit) int {
		switch {
		case a.like > b.like:
			return -1
		case a.like < b.like:
			return 1
		}
		return compare(a.handle, b.handle)
	})
	each1 := (1 - q.None) / float64(len(likes))
	none = q.None * newStrangers(ix, f, q.Maker).of(hits[:min(len(hits), listedMost)])
	z := none + each1*sum
	posterior = map[uint64]float64{}
	for h, l := range likes {
		posterior[h] = each1 * l / z
	}
	return posterior, none / z
}

// What the search gives up on changes no posterior by more than it says.
func TestSearchAgreesWithEverySerial(t *testing.T) {
	w, r := newWorld(6000), rand.New(rand.NewPCG(8, 3))
	ix := w.ix
	var changes []Change
	for i := range 40 { // some are changed, some are new
		changes = append(changes, Change{Entry: Entry{Handle: uint64(i * 100), Maker: w.makers[i], Serial: patterns[i%len(patterns)].next(r)}},
			Change{Entry: Entry{Handle: uint64(10000 + i), Maker: w.makers[i], Serial: patterns[i%len(patterns)].next(r)}, New: true})
	}
	ix = ix.Update(changes)
	for i := range 60 {
		seen := w.channel.damage(r, w.serials[r.IntN(len(w.serials))], i%5)
		if i%3 == 0 {
			seen = w.channel.damage(r, w.outsider(r, true), i%5)
		}
		q := Query{Reading: read(t, seen.text), None: 0.2}
		a := answered(t, ix, q, 10)
		want, none := brute(ix, q, Usual)
		if a.Registered != 6040 || a.Error > Precision || math.Abs(a.None-none) > Precision {
			t.Errorf("%s: of %d none %g, want %g; error %g", seen.text, a.Registered, a.None, none, a.Error)
		}
		sum := a.None + a.Others
		for _, c := range a.Candidates {
			if math.Abs(c.Posterior-want[c.Handle]) > Precision {
				t.Errorf("%s: %d has %g, want %g", seen.text, c.Handle, c.Posterior, want[c.Handle])
			}
			sum += c.Posterior
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Errorf("%s: all of it comes to %g", seen.text, sum)
		}
	}
}

// A tool that is changed, new or without its serial is matched as it is now, sorted
// in or not.
func TestUpdate(t *testing.T) {
	w := newWorld(400)
	top := func(ix *Index, text string) (uint64, float64) {
		a := answered(t, ix, Query{Reading: read(t, text), None: 0.2}, 5)
		return first(a).Handle, first(a).Posterior
	}
	old := w.serials[7]
	ix := w.ix.Update([]Change{{Entry: Entry{Handle: 7, Maker: "BRINDLE", Serial: "ZZ99881"}}, {Entry: Entry{Handle: 900, Maker: "PELL", Serial: "YY77123"}, New: true}})
	for range 2 {
		if h, p := top(ix, "ZZ9988?"); h != 7 || p < 0.9 {
			t.Errorf("the changed serial is that of %d, %g", h, p)
		}
		if h, _ := top(ix, "YY7712?"); h != 900 {
			t.Errorf("the new serial is that of %d", h)
		}
		if h, p := top(ix, old); h == 7 || p > 0.5 {
			t.Errorf("the serial that was is still that of %d, %g", h, p)
		}
		if ix.Len() != 401 {
			t.Errorf("%d serials", ix.Len())
		}
		ix = ix.Sorted()
	}
	ix = ix.Update([]Change{{Entry: Entry{Handle: 900}}})
	if h, p := top(ix, "YY7712?"); h == 900 || p > 0.5 || ix.Len() != 400 {
		t.Errorf("without its serial it is still %d, %g of %d", h, p, ix.Len())
	}
	sorted := 0
	for i := range 500 {
		if ix.Crowded() {
			ix, sorted = ix.Sorted(), sorted+1
		}
		ix = ix.Update([]Change{{Entry: Entry{Handle: uint64(2000 + i), Maker: "TORVIK", Kind: "jack", Serial: fmt.Sprintf("77%05d", i*7)}, New: true}})
	}
	if sorted == 0 || ix.Sorted().Crowded() {
		t.Errorf("sorted %d times on the way", sorted)
	}
	if h, _ := top(ix, "770070?"); h != 2100 {
		t.Errorf("a serial of many new ones is that of %d", h)
	}
	a := answered(t, ix, Query{Reading: read(t, "770070?"), Kind: "jack", None: 0.2}, 5)
	if a.Registered != 500 || first(a).Handle != 2100 {
		t.Errorf("of the kind: %+v", a)
	}
	a = answered(t, ix, Query{Reading: read(t, "770070?"), Maker: "TORVIK", Kind: "lift", None: 0.2}, 5)
	if a.Registered != 0 || a.None != 1 {
		t.Errorf("of a kind that there is not: %+v", a)
	}
}

// waiting is a context in which somebody waits until it was asked so many times.
type waiting struct {
	context.Context
	asked, until int
}

func (w *waiting) Err() error {
	if w.asked++; w.asked > w.until {
		return context.Canceled
	}
	return nil
}

// A reading that takes long ends where nobody waits for it any more, soon after.
func TestMatchEndsWhereNobodyWaits(t *testing.T) {
	ix, _ := many(20_000)
	q := Query{Reading: read(t, "*?*{0,20}3?*{0,20}?4*"), None: 0.2}
	patient := &waiting{t.Context(), 0, math.MaxInt}
	whole, err := ix.Match(patient, q, Usual, 10)
	if err != nil || whole.Worked < ix.base.len() || patient.asked < 5 {
		t.Fatalf("nothing that takes long: %d worked out, asked %d times, %v", whole.Worked, patient.asked, err)
	}
	for until := range patient.asked {
		hasty := &waiting{t.Context(), 0, until}
		if _, err := ix.Match(hasty, q, Usual, 10); !errors.Is(err, context.Canceled) || hasty.asked != until+1 {
			t.Errorf("left after it was asked %d times: asked %d times, %v", until, hasty.asked, err)
		}
	}
}

// many is an index of serials of invented makers, for measuring.
func many(size int) (*Index, []string) {
	r, b := rand.New(rand.NewPCG(8, 5)), NewBuilder()
	var some []string
	for i := range size {
		p := patterns[r.IntN(len(patterns))]
		maker := r.IntN(12)
		s := p.next(r)
		if maker > 0 { // other makers begin otherwise
			s = fmt.Sprintf("%c%s", symbols[10+maker], s)
		}
		b.Add(Entry{Handle: uint64(i), Maker: fmt.Sprint(p.maker, maker), Kind: fmt.Sprint("kind ", i%40), Serial: s})
		if i%(1+size/2000) == 0 {
			some = append(some, s)
		}
	}
	return b.Index(), some
}

// scan reads every packed byte once: what a search is measured against.
func scan(b []byte) (sum int) {
	for _, c := range b {
		sum += int(c)
	}
	return sum
}

// mostScans is the limit of an answer, as scans of the packed serials.
const mostScans = 12

// The index holds at most 64 bytes a serial, the middle answer works out fewer
// characters than all serials have, and 99 of 100 take at most the limit of scans of
// the packed serials in the same moment, or twice that, as a busy machine holds up one
// or the other; where there are no packs, the middle one does.
func TestSearchSpeed(t *testing.T) {
	size, asks := 100_000, 60
	switch os.Getenv("PAWL_SIZE") {
	case "ci":
		size = 300_000
	case "full":
		size, asks = 1_000_000, 400
	}
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	ix, some := many(size)
	runtime.GC()
	runtime.ReadMemStats(&after)
	held := float64(after.HeapAlloc-before.HeapAlloc) / (1 << 20)
	c, r := newTrueChannel(), rand.New(rand.NewPCG(8, 6))
	var worked []int
	var took, limits []time.Duration
	for i := range asks {
		s := some[r.IntN(len(some))]
		if i%5 == 0 {
			s = stranger(r)
		}
		q := Query{Reading: read(t, c.damage(r, s, i%4).text), None: 0.2}
		from := time.Now()
		for range mostScans { // about as long as an answer, so that a busy machine holds up both
			if scan(ix.Bytes()) == 0 {
				t.Fatal("nothing to scan")
			}
		}
		between := time.Now()
		a := answered(t, ix, q, 10)
		limits, took = append(limits, between.Sub(from)), append(took, time.Since(between))
		if a.Error > Precision {
			t.Errorf("%s: error %g", q.Reading, a.Error)
		}
		worked = append(worked, a.Worked)
	}
	slices.Sort(took)
	slices.Sort(limits)
	at := func(share int) int { return asks*share/100 - 1 }
	limit := limits[at(50)]
	inScans := func(share int) float64 { return mostScans * float64(took[at(share)]) / float64(limit) }
	t.Logf("%d serials: %.1f MB held; one scan %v; answers within %v (50 of 100), %v (90), %v (99)", ix.Len(), held, limit/mostScans, took[at(50)], took[at(90)], took[at(99)])
	t.Logf("in scans: %.1f (50 of 100), %.1f (90), %.1f (99)", inScans(50), inScans(90), inScans(99))
	slices.Sort(worked)
	middle, all := worked[len(worked)/2], len(ix.Bytes())
	t.Logf("the middle answer worked out %d characters of %d", middle, all)
	if middle > all {
		t.Errorf("the middle answer worked out %d characters, all serials have %d", middle, all)
	}
	share := 99
	if !packed {
		share = 50
	}
	if ratio := inScans(share); size > 100_000 && ratio > 2*mostScans {
		t.Errorf("%d of 100 answers take up to %.1f scans, the limit is %d", share, ratio, mostScans)
	}
	if each := held * (1 << 20) / float64(ix.Len()); each > 64 {
		t.Errorf("the index holds %.0f bytes a serial, want 64", each)
	}
	runtime.KeepAlive(ix)
}
