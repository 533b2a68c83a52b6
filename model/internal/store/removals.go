package store

import "pawl/model/dates"

// Removal is of an original that nothing named. Its bytes go after the act that begins it,
// and before the one that ends it. Who keeps those bytes anew asks for it before and
// after: if it is the same, nobody began to remove them in between.
type Removal struct {
	Times int64 // how often it was begun
	Made  dates.Instant
	Done  dates.Instant // 0: it was not ended
}

// removalTakes is longer than a removal can be under way: a bucket is not waited for so
// long. One that was not ended by then was left by a process that died.
const removalTakes = 15 * 60 * 1_000_000

// UnderWay says whether the bytes may still be about to go.
func (m Removal) UnderWay(now dates.Instant) bool {
	age := now - m.Made
	return m.Times > 0 && m.Done == 0 && age > -removalTakes && age < removalTakes
}

// RemovalOf gives the removal of an original that was begun last, if any.
func (r *Rx) RemovalOf(sha256 string) (m Removal, err error) {
	err = r.query(func(scan func(...any) error) error {
		var done *int64
		var made int64
		err := scan(&m.Times, &made, &done)
		if m.Made = dates.Instant(made); done != nil {
			m.Done = dates.Instant(*done)
		}
		return err
	}, "SELECT times, made, done FROM removals WHERE sha256 = ?", sha256)
	return m, err
}

// BeginRemoval notes that the bytes of an original are about to be removed; begun is false
// where somebody else is at it. Of two, one would still remove what was kept anew after the
// other was done.
func (tx *Tx) BeginRemoval(sha256 string) (begun bool, err error) {
	if m, err := tx.RemovalOf(sha256); err != nil || m.UnderWay(tx.now) {
		return false, err
	}
	tx.touched = true
	_, err = tx.exec(`INSERT INTO removals (sha256, times, made) VALUES (?, 1, ?)
		ON CONFLICT (sha256) DO UPDATE SET times = removals.times + 1, made = excluded.made, done = NULL`, sha256, int64(tx.now))
	return err == nil, err
}

// EndRemoval notes that the bytes of an original are removed.
func (tx *Tx) EndRemoval(sha256 string) error {
	tx.touched = true
	_, err := tx.exec("UPDATE removals SET done = ? WHERE sha256 = ?", int64(tx.now), sha256)
	return err
}

// DropRemovals forgets removals that were ended before a time.
func (tx *Tx) DropRemovals(before dates.Instant) error {
	n, err := tx.exec("DELETE FROM removals WHERE done < ?", int64(before))
	tx.touched = tx.touched || n > 0
	return err
}
