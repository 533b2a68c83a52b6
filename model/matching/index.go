package matching

import (
	"bytes"
	"maps"
	"slices"
	"sync"
)

// Entry is a serial that is registered. Maker, Kind and Serial are keys, as the
// register folds them; Handle says to the caller which tool it is.
type Entry struct {
	Handle              uint64
	Maker, Kind, Serial string
}

// Index holds all serials of a register, packed. It never changes: Update and Sorted
// give the next one. It is safe for use by many goroutines.
type Index struct {
	base *base
	dead places  // of the base, that are overtaken
	tail []loose // what came since the base was sorted

	mu     sync.Mutex
	makers map[string]*maker // learned so far
}

// loose is an entry that is not sorted in yet.
type loose struct {
	Entry
	codes []byte
}

// base is sorted by maker, length and serial.
type base struct {
	chars  []byte
	same   []uint8 // first characters that each serial has in common with the one before, within its group
	common []uint8 // and those that all of a pack from there on have
	groups []group
	handle []uint64
	kind   []uint32
	kinds  map[string]uint32
	ofKind []int
	makers []string // sorted
	starts []uint32 // where each maker's serials begin, and the end
	length []int    // how many serials have so many characters
}

// group is serials of one length and maker.
type group struct {
	from, to int // their places
	chars    int // where their characters begin
	length   int
	present  []uint64 // which characters stand at each place, as bits; nil: it was not looked at
}

// in is a serial of a group.
func (s *base) in(g *group, k int) []byte {
	at := g.chars + (k-g.from)*g.length
	return s.chars[at : at+g.length]
}

// serial is the one at a place.
func (s *base) serial(k int) []byte { return s.in(&s.groups[s.groupAt(k)], k) }

// groupAt says in which group a place is.
func (s *base) groupAt(k int) int {
	g, exact := slices.BinarySearchFunc(s.groups, k, func(g group, k int) int { return g.from - k })
	if !exact {
		g--
	}
	return g
}

func (s *base) len() int { return len(s.handle) }

// put adds a serial, which may begin a group.
func (s *base) put(serial []byte, begins bool) {
	k := len(s.same)
	if begins || k == 0 || s.groups[len(s.groups)-1].length != len(serial) {
		s.groups = append(s.groups, group{from: k, chars: len(s.chars), length: len(serial)})
	}
	s.chars = append(s.chars, serial...)
	g := &s.groups[len(s.groups)-1]
	g.to = k + 1
	same := 0
	if k > g.from {
		same = shared(s.in(g, k-1), serial)
	}
	s.same = append(s.same, uint8(same))
}

// grouped is from how many serials on it is looked at which characters they have.
const grouped = 1024

// look finds what packs and the large groups have in common.
func (s *base) look() {
	s.common = make([]uint8, len(s.same))
	for _, g := range s.groups {
		for k := g.from; k < g.to; k++ {
			s.common[k] = uint8(g.length)
			for _, same := range s.same[k+1 : min(k+lanes, g.to)] {
				s.common[k] = min(s.common[k], same)
			}
		}
	}
	for i := range s.groups {
		g := &s.groups[i]
		if g.to-g.from < grouped {
			continue
		}
		g.present = make([]uint64, g.length)
		for k := g.from; k < g.to; k++ {
			for j, c := range s.in(g, k) {
				g.present[j] |= 1 << c
			}
		}
	}
}

// Builder gathers entries for an index.
type Builder struct {
	chars       []byte
	off         []uint32
	handle      []uint64
	maker, kind []uint32
	makers      map[string]uint32
	names       []string
	kinds       map[string]uint32
}

// NewBuilder gives an empty one.
func NewBuilder() *Builder {
	return &Builder{off: []uint32{0}, makers: map[string]uint32{}, kinds: map[string]uint32{}}
}

// Add takes an entry; one without a serial is left out, and so is what no serial
// can be.
func (b *Builder) Add(e Entry) {
	codes := codesOf(e.Serial)
	if len(codes) > 0 && len(codes) <= maxCells {
		b.add(e, codes)
	}
}

func (b *Builder) add(e Entry, codes []byte) {
	if _, known := b.makers[e.Maker]; !known {
		b.makers[e.Maker] = uint32(len(b.names))
		b.names = append(b.names, e.Maker)
	}
	if _, known := b.kinds[e.Kind]; !known {
		b.kinds[e.Kind] = uint32(len(b.kinds))
	}
	b.chars = append(b.chars, codes...)
	b.off = append(b.off, uint32(len(b.chars)))
	b.handle = append(b.handle, e.Handle)
	b.maker, b.kind = append(b.maker, b.makers[e.Maker]), append(b.kind, b.kinds[e.Kind])
}

