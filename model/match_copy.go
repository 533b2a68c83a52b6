package model

import (
	"context"
	"io"
	"strings"

	"pawl/model/bag"
	"pawl/model/copies"
	"pawl/model/custody"
	"pawl/model/fault"
	"pawl/model/ledger"
	"pawl/model/matching"
	"pawl/model/numbers"
	"pawl/model/packets"
	"pawl/model/proofs"
)

// matchCopy are the serials of a copy of tools, which is kept where the shop may be
// gone. A handle is the place of a tool in it.
type matchCopy struct {
	ix   *matching.Index
	rows []ToolRow
}

// MatchCopy tells which tool of a copy a reading is of. It needs no shop.
func MatchCopy(ctx context.Context, r io.ReaderAt, size int64, q MatchQuery) (v MatchView, err error) {
	asked, err := q.read()
	if err != nil {
		return v, err
	}
	c, err := readCopied(r, size)
	if err != nil {
		return v, err
	}
	if err := q.narrows(c.ix, asked, "the copy"); err != nil {
		return v, err
	}
	return c.matched(ctx, asked, q)
}

// MatchListCopy tells which tools of a copy the readings of a CSV are of.
func MatchListCopy(ctx context.Context, r io.ReaderAt, size int64, file io.Reader, found string) (out MatchedList, err error) {
	found, none, err := whereFound(found)
	if err != nil {
		return out, err
	}
	list, err := readReadings(file)
	if err != nil {
		return out, err
	}
	c, err := readCopied(r, size)
	if err != nil {
		return out, err
	}
	out.Ignored = list.ignored
	out.Rows, err = list.match(c.ix, none, found, func(a matching.Query, q MatchQuery) (MatchView, error) { return c.matched(ctx, a, q) })
	return out, err
}

// readCopied reads the serials of a copy that holds: one of a shop that was kept
// elsewhere, or one of somebody's own tools.
func readCopied(r io.ReaderAt, size int64) (c matchCopy, err error) {
	b, err := bag.Open(r, size)
	if err != nil {
		return c, err
	}
	if packets.IsElsewhere(b) {
		checked, err := packets.CheckElsewhere(b, proofs.Outside{})
		if err == nil {
			err = mustHold(checked.Problems)
		}
		if err != nil {
			return c, err
		}
		return serialsShown(checked.Proven)
	}
	checked, err := copies.Check(b, proofs.Outside{})
	if err == nil {
		err = mustHold(checked.Problems)
	}
	if err != nil {
		return c, err
	}
	return serialsOf(checked.Tools)
}

func mustHold(problems []string) error {
	if len(problems) == 0 {
		return nil
	}
	return fault.New(fault.Invalid, "the copy does not hold: %s", strings.Join(problems[:min(3, len(problems))], "; ")).
		WithHint("get it again from where it was made; pawl verify FILE tells all of it")
}

// serialsShown takes the serials from the lines that a copy shows.
func serialsShown(p proofs.Proven) (c matchCopy, err error) {
	b := matching.NewBuilder()
	for _, id := range p.IDs("tool") {
		r := p.Records[proofs.RecordID{Noun: "tool", ID: id}]
		if r.After == nil {
			continue
		}
		image, err := ledger.ParseImage(r.After)
		if err != nil {
			return c, err
		}
		c.add(b, id, textOf(image, "number"), image)
	}
	c.ix = b.Index()
	return c, nil
}

// serialsOf takes the serials from the records of a bag.
func serialsOf(tools []copies.Tool) (c matchCopy, err error) {
	b := matching.NewBuilder()
	for _, t := range tools {
		image, err := t.Record.Image()
		if err != nil {
			return c, err
		}
		c.add(b, t.Record.ID, strings.ReplaceAll(t.Number, "-", ""), image)
	}
	c.ix = b.Index()
	return c, nil
}

// add takes in one tool by its record.
func (c *matchCopy) add(b *matching.Builder, id, number string, image ledger.Image) {
	row := ToolRow{ID: id, Number: numbers.Number(number), Kind: textOf(image, "kind"), Maker: textOf(image, "maker"),
		Model: textOf(image, "model"), Serial: textOf(image, "serial"), GoneWhy: textOf(image, "gone_why"), State: custody.State("in the copy")}
	if key := textOf(image, "serial_key"); key != "" {
		b.Add(matching.Entry{Handle: uint64(len(c.rows)), Maker: textOf(image, "maker_key"), Kind: row.Kind, Serial: key})
	}
	c.rows = append(c.rows, row)
}

func (c matchCopy) matched(ctx context.Context, asked matching.Query, q MatchQuery) (MatchView, error) {
	a, err := c.ix.Match(ctx, asked, matching.Usual, q.Limit)
	v := viewOf(a, asked, q.Found)
	for _, one := range a.Candidates {
		v.Candidates = append(v.Candidates, MatchedTool{one, WhichRow{ToolRow: c.rows[one.Handle]}})
	}
	return v, err
}
