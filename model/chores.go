package model

import (
	"context"
	"errors"
	"fmt"
	"time"

	"pawl/model/fault"
	"pawl/model/internal/originals"
	"pawl/model/internal/store"
)

const (
	microsPerHour = 60 * 60 * 1_000_000
	// uploadHours is how long an upload waits for an act to name it.
	uploadHours = 24
	// dayHours is how long a checkpoint is that of the day.
	dayHours = 24
)

// Chores does what falls due by itself: a roll and a checkpoint a day, uploads and answers
// that nobody came back for, orphaned bytes. Doing it twice does nothing more,
// and of several processes one does it.
func (s *Shop) Chores(ctx context.Context, by By) (done []string, err error) {
	ran, err := s.db.Alone(ctx, "chores", func() error {
		var errs []error
		for _, chore := range []func(context.Context, By) (string, error){s.dailyRoll, s.dailyCheckpoint, s.dateCheckpoint, s.dropOld, s.dropPapers, s.removeOrphans} {
			said, err := chore(ctx, by)
			if said != "" {
				done = append(done, said)
			}
			errs = append(errs, err)
		}
		return errors.Join(errs...)
	})
	if err == nil && !ran {
		done = []string{"another process is at the chores already"}
	}
	return done, err
}

func (s *Shop) dailyCheckpoint(ctx context.Context, by By) (string, error) {
	return store.Write(ctx, s.db, store.Act{Verb: "checkpoint", Actor: by.Recorded()}, func(tx *store.Tx) (string, error) {
		if err := tx.Lock("ledger"); err != nil {
			return "", err
		}
		last, found, err := tx.LastCheckpoint()
		if err != nil || found && last.Made <= tx.Now() && tx.Now() < last.Made+dayHours*microsPerHour {
			return "", err // one that was made while the clock was ahead holds up none
		}
		size, err := tx.Size()
		if err != nil || size == 0 || found && size == last.Size {
			return "", err
		}
		v, err := s.checkpoint(tx)
		return fmt.Sprintf("signed a checkpoint of %d lines", v.Size), err
	})
}

func (s *Shop) dropOld(ctx context.Context, by By) (string, error) {
	return store.Write(ctx, s.db, store.Act{Verb: "drop", Actor: by.Recorded()}, func(tx *store.Tx) (string, error) {
		answers, err := tx.DropReplays()
		if err != nil {
			return "", err
		}
		uploads, err := tx.DropUploads(tx.Now() - uploadHours*microsPerHour)
		if err != nil {
			return "", err
		}
		possible, err := latestPossible(&tx.Rx)
		if err != nil {
			return "", err
		}
		if err := tx.SessionsUsedBy(possible); err != nil {
			return "", err
		}
		if err := tx.DropRemovals(tx.Now() - uploadHours*microsPerHour); err != nil {
			return "", err
		}
		door, err := tx.DropDoor(tx.Now()-sessionDays*microsPerDay, tx.Now()-guessWindow)
		if answers+uploads+door == 0 {
			return "", err
		}
		return fmt.Sprintf("forgot %d old answers, %d uploads that no act named, and %d links, sessions and wrong tries", answers, uploads, door), err
	})
}

// removeOrphans removes originals that no record and no upload names.
func (s *Shop) removeOrphans(ctx context.Context, by By) (string, error) {
	before := s.clock().Add(-uploadHours * time.Hour)
	var old []string
	err := s.originals.Walk(func(sha string, _ int64, modified time.Time) error {
		if modified.Before(before) {
			old = append(old, sha)
		}
		return ctx.Err()
	})
	if err != nil {
		return "", err
	}
	removed := 0
	for _, sha := range old {
		gone, err := s.removeUnwanted(ctx, by, sha)
		if err != nil {
			return "", err
		}
		if gone {
			removed++
		}
	}
	if _, err := s.originals.RemoveLeftovers(before); err != nil || removed == 0 {
		return "", err
	}
	return fmt.Sprintf("removed %d originals that nothing names", removed), nil
}

// removeUnwanted removes an original that no record and no upload names. Its bytes are
// removed outside of the act that says so: others would wait for a bucket that takes its
// time. Who sends the same bytes meanwhile sees that (sameRemoval).
func (s *Shop) removeUnwanted(ctx context.Context, by By, sha string) (bool, error) {
	removal := store.Act{Verb: "remove orphan", Actor: by.Recorded()}
	unwanted, err := store.Write(ctx, s.db, removal, func(tx *store.Tx) (bool, error) {
		if err := tx.Lock("originals"); err != nil {
			return false, err
		}
		wanted, err := tx.Wanted(sha)
		if err != nil || wanted {
			return false, err
		}
		return tx.BeginRemoval(sha)
	})
	if err != nil || !unwanted {
		return false, err
	}
	s.views.Forget(sha)
	if err := s.originals.Remove(sha); err != nil && !fault.Is(err, fault.NotFound) {
		return false, err
	}
	return store.Write(ctx, s.db, removal, func(tx *store.Tx) (bool, error) { return true, tx.EndRemoval(sha) })
}

// removalOf gives what is to be the same when the bytes that are now kept anew are noted.
// While they are being removed it is Unavailable; a text that is no hash is Invalid.
func (s *Shop) removalOf(ctx context.Context, sha string) (m store.Removal, err error) {
	if err := originals.CheckHash(sha); err != nil {
		return m, err
	}
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		if m, err = rx.RemovalOf(sha); err == nil && m.UnderWay(rx.Now()) {
			err = fault.New(fault.Unavailable, "the same bytes are being removed at this moment, as nothing named them").WithHint("send them again in a moment")
		}
		return err
	})
	return m, err
}

// sameRemoval sees within an act that bytes that were kept before it were not removed since,
// nor will be before what the act says stands.
func sameRemoval(tx *store.Tx, sha string, before store.Removal) error {
	if err := tx.Lock("originals"); err != nil {
		return err
	}
	now, err := tx.RemovalOf(sha)
	if err == nil && now != before {
		err = fault.New(fault.Unavailable, "the bytes were removed while they came in").WithHint("send them again")
	}
	return err
}
