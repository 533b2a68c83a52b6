package matching

// A pack is serials that stand one after the other, of which a state is worked out for
// all at once, in float32: what a serial shares with no other costs the most, and is
// the same work for each. What a pack cannot do, columns do one serial at a time.

// lanes is how many serials a pack has.
const lanes = 16

// rounding is the most that each state and each column may bring to the error of a
// likelihood, as a share of it: some four roundings of a float32, all one way.
const rounding = 4 * 0x1p-24

// A float32 holds down to 2^-126, and what is less becomes nothing. States and bounds
// are both scaled, so that only what is less than 2^-182 does: of what packs are asked
// to follow, all such together are less than a millionth.
const (
	scale      = 0x1p56
	scaled     = scale * scale // a state by its bound
	leastInAll = 0x1p-156      // the lowest limit that packs are asked for
)

// Sorts of steps.
const (
	stepCell  = iota // a cell that was read
	stepOpen         // the first character that is gone in a gap
	stepGone         // the next one
	stepAfter        // out of the gap
)

// step is what leads to a state; 32 bytes, as followPack counts on.
type step struct {
	sort  uint32
	cells uint32  // that are read up to there
	ahead uint32  // by how many states a column reaches further that reaches there
	stay  float32 // of a character that is skipped there
	extra float32 // of coming from the state before with no character
	share float32 // of leaving the gap from here
	_     [2]uint32
}

// pack is what followPack works on: the states from the first one that is worth it. A
// row of lanes is its serials' one after the other.
type pack struct {
	steps    *step          // by state
	f        *float32       // by state, lanes
	begin    *float32       // by state, of the column that all have in common
	likes    *float32       // of the cells from the second state on, by character
	last, hi int            // states: of all, and of the column
	beside   int            // bytes from bounds to those of cells too many
	apart    int            // bytes from the bounds of one column to those of the next
	at       [lanes]uint32  // where the codes of each serial are, from those of the first one
	are      [lanes]float32 // 1 for each serial that there is, else 0
	sum      [lanes]float32 // what each may still come to
	lost     [lanes]float32 // the most that what was let go of comes to
	total    float32        // of the sums
	gone     float32        // of what was lost, behind the total
	most     float32        // of the sums
	limit    float32
}

// ofCell is how many likelihoods of a cell followPack looks up: of each character, and
// of some that there are not.
const ofCell = 48

// packing is a reading as it is asked of packs.
type packing struct {
	pack
	held   int // serials
	steps  []step
	likes  []float32
	column []float32             // that a pack begins with
	bounds []float32             // of the group
	known  map[*bounds][]float32 // those of all groups so far
}

func newPacking(c *columns) *packing {
	s := c.states
	p := &packing{steps: make([]step, s.last+1), known: map[*bounds][]float32{}}
	for i := range p.steps {
		p.steps[i] = step{sort: stepCell, ahead: uint32(c.leapTo[i] - i), stay: float32(s.arm[i]), extra: float32(s.extra[i])}
	}
	for _, l := range s.leaps {
		for i := l.before + 1; i < l.after; i++ {
			p.steps[i].sort = stepGone
			if i >= l.least() {
				p.steps[i].share = float32(l.share)
			}
		}
		p.steps[l.after].sort = stepAfter
		open := &p.steps[l.before+1]
		open.sort, open.extra = stepOpen, float32(l.extra)
		if l.lo == 0 {
			open.extra = float32(l.extra + l.share)
		}
	}
	for i := range p.steps {
		if i > 0 && p.steps[i].sort == stepCell {
			of := make([]float32, ofCell)
			for t := range nCodes {
				of[t] = float32(s.like[t][i])
			}
			p.likes = append(p.likes, of...)
		}
		p.steps[i].cells = uint32(len(p.likes) / ofCell)
	}
	p.likes = append(p.likes, 0) // to point behind the last one
	p.column = make([]float32, s.last+1)
	p.f = &make([]float32, lanes*(s.last+1))[0]
	p.beside, p.apart = 4*(s.last+1), 8*(s.last+1)
	return p
}

// ask takes the bounds of a group, by characters followed, and the limit.
func (p *packing) ask(b *bounds, least float64) {
	length := len(b.next) - 1
	p.limit = float32(scaled * min(least, 1))
	for i := range p.at {
		p.at[i] = uint32(i * length)
	}
	rows, have := p.known[b]
	if !have {
		for left := length; left >= 0; left-- {
			for _, row := range [][]float64{b.next[left], b.extra[left]} {
				for _, of := range row {
					rows = append(rows, float32(scale*of))
				}
			}
		}
		p.known[b] = rows
	}
	p.bounds = rows
}

// begins takes the column that the serials of a pack have in common, in which so many of
// their characters are followed, and gives the bounds after the next one.
func (p *packing) begins(column []float64, lo, hi, followed int) *float32 {
	clear(p.column)
	for i := lo; i <= hi; i++ {
		p.column[i] = float32(scale * column[i])
	}
	p.pack.steps, p.begin, p.pack.likes = &p.steps[lo], &p.column[lo], &p.likes[ofCell*p.steps[lo].cells]
	p.last, p.hi = len(p.steps)-1-lo, hi-lo
	return &p.bounds[2*len(p.steps)*(followed+1)+lo]
}

// holds says how many serials a pack has; the last one of a group has fewer.
func (p *packing) holds(many int) {
	if p.held == many {
		return
	}
	p.held = many
	for i := range p.are {
		p.are[i] = 0
		if i < many {
			p.are[i] = 1
		}
	}
}

// pack follows serials of a group from a column that they have in common, and takes
// them.
func (l *looking) pack(g *group, from, to, at int) {
	p, many := l.packing, to-from
	bounds := p.begins(l.column(at), l.lo[at], l.hi[at], at)
	codes := l.ix.base.chars[g.chars+(from-g.from)*g.length+at:]
	p.holds(many)
	done := followPack(&p.pack, &codes[0], bounds, g.length-at)
	l.seen += done * many
	sum := float64(p.total) / scaled
	l.rest += l.lost[at]*float64(many) + float64(p.gone)/scaled
	if at+done < g.length {
		l.rest += sum
		return
	}
	l.rest += rounding * float64(len(p.steps)+g.length) * sum
	if l.q.Kind != "" || l.ix.dead.many > 0 {
		for i, of := range p.sum[:many] {
			l.reached(from+i, float64(of)/scaled)
		}
		return
	}
	l.sum += sum
	if float64(p.most)/scaled <= l.listed() {
		return
	}
	for i, of := range p.sum[:many] {
		if like := float64(of) / scaled; like > l.listed() {
			l.list(from+i, like)
		}
	}
}
