package matching

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strconv"
)

// Query is what is asked of an index.
type Query struct {
	Reading
	Maker, Kind string  // keys; empty is any
	None        float64 // chance beforehand that it is none of the registered tools
}

// Verdict on a candidate.
type Verdict string

const (
	Probable Verdict = "probable"
	Possible Verdict = "possible"
)

// The rules for a probable one; our choice.
const (
	probableFrom = 0.95 // posterior
	runnerUp     = 20   // times likelier than the next
	informative  = 5    // cells that agree and tell something
	amissMost    = 1    // cells against it, too many or too few; look-alikes are not counted
	amissFrom    = 0.99 // posterior, where there is one
	worthListing = 1e-3 // posterior of one that is listed at all
	tellsUnder   = 0.5  // chance beforehand of a character that tells something
)

// Told is a cell that speaks for or against a candidate: what was read, and which
// character stands at which place of the serial.
type Told struct {
	Cell   string
	Place  int // from 1
	Serial byte
}

// Candidate is a registered tool that it may be.
type Candidate struct {
	Handle    uint64
	Posterior float64
	Verdict   Verdict
	Decided   []Told // cells that agree and tell something, left to right
	Against   []Told // cells that were read as something else
}

// Answer is what a reading comes to: candidates, likeliest first, the chance of
// none of them, what the tools that are not listed have together, and by how much
// all of that may be wrong because unlikely serials were not looked at one by one.
type Answer struct {
	Candidates []Candidate
	None       float64
	Others     float64
	Error      float64
	Registered int // serials that it was held against
	Worked     int // characters of serials that were worked out, for measuring
}

// Precision is the greatest error of a posterior by serials not looked at.
const Precision = 1e-4

// coarse is how much less likely than the likeliest serial there could be a serial
// may be to be looked at first.
const coarse = 1e-3

// Match answers a query. The most candidates that are listed is most, and more
// where they are as likely as the last. It ends early, with the error of ctx, where
// nobody waits for it any more.
func (ix *Index) Match(ctx context.Context, q Query, m Model, most int) (Answer, error) {
	n := ix.count(q.Maker, q.Kind)
	if n == 0 {
		return Answer{None: 1}, nil
	}
	asked := m.ask(q.Reading)
	t := newTable(asked)
	each := (1 - q.None) / float64(n)
	l0, l := newStrangers(ix, t, q.Maker), ix.looking(ctx, q, asked, t)
	worked, finer := 0, coarse*0.01*l.most
	for least := coarse * l.most; ; {
		f, err := l.look(least)
		if err != nil {
			return Answer{}, err
		}
		worked += f.seen
		none := q.None * l0.of(f.hits)
		// What was let go of comes to anything up to twice this.
		known, rest := each*f.sum, each*f.rest/2
		z := none + known + rest
		if none+known == 0 && least == 0 {
			return Answer{None: 1, Registered: n}, nil // no serial at all reads like that
		}
		if wrong := rest / (none + known); wrong <= Precision || least == 0 {
			return ix.answer(t, f, Answer{None: none / z, Error: wrong, Registered: n, Worked: worked}, each/z, most), nil
		}
		// What is let go of a serial comes to about the limit, if at all.
		least = math.Min(0.3*least, Precision*(none+known))
		if known < none && least < finer && f.seen < n/16 {
			least, finer = finer, 0 // for one that is registered the limit would be far too low
		}
		if !(least > 1e-300) {
			least = 0
		}
	}
}

// answer makes posteriors of likelihoods, where unit is that of likelihood 1.
func (ix *Index) answer(t *table, f found, a Answer, unit float64, most int) Answer {
	for i := range f.hits {
		f.hits[i].like = t.likelihood(f.hits[i].serial) // all of it: the search loses a little on the way
	}
	slices.SortStableFunc(f.hits, func(a, b hit) int {
		return cmp.Or(cmp.Compare(b.like, a.like), compare(a.handle, b.handle))
	})
	a.Others = 1 - a.None
	for i, h := range f.hits {
		if i >= most && !alike(h.like, f.hits[most-1].like) {
			break
		}
		c := Candidate{Handle: h.handle, Posterior: min(h.like*unit, 1), Verdict: Possible}
		if c.Posterior < worthListing {
			break
		}
		amiss := 0
		c.Decided, c.Against, amiss = t.told(h.serial, ix.maker(h.maker))
		next := 0.0
		if i == 0 && len(f.hits) > 1 {
			next = f.hits[1].like
		}
		if i == 0 && h.like >= runnerUp*next && probable(c, amiss) {
			c.Verdict = Probable
		}
		a.Others -= c.Posterior
		a.Candidates = append(a.Candidates, c)
	}
	if a.Others < 1e-12 {
		a.Others = 0 // what rounding left
	}
	return a
}

