package store

import (
	"cmp"
	"database/sql"
	"math"
	"slices"
	"strings"

	"golang.org/x/mod/sumdb/tlog"

	"pawl/model/dates"
	"pawl/model/ledger"
)

// AllRolls is how many rolls there are at most.
const AllRolls = math.MaxInt32

// rolls makes rolls again from the lines alone, all of them in one pass by tool, and with
// them the table of leaves.
func (v *verifier) rolls(which WhichRolls) error {
	wanted, err := v.Rolls(ledger.MaxSize, which.Newest)
	if err != nil {
		return err
	}
	for _, id := range which.Named {
		r, found, err := v.Roll(dates.Date(id))
		if err != nil {
			return err
		}
		if found && !slices.ContainsFunc(wanted, func(o ledger.Roll) bool { return o.ID == id }) {
			wanted = append(wanted, r)
		}
	}
	slices.SortFunc(wanted, func(a, b ledger.Roll) int { return cmp.Or(cmp.Compare(a.Size, b.Size), strings.Compare(a.ID, b.ID)) })
	kept, err := v.LeavesSize()
	if err != nil {
		return err
	}
	m := rollMaker{verifier: v, sizes: []int64{kept}}
	for _, r := range wanted {
		m.sizes = append(m.sizes, r.Size)
	}
	slices.Sort(m.sizes)
	m.sizes = slices.Compact(m.sizes)
	if err := m.walk(kept); err != nil {
		return err
	}
	places, err := v.RollPlaces()
	if err != nil {
		return err
	}
	for _, r := range wanted {
		m.compare(r, places)
	}
	v.report.Rolls = int64(len(wanted))
	return nil
}

// rollMaker makes rolls from the lines.
type rollMaker struct {
	*verifier
	sizes  []int64
	roller *ledger.Roller
	made   []ledger.ToolLeaf // of the range of tools at hand, as of what the table has taken in
}

// walk goes through the lines of all tools, a range of tools at a time.
func (m *rollMaker) walk(kept int64) error {
	m.roller = ledger.NewRoller(m.sizes)
	at, _ := slices.BinarySearch(m.sizes, kept)
	m.roller.Each = func(k int, _ int64, leaf ledger.ToolLeaf, _ []tlog.Hash) {
		if k == at {
			m.made = append(m.made, leaf)
		}
	}
	for after := ""; ; {
		if err := m.ctx.Err(); err != nil {
			return canceled(err)
		}
		last, found, err := m.lastOfRange(after)
		if err != nil {
			return err
		}
		if !found {
			return m.strayLeaves(after)
		}
		if err := m.linesOf(after, last); err != nil {
			return err
		}
		if err := m.compareLeaves(after, last); err != nil {
			return err
		}
		after = last
	}
}

// lastOfRange gives the last of the next tools that lines speak of.
func (m *rollMaker) lastOfRange(after string) (last string, found bool, err error) {
	err = m.query(func(scan func(...any) error) error {
		found = true
		return scan(&last)
	}, "SELECT DISTINCT tool FROM line_tools WHERE tool > ? ORDER BY tool LIMIT ?", after, verifyBatch)
	return last, found, err
}

func (m *rollMaker) linesOf(after, last string) error {
	var tool string
	var seq int64
	var raw sql.RawBytes
	err := m.query(func(scan func(...any) error) error {
		err := scan(&tool, &seq, &raw)
		m.listed.add(tool, seq)
		m.roller.Line(tool, seq, ledger.LeafHash(raw))
		return err
	}, `SELECT t.tool, t.seq, l.line FROM line_tools t JOIN lines l ON l.seq = t.seq
		WHERE t.tool > ? AND t.tool <= ? ORDER BY t.tool, t.seq`, after, last)
	m.roller.End()
	return err
}

// compareLeaves holds the table of leaves against a range of what was made.
func (m *rollMaker) compareLeaves(after, last string) error {
	have := map[string]ledger.ToolLeaf{}
	err := m.query(func(scan func(...any) error) error {
		l, err := scanLeaf(scan)
		have[l.Tool] = l.ToolLeaf
		return err
	}, leafColumns+"WHERE tool > ? AND tool <= ?", after, last)
	for _, leaf := range m.made {
		if have[leaf.Tool] != leaf {
			m.report.problem("tool %s: what its lines come to is not kept as they say; it can be made anew", leaf.Tool)
		}
		delete(have, leaf.Tool)
	}
	for tool := range have {
		m.report.problem("tool %s: what its lines come to is kept, but no line then spoke of it; it can be made anew", tool)
	}
	m.made = m.made[:0]
	return err
}

// strayLeaves looks for leaves beyond the last tool that a line speaks of.
func (m *rollMaker) strayLeaves(after string) error {
	n, err := m.count("SELECT count(*) FROM leaves WHERE tool > ? OR tool = ''", after)
	if n > 0 {
		m.report.problem("what lines come to is kept for %d tools of which no line speaks; it can be made anew", n)
	}
	return err
}

// compare holds a roll against what was made.
func (m *rollMaker) compare(r ledger.Roll, places map[string]int64) {
	k, _ := slices.BinarySearch(m.sizes, r.Size)
	seq, recorded := places[r.ID]
	switch {
	case !recorded:
		return // named in the pass over the records
	case r.Size > seq:
		m.report.problem("roll %s: it says that it covers %d lines, but it is line %d itself", r.ID, r.Size, seq)
	case r.Tools != m.roller.Tools(k):
		m.report.problem("roll %s: it is over %d tools, but the first %d lines speak of %d", r.ID, r.Tools, r.Size, m.roller.Tools(k))
	case r.Root != m.roller.Root(k).String():
		m.report.problem("roll %s: the first %d lines about %d tools do not come to its root %s", r.ID, r.Size, r.Tools, r.Root)
	}
}
