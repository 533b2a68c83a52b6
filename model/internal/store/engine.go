package store

import (
	"context"
	"fmt"
)

// Engine says in words what the store runs on, as it is at this moment, and names what
// could lose an act that was answered; bad is empty when nothing could.
func (d *DB) Engine(ctx context.Context) (said, bad string, err error) {
	err = d.Read(ctx, func(rx *Rx) error {
		if _, lite := d.engine.(*sqliteEngine); lite {
			said, bad, err = liteSettings(rx)
		} else {
			said, bad, err = postgresSettings(rx)
		}
		return err
	})
	return said, bad, err
}

func liteSettings(rx *Rx) (said, bad string, err error) {
	var version, journal string
	var sync int
	for _, q := range []struct {
		query string
		to    any
	}{{"SELECT sqlite_version()", &version}, {"PRAGMA journal_mode", &journal}, {"PRAGMA synchronous", &sync}} {
		if err := rx.g.Raw(q.query).Row().Scan(q.to); err != nil {
			return "", "", err
		}
	}
	said = fmt.Sprintf("SQLite %s, journal_mode %s, synchronous %d", version, journal, sync)
	if journal != "wal" || sync != 2 {
		bad = "journal_mode must be wal and synchronous 2 (FULL)"
	}
	return said, bad, nil
}

func postgresSettings(rx *Rx) (said, bad string, err error) {
	var version, fsync, commit, pages string
	err = rx.g.Raw(`SELECT current_setting('server_version'), current_setting('fsync'), current_setting('synchronous_commit'), current_setting('full_page_writes')`).
		Row().Scan(&version, &fsync, &commit, &pages)
	said = fmt.Sprintf("PostgreSQL %s, fsync %s, synchronous_commit %s, full_page_writes %s", version, fsync, commit, pages)
	return said, forgets(fsync, commit, pages), err
}