func (b *Builder) serial(k uint32) []byte { return b.chars[b.off[k]:b.off[k+1]] }

// Index sorts what was gathered. The builder is spent.
func (b *Builder) Index() *Index {
	s := &base{kinds: b.kinds, ofKind: make([]int, len(b.kinds)), length: make([]int, maxCells+1)}
	rank := b.rankMakers(s)
	perm := make([]uint32, len(b.handle))
	for k := range perm {
		perm[k] = uint32(k)
	}
	slices.SortFunc(perm, func(x, y uint32) int {
		if mx, my := rank[b.maker[x]], rank[b.maker[y]]; mx != my {
			return int(mx) - int(my)
		}
		if c := longer(b.serial(x), b.serial(y)); c != 0 {
			return c
		}
		if c := bytes.Compare(b.serial(x), b.serial(y)); c != 0 {
			return c
		}
		return compare(b.handle[x], b.handle[y])
	})
	s.handle, s.kind = make([]uint64, len(perm)), make([]uint32, len(perm))
	s.starts = make([]uint32, len(s.makers)+1)
	for k, p := range perm {
		s.handle[k], s.kind[k] = b.handle[p], b.kind[p]
		s.ofKind[b.kind[p]]++
		s.length[len(b.serial(p))]++
		s.starts[rank[b.maker[p]]+1]++
	}
	for m := range s.makers {
		s.starts[m+1] += s.starts[m]
	}
	b.ordered(s, perm)
	*b = Builder{}
	return &Index{base: s, makers: map[string]*maker{}}
}

// rankMakers puts makers in order and gives the place of each.
func (b *Builder) rankMakers(s *base) (rank []uint32) {
	s.makers = slices.Sorted(slices.Values(b.names))
	rank = make([]uint32, len(b.names))
	for i, name := range s.makers {
		rank[b.makers[name]] = uint32(i)
	}
	return rank
}

// ordered packs serials in the order given.
func (b *Builder) ordered(s *base, perm []uint32) {
	s.chars, s.same = make([]byte, 0, len(b.chars)+lanes*maxCells), make([]uint8, 0, len(perm))
	next := 0
	for k, p := range perm {
		begins := false
		for ; next < len(s.starts) && int(s.starts[next]) == k; next++ {
			begins = true
		}
		s.put(b.serial(p), begins)
	}
	s.look()
}

// longer compares two serials by their length.
func longer(a, b []byte) int { return len(a) - len(b) }

