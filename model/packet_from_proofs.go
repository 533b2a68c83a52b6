package model

import (
	"cmp"
	"context"
	"slices"

	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/ledger"
	"pawl/model/packets"
	"pawl/model/proofs"
)

// proofs are those that a packet built in the shop would hold, out of the copy: the lines
// that concern the statement, the checkpoint from before what it is about, and its tools
// under the roll from then and the newest.
func (c *copied) proofs(st claims.Statement) (src proofs.Source, err error) {
	src = c.newest.Proven.Part(c.newest.Bag, "")
	if src.Lines, err = c.lines(st); err != nil {
		return src, err
	}
	if p, found := c.newest.PointBy(before(st)); found {
		src.Anchor = anchorOf(p.Note, p.Stamp)
	}
	src.Rolls = c.rolls(toolsOf(st), before(st))
	return src, nil
}

// badStamps name the time stamps on older checkpoints of a copy that do not hold: what they
// were to date is dated by the shop's clock alone.
func badStamps(points []packets.Point) (out []string) {
	for _, p := range points {
		if len(p.Stamp) == 0 {
			continue
		}
		if _, err := stampOn(p.Note, p.Stamp); err != nil {
			out = append(out, badStamp(p.Size, err))
		}
	}
	return out
}

// rolls hands over the last roll from before, and the newest; of their leaves those of some
// tools.
func (c *copied) rolls(of []string, by dates.Instant) func(keep func(proofs.RollRow) error) error {
	covers := map[int64]int64{} // by the place of the roll's line
	if all := c.newest.Proven.Rolls; len(all) > 0 {
		newest := slices.MaxFunc(all, func(a, b proofs.Rolled) int { return cmp.Compare(a.Size, b.Size) })
		covers[newest.Seq] = 0
	}
	if then, anchor := c.newest.Covers(by); then != nil {
		covers[then.Seq] = anchor
	}
	tools := map[string]bool{}
	for _, id := range of {
		tools[id] = true
	}
	return func(keep func(proofs.RollRow) error) error {
		taken := false
		return proofs.RollRows(c.newest.Bag, func(row proofs.RollRow) error {
			if row.Roll != nil {
				line, err := ledger.ParseLine([]byte(row.Roll.Line))
				if err != nil {
					return err
				}
				if row.Anchor, taken = covers[line.Seq]; !taken {
					return nil
				}
				return keep(row)
			}
			leaf, err := ledger.ParseToolLeaf([]byte(row.Leaf))
			if err != nil || !taken || !tools[leaf.Tool] {
				return err
			}
			return keep(row)
		})
	}
}

// anchors name the older checkpoint that goes along, as the shop's hand-over sheet does.
func (c *copied) anchors(st claims.Statement) func(context.Context) ([]string, error) {
	return func(context.Context) ([]string, error) {
		p, found := c.newest.PointBy(before(st))
		if !found {
			return nil, nil
		}
		return anchorWords(st, p), nil
	}
}

// told refuses what was asked for on purpose where the copy withholds it: read from it, it
// would say that there was none.
func (c *copied) told(h hanging, withheld map[about]int, ids []string) error {
	has := func(a claims.Addition) bool { return slices.Contains(c.facts.facts.Added, a) }
	for _, one := range []struct {
		asked bool
		noun  string
		what  string
	}{
		{has(claims.AddTightenings) || has(claims.AddOverrides), "use", "tightenings and measurements"},
		{has(claims.AddRechecks), "recheck", "settled rechecks"},
		{has(claims.AddJobs), "loan", "loans"},
	} {
		for _, id := range ids {
			if n := withheld[about{id, one.noun}]; one.asked && n > 0 {
				return fault.At("#/add", "the copy does not tell %d %s of tool %s", n, one.what, c.tools[id].Number.String()).
					WithHint("leave them out; a packet that is built in the shop can hold them, and a copy that is made with --add")
			}
		}
	}
	if !has(claims.AddJobs) {
		return nil
	}
	for job := range h.jobs(ids) {
		if _, known := c.facts.facts.Jobs[job]; !known {
			return fault.At("#/add", "the copy does not tell the number of a job that a tool was used on").
				WithHint("leave jobs out; a packet that is built in the shop can hold them, and a copy that is made with --add jobs")
		}
	}
	return nil
}

// about is a noun of records about a tool.
type about struct{ tool, noun string }
