package model

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"

	"pawl/model/dates"
	"pawl/model/internal/store"
	"pawl/model/ledger"
	"pawl/model/proofs"
)

// dailyRoll records the root over all tools, once a day of the shop's zone, when
// there are lines that no roll covers yet. Most of the work is done beside other
// acts: a roll says how much of the ledger it covers, and stands later in it.
func (s *Shop) dailyRoll(ctx context.Context, by By) (string, error) {
	day, size, err := s.rollDue(ctx)
	if err != nil || size == 0 {
		return "", err
	}
	act := store.Act{Verb: ledger.RollNoun, Actor: by.Recorded(), Long: true}
	if err := s.db.RollLeaves(ctx, act, size); err != nil {
		return "", err
	}
	var roll ledger.Roll
	if err := s.db.Read(ctx, func(rx *store.Rx) (err error) { roll, err = rx.RollNow(ctx, size); return err }); err != nil {
		return "", err
	}
	roll.ID = string(day)
	return store.Write(ctx, s.db, act, func(tx *store.Tx) (string, error) {
		if err := tx.Lock(ledger.RollNoun); err != nil {
			return "", err
		}
		if _, made, err := tx.Roll(day); err != nil || made {
			return "", err
		}
		row := roll
		return fmt.Sprintf("rolled %d tools in %d lines", roll.Tools, roll.Size), store.Put(tx, &row)
	})
}

// rollDue gives the day that wants its roll, and how many lines it covers; no
// lines mean that none is due.
func (s *Shop) rollDue(ctx context.Context) (day dates.Date, size int64, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		day, size = "", 0
		set, err := rx.Settings()
		if err != nil || set.ID == "" {
			return err
		}
		loc, err := set.Location()
		if err != nil {
			return err
		}
		day = dates.InstantOf(s.clock()).Day(loc)
		if _, made, err := rx.Roll(day); err != nil || made {
			return err
		}
		newest, err := rx.Rolls(ledger.MaxSize, 1)
		if err != nil {
			return err
		}
		from := int64(0)
		if len(newest) > 0 {
			from = newest[0].Size
		}
		if fresh, err := rx.Unrolled(from); err != nil || !fresh {
			return err
		}
		size, err = rx.Size()
		return err
	})
	return day, size, err
}

// placedRoll is a roll, where its line stands, and how many lines the older checkpoint has
// that covers it; 0: none is named.
type placedRoll struct {
	ledger.Roll
	seq, anchor int64
}

// rollsUnder gives the rolls whose line is among the first size, the newest first.
func rollsUnder(rx *store.Rx, size int64) (out []placedRoll, err error) {
	places, err := rx.RollPlaces()
	if err != nil {
		return nil, err
	}
	rolls, err := rx.Rolls(size, store.AllRolls)
	for _, r := range rolls {
		if places[r.ID] < size {
			out = append(out, placedRoll{Roll: r, seq: places[r.ID]})
		}
	}
	return out, err
}

// lastUnder finds the newest of those, the newest first, that a checkpoint of anchor lines covers.
func lastUnder(rolls []placedRoll, anchor int64) (then placedRoll, found bool) {
	at, _ := slices.BinarySearchFunc(rolls, anchor, func(r placedRoll, anchor int64) int { return cmp.Compare(anchor, r.seq+1) })
	if at == len(rolls) {
		return then, false
	}
	then = rolls[at]
	then.anchor = anchor
	return then, true
}

// rollsFor proves tools in two rolls, for a packet under a checkpoint of size
// lines: the last that a checkpoint signed by then covers, and the newest. They
// may be one. A packet must lead from the older checkpoint to its own, so that
// whoever was given it can compare.
func rollsFor(ctx context.Context, rx *store.Rx, tools []string, by dates.Instant, size int64) (out []proofs.RollRow, err error) {
	anchor, err := rx.CheckpointBy(by, size)
	if err != nil {
		return nil, err
	}
	rolls, err := rollsUnder(rx, size)
	if err != nil || len(rolls) == 0 {
		return nil, err
	}
	then, found := lastUnder(rolls, anchor)
	if found {
		if out, err = rollRows(ctx, rx, tools, then, size); err != nil || then.ID == rolls[0].ID {
			return out, err
		}
	}
	rows, err := rollRows(ctx, rx, tools, rolls[0], size)
	return append(out, rows...), err
}

// rollRows are the rows of one roll: its line, and a leaf for each of the tools.
func rollRows(ctx context.Context, rx *store.Rx, tools []string, roll placedRoll, size int64) ([]proofs.RollRow, error) {
	kept, err := rx.EntriesAt([]int64{roll.seq})
	if err != nil {
		return nil, err
	}
	entry, err := proofs.NewEntry(kept[0].Raw, kept[0].Salt, kept[0].After, size, rx)
	if err != nil {
		return nil, err
	}
	under, err := rx.ToolsUnder(ctx, roll.Roll, tools)
	if err != nil {
		return nil, err
	}
	out := []proofs.RollRow{proofs.NewRoll(entry, roll.anchor)}
	for _, u := range under {
		out = append(out, proofs.NewLeaf(u.ToolLeaf, u.Inclusion))
	}
	return out, nil
}

// anchorFor gives the last checkpoint, of at most size lines, that was signed by
// then, with its time stamp where it was dated; nil where there is none. It is
// for the packet that has rollsFor of the same time.
func anchorFor(rx *store.Rx, by dates.Instant, size int64) (*proofs.Anchor, error) {
	at, err := rx.CheckpointBy(by, size)
	if err != nil || at == 0 {
		return nil, err
	}
	c, found, err := rx.CheckpointAt(at)
	if err != nil || !found {
		return nil, err
	}
	dated, _, err := rx.Stamp(digestOf(c.Note))
	return anchorOf(c.Note, dated.Answer), err
}

// digestOf is the SHA-256 of a note, as time stamps are kept by it.
func digestOf(note string) string {
	sum := sha256.Sum256([]byte(note))
	return hex.EncodeToString(sum[:])
}
