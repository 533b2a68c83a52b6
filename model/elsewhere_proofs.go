package model

import (
	"cmp"
	"context"
	"iter"
	"maps"
	"slices"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/packets"
	"pawl/model/proofs"
)

// leavesAtOnce is how many tools are proven under a roll in one reading: their paths are
// held in memory meanwhile.
const leavesAtOnce = 20_000

// heldRoll is a roll that a copy holds, and the tools that it shows under it, by id.
type heldRoll struct {
	placedRoll
	tools map[string]bool
}

// anchors chooses the rolls and older checkpoints of the copy: those that a packet built in
// the shop just then would show, of any tool, and of any loss. The newest roll shows every
// tool, those from before a loss the tools that were on its list: a packet needs no others.
func (k *keeping) anchors(rx *store.Rx, rule *packets.Keeping) error {
	rolls, err := rollsUnder(rx, k.point.Size)
	if err != nil {
		return err
	}
	held, sizes := map[string]heldRoll{}, map[int64]bool{}
	hold := func(covers int64, tools iter.Seq[string]) {
		then, found := lastUnder(rolls, covers)
		if !found {
			return
		}
		if held[then.ID].tools == nil {
			held[then.ID] = heldRoll{then, map[string]bool{}}
		}
		for tool := range tools {
			held[then.ID].tools[tool] = true
		}
	}
	at := func(by dates.Instant, tools iter.Seq[string]) error {
		covers, err := rx.CheckpointBy(by, k.point.Size)
		if err != nil {
			return err
		}
		older, err := rx.CheckpointBy(by, k.point.Size-1)
		sizes[older] = true
		hold(covers, tools)
		hold(older, tools)
		return err
	}
	hold(k.point.Size, slices.Values(k.tools))
	if err := at(k.src.Made, slices.Values[[]string](nil)); err != nil {
		return err
	}
	for _, loss := range slices.Sorted(maps.Keys(rule.Found)) {
		found := rule.Found[loss]
		if found == 0 {
			continue
		}
		if err := at(found, maps.Keys(rule.Listed[loss])); err != nil {
			return err
		}
	}
	return k.hold(rx, slices.Collect(maps.Values(held)), sizes)
}

// hold puts the rolls and the older checkpoints of those sizes into the copy.
func (k *keeping) hold(rx *store.Rx, rolls []heldRoll, sizes map[int64]bool) (err error) {
	slices.SortFunc(rolls, func(a, b heldRoll) int { return cmp.Compare(a.Size, b.Size) })
	k.rolls = rolls[max(0, len(rolls)-proofs.MaxRolls):]
	delete(sizes, 0)
	at := slices.Sorted(maps.Keys(sizes))
	if err := k.points(rx, at); err != nil {
		return err
	}
	k.src.Proofs.Older, err = olderThan(rx, k.point.Size, k.src.Made, at...)
	return err
}

// points puts checkpoints of those sizes into the head of the copy.
func (k *keeping) points(rx *store.Rx, sizes []int64) error {
	k.src.Points = []packets.Point{}
	for _, size := range sizes {
		c, found, err := rx.CheckpointAt(size)
		if err == nil && !found {
			err = fault.New(fault.Internal, "the checkpoint of %d lines is not there any more", size).WithHint("run pawl verify")
		}
		if err != nil {
			return err
		}
		dated, _, err := rx.Stamp(digestOf(c.Note))
		if err != nil {
			return err
		}
		k.src.Points = append(k.src.Points, packets.Point{Size: c.Size, Made: c.Made, Note: c.Note, Stamp: dated.Answer})
	}
	return nil
}

// rollRows proves the tools of each of the rolls under it.
func (k *keeping) rollRows(ctx context.Context, keep func(proofs.RollRow) error) error {
	for _, roll := range k.rolls {
		first := true
		for some := range slices.Chunk(slices.Sorted(maps.Keys(roll.tools)), leavesAtOnce) {
			var rows []proofs.RollRow
			if err := k.s.db.Read(ctx, func(rx *store.Rx) (err error) {
				rows, err = rollRows(ctx, rx, some, roll.placedRoll, k.point.Size)
				return err
			}); err != nil {
				return err
			}
			if !first {
				rows = rows[1:] // the line of the roll stands already
			}
			first = false
			for _, row := range rows {
				if err := keep(row); err != nil {
					return err
				}
			}
		}
	}
	return nil
}
