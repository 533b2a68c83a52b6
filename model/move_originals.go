package model

import (
	"context"
	"errors"

	"pawl/model/fault"
	"pawl/model/internal/originals"
	"pawl/model/internal/store"
)

// MoveOriginals moves the photos and papers of a shop, whose records stay where they are:
// into a bucket, s3://BUCKET/PREFIX, or out of one into the folder, which is empty. Nobody
// else may have the shop open meanwhile. Each is held against its hash where it went before
// the shop looks for them there; until then, and where it was broken off, they are where
// they were. What is left behind stays as it was.
func MoveOriginals(ctx context.Context, from Options, to string) (out Moved, err error) {
	if from.Clock == nil {
		from.Clock = systemClock
	}
	m := &moving{Move: Move{From: from, Originals: to}, target: from}
	if m.from, err = m.end(ctx, from, store.Standing); err != nil {
		return out, err
	}
	defer func() { err = errors.Join(err, m.from.db.Close()) }()
	if m.me, err = m.from.identity(ctx); err == nil && m.me.ID == "" {
		err = store.None()
	}
	if err == nil {
		err = m.openOtherOriginals(ctx)
	}
	for _, do := range []func(context.Context) error{m.measure, m.copy, m.verify} {
		if err == nil {
			err = do(ctx)
		}
	}
	if err != nil || !m.out.OK() {
		return m.out, err
	}
	return m.out, writeMove(ctx, m.from.db, func(tx *store.Tx) error { return tx.SetOriginals(m.where.String()) })
}

// openOtherOriginals opens the originals where they are and where they go; of both ends the
// rest is the same.
func (m *moving) openOtherOriginals(ctx context.Context) error {
	is, err := originals.ParseLocation(m.me.Originals)
	if err != nil {
		return err
	}
	if m.where, err = originals.ParseLocation(m.Originals); err != nil {
		return err
	}
	if is == m.where {
		return fault.New(fault.Invalid, "the originals are in %s already", is.Words()).WithHint("name another place: --originals s3://BUCKET/PREFIX, or --originals folder")
	}
	if m.from.originals, err = openOriginals(is, m.from.dir, m.me.ID, m.From); err != nil {
		return err
	}
	there := &Shop{db: m.from.db, dir: m.from.dir, clock: m.from.clock, keys: m.from.keys}
	if there.originals, err = openOriginals(m.where, there.dir, m.me.ID, m.From); err != nil {
		return err
	}
	m.to, m.out.To, m.out.Originals = there, placeOf(m.From), m.where.Words()
	if b, remote := there.originals.(*originals.Bucket); remote {
		return createsOnly(ctx, b)
	}
	return nil
}