// probable says whether a candidate that is far ahead of the next is more than
// possible.
func probable(c Candidate, amiss int) bool {
	from := probableFrom
	if amiss > 0 {
		from = amissFrom
	}
	return c.Posterior >= from && len(c.Decided) >= informative && amiss <= amissMost
}

// alike is true of two likelihoods between which nothing decides.
func alike(a, b float64) bool { return a >= b*(1-1e-9) }

// told gives the cells that speak for and against a serial.
func (t *table) told(serial []byte, m *maker) (decided, against []Told, amiss int) {
	at, amiss := t.fit(serial)
	for i, j := range at {
		if j < 0 || t.cells[i].sort != seen {
			continue
		}
		told := Told{Cell: t.cells[i].Text(), Place: j + 1, Serial: letter(serial[j])}
		switch {
		case !slices.Contains(t.cells[i].chars, serial[j]):
			against = append(against, told)
			if !lookAlike(t.cells[i].chars, serial[j]) {
				amiss++
			}
		case m.place(j)[serial[j]] < tellsUnder:
			decided = append(decided, told)
		}
	}
	return decided, against, amiss
}

// lookAlike says whether a character is often taken for one of those.
func lookAlike(read []byte, is byte) bool {
	return int(is) < nSymbols && slices.ContainsFunc(read, func(o byte) bool {
		return confusions[is][o] > 1/float64(nSymbols-1)
	})
}

func letter(code byte) byte {
	if int(code) < nSymbols {
		return symbols[code]
	}
	return '?'
}

// strangers works out L0, once for each maker that it is about.
type strangers struct {
	ix    *Index
	t     *table
	stems *stems
	plain float64 // of which nothing is known

	unnamed float64 // of a maker that nobody named: half of those, half mostly digits
	only    string  // the maker, where it is known
	made    map[string]float64
}

func newStrangers(ix *Index, t *table, only string) *strangers {
	lengths := slices.Clone(ix.base.length)
	for _, l := range ix.tail {
		lengths[len(l.codes)]++
	}
	plain := t.expected(unmarked(lengths))
	return &strangers{ix: ix, t: t, stems: newStems(t.asked), plain: plain, unnamed: (plain + t.expected(digits(lengths))) / 2, only: only, made: map[string]float64{}}
}

// Of how many makers a stranger is thought to be, where the maker is not known: those
// of the likeliest candidates, which are not this much less likely than the first one.
// Less likely ones a search may have let go of.
const (
	makersMost = 4
	makersNear = 1e-3
)

// of is L0 with the makers of these candidates, each by its share of the register;
// of the rest nothing is known.
func (s *strangers) of(hits []hit) (l0 float64) {
	if s.only != "" {
		return s.maker(s.only)
	}
	var names []string
	for _, h := range hits {
		if h.like >= makersNear*hits[0].like && !slices.Contains(names, h.maker) && len(names) < makersMost {
			names = append(names, h.maker)
		}
	}
	left, all := 1.0, float64(s.ix.Len())
	for _, name := range names {
		share := float64(s.ix.ofMaker(name)) / all
		l0 += share * s.maker(name)
		left -= share
	}
	return l0 + max(left, 0)*s.unnamed
}

func (s *strangers) maker(name string) float64 {
	if _, have := s.made[name]; !have {
		s.made[name] = s.t.stranger(s.ix.maker(name), s.stems, s.plain)
	}
	return s.made[name]
}

// Words says what was read at which place of the serial, and what stands there
// where it differs.
func (t Told) Words(differs bool) string {
	words := t.Cell + " at place " + strconv.Itoa(t.Place)
	if differs {
		words += " where " + string(t.Serial) + " stands"
	}
	return words
}
