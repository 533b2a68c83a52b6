package store

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"pawl/model/ledger"
)

// addTools adds tools of some lines each, spread over the ledger, as acts would
// have, but many to a statement.
func addTools(rx *Rx, tools, each int, touched *bool) error {
	const some = 500
	salt := make([]byte, ledger.SaltSize)
	var tree ledger.Tree
	var rows, lines, hashes, about []any
	flush := func() error {
		if len(lines) == 0 {
			return nil
		}
		err := errors.Join(insert(rx, `lines (seq, act, "at", noun, id, rev, line, salt, after)`, 9, lines), insert(rx, "hashes (idx, hash)", 2, hashes), insert(rx, "line_tools (tool, seq)", 2, about))
		if len(rows) > 0 {
			err = errors.Join(err, insert(rx, "tools (id, rev, kind)", 3, rows))
		}
		rows, lines, hashes, about = nil, nil, nil, nil
		return err
	}
	image := ledger.Image{"kind": "jack"}.Canonical()
	for seq := int64(0); seq < int64(tools*each); seq++ {
		id, rev := fmt.Sprintf("T-%07d", (seq*7919)%int64(tools)), seq/int64(tools)+1
		line := ledger.Line{V: ledger.Version, Seq: seq, Act: seq, At: 1, Actor: "a", Verb: "do", Noun: "tool", ID: id, Rev: rev, Tools: []string{id},
			Digest: ledger.Digest(salt, image)}.Canonical()
		if rev == int64(each) {
			rows = append(rows, id, rev, "jack")
		}
		lines = append(lines, seq, seq, 1, "tool", id, rev, line, salt, image)
		about = append(about, id, seq)
		for i, h := range tree.Add(line) {
			hashes = append(hashes, ledger.FirstStored(seq)+int64(i), h[:])
		}
		if len(lines) >= some*9 {
			if err := flush(); err != nil {
				return err
			}
		}
	}
	*touched = true
	return flush()
}

// A roll takes in what is new, and no more: a hundred lines cost a small part of
// what all of them did. Verify makes it again a batch at a time.
func TestRollsAreMadeOfWhatIsNew(t *testing.T) {
	const each, bound = 10, 3 << 20
	onBoth(t, func(t *testing.T, at *site) {
		tools := pawlSize(2_000, 6_000, 1_000_000)
		size := int64(tools * each)
		d := at.openDamaged(t) // verified below
		do(t, d, func(tx *Tx) error { return addTools(&tx.Rx, tools, each, &tx.touched) })
		lap := func(what string, do func() error) time.Duration {
			start := time.Now()
			if err := do(); err != nil {
				t.Fatal(what, err)
			}
			took := time.Since(start)
			t.Logf("%s: %s", what, took.Round(time.Millisecond))
			return took
		}
		all := lap("all lines into the leaves", func() error { return d.RollLeaves(ctx, Act{Verb: "roll"}, size-100) })
		some := lap("a hundred more", func() error { return d.RollLeaves(ctx, Act{Verb: "roll"}, size) })
		if some > all/5 {
			t.Errorf("a hundred lines took %s, all %d took %s", some, size, all)
		}
		var roll ledger.Roll
		lap("the root", func() error {
			return d.Read(ctx, func(rx *Rx) (err error) { roll, err = rx.RollNow(ctx, size); return err })
		})
		roll.ID = "2026-11-02"
		do(t, d, put(roll))
		lap("a tool under it", func() error {
			return d.Read(ctx, func(rx *Rx) error { _, err := rx.ToolsUnder(ctx, roll, []string{"T-0000007"}); return err })
		})
		before := liveHeap()
		watch := &watching{}
		d.Watch(watch.asked)
		err := d.Read(ctx, func(rx *Rx) error {
			v := verifier{Rx: rx, ctx: ctx, said: newPairs()}
			v.listed.seed = v.said.seed
			lap("verify: lines", v.lines)
			lap("verify: rolls", func() error { return v.rolls(WhichRolls{Newest: 1}) })
			lap("verify: tools of lines", v.lineTools)
			if len(v.report.Problems) > 0 || v.report.Rolls != 1 || v.listed.n != size {
				t.Errorf("%+v, %d lines under tools", v.report, v.listed.n)
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		if grown := int64(watch.most) - int64(before); watch.samples < 5 || grown > bound {
			t.Errorf("%d tools: the heap grew by %d bytes, over %d, in %d samples", tools, grown, bound, watch.samples)
		}
	})
}
