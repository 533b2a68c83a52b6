package model

import (
	"context"
	"syscall"

	"pawl/model/dates"
	"pawl/model/internal/store"
)

// Vitals are the figures by which somebody watches over a shop. None of them tells of a
// person, a tool or a price.
type Vitals struct {
	Lines      int64         // of the ledger
	Checkpoint dates.Instant // the last; 0: none
	Backup     dates.Instant // the last one that is known of; 0: none
	Elsewhere  dates.Instant // the last copy made to be kept elsewhere; 0: none
	Free       int64         // bytes of the disk on which the data folder is; -1: the system does not tell
	Doubtful   bool          // the clock
}

// Vitals reads them. Its fault is Unavailable where the store does not answer.
func (s *Shop) Vitals(ctx context.Context) (v Vitals, err error) {
	v.Backup, v.Free = s.LastBackup(), s.freeSpace()
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		clock, err := clockOf(rx)
		if err != nil {
			return err
		}
		last, _, err := rx.LastCheckpoint()
		if err != nil {
			return err
		}
		kept, err := elsewhereState(rx)
		if err != nil {
			return err
		}
		v.Doubtful, v.Checkpoint, v.Elsewhere = clock.Doubtful, last.Made, kept.Made
		v.Lines, err = rx.Size()
		return err
	})
	return v, err
}

// freeSpace is how many bytes are free where the data folder is; -1 where the system
// does not tell.
func (s *Shop) freeSpace() int64 {
	var fs syscall.Statfs_t
	if err := syscall.Statfs(s.dir, &fs); err != nil {
		return -1
	}
	return int64(fs.Bavail) * int64(fs.Bsize)
}
