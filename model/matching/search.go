package matching

import (
	"math"
	"slices"
)

// A serial that makes the reading likely makes its front half likely or its back
// half. So the search goes twice: from the front, following serials that share
// their first characters together, as long as the first half of the reading may
// still be likelier than one limit; and from the end in the same way, with another.
// What neither comes to is at most as likely as the product of both limits.

// listedMost is how many of the likeliest serials a search keeps.
const listedMost = 64

// hit is a serial with its likelihood.
type hit struct {
	handle uint64
	maker  string
	serial []byte
	like   float64
}

// found is what a search comes to: the likeliest serials, the sum of all that were
// followed to their end, and the most that all others can add to it.
type found struct {
	hits []hit // likeliest first
	sum  float64
	rest float64
	seen int // columns worked out
}

// half is the search from one end: the serials whose first mid cells, seen from
// there, are likelier than limit.
type half struct {
	*table
	mid   int
	limit float64
	to    []float64 // the most that the cells from i to mid can come to
	sum   []float64 // of the first j characters, what the first half comes to
	deep  int       // so many columns are worked out beyond mid
}

func newHalf(t *table, mid int, limit float64) *half {
	h := &half{table: t, mid: mid, limit: limit, to: make([]float64, mid+1), sum: make([]float64, maxCells+1)}
	h.to[mid] = 1 / (1 - t.arm)
	for i := mid - 1; i >= 0; i-- {
		h.to[i] = h.to[i+1] * t.growth(i)
	}
	h.sum[0] = t.f[0][mid]
	return h
}

// step works out the column of character j of a serial as far as mid.
func (h *half) step(j int, serial []byte) {
	h.f[j][0] = h.arm * h.f[j-1][0]
	h.rows(j, 1, h.mid, h.of[serial[j-1]])
	h.sum[j] = h.sum[j-1] + h.f[j][h.mid]
	h.deep = min(h.deep, j-1)
}

// deepen works out the rest of the columns up to j.
func (h *half) deepen(j int, serial []byte) {
	for ; h.deep < j; h.deep++ {
		h.rows(h.deep+1, h.mid+1, len(h.cells), h.of[serial[h.deep]])
	}
}

// reach is the most that the first half can come to in any serial with the first j
// characters.
func (h *half) reach(j int) float64 { return h.sum[j] + h.ahead(j, h.mid, h.to) }

// bound is the most that any serial with the first j characters can come to.
func (h *half) bound(j int) float64 {
	m := len(h.cells)
	return h.f[j][m] + h.ahead(j, m, h.most)
}

// ahead is the most that what is not yet at cell end comes to there.
func (h *half) ahead(j, end int, most []float64) (sum float64) {
	for i, p := range h.f[j][:end] {
		sum += p * most[i]
	}
	for _, i := range h.gaps {
		if i >= end {
			break
		}
		half := 0.0
		for k := 1; k < h.cells[i].hi && k <= j; k++ {
			half += h.f[j-k][i]
		}
		sum += half * most[i+1] // within the gap
	}
	return sum
}

// search is one search of an index.
type search struct {
	ix          *Index
	front, back *half
	maker       string
	kind        uint32
	any         bool    // of any kind
	least       float64 // a likelihood that is not worth to be followed
	found
}

// look searches all serials of a maker and kind, empty is any, for those that make
// the reading likelier than least.
func (ix *Index) look(t *turned, maker, kind string, least float64) found {
	id, known := ix.base.kinds[kind]
	s := &search{ix: ix, maker: maker, kind: id, any: kind == "", least: least}
	from, to := ix.span(maker)
	p := t.cheapest(to-from, least, maker == "")
	s.front = newHalf(t.front, p.mid, p.front)
	s.back = newHalf(t.back, len(t.front.cells)-p.mid, p.back)
	if kind == "" || known {
		s.both(from, to)
	}
	for _, l := range ix.tail {
		if (maker == "" || l.Maker == maker) && (kind == "" || l.Kind == kind) {
			s.seen += len(l.codes)
			s.take(hit{l.Handle, l.Maker, l.codes, t.front.likelihood(l.codes)})
		}
	}
	return s.found
}

