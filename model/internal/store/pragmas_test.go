package store

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"testing"

	"pawl/model/fault"
)

// Every connection of both pools has the pragmas that durability and integrity
// need (SQLite documentation, PRAGMA synchronous: 2 is FULL). All of a pool are
// held at once, so that each is another one.
func TestEveryConnectionHasItsPragmas(t *testing.T) {
	d := emptySite(t, "sqlite").open(t)
	for name, pool := range map[string]struct {
		db   interface{ DB() (*sql.DB, error) }
		most int
		want string
	}{
		"write": {d.write, 1, "2 1 wal 0"},
		"read":  {d.read, 8, "2 1 wal 1"},
	} {
		db, err := pool.db.DB()
		if err != nil {
			t.Fatal(err)
		}
		if got := db.Stats().MaxOpenConnections; got != pool.most {
			t.Errorf("the %s pool has up to %d connections, want %d", name, got, pool.most)
		}
		for range pool.most {
			conn, err := db.Conn(ctx)
			if err != nil {
				t.Fatal(err)
			}
			defer conn.Close()
			var got []string
			for _, pragma := range []string{"synchronous", "foreign_keys", "journal_mode", "query_only"} {
				got = append(got, pragmaOf(t, conn, pragma))
			}
			if strings.Join(got, " ") != pool.want {
				t.Errorf("a %s connection has synchronous, foreign_keys, journal_mode, query_only = %v, want %s", name, got, pool.want)
			}
		}
	}
}

func pragmaOf(t *testing.T, conn *sql.Conn, name string) (value string) {
	t.Helper()
	if err := conn.QueryRowContext(context.Background(), "PRAGMA "+name).Scan(&value); err != nil {
		t.Fatal(err)
	}
	return value
}

// A connection that came out otherwise than asked is not used.
func TestAConnectionWithTheWrongPragmaIsRefused(t *testing.T) {
	at := emptySite(t, "sqlite")
	at.open(t)
	for _, asked := range []string{"_synchronous=OFF", "_synchronous=NORMAL", "_foreign_keys=0", "_busy_timeout=5"} {
		e := &sqliteEngine{dir: at.Dir}
		c := e.connector("")
		option := asked[:strings.Index(asked, "=")]
		before, after, found := strings.Cut(c.dsn, option+"=")
		if !found {
			t.Fatalf("%s is not in %s", option, c.dsn)
		}
		rest := after[strings.Index(after, "&"):]
		c.dsn = before + asked + rest
		if _, err := c.Connect(ctx); err == nil || !strings.Contains(err.Error(), "as asked") {
			t.Errorf("%s: %v, want a refusal", asked, err)
		}
	}
}

// A build that asks for less than FULL on purpose does so (the crash test uses
// it to show that it can fail), but never by a value that SQLite does not know.
func TestAnUnknownSynchronousIsRefused(t *testing.T) {
	defer func(was string) { synchronous = was }(synchronous)
	synchronous = "7"
	_, err := Open(ctx, emptySite(t, "sqlite").Config)
	if err == nil {
		t.Fatal("it opened")
	}
	if f := fault.Of(err); strings.Contains(f.Error(), "synchronous") {
		t.Errorf("the message %q names the program's inside", f)
	}
}

// PostgreSQL answers only after its log is on the disk.
func TestPostgresCommitsSynchronously(t *testing.T) {
	d := emptySite(t, "postgres").open(t)
	do(t, d, func(tx *Tx) error {
		var commit, zone string
		err := tx.query(func(scan func(...any) error) error { return scan(&commit, &zone) },
			"SELECT current_setting('synchronous_commit'), current_setting('timezone')")
		if err == nil && (commit != "on" || zone != "UTC") {
			err = fmt.Errorf("synchronous_commit %s, timezone %s", commit, zone)
		}
		return err
	})
}
