package model

import (
	"bytes"
	"context"

	"pawl/model/claims"
	"pawl/model/evidence"
	"pawl/model/internal/store"
	"pawl/model/ledger"
	"pawl/model/packets"
	"pawl/model/proofs"
)

// freeze keeps the statement, signs the ledger at its size and records the packet.
func (s *Shop) freeze(ctx context.Context, by By, in NewPacket, row claims.Packet, raw []byte, left []claims.LeftOut) (built, error) {
	before, err := s.keepStatement(ctx, row, raw)
	if err != nil {
		return built{}, err
	}
	fingerprinted := ""
	return act(ctx, s, by, "packet", in, func(tx *store.Tx) (built, error) {
		if err := sameRemoval(tx, row.Statement, before); err != nil {
			return built{}, err
		}
		if err := tx.Lock("ledger"); err != nil {
			return built{}, err
		}
		note, key, err := s.signAt(tx, row.Lines)
		if err != nil {
			return built{}, err
		}
		if fingerprinted == "" {
			if fingerprinted, err = s.fingerprint(ctx, &tx.Rx, raw, note, key); err != nil {
				return built{}, err
			}
		}
		if err := noteGiven(tx, raw); err != nil {
			return built{}, err
		}
		p := row
		p.Fingerprint = fingerprinted
		return built{p.ID, left}, store.Put(tx, &p)
	})
}

// keepStatement keeps the bytes of a statement among the originals; the act that names it
// sees by what it gives that they are there still (sameRemoval).
func (s *Shop) keepStatement(ctx context.Context, row claims.Packet, raw []byte) (before store.Removal, err error) {
	if before, err = s.removalOf(ctx, row.Statement); err != nil {
		return before, err
	}
	_, _, err = s.originals.Put(ctx, row.Statement, bytes.NewReader(raw), evidence.MaxBytes*16)
	return before, err
}

// noteGiven notes that the list of a loss was handed over, with its newest supplement.
func noteGiven(tx *store.Tx, raw []byte) error {
	st, err := packets.Parse(string(raw))
	if err != nil || st.Loss == nil {
		return err
	}
	l, err := load[claims.Loss](tx, st.Loss.ID, "loss "+st.Loss.ID)
	if err != nil || l.Given >= st.Supplement {
		return err
	}
	l.Given = st.Supplement
	return store.Put(tx, &l)
}

// signAt gives the checkpoint over the first size lines, signed now where there is none.
func (s *Shop) signAt(tx *store.Tx, size int64) (note, key string, err error) {
	me, _, err := tx.Identity()
	if err != nil {
		return "", "", err
	}
	if kept, found, err := tx.CheckpointAt(size); err != nil || found {
		return kept.Note, me.VKey, err
	}
	origin, err := ledger.Origin(me.ID)
	if err != nil {
		return "", "", err
	}
	root, err := tx.Root(size)
	if err != nil {
		return "", "", err
	}
	if note, err = s.keys.sign(ledger.Checkpoint{Origin: origin, Size: size, Root: root}); err != nil {
		return "", "", err
	}
	return note, me.VKey, tx.KeepCheckpoint(store.Checkpoint{Size: size, Note: note, Made: tx.Now()})
}

// fingerprint is that of the annex that will be written.
func (s *Shop) fingerprint(ctx context.Context, rx *store.Rx, raw []byte, note, key string) (string, error) {
	st, err := packets.Parse(string(raw))
	if err != nil {
		return "", err
	}
	places, err := linesFor(rx, st)
	if err != nil {
		return "", err
	}
	src, err := s.annex(context.WithoutCancel(ctx), rx, st, raw, note, key)
	if err != nil {
		return "", err
	}
	src.Proofs.Lines = func(keep func(proofs.Entry) error) error { return entriesAt(rx, places, st.Size, keep) }
	sum, _, err := packets.Plan(src)
	return sum, err
}
