package matching

import "math"

// turned is a reading from the front and from its end.
type turned struct{ front, back *table }

func (m Model) turn(r Reading) *turned {
	return &turned{newTable(m.ask(r)), newTable(m.ask(r.backwards()))}
}

// plan says where the halves of a reading meet and how likely each must be; a
// limit of infinity leaves its half out.
type plan struct {
	mid         int
	front, back float64
}

// A character that fits nothing costs about this much; one in ten fits by chance.
const (
	misfit   = 7e-4
	byChance = 0.1
)

// cheapest finds the plan that looks the least work for n serials, where what is
// less likely than least may be left. Both is false where only the front may be
// used.
func (t *turned) cheapest(n int, least float64, both bool) plan {
	all := len(t.front.cells)
	best := plan{all, 0, math.Inf(1)} // everything from the front
	if !both || least <= 0 {
		return best
	}
	misfits := math.Log(least) / math.Log(misfit)
	work := t.front.work(n, all, misfits)
	if w := t.back.work(n, all, misfits); w < work {
		best, work = plan{0, math.Inf(1), 0}, w
	}
	for mid := 1; mid < all; mid++ {
		for _, share := range []float64{0.3, 0.4, 0.5, 0.6, 0.7} {
			w := t.front.work(n, mid, share*misfits) + t.back.work(n, all-mid, (1-share)*misfits)
			if w < work {
				best, work = plan{mid, math.Pow(least, share), math.Pow(least, 1-share)}, w
			}
		}
	}
	return best
}

// work estimates the columns of a search from one end that follows whatever has at
// most so many misfits among the first cells.
func (a *asked) work(n, cells int, misfits float64) (columns float64) {
	nodes, fits := 1.0, []float64{1} // fits[k]: share of what has k misfits
	alive := 1.0
	for i := range cells {
		times := 1.0
		switch c := a.cells[i]; c.sort {
		case gap:
			times = float64(c.hi-c.lo) + 1
			nodes = math.Min(nodes*math.Pow(10, times), float64(n))
			columns += nodes * alive * times
			continue
		case seen:
			next := make([]float64, len(fits)+1)
			for k, p := range fits {
				next[k] += p * byChance
				next[k+1] += p * (1 - byChance)
			}
			fits = next
		}
		nodes = math.Min(nodes*10, float64(n))
		columns += nodes * alive
		alive = 0
		for k, p := range fits {
			if float64(k) <= misfits {
				alive += p
			}
		}
	}
	return columns + float64(n)*alive*4 // to their ends
}
