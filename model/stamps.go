package model

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"time"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/settings"
	"pawl/model/stamp"
)

// TimeStamp is what the shop's time-stamp authority says of some bytes. Without
// an answer Why says why there is none, and is empty where the shop has no
// authority.
type TimeStamp struct {
	At     dates.Instant
	Answer []byte // as openssl ts -verify takes it
	Why    string
}

// timeStamp has a SHA-256 dated, once: what was answered is kept. Its error is of
// the store's; an authority that fails does not fail what is dated.
func (s *Shop) timeStamp(ctx context.Context, by By, digest [sha256.Size]byte) (out TimeStamp, err error) {
	var set settings.Settings
	var kept store.Stamp
	var known bool
	name := hex.EncodeToString(digest[:])
	err = s.db.Read(ctx, func(rx *store.Rx) (err error) {
		if set, err = rx.Settings(); err != nil {
			return err
		}
		kept, known, err = rx.Stamp(name)
		return err
	})
	switch {
	case err != nil:
		return out, err
	case known:
		return TimeStamp{At: kept.At, Answer: kept.Answer}, nil
	case set.TimeAuthority == "":
		return out, nil
	}
	answer, at, err := s.askAuthority(ctx, set, digest)
	if err != nil {
		s.log.Warn("no time stamp", "why", err)
		return TimeStamp{Why: fault.Of(err).Message}, nil
	}
	out = TimeStamp{At: dates.InstantOf(at), Answer: answer}
	return store.Write(ctx, s.db, store.Act{Verb: "time stamp", Actor: by.Recorded()}, func(tx *store.Tx) (TimeStamp, error) {
		if err := tx.Lock("stamps"); err != nil {
			return out, err
		}
		kept, err := tx.KeepStamp(store.Stamp{Digest: name, At: out.At, Answer: answer})
		return TimeStamp{At: kept.At, Answer: kept.Answer}, err
	})
}

func (s *Shop) askAuthority(ctx context.Context, set settings.Settings, digest [sha256.Size]byte) ([]byte, time.Time, error) {
	a := stamp.Authority{URL: set.TimeAuthority, Transport: s.outside, Chance: s.chance}
	if set.TimeAuthorityRoots != "" {
		roots, err := stamp.ParseRoots(set.TimeAuthorityRoots)
		if err != nil {
			return nil, time.Time{}, err
		}
		a.Roots = roots
	}
	return stamp.Stamp(ctx, a, digest)
}

// dater dates the tag manifest of a bag. Why it is not dated stands in the log: in the bag
// nothing could hold it.
func (s *Shop) dater(ctx context.Context, by By) func([sha256.Size]byte) []byte {
	return func(digest [sha256.Size]byte) []byte {
		t, err := s.timeStamp(ctx, by, digest)
		if err != nil {
			s.log.Warn("no time stamp", "why", err)
		}
		return t.Answer
	}
}

// DatedCheckpoint is a checkpoint with its time stamp.
type DatedCheckpoint struct {
	CheckpointView
	TimeStamp TimeStamp
}

// DatedCheckpoint signs the ledger as it stands, and has the shop's authority
// date what was signed, where it has one.
func (s *Shop) DatedCheckpoint(ctx context.Context, by By) (out DatedCheckpoint, err error) {
	if out.CheckpointView, err = s.Checkpoint(ctx, by); err != nil {
		return out, err
	}
	out.TimeStamp, err = s.timeStamp(ctx, by, sha256.Sum256([]byte(out.Note)))
	return out, err
}

// dateCheckpoint has the newest checkpoint dated, if the shop has an authority
// and it is not dated yet.
func (s *Shop) dateCheckpoint(ctx context.Context, by By) (string, error) {
	var last store.Checkpoint
	var fresh bool
	err := s.db.Read(ctx, func(rx *store.Rx) error {
		fresh = false
		set, err := rx.Settings()
		if err != nil || set.TimeAuthority == "" {
			return err
		}
		var found bool
		if last, found, err = rx.LastCheckpoint(); err != nil || !found {
			return err
		}
		_, dated, err := rx.Stamp(digestOf(last.Note))
		fresh = !dated
		return err
	})
	if err != nil || !fresh {
		return "", err
	}
	t, err := s.timeStamp(ctx, by, sha256.Sum256([]byte(last.Note)))
	if err != nil || t.Answer == nil {
		return t.Why, err
	}
	return "had the checkpoint dated", nil
}