// both goes from the front and from the end. A serial that neither takes is at most
// as likely as the product of what both halves come to. The sum of such products is
// at most one sum times the limit of the other, and at most the root of the product
// of the sums of squares.
func (s *search) both(from, to int) {
	b := s.ix.base
	one, other := s.front.limit, s.back.limit
	var front, back leaves
	if !math.IsInf(one, 1) {
		front = s.walk(s.front, &b.front, from, to, nil)
	}
	if !math.IsInf(other, 1) {
		back = s.walk(s.back, &b.back, 0, b.back.len(), b.at)
	}
	if !math.IsInf(one, 1) && !math.IsInf(other, 1) {
		s.rest += min(front.sum*other, back.sum*one, math.Sqrt(front.squares*back.squares))
	}
}

// leaves are the serials that a half does not take: the sum of what their first
// halves at most come to, and that of its squares.
type leaves struct{ sum, squares float64 }

// walk goes through an order with one half; at says where entries stand in front,
// nil is front itself.
func (s *search) walk(h *half, o *order, from, to int, at []uint32) (left leaves) {
	h.deep = 0
	for k := from; k < to; {
		serial, j := o.serial(k), 0
		if k > from {
			j = int(o.same[k])
		}
		reach, bound := 0.0, 0.0
		for j < len(serial) {
			j++
			h.step(j, serial)
			s.seen++
			if h.sum[j] <= h.limit {
				if reach = h.reach(j); reach <= h.limit {
					break
				}
				continue
			}
			h.deepen(j, serial)
			if bound = h.bound(j); bound <= s.least {
				break
			}
		}
		next := k + 1
		if j < len(serial) {
			for next < to && int(o.same[next]) >= j {
				next++
			}
		}
		switch {
		case h.sum[j] <= h.limit:
			left.sum += reach * float64(next-k)
			left.squares += reach * reach * float64(next-k)
		case bound <= s.least:
			s.rest += bound * float64(next-k)
		default:
			s.ended(h, serial, k, at)
		}
		k = next
	}
	return left
}

// ended takes a serial that was followed to its end, unless both halves have it.
func (s *search) ended(h *half, serial []byte, k int, at []uint32) {
	place := uint32(k)
	if at != nil {
		if place = at[k]; s.fromFront(place) {
			return
		}
	}
	h.deepen(len(serial), serial)
	s.reached(place, h.ends(len(serial)))
}

// fromFront says whether the search from the front has this serial.
func (s *search) fromFront(place uint32) bool {
	if math.IsInf(s.front.limit, 1) {
		return false
	}
	serial := s.ix.base.front.serial(int(place))
	for j := range serial {
		s.front.step(j+1, serial)
	}
	return s.front.sum[len(serial)] > s.front.limit
}

// reached takes a serial of the base that was followed to its end.
func (s *search) reached(place uint32, like float64) {
	b := s.ix.base
	if !s.any && b.kind[place] != s.kind || s.ix.dead[place] {
		return
	}
	s.sum += like
	if len(s.hits) == listedMost && like <= s.hits[listedMost-1].like || like == 0 {
		return
	}
	s.keep(hit{b.handle[place], b.makers[b.makerAt(place)], b.front.serial(int(place)), like})
}

func (s *search) take(h hit) {
	s.sum += h.like
	if h.like > 0 {
		s.keep(h)
	}
}

// keep puts a hit where it belongs among the likeliest.
func (s *search) keep(h hit) {
	at, _ := slices.BinarySearchFunc(s.hits, h, func(a, b hit) int {
		switch {
		case a.like > b.like:
			return -1
		case a.like < b.like:
			return 1
		}
		return compare(a.handle, b.handle)
	})
	if at == listedMost {
		return
	}
	s.hits = slices.Insert(s.hits, at, h)
	s.hits = s.hits[:min(len(s.hits), listedMost)]
}
