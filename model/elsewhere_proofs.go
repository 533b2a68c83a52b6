package model

import (
	"cmp"
	"context"
	"maps"
	"slices"

	"pawl/model/dates"
	"pawl/model/internal/store"
	"pawl/model/packets"
	"pawl/model/proofs"
)

// leavesAtOnce is how many tools are proven under a roll in one reading: their paths are
// held in memory meanwhile.
const leavesAtOnce = 20_000

// mostLosses is of how many losses, the newest, a copy holds the roll from before.
const mostLosses = 100

// anchors chooses the rolls and older checkpoints of the copy: those that a packet built in
// the shop just then would show, of any tool, and of any loss.
func (k *keeping) anchors(rx *store.Rx, losses map[string]dates.Instant) error {
	rolls, err := rollsUnder(rx, k.point.Size)
	if err != nil {
		return err
	}
	times := slices.DeleteFunc(slices.Sorted(maps.Values(losses)), func(i dates.Instant) bool { return i == 0 })
	times = append(times[max(0, len(times)-mostLosses):], k.src.Made)
	held, sizes := map[string]placedRoll{}, map[int64]bool{}
	if len(rolls) > 0 {
		held[rolls[0].ID] = rolls[0]
	}
	for _, by := range times {
		covers, err := rx.CheckpointBy(by, k.point.Size)
		if err != nil {
			return err
		}
		if then, found := lastUnder(rolls, covers); found {
			held[then.ID] = then
		}
		older, err := rx.CheckpointBy(by, k.point.Size-1)
		if err != nil {
			return err
		}
		sizes[older] = true
	}
	delete(sizes, 0)
	k.rolls = slices.SortedFunc(maps.Values(held), func(a, b placedRoll) int { return cmp.Compare(a.Size, b.Size) })
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
		if err != nil || !found {
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

// rollRows proves every tool under each of the rolls.
func (k *keeping) rollRows(ctx context.Context, keep func(proofs.RollRow) error) error {
	for _, roll := range k.rolls {
		first := true
		for some := range slices.Chunk(k.tools, leavesAtOnce) {
			var rows []proofs.RollRow
			if err := k.s.db.Read(ctx, func(rx *store.Rx) (err error) {
				rows, err = rollRows(ctx, rx, some, roll, k.point.Size)
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
