package matching

// states are a reading as states that the characters of a serial lead through, one
// after the other: so many cells are read; within a gap, so many of its characters
// are gone. The last one is that all is read. What is known of one state holds for
// the next, so a column of them says all of the first characters of a serial.
type states struct {
	last  int
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
	s := &states{}
	extra := a.arm / float64(nSymbols)
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
	all  [][]float64
	next [][]float64 // where the next step takes a character
}

// bound works out the bounds for serials of so many characters, of which those in
// present can stand at each place; nil is any.
func (s *states) bound(length int, present []uint64) *bounds {
	b := &bounds{make([][]float64, length+1), make([][]float64, length+1)}
	room := make([]float64, 2*(length+1)*(s.last+1))
	take := func() (row []float64) {
		row, room = room[:s.last+1:s.last+1], room[s.last+1:]
		return row
	}
	for left := range b.all {
		b.all[left], b.next[left] = take(), take()
	}
	b.next[0][s.last] = 1
	s.from(b, 0, present)
	return b
}

// from works out the bounds from what the next step comes to with so many left.
func (s *states) from(b *bounds, left int, present []uint64) {
	s.within(b.all[left], b.next[left])
	for most := s.most; left+1 < len(b.all); {
		left++
		if present != nil {
			most = s.mostOf(present[len(present)-left])
		}
		s.took(b.next[left], b.all[left-1], most)
		s.within(b.all[left], b.next[left])
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
	most := make([]float64, s.last+1)
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
	f      [][]float64
	lo, hi []int
	lost   []float64
	least  float64 // what is less likely is lost
}

func newColumns(s *states) *columns {
	c := &columns{states: s, f: make([][]float64, maxCells+1), lo: make([]int, maxCells+1), hi: make([]int, maxCells+1), lost: make([]float64, maxCells+1)}
	for j := range c.f {
		c.f[j] = make([]float64, s.last+1)
	}
	return c
}

// begin fills the column of no character, and says whether anything is left.
func (c *columns) begin(b *bounds, length int) bool {
	now := c.f[0]
	clear(now)
	now[0] = 1
	c.lost[0] = 0
	c.cells(now, nil, nil, 0, c.leapTo(0))
	return c.trim(0, 0, c.leapTo(0), b.all[length], b.next[length])
}

// leapTo is how far up states a column reaches that reaches to i.
func (c *columns) leapTo(i int) int {
	for g := range c.leaps {
		if l := &c.leaps[g]; i >= l.before && i < l.after {
			return l.after
		}
	}
	return i
}

// step fills column j, where a character comes, and says whether anything is left.
func (c *columns) step(j int, char byte, all, next []float64) bool {
	before, now, like := c.f[j-1], c.f[j], c.like[char]
	lo, hi := c.lo[j-1], c.hi[j-1]
	top := min(hi+1, c.last)
	c.lost[j] = c.lost[j-1]
	if len(c.leaps) > 0 {
		top = c.leapTo(top)
		for i := hi + 1; i <= top; i++ {
			before[i] = 0
		}
		if lo > 0 {
			before[lo-1] = 0
		}
		now[lo] = c.arm[lo] * before[lo]
		c.cells(now, before, like, lo, top)
		return c.trim(j, lo, top, all, next)
	}
	arm, extra := c.arm[0], c.extra[min(1, c.last)]
	x, y, l, out := before[lo:hi+1], before[lo+1:], like[lo+1:], now[lo+1:]
	came := x[0]
	last := arm * came
	now[lo] = last
	for i := 1; i < len(x); i++ {
		stay := x[i]
		last = extra*last + (arm*stay + came*l[i-1])
		out[i-1] = last
		came = stay
	}
	_ = y
	if hi < c.last {
		last = extra*last + came*l[len(x)-1]
		now[top] = last
	}
	return c.trim(j, lo, top, all, next)
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
		c.run(now, before, like, i, l.after-1)
		c.leave(now, before, l, lo)
		i = l.after + 1
	}
	c.run(now, before, like, i, top)
}

// run fills states that no leap comes to.
func (c *columns) run(now, before, like []float64, from, to int) {
	if from > to {
		return
	}
	last := now[from-1]
	for i := from; i <= to; i++ {
		last *= c.extra[i]
		if before != nil {
			last += c.arm[i]*before[i] + before[i-1]*like[i]
		}
		now[i] = last
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

// trim follows cells too many beyond hi, and then lets go of the states at both
// ends that are not worth to be followed.
func (c *columns) trim(j, lo, hi int, all, next []float64) bool {
	now, lost := c.f[j], c.lost[j]
	for hi < c.last {
		more := c.extra[hi+1] * now[hi]
		if of := more * all[hi+1]; of <= c.least {
			lost += of
			break
		}
		hi++
		now[hi] = more
		if top := c.leapTo(hi); top > hi {
			clear(now[hi+1 : top+1])
			for g := range c.leaps {
				if l := &c.leaps[g]; l.after == top {
					c.leave(now, nil, l, hi)
				}
			}
			hi = top
		}
	}
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

// ends is the likelihood of the whole reading under the first j characters, less
// what was lost on the way.
func (c *columns) ends(j int) float64 {
	if c.hi[j] < c.last || c.lo[j] > c.last {
		return 0
	}
	return c.f[j][c.last]
}
