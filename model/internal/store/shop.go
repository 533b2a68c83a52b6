package store

import (
	"pawl/model/dates"
	"pawl/model/settings"
)

// ClockRow is the recorded row of the last time a manager vouched for the clock.
type ClockRow struct {
	ID        string `gorm:"primaryKey"`
	Rev       int64
	Confirmed dates.Instant // what the clock said then
	Through   int64         // lines that were in the ledger then
}

// TableName names the table of the clock.
func (ClockRow) TableName() string { return "clock" }

// ClockID is the id of its one row.
const ClockID = "clock"

// Settings gives the shop's settings.
func (r *Rx) Settings() (settings.Settings, error) {
	s, _, err := one[settings.Settings](r, "id = ?", settings.ID)
	return s, err
}

// Clock gives what is recorded of the clock; found is false until a manager
// vouches for it.
func (r *Rx) Clock() (ClockRow, bool, error) { return one[ClockRow](r, "id = ?", ClockID) }

// Identity is the store's name and the key that others know it by.
type Identity struct {
	ID      string
	VKey    string `gorm:"column:vkey"`
	Created dates.Instant

	Originals  string // where they are, s3://…; empty: in the folder beside the records
	MovedTo    string // where the shop stands now; empty: here
	MovingFrom string // from where it is being moved, not yet done; empty: it stands here
}

// TableName names the table of the one identity.
func (Identity) TableName() string { return "store" }

// Identity gives the store's own name; found is false before the first write.
func (r *Rx) Identity() (Identity, bool, error) { return one[Identity](r, "id <> ''") }

// SetIdentity names the store, once.
func (tx *Tx) SetIdentity(i Identity) error {
	tx.touched = true
	_, err := tx.exec("INSERT INTO store (id, vkey, created) VALUES (?, ?, ?)", i.ID, i.VKey, int64(i.Created))
	return err
}

// Checkpoint is one signed summary that was given out.
type Checkpoint struct {
	Size int64
	Note string
	Made dates.Instant
}

// TableName names the table of checkpoints.
func (Checkpoint) TableName() string { return "checkpoints" }

// CheckpointAt gives the checkpoint of that size, if one was made.
func (r *Rx) CheckpointAt(size int64) (Checkpoint, bool, error) {
	return one[Checkpoint](r, "size = ?", size)
}

// KeepCheckpoint keeps a signed checkpoint.
func (tx *Tx) KeepCheckpoint(c Checkpoint) error {
	tx.touched = true
	_, err := tx.exec("INSERT INTO checkpoints (size, note, made) VALUES (?, ?, ?)", c.Size, c.Note, int64(c.Made))
	return err
}

// Checkpoints gives those kept over more than after lines, smallest first.
func (r *Rx) Checkpoints(after int64, limit int) ([]Checkpoint, error) {
	return many[Checkpoint](r, "size", limit, "size > ?", after)
}

// Signing is when a checkpoint was signed, without its note.
type Signing struct {
	Size int64
	Made dates.Instant
}

// Signings gives every checkpoint, by size, without its note.
func (r *Rx) Signings() (out []Signing, err error) {
	err = r.g.Model(&Checkpoint{}).Select("size", "made").Order("size").Find(&out).Error
	return out, err
}

// CheckpointBy gives the size of the last checkpoint, of at most size lines,
// that was signed by that time; 0 where there is none.
func (r *Rx) CheckpointBy(by dates.Instant, size int64) (int64, error) {
	return r.count("SELECT max(size) FROM checkpoints WHERE made <= ? AND size <= ?", int64(by), size)
}

// LastCheckpoint gives the newest checkpoint kept.
func (r *Rx) LastCheckpoint() (Checkpoint, bool, error) {
	list, err := many[Checkpoint](r, "size DESC", 1, "size >= 0")
	if err != nil || len(list) == 0 {
		return Checkpoint{}, false, err
	}
	return list[0], true, nil
}
