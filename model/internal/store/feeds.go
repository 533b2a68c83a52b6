package store

import "pawl/model/people"

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

// FeedOfSecret gives the id of the feed with that hashed secret, or "".
func (r *Rx) FeedOfSecret(hash []byte) (id string, err error) {
	err = r.query(func(scan func(...any) error) error { return scan(&id) }, "SELECT feed FROM feed_secrets WHERE hash = ?", hash)
	return id, err
}
