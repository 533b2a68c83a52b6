package store

import (
	"pawl/model/dates"
	"pawl/model/people"
)

// Feeds gives every address of the calendar, oldest first; revoked ones too.
func (r *Rx) Feeds() ([]people.Feed, error) {
	return many[people.Feed](r, "since, id", 0, "id <> ''")
}

// Feed gives one by id.
func (r *Rx) Feed(id string) (people.Feed, bool, error) { return one[people.Feed](r, "id = ?", id) }

// KeepFeedSecret keeps the hash of what opens a calendar.
func (tx *Tx) KeepFeedSecret(hash []byte, feed string) error {
	_, err := tx.exec("INSERT INTO feed_secrets (hash, feed) VALUES (?, ?)", hash, feed)
	return err
}

// DropFeedSecret forgets it: it opens nothing any more.
func (tx *Tx) DropFeedSecret(feed string) error {
	_, err := tx.exec("DELETE FROM feed_secrets WHERE feed = ?", feed)
	return err
}

// FeedOfSecret gives the id of the feed with that hashed secret, or "", and when it was
// last read; 0 is never.
func (r *Rx) FeedOfSecret(hash []byte) (id string, used dates.Instant, err error) {
	err = r.query(func(scan func(...any) error) error { return scan(&id, (*int64)(&used)) }, "SELECT feed, used FROM feed_secrets WHERE hash = ?", hash)
	return id, used, err
}

// UseFeed notes that a calendar is read now.
func (tx *Tx) UseFeed(hash []byte) error {
	tx.touched = true
	_, err := tx.exec("UPDATE feed_secrets SET used = ? WHERE hash = ? AND used < ?", int64(tx.now), hash, int64(tx.now))
	return err
}

// FeedUses gives when each calendar that is in force was last read; 0 is never.
func (r *Rx) FeedUses() (map[string]dates.Instant, error) {
	last := map[string]dates.Instant{}
	err := r.query(func(scan func(...any) error) error {
		var feed string
		var used int64
		err := scan(&feed, &used)
		last[feed] = dates.Instant(used)
		return err
	}, "SELECT feed, used FROM feed_secrets")
	return last, err
}
