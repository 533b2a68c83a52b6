package matching

// states are a reading as states that the characters of a serial lead through, one
// after the other: so many cells are read; within a gap, so many of its characters
// are gone. The last one is that all is read. What is known of one state holds for
// the next, so a column of them says all of the first characters of a serial.
type states struct {
	last int
	skip,
	double float64 // weights of a character that is skipped, and of a cell too many
	like  [nCodes][]float64 // by character: of coming to a state from the one before
	most  []float64         // the most of those
	arm   []float64         // of staying in a state while a character is skipped
	extra []float64         // of coming to it from the one before by a cell too many
	leaps []leap
}

// leap is a gap: from the state before it, or from within, to the one after it.
type leap struct {
	before, after int
	lo            int     // characters that are gone at least
	share         float64 // of each number of characters
	extra         float64
}

// least is the first state from which the gap may be left by its share.
func (l *leap) least() int { return l.before + l.lo }

func statesOf(a *asked) *states {
	extra := a.arm / float64(nSymbols)
	s := &states{skip: a.arm, double: extra}
	s.add(a.arm, 0, nil)
	for i, c := range a.cells {
		if c.sort != gap {
			s.add(a.arm, extra, func(t int) float64 { return a.of[t][i] })
			continue
		}
		l := leap{before: s.last, lo: c.lo, share: 1 / float64(c.hi-c.lo+1), extra: extra}
		for range c.hi {
			s.add(0, 0, func(int) float64 { return 1 })
		}
		s.add(a.arm, 0, func(int) float64 { return 0 })
		l.after = s.last
		s.leaps = append(s.leaps, l)
	}
	for t := range s.like {
		s.like[t] = append(s.like[t], 0) // beyond the last one, for a step that needs not ask
	}
	return s
}

// add puts a state at the end.
func (s *states) add(arm, extra float64, like func(t int) float64) {
	s.last = len(s.arm)
	s.arm, s.extra = append(s.arm, arm), append(s.extra, extra)
	most := 0.0
	for t := range s.like {
		of := 0.0
		if like != nil {
			of = like(t)
		}
		s.like[t] = append(s.like[t], of)
		most = max(most, of)
	}
	s.most = append(s.most, most)
}

// bounds say the most that a reading can still come to, from each state on, with so
// many characters of a serial left: at [left][state].
type bounds struct {
	all   [][]float64
	next  [][]float64 // where the next step takes a character
	extra [][]float64 // where the next step is a cell too many
}

// bound works out the bounds for serials of so many characters, of which those in
// present can stand at each place; nil is any.
func (s *states) bound(length int, present []uint64) *bounds {
	b := &bounds{make([][]float64, length+1), make([][]float64, length+1), make([][]float64, length+1)}
	room := make([]float64, 3*(length+1)*(s.last+1))
	take := func() (row []float64) {
		row, room = room[:s.last+1:s.last+1], room[s.last+1:]
		return row
	}
	for left := range b.all {
		b.all[left], b.next[left], b.extra[left] = take(), take(), take()
	}
	b.next[0][s.last] = 1
	s.from(b, 0, present)
	return b
}

// from works out the bounds from what the next step comes to with so many left.
func (s *states) from(b *bounds, left int, present []uint64) {
	for most := s.most; ; {
		s.within(b.all[left], b.next[left])
		for i := range s.last {
			b.extra[left][i] = s.extra[i+1] * b.all[left][i+1]
		}
		if left++; left == len(b.all) {
			return
		}
		if present != nil {
			most = s.mostOf(present[len(present)-left])
		}
		s.took(b.next[left], b.all[left-1], most)
	}
}

// within adds the steps that take no character.
func (s *states) within(all, next []float64) {
	all[s.last] = next[s.last]
	g := len(s.leaps) - 1
	for i := s.last - 1; i >= 0; i-- {
		all[i] = next[i] + s.extra[i+1]*all[i+1]
		if g < 0 {
			continue
		}
		l := &s.leaps[g]
		if i >= l.least() && i < l.after {
			all[i] += l.share * all[l.after]
		}
		if i == l.before {
			all[i] += l.extra * all[l.after]
			g--
		}
	}
}

// mostOf is the most likely of some characters, by state.
func (s *states) mostOf(present uint64) []float64 {
	most := make([]float64, s.last+2)
	for t := range nCodes {
		if present>>t&1 == 1 {
			for i, of := range s.like[t] {
				most[i] = max(most[i], of)
			}
		}
	}
	return most
}

// columns are the states after each of the first characters of a serial. Of a
// column only the states from lo to hi are kept; what the others could have come to
// is in lost.
type columns struct {
	*states
	f      []float64 // one column after the other
	width  int
	lo, hi [maxCells + 1]int
	lost   [maxCells + 1]float64
	least  float64 // what is less likely is lost
	leapTo []int   // how far up states a column reaches that reaches to one
}

func newColumns(s *states) *columns {
	c := &columns{states: s, width: s.last + 2, leapTo: make([]int, s.last+1)}
	c.f = make([]float64, (maxCells+1)*c.width)
	for i := range c.leapTo {
		c.leapTo[i] = i
	}
	for _, l := range s.leaps {
		for i := l.before; i < l.after; i++ {
			c.leapTo[i] = l.after
		}
	}
	return c
}

// column is the one of the first j characters.
func (c *columns) column(j int) []float64 { return c.f[j*c.width:][:c.width] }

