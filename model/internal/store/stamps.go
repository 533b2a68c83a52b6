package store

import "pawl/model/dates"

// Stamp is what a time-stamp authority answered about a SHA-256.
type Stamp struct {
	Digest string        // hexadecimal
	At     dates.Instant // what it says
	Answer []byte
}

// TableName names the table of time stamps.
func (Stamp) TableName() string { return "stamps" }

// Stamp gives the time stamp of a SHA-256.
func (r *Rx) Stamp(digest string) (Stamp, bool, error) { return one[Stamp](r, "digest = ?", digest) }

// KeepStamp keeps a time stamp, and gives the one that is kept: of two the first stays.
func (tx *Tx) KeepStamp(s Stamp) (Stamp, error) {
	if first, kept, err := tx.Stamp(s.Digest); err != nil || kept {
		return first, err
	}
	tx.touched = true
	_, err := tx.exec(`INSERT INTO stamps (digest, "at", answer) VALUES (?, ?, ?)`, s.Digest, int64(s.At), s.Answer)
	return s, err
}