func compare(a, b uint64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// makerAt is the maker of a place.
func (s *base) makerAt(k uint32) int {
	m, exact := slices.BinarySearch(s.starts, k)
	if !exact {
		m--
	}
	return m
}

// Change is a tool as it is now; one without a serial is no longer matched.
type Change struct {
	Entry
	New bool // it was never in an index
}

// Crowded says whether so many changes came since the index was sorted that searches
// take longer by them.
func (ix *Index) Crowded() bool {
	return len(ix.tail)+ix.dead.many > min(64+ix.base.len()/64, 4096)
}

// Update gives the index with changes of tools, which are not sorted in: see Sorted.
func (ix *Index) Update(changes []Change) *Index {
	if len(changes) == 0 {
		return ix
	}
	next := &Index{base: ix.base, dead: ix.dead, makers: ix.keep(changes)}
	changed := map[uint64]bool{}
	old := false
	for _, c := range changes {
		changed[c.Handle] = true
		old = old || !c.New
	}
	for _, l := range ix.tail {
		if !changed[l.Handle] {
			next.tail = append(next.tail, l)
		}
	}
	if old {
		next.bury(changed)
	}
	last := map[uint64]int{}
	for i, c := range changes {
		last[c.Handle] = i
	}
	for i, c := range changes {
		if codes := codesOf(c.Serial); last[c.Handle] == i && len(codes) > 0 && len(codes) <= maxCells {
			next.tail = append(next.tail, loose{c.Entry, codes})
		}
	}
	return next
}

// keep gives what is known of the makers that no change is about. A tool that was
// another maker's is the rare case in which one maker knows one serial too many.
func (ix *Index) keep(changes []Change) map[string]*maker {
	ix.mu.Lock()
	defer ix.mu.Unlock()
	kept := maps.Clone(ix.makers)
	for _, c := range changes {
		delete(kept, c.Maker)
	}
	return kept
}

// bury marks entries of changed tools as overtaken.
func (ix *Index) bury(changed map[uint64]bool) {
	dead := ix.dead.copy(ix.base.len())
	const kept = 1 << 12
	var maybe [kept / 64]uint64 // most handles are told apart by their last bits
	for h := range changed {
		maybe[h%kept/64] |= 1 << (h % 64)
	}
	for k, h := range ix.base.handle {
		if maybe[h%kept/64]>>(h%64)&1 == 1 && changed[h] {
			dead.add(k)
		}
	}
	ix.dead = dead
}

// Sorted gives the same index with all changes sorted in. It takes about a second for a
// million serials.
func (ix *Index) Sorted() *Index {
	b, s := NewBuilder(), ix.base
	kinds := make([]string, len(s.kinds))
	for name, id := range s.kinds {
		kinds[id] = name
	}
	for m, name := range s.makers {
		for k := s.starts[m]; k < s.starts[m+1]; k++ {
			if !ix.dead.has(int(k)) {
				b.add(Entry{Handle: s.handle[k], Maker: name, Kind: kinds[s.kind[k]]}, s.serial(int(k)))
			}
		}
	}
	for _, l := range ix.tail {
		b.add(l.Entry, l.codes)
	}
	next := b.Index()
	next.makers = ix.keep(nil)
	return next
}

// Len is how many serials there are.
func (ix *Index) Len() int { return ix.base.len() - ix.dead.many + len(ix.tail) }

// Bytes is what one scan of the packed serials reads.
func (ix *Index) Bytes() []byte { return ix.base.chars }

// span gives where the serials of a maker stand in front; empty is all.
func (ix *Index) span(maker string) (from, to int) {
	if maker == "" {
		return 0, ix.base.len()
	}
	return ix.spanOf(maker)
}

// spanOf is where the serials of one maker stand, or those of no named one.
func (ix *Index) spanOf(maker string) (from, to int) {
	m, known := slices.BinarySearch(ix.base.makers, maker)
	if !known {
		return 0, 0
	}
	return int(ix.base.starts[m]), int(ix.base.starts[m+1])
}

// Knows says whether a serial of that maker is registered.
func (ix *Index) Knows(maker string) bool {
	from, to := ix.span(maker)
	return to > from || slices.ContainsFunc(ix.tail, func(l loose) bool { return l.Maker == maker })
}

// Has says whether a serial of that maker and kind is registered; empty is any.
func (ix *Index) Has(maker, kind string) bool { return ix.count(maker, kind) > 0 }

// count is how many serials are of a maker and of a kind; empty is any.
func (ix *Index) count(maker, kind string) (n int) {
	s := ix.base
	from, to := ix.span(maker)
	id, known := s.kinds[kind]
	switch {
	case kind == "":
		n = to - from
	case known && maker == "":
		n = s.ofKind[id]
	case known:
		for _, k := range s.kind[from:to] {
			if k == id {
				n++
			}
		}
	}
	for k := range ix.dead.within(from, to) {
		if kind == "" || known && s.kind[k] == id {
			n--
		}
	}
	for _, l := range ix.tail {
		if (maker == "" || l.Maker == maker) && (kind == "" || l.Kind == kind) {
			n++
		}
	}
	return n
}

// ofMaker is how many serials are of one maker, or of no named one.
func (ix *Index) ofMaker(name string) int {
	from, to := ix.spanOf(name)
	n := to - from
	for range ix.dead.within(from, to) {
		n--
	}
	for _, l := range ix.tail {
		if l.Maker == name {
			n++
		}
	}
	return n
}

// makersKept is of how many makers what was learned is kept.
const makersKept = 256

// maker learns how a maker marks.
func (ix *Index) maker(name string) *maker {
	ix.mu.Lock()
	defer ix.mu.Unlock()
	if m, have := ix.makers[name]; have {
		return m
	}
	var serials [][]byte
	from, to := ix.spanOf(name)
	for k := from; k < to; k++ {
		if !ix.dead.has(k) {
			serials = append(serials, ix.base.serial(k))
		}
	}
	for _, l := range ix.tail {
		if l.Maker == name {
			serials = append(serials, l.codes)
		}
	}
	m := learn(chosen(serials))
	if len(ix.makers) >= makersKept {
		clear(ix.makers)
	}
	ix.makers[name] = m
	return m
}
