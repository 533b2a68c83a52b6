package matching

import (
	"bytes"
	"slices"
)

// endings are the last characters of the serials of a group. Of far fewer kinds
// than there are serials, they are worked out once for all serials that have them.
type endings struct {
	length int
	chars  []byte  // from the last character on, sorted, one after the other
	same   []uint8 // first of these that each has in common with the one before
}

// An ending is shared by so many serials on the average, at least; there are at
// most as many as its number has room for.
const (
	endingShared = 8
	endingsMost  = 1 << 16
)

// endings finds the longest endings that are shared enough, and tells each serial
// of the group which it has.
func (s *base) endings(g *group) *endings {
	most := min((g.to-g.from)/endingShared, endingsMost)
	var found [][]byte
	for n := 1; n < g.length; n++ {
		longer := s.endingsOf(g, n, most)
		if longer == nil {
			break
		}
		found = longer
	}
	if found == nil {
		return nil
	}
	e := &endings{length: len(found[0])}
	at := map[string]uint16{}
	for i, ending := range found {
		same := 0
		if i > 0 {
			same = shared(found[i-1], ending)
		}
		e.chars, e.same = append(e.chars, ending...), append(e.same, uint8(same))
		at[string(ending)] = uint16(i)
	}
	var turned [maxCells]byte
	for k := g.from; k < g.to; k++ {
		s.ending[k] = at[string(turn(turned[:0], s.in(g, k), e.length))]
	}
	return e
}

// endingsOf are the endings of n characters, turned and sorted; nil if there are
// more than most.
func (s *base) endingsOf(g *group, n, most int) (out [][]byte) {
	have := map[string]bool{}
	var turned [maxCells]byte
	for k := g.from; k < g.to; k++ {
		if t := turn(turned[:0], s.in(g, k), n); !have[string(t)] {
			if len(have) == most {
				return nil
			}
			have[string(t)] = true
		}
	}
	for t := range have {
		out = append(out, []byte(t))
	}
	slices.SortFunc(out, bytes.Compare)
	return out
}

// turn gives the last n characters, the last one first.
func turn(to, serial []byte, n int) []byte {
	for i := range n {
		to = append(to, serial[len(serial)-1-i])
	}
	return to
}

// ended are the endings of a group under a reading: for each, how likely it
// completes the reading from each state on, where the next step takes a character.
type ended struct {
	width int
	rows  []float64
	most  []float64 // of all endings
}

// end works out the endings, in the memory of the last ones.
func (s *states) end(e *endings, in *ended) {
	in.width = s.last + 1
	in.rows = slices.Grow(in.rows[:0], in.width*len(e.same))[:in.width*len(e.same)]
	in.most = make([]float64, in.width)
	all, next := make([][]float64, e.length+1), make([][]float64, e.length+1)
	for i := range all {
		all[i], next[i] = make([]float64, in.width), make([]float64, in.width)
	}
	next[0][s.last] = 1
	s.within(all[0], next[0])
	for k, same := range e.same {
		of := e.chars[k*e.length:][:e.length]
		for j := int(same); j < e.length; j++ {
			to := next[j+1]
			if j+1 == e.length {
				to = in.rows[k*in.width:][:in.width]
			}
			s.took(to, all[j], s.like[of[j]])
			if j+1 < e.length {
				s.within(all[j+1], to)
			}
		}
		for i, p := range in.rows[k*in.width:][:in.width] {
			in.most[i] = max(in.most[i], p)
		}
	}
}

// took is what is still to come before a character, of what is after it.
func (s *states) took(to, after, like []float64) {
	for i := range s.last {
		to[i] = s.arm[i]*after[i] + like[i+1]*after[i+1]
	}
	to[s.last] = s.arm[s.last] * after[s.last]
}