// begin fills the column of no character, and says whether anything is left.
func (c *columns) begin(b *bounds, length int) bool {
	now := c.column(0)
	clear(now)
	now[0] = 1
	c.cells(now, nil, nil, 0, c.leapTo[0])
	hi := c.more(now, c.leapTo[0], b.extra[length])
	c.lo[0], c.hi[0], c.lost[0] = 0, hi, now[hi]*b.extra[length][hi]
	return c.trim(0, b, length)
}

// follow fills the columns of a serial beyond the first j, up to deep or until
// nothing is left, and says how far it came.
func (c *columns) follow(serial []byte, j, deep int, b *bounds) (at int, alive bool) {
	for alive = true; alive && j < deep; {
		before, now, like := c.column(j), c.column(j+1), c.like[serial[j]]
		lo, hi := c.lo[j], c.hi[j]
		left := len(serial) - j - 1
		top := c.leapTo[min(hi+1, c.last)]
		clear(before[hi+1 : top+1])
		now[lo] = c.arm[lo] * before[lo]
		c.cells(now, before, like, lo, top)
		hi = top
		j++
		hi = c.more(now, hi, b.extra[left])
		c.lo[j], c.hi[j], c.lost[j] = lo, hi, c.lost[j-1]+now[hi]*b.extra[left][hi]
		alive = c.trim(j, b, left)
	}
	return j, alive
}

// more follows cells too many beyond hi, and gives how far they lead.
func (c *columns) more(now []float64, hi int, extra []float64) int {
	for hi < c.last && now[hi]*extra[hi] > c.least {
		hi++
		now[hi] = c.extra[hi] * now[hi-1]
		if top := c.leapTo[hi]; top > hi {
			clear(now[hi+1 : top+1])
			for g := range c.leaps {
				if l := &c.leaps[g]; l.after == top {
					c.leave(now, nil, l, hi)
				}
			}
			hi = top
		}
	}
	return hi
}

// trim lets go of the states at both ends of a column that are not worth to be
// followed, and says whether any are left.
func (c *columns) trim(j int, b *bounds, left int) bool {
	lo, hi, lost := c.lo[j], c.hi[j], c.lost[j]
	now, next := c.column(j)[:hi+1], b.next[left][:hi+1]
	for lo <= hi {
		of := now[lo] * next[lo]
		if of > c.least {
			break
		}
		lost += of
		lo++
	}
	for hi > lo {
		of := now[hi] * next[hi]
		if of > c.least {
			break
		}
		lost += of
		hi--
	}
	c.lo[j], c.hi[j], c.lost[j] = lo, hi, lost
	return lo <= hi
}

// cells fills the states above lo up to top.
func (c *columns) cells(now, before, like []float64, lo, top int) {
	i := lo + 1
	for g := range c.leaps {
		l := &c.leaps[g]
		if l.after < i {
			continue
		}
		if l.after > top {
			break
		}
		c.run(now, before, like, i, l.before)
		if i = max(i, l.before+1); before == nil {
			clear(now[i:l.after])
		} else {
			copy(now[i:l.after], before[i-1:]) // whatever character it is, it is gone
		}
		c.leave(now, before, l, lo)
		i = l.after + 1
	}
	c.run(now, before, like, i, top)
}

// run fills states that no gap comes to.
func (c *columns) run(now, before, like []float64, from, to int) {
	if from > to {
		return
	}
	arm, extra, last, out := c.skip, c.double, now[from-1], now[from:to+1]
	if before == nil {
		for i := range out {
			last *= extra
			out[i] = last
		}
		return
	}
	came, x, l := before[from-1], before[from:][:len(out)], like[from:][:len(out)]
	i, twice := 0, extra*extra
	for ; i+1 < len(out); i += 2 { // two at once, so that the next two wait for one step only
		one, two := arm*x[i]+came*l[i], arm*x[i+1]+x[i]*l[i+1]
		out[i] = one + extra*last
		last = (two + extra*one) + twice*last
		out[i+1], came = last, x[i+1]
	}
	if i < len(out) {
		out[i] = (arm*x[i] + came*l[i]) + extra*last
	}
}

// leave fills the state after a gap.
func (c *columns) leave(now, before []float64, l *leap, lo int) {
	sum := 0.0
	for i := max(l.least(), lo); i < l.after; i++ {
		sum += now[i]
	}
	sum *= l.share
	if l.before >= lo {
		sum += l.extra * now[l.before]
	}
	if before != nil {
		sum += c.arm[l.after] * before[l.after]
	}
	now[l.after] = sum
}

// ends is the likelihood of the whole reading under the first j characters, less
// what was lost on the way.
func (c *columns) ends(j int) float64 {
	if c.hi[j] < c.last || c.lo[j] > c.last {
		return 0
	}
	return c.column(j)[c.last]
}

// took is what is still to come before a character, of what is after it.
func (s *states) took(to, after, like []float64) {
	for i := range s.last {
		to[i] = s.arm[i]*after[i] + like[i+1]*after[i+1]
	}
	to[s.last] = s.arm[s.last] * after[s.last]
}

// average is the likelihood of coming to each state by the characters of a place.
func (s *states) average(p *chances) []float64 {
	out := make([]float64, s.last+2)
	for t, share := range p {
		for i, of := range s.like[t] {
			out[i] += share * of
		}
	}
	return out
}
