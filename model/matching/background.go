package matching

import (
	"cmp"
	"math"
	"slices"
)

// chances of each character at one place.
type chances [nCodes]float64

// component is one way in which a serial that is not registered may be made: its
// characters, of which the first are known, place by place.
type component struct {
	weight float64
	length int
	place  func(j int) *chances
}

// expected is L0: the likelihood of a reading of serials that are not registered.
func (t *table) expected(all []component) (sum float64) {
	cache := map[*chances][]float64{}
	for _, c := range all {
		for j := range c.length {
			p := c.place(j)
			if cache[p] == nil {
				cache[p] = t.average(p)
			}
			t.column(j+1, cache[p])
		}
		sum += c.weight * t.ends(c.length)
	}
	return sum
}

// average is the likelihood of each cell over the characters of a place.
func (a *asked) average(p *chances) []float64 {
	out := make([]float64, len(a.cells))
	for c, share := range p {
		if share == 0 {
			continue
		}
		for i, l := range a.of[c] {
			out[i] += share * l
		}
	}
	return out
}

// uniform is a place where anything may stand; rest is one beyond a shared stem.
var uniform, rest = evenly(), beyondStem()

func evenly() *chances {
	var p chances
	for t := range nSymbols {
		p[t] = 1 / float64(nSymbols)
	}
	return &p
}

// beyondStem is 90 % a digit and 10 % any character.
func beyondStem() *chances {
	p := *evenly()
	for t := range nSymbols {
		if p[t] *= 0.1; t < 10 {
			p[t] += 0.9 / 10
		}
	}
	return &p
}

// Lengths of serials of which nothing is known.
const usualFrom, usualTo = 6, 12

// unmarked are serials of which nothing is known, in the lengths of the register
// and in the usual ones, half each.
func unmarked(lengths []int) []component {
	anything := func(int) *chances { return uniform }
	var out []component
	for n, share := range spread(lengths) {
		if share > 0 {
			out = append(out, component{share, n, anything})
		}
	}
	return out
}

// digits are serials of which nothing is known but that most makers number with
// digits: as beyond a stem, from the first place on.
func digits(lengths []int) []component {
	out := unmarked(lengths)
	for i := range out {
		out[i].place = func(int) *chances { return rest }
	}
	return out
}

// spread makes shares of counts of lengths, mixed half with the usual ones.
func spread(counts []int) []float64 {
	out, total := make([]float64, max(len(counts), usualTo+1)), 0
	for _, n := range counts {
		total += n
	}
	half := 0.5
	if total == 0 {
		half = 1
	}
	for n, k := range counts {
		if total > 0 {
			out[n] = 0.5 * float64(k) / float64(total)
		}
	}
	for n := usualFrom; n <= usualTo; n++ {
		out[n] += half / (usualTo - usualFrom + 1)
	}
	return out
}

// Maker is what is known of how a maker marks, from at most sampled serials.
type maker struct {
	serials [][]byte
	prefix  int // characters that all of them share
	places  []*chances
	lengths []int
}

// sampled is how many serials of a maker are looked at.
const sampled = 500

const (
	prefixShare = 0.98 // of the prefix that all of a maker's serials share
	shortStem   = 4    // characters of the shortest stem
)

func learn(serials [][]byte) *maker {
	m := &maker{serials: serials, lengths: make([]int, maxCells+1)}
	longest := 0
	for i, s := range serials {
		m.lengths[len(s)]++
		longest = max(longest, len(s))
		if i == 0 {
			m.prefix = len(s)
		}
		m.prefix = min(m.prefix, shared(s, serials[0]))
	}
	if len(serials) < 2 {
		m.prefix = 0
	}
	for j := range longest {
		m.places = append(m.places, m.mixAt(j))
	}
	return m
}

// mixAt is what stands at a place of the maker's serials: the shared prefix, else
// the mix that was seen, add-one smoothed and mixed half with anything.
func (m *maker) mixAt(j int) *chances {
	p := *uniform
	if j < m.prefix {
		for t := range p {
			p[t] *= 1 - prefixShare
		}
		p[m.serials[0][j]] += prefixShare
		return &p
	}
	var counts [nCodes]int
	total := 0
	for _, s := range m.serials {
		if j < len(s) {
			counts[s[j]]++
			total++
		}
	}
	for t := range p {
		p[t] = 0.5*p[t] + 0.5*float64(counts[t]+1)/float64(total+nSymbols)
	}
	return &p
}

