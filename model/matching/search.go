package matching

import (
	"context"
	"slices"
)

// A search follows serials that share their first characters together, as long as
// what they have in common may still be likely enough, and what they do not share in
// packs. What it lets go of is counted at the most that it can come to.

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

// looking is a query as an index goes through it.
type looking struct {
	*columns
	ctx      context.Context
	ix       *Index
	q        Query
	kind     uint32
	from, to int
	most     float64         // the most that any serial can come to
	loose    []hit           // of the tail
	bounds   map[int]*bounds // by group
	any      map[int]*bounds // of groups that were not looked at, by length
	packing  *packing
	asked    int // the place at which it was asked last whether anybody still waits
	found
}

func (ix *Index) looking(ctx context.Context, q Query, a *asked, t *table) *looking {
	l := &looking{columns: newColumns(statesOf(a)), ctx: ctx, ix: ix, q: q, bounds: map[int]*bounds{}, any: map[int]*bounds{}}
	l.packing = newPacking(l.columns)
	l.from, l.to = ix.span(q.Maker)
	if id, known := ix.base.kinds[q.Kind]; known {
		l.kind = id
	} else if q.Kind != "" {
		l.to = l.from
	}
	for n, count := range ix.base.length {
		if count > 0 {
			l.most = max(l.most, l.anyOf(n).all[n][0])
		}
	}
	for _, one := range ix.tail {
		if (q.Maker == "" || one.Maker == q.Maker) && (q.Kind == "" || one.Kind == q.Kind) {
			h := hit{one.Handle, one.Maker, one.codes, t.likelihood(one.codes)}
			l.loose, l.most = append(l.loose, h), max(l.most, h.like)
		}
	}
	return l
}

// boundsOf are those of one group.
func (l *looking) boundsOf(i int) *bounds {
	g := &l.ix.base.groups[i]
	if g.present == nil {
		return l.anyOf(g.length)
	}
	b, have := l.bounds[i]
	if !have {
		b = l.bound(g.length, g.present)
		l.bounds[i] = b
	}
	return b
}

// anyOf are those of any serials of a length.
func (l *looking) anyOf(length int) *bounds {
	b, have := l.any[length]
	if !have {
		b = l.bound(length, nil)
		l.any[length] = b
	}
	return b
}

// look searches for the serials that make the reading likelier than least.
func (l *looking) look(least float64) (found, error) {
	l.found, l.least, l.asked = found{}, least, l.from
	if err := l.ctx.Err(); err != nil {
		return found{}, err
	}
	if l.to > l.from {
		groups := l.ix.base.groups
		for i := l.ix.base.groupAt(l.from); i < len(groups) && groups[i].from < l.to; i++ {
			if err := l.group(i); err != nil {
				return found{}, err
			}
		}
	}
	for _, h := range l.loose {
		l.take(h)
	}
	return l.found, nil
}

// often is after how many serials it is asked whether anybody still waits.
const often = 1 << 12

// group goes through the serials of a group.
func (l *looking) group(i int) error {
	g, b := &l.ix.base.groups[i], l.boundsOf(i)
	if !l.begin(b, g.length) {
		l.rest += l.lost[0] * float64(g.to-g.from)
		return nil
	}
	packs := packed && l.least >= leastInAll
	if packs {
		l.packing.ask(b, l.least)
	}
	same, at := l.ix.base.same, 0
	for k := g.from; k < g.to; {
		if k-l.asked >= often {
			l.asked = k
			if err := l.ctx.Err(); err != nil {
				return err
			}
		}
		next, deep := k+1, g.length
		if packs {
			next, deep = min(k+lanes, g.to), int(l.ix.base.common[k])
		}
		from := min(int(same[k]), at, deep)
		j, alive := l.follow(l.ix.base.in(g, k), from, deep, b)
		l.seen += j - from
		at = j
		if alive && j < g.length {
			l.pack(g, k, next, j)
			k = next
			continue
		}
		next = l.ix.base.beyond(g, k, j)
		l.rest += l.lost[j] * float64(next-k)
		if alive {
			like := l.ends(j)
			for k := k; k < next; k++ {
				l.reached(k, like)
			}
		}
		k = next
	}
	return nil
}

// beyond is the first serial of a group behind place k that does not share so many
// characters with the one there.
func (s *base) beyond(g *group, k, shared int) int {
	for k++; k < g.to && int(s.same[k]) >= shared; k++ {
		if int(s.common[k]) >= shared {
			k = min(k+lanes, g.to) - 1
		}
	}
	return k
}

// reached takes a serial that was followed to its end.
func (l *looking) reached(k int, like float64) {
	if b := l.ix.base; l.q.Kind != "" && b.kind[k] != l.kind || l.ix.dead.has(k) {
		return
	}
	l.sum += like
	if like > l.listed() {
		l.list(k, like)
	}
}

// listed is what a serial must be likelier than to be among the likeliest.
func (s *found) listed() float64 {
	if len(s.hits) < listedMost {
		return 0
	}
	return s.hits[listedMost-1].like
}

// list puts a serial among the likeliest.
func (l *looking) list(k int, like float64) {
	b := l.ix.base
	l.keep(hit{b.handle[k], b.makers[b.makerAt(uint32(k))], b.serial(k), like})
}

func (s *found) take(h hit) {
	s.sum += h.like
	if h.like > 0 {
		s.keep(h)
	}
}

// keep puts a hit where it belongs among the likeliest.
func (s *found) keep(h hit) {
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
