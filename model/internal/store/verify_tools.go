package store

import (
	"encoding/binary"
	"hash/maphash"
	"slices"

	"pawl/model/ledger"
)

// pairs sums up a set of lines and their tools, in whatever order they come. The
// seed is new each time, so that nobody can have made two sets of one sum.
type pairs struct {
	seed maphash.Seed
	n    int64
	sum  uint64
}

func newPairs() pairs { return pairs{seed: maphash.MakeSeed()} }

func (p *pairs) add(tool string, seq int64) {
	var room [64]byte // for the ids of tools, so that nothing is allocated
	pair := append(binary.BigEndian.AppendUint64(room[:0], uint64(seq)), tool...)
	p.n, p.sum = p.n+1, p.sum+maphash.Bytes(p.seed, pair)
}

// lineTools holds the table of the tools of lines against the lines: by sums that
// both passes made on their way, and where these differ by looking for the line.
func (v *verifier) lineTools() error {
	if !v.whole || v.said == v.listed {
		return nil
	}
	if err := v.listedTools(); err != nil {
		return err
	}
	return v.saidTools()
}

// listedTools names lines of which the table says a tool that they do not.
func (v *verifier) listedTools() error {
	return v.query(func(scan func(...any) error) error {
		var tool string
		var seq int64
		var raw []byte
		if err := scan(&tool, &seq, &raw); err != nil {
			return err
		}
		if l, err := ledger.ParseLine(raw); err == nil && !slices.Contains(l.Tools, tool) {
			v.report.problem("ledger line %d: it is listed under tool %s, and says %v", seq, tool, l.Tools)
		}
		return nil
	}, "SELECT t.tool, t.seq, l.line FROM line_tools t JOIN lines l ON l.seq = t.seq ORDER BY t.tool, t.seq")
}

// saidTools names lines about a tool under which the table does not list them.
func (v *verifier) saidTools() error {
	for from := int64(0); ; {
		if err := v.ctx.Err(); err != nil {
			return canceled(err)
		}
		batch, err := v.entries(from, verifyBatch)
		if err != nil || len(batch) == 0 {
			return err
		}
		for i, e := range batch {
			l, err := ledger.ParseLine(e.Raw)
			if err != nil {
				return nil // named in the pass over the lines
			}
			for _, tool := range l.Tools {
				n, err := v.count("SELECT count(*) FROM line_tools WHERE tool = ? AND seq = ?", tool, from+int64(i))
				if err != nil {
					return err
				}
				if n == 0 {
					v.report.problem("ledger line %d: it speaks of tool %s and is not listed under it", l.Seq, tool)
				}
			}
		}
		from += int64(len(batch))
	}
}