// place is what may stand at a place; beyond the longest serial, anything.
func (m *maker) place(j int) *chances {
	if j < len(m.places) {
		return m.places[j]
	}
	return uniform
}

// made are other serials as the maker marks them.
func (m *maker) made() []component {
	var out []component
	for n, share := range spread(m.lengths) {
		if share > 0 {
			out = append(out, component{share, n, m.place})
		}
	}
	return out
}

// stems works out the likelihood of a reading of serials that share their first
// characters with a known one.
type stems struct {
	*columns
	beyond   [][]float64 // by characters still to come, by state: what they come to
	likeRest []float64   // of a character beyond the stem, by state
	bounds   map[int]*bounds
}

func newStems(a *asked) *stems {
	s := &stems{columns: newColumns(statesOf(a)), bounds: map[int]*bounds{}}
	s.likeRest = s.average(rest)
	none := make([]float64, s.last+1)
	none[s.last] = 1
	s.beyond = [][]float64{none}
	return s
}

// after is what so many characters beyond a stem come to from each state, where the
// next step takes the first of them.
func (s *stems) after(many int) []float64 {
	for len(s.beyond) <= many {
		all, next := make([]float64, s.last+1), make([]float64, s.last+1)
		s.within(all, s.beyond[len(s.beyond)-1])
		s.took(next, all, s.likeRest)
		s.beyond = append(s.beyond, next)
	}
	return s.beyond[many]
}

// of is the likelihood of serials that share the first characters with one of the
// maker's, of each depth alike; ok is false where none is long enough.
func (s *stems) of(m *maker) (sum float64, ok bool) {
	used := 0
	for _, serial := range m.serials {
		n := len(serial)
		if n <= shortStem {
			continue
		}
		used++
		b := s.bounds[n]
		if b == nil {
			b = s.bound(n, nil)
			s.bounds[n] = b
		}
		sum += s.shared(serial, b) / float64(n-shortStem)
	}
	if used == 0 {
		return 0, false
	}
	return sum / float64(used), true
}

// shared adds up all depths of one serial.
func (s *stems) shared(serial []byte, b *bounds) (sum float64) {
	alive := s.begin(b, len(serial))
	for d := 0; alive && d < len(serial); d++ {
		if d >= shortStem {
			after := s.after(len(serial) - d)
			column := s.column(d)
			for i := s.lo[d]; i <= s.hi[d]; i++ {
				sum += column[i] * after[i]
			}
		}
		if d+1 < len(serial) {
			_, alive = s.follow(serial, d, d+1, b)
		}
	}
	return sum
}

// Shares of the three backgrounds.
const uniformShare, makerShare, stemShare = 0.25, 0.25, 0.5

// stranger is L0 of a tool of a maker that is not registered, where plain is its
// share of which nothing is known.
func (t *table) stranger(m *maker, stems *stems, plain float64) float64 {
	l0, left := 0.0, 1.0
	if len(m.serials) > 0 {
		l0 += makerShare * t.expected(m.made())
		left -= makerShare
	}
	if stem, ok := stems.of(m); ok {
		l0 += stemShare * stem
		left -= stemShare
	}
	return l0 + left*plain
}

// shared is how many first characters two serials have in common.
func shared(a, b []byte) int {
	n := min(len(a), len(b))
	for j := range n {
		if a[j] != b[j] {
			return j
		}
	}
	return n
}

// chosen takes at most sampled serials, by a hash of their characters, so that
// the same register always gives the same ones.
func chosen(serials [][]byte) [][]byte {
	if len(serials) <= sampled {
		return serials
	}
	type hashed struct {
		hash uint64
		at   int
	}
	// Hashes are spread evenly, so of those up to twice the share that is taken nearly
	// always enough are there to choose from.
	var all []hashed
	for most := math.MaxUint64 / uint64(max(1, len(serials)/(2*sampled))); len(all) < sampled; most = math.MaxUint64 {
		all = all[:0]
		for i, s := range serials {
			h := uint64(14695981039346656037) // FNV-1a
			for _, c := range s {
				h = (h ^ uint64(c)) * 1099511628211
			}
			if h ^= h >> 29; h <= most {
				all = append(all, hashed{h, i})
			}
		}
	}
	slices.SortFunc(all, func(a, b hashed) int {
		return cmp.Or(cmp.Compare(a.hash, b.hash), a.at-b.at)
	})
	out := make([][]byte, sampled)
	for i := range out {
		out[i] = serials[all[i].at]
	}
	return out
}
