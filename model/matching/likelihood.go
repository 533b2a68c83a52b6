package matching

// asked is a reading with the likelihood of every cell under every character.
type asked struct {
	cells []Cell
	of    [nCodes][]float64 // by character, then by cell
	gaps  []int             // which cells are gaps
	arm   float64
}

func (m Model) ask(r Reading) *asked {
	a := &asked{cells: r.Cells, arm: m.Arm}
	for t := range a.of {
		a.of[t] = make([]float64, len(r.Cells))
		for i, c := range r.Cells {
			a.of[t][i] = m.likelihood(c, t)
		}
	}
	for i, c := range r.Cells {
		if c.sort == gap {
			a.gaps = append(a.gaps, i)
		}
	}
	return a
}

// table holds F by characters of the serial and cells of the reading: F[j][i] is
// the likelihood that the first i cells are a reading of the first j characters.
type table struct {
	*asked
	f [][]float64
}

func newTable(a *asked) *table {
	t := &table{asked: a, f: make([][]float64, maxCells+1)}
	for j := range t.f {
		t.f[j] = make([]float64, len(a.cells)+1)
	}
	t.column(0, nil)
	return t
}

// column fills column j from those before it, where at is the likelihood of each
// cell at that character.
func (t *table) column(j int, at []float64) {
	if t.f[j][0] = 1; j > 0 {
		t.f[j][0] = t.arm * t.f[j-1][0] // a character of the serial that was skipped
	}
	t.rows(j, 1, len(t.cells), at)
}

// rows fills some of column j.
func (t *table) rows(j, from, to int, at []float64) {
	now, extra := t.f[j], t.arm/float64(nSymbols)
	if j == 0 {
		for i := from; i <= to; i++ {
			now[i] = extra * now[i-1] // a cell too many
			if c := &t.cells[i-1]; c.sort == gap {
				now[i] += t.gone(j, i, c)
			}
		}
		return
	}
	before := t.f[j-1][:len(now)]
	for len(at) > 0 && from <= to {
		end := to // of the run of cells up to the next gap
		for _, i := range t.gaps {
			if i+1 >= from && i+1 <= to {
				end = i
				break
			}
		}
		last := now[from-1]
		x, y, l, out := before[from-1:end+1], before[from:end+1], at[from-1:end], now[from:end+1]
		for i := range out {
			last = extra*last + t.arm*y[i] + x[i]*l[i]
			out[i] = last
		}
		if end < to {
			now[end+1] = extra*last + t.arm*before[end+1] + t.gone(j, end+1, &t.cells[end])
		}
		from = end + 2
	}
}

// gone is what a gap before cell i brings at character j.
func (t *table) gone(j, i int, c *Cell) (sum float64) {
	for k := c.lo; k <= c.hi && k <= j; k++ {
		sum += t.f[j-k][i-1]
	}
	return sum / float64(c.hi-c.lo+1)
}

// ends is the likelihood of the whole reading under the first j characters.
func (t *table) ends(j int) float64 { return t.f[j][len(t.cells)] }

// likelihood is L(s) of a serial.
func (t *table) likelihood(serial []byte) float64 {
	for j, c := range serial {
		t.column(j+1, t.of[c])
	}
	return t.ends(len(serial))
}

// fit says, for every cell, which character of the serial it most likely reads;
// -1 for a gap, and for a cell too many. Amiss is how many cells are too many and
// how many characters were skipped.
func (a *asked) fit(serial []byte) (at []int, amiss int) {
	n, m := len(serial), len(a.cells)
	type from struct{ j, i int }
	best, came := make([][]float64, n+1), make([][]from, n+1)
	for j := range best {
		best[j], came[j] = make([]float64, m+1), make([]from, m+1)
		for i := range best[j] {
			if i == 0 && j == 0 {
				best[0][0] = 1
				continue
			}
			try := func(p float64, j0, i0 int) {
				if p > best[j][i] {
					best[j][i], came[j][i] = p, from{j0, i0}
				}
			}
			if j > 0 {
				try(a.arm*best[j-1][i], j-1, i)
			}
			if i == 0 {
				continue
			}
			try(a.arm/float64(nSymbols)*best[j][i-1], j, i-1)
			if c := &a.cells[i-1]; c.sort == gap {
				for k := c.lo; k <= c.hi && k <= j; k++ {
					try(best[j-k][i-1]/float64(c.hi-c.lo+1), j-k, i-1)
				}
			} else if j > 0 {
				try(best[j-1][i-1]*a.of[serial[j-1]][i-1], j-1, i-1)
			}
		}
	}
	at = make([]int, m)
	for i := range at {
		at[i] = -1
	}
	for j, i := n, m; best[n][m] > 0 && (j > 0 || i > 0); {
		f := came[j][i]
		switch {
		case f.i == i || a.cells[i-1].sort != gap && f.j == j:
			amiss++
		case a.cells[i-1].sort != gap:
			at[i-1] = j - 1
		}
		j, i = f.j, f.i
	}
	return at, amiss
}
