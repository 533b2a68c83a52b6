package matching

import (
	"container/heap"
	"math"
)

// Assign gives each answer the tool that it is best taken for, where no tool is
// taken twice: of all ways to do so the likeliest one, none of them being always
// one way. It gives for each answer which candidate, or -1.
func Assign(answers []Answer) []int {
	columns := map[uint64]int{}
	rows := make([][]edge, len(answers))
	for r, a := range answers {
		for i, c := range a.Candidates {
			if _, known := columns[c.Handle]; !known {
				columns[c.Handle] = len(columns)
			}
			rows[r] = append(rows[r], edge{columns[c.Handle], i, surprise(c.Posterior)})
		}
	}
	for r, a := range answers {
		rows[r] = append(rows[r], edge{len(columns) + r, -1, surprise(a.None)})
	}
	m := newMatch(rows, len(columns)+len(answers))
	out := make([]int, len(answers))
	for r := range rows {
		m.add(r)
	}
	for r, edges := range rows {
		for _, e := range edges {
			if e.column == m.columnOf[r] {
				out[r] = e.which
			}
		}
	}
	return out
}

// surprise is the cost of taking something for true; the likelihoods of what is
// taken together are multiplied.
func surprise(p float64) float64 { return -math.Log(min(max(p, 1e-300), 1)) }

// edge is one choice of a row.
type edge struct {
	column, which int
	cost          float64
}

// match is a cheapest assignment of the rows so far, by shortest augmenting paths.
type match struct {
	rows            [][]edge
	columnOf, rowOf []int
	u, v            []float64 // prices of rows and columns; no edge is under their sum

	dist []float64
	from []int
	done []bool
}

func newMatch(rows [][]edge, columns int) *match {
	m := &match{rows: rows, columnOf: make([]int, len(rows)), rowOf: make([]int, columns), u: make([]float64, len(rows)), v: make([]float64, columns),
		dist: make([]float64, columns), from: make([]int, columns), done: make([]bool, columns)}
	for j := range m.rowOf {
		m.rowOf[j] = -1
	}
	return m
}

// add assigns one more row, moving others where that is cheaper for all.
func (m *match) add(row int) {
	for j := range m.dist {
		m.dist[j], m.done[j] = math.Inf(1), false
	}
	var seen []int
	next, i, at := &queue{}, row, 0.0
	j := -1
	for {
		for _, e := range m.rows[i] {
			if d := at + e.cost - m.u[i] - m.v[e.column]; !m.done[e.column] && d < m.dist[e.column] {
				m.dist[e.column], m.from[e.column] = d, i
				heap.Push(next, reached{e.column, d})
			}
		}
		for {
			r := heap.Pop(next).(reached) // a row's own column is always reached
			if j, at = r.column, r.dist; !m.done[j] {
				break
			}
		}
		m.done[j] = true
		seen = append(seen, j)
		if m.rowOf[j] < 0 {
			break
		}
		i = m.rowOf[j]
	}
	for _, k := range seen {
		if r := m.rowOf[k]; r >= 0 {
			m.u[r] += at - m.dist[k]
		}
		m.v[k] -= at - m.dist[k]
	}
	m.u[row] += at
	for {
		i := m.from[j]
		before := m.columnOf[i]
		m.rowOf[j], m.columnOf[i] = i, j
		if i == row {
			return
		}
		j = before
	}
}

// queue holds columns by their distance.
type reached struct {
	column int
	dist   float64
}

type queue []reached

func (q queue) Len() int           { return len(q) }
func (q queue) Less(i, j int) bool { return q[i].dist < q[j].dist }
func (q queue) Swap(i, j int)      { q[i], q[j] = q[j], q[i] }
func (q *queue) Push(x any)        { *q = append(*q, x.(reached)) }
func (q *queue) Pop() any {
	last := (*q)[len(*q)-1]
	*q = (*q)[:len(*q)-1]
	return last
}
