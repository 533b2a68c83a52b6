package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/mattn/go-sqlite3"
	"gorm.io/driver/sqlite"
	"gorm.io/gorm"

	"pawl/model/fault"
	"pawl/model/settings"
)

// Snapshot copies the records as they stand at one moment to a new file, which is on
// the disk when it returns. Others write meanwhile: in SQLite's log mode a reader
// holds nobody up (SQLite documentation, "Write-Ahead Logging", 2.2), and a copy in
// one step is of one moment ("Online Backup API": it locks the source only while it
// reads). From PostgreSQL they are carried row by row into a file of SQLite, as one
// transaction that repeats its reads sees them (PostgreSQL manual, 13.2.2), which holds
// nobody up either.
func (d *DB) Snapshot(ctx context.Context, path string) (err error) {
	if err := ctx.Err(); err != nil {
		return canceled(err)
	}
	if !d.InFolder() {
		return d.carryTo(ctx, path)
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fault.New(fault.Unavailable, "the backup cannot be written").WithHint("look at its disk: space, rights, health").WithCause(err)
	}
	err = syncing(f.Sync, func() error { return d.copyTo(ctx, path) })
	if err = errors.Join(err, f.Close()); err != nil {
		return errors.Join(fault.New(fault.Unavailable, "the records could not be copied").WithHint("look at both disks: space, rights, health").WithCause(err), os.Remove(path))
	}
	return nil
}

// syncEvery is how often a file is synced while it is written: what comes together
// meanwhile is on the disk in less time than that.
const syncEvery = 100 * time.Millisecond

// syncing does what fills a file, and has all of it on the disk: while it is written,
// since to sync gigabytes at its end would hold up each commit of others meanwhile by a
// third of a second, and once more then.
func syncing(sync, do func() error) error {
	done, synced := make(chan struct{}), make(chan error, 1)
	go func() {
		next := time.NewTicker(syncEvery)
		defer next.Stop()
		for {
			select {
			case <-done:
				synced <- sync()
				return
			case <-next.C:
				if err := sync(); err != nil { // the system says so once
					synced <- err
					return
				}
			}
		}
	}()
	err := do()
	close(done)
	return errors.Join(err, <-synced)
}

// carryTo fills a store in a folder beside the file, which becomes the file when it is whole.
func (d *DB) carryTo(ctx context.Context, path string) (err error) {
	dir := path + ".part"
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	var me Identity
	if err := d.Read(ctx, func(rx *Rx) (err error) {
		me, _, err = rx.Identity()
		return err
	}); err != nil {
		return err
	}
	me.MovingFrom = "a database of which this is a copy"
	to, err := Open(ctx, Config{Dir: dir, Alone: true, Moving: Arriving, Program: "pawl backup", Clock: d.clock, Chance: d.chance})
	if err != nil {
		return err
	}
	step := func(do func(*Tx) error) error {
		_, err := Write(ctx, to, Act{Verb: "backup"}, func(tx *Tx) (bool, error) { return true, do(tx) })
		return err
	}
	if err = step(func(tx *Tx) error { return tx.Arrive(me) }); err == nil {
		_, err = to.Carry(ctx, d)
	}
	if err == nil {
		err = step((*Tx).Settle)
	}
	if err = errors.Join(err, to.Close()); err != nil {
		return err
	}
	made := filepath.Join(dir, FileName)
	err = os.Chmod(made, 0o600)
	if err == nil {
		err = os.Rename(made, path)
	}
	if err != nil {
		return fault.New(fault.Unavailable, "the backup cannot be written").WithHint("look at its disk: space, rights, health").WithCause(err)
	}
	return syncFile(path)
}

// InFolder says whether the records are in a file of the data folder.
func (d *DB) InFolder() bool {
	_, lite := d.engine.(*sqliteEngine)
	return lite
}

func syncFile(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// copyTo copies page by page on a connection of its own.
func (d *DB) copyTo(ctx context.Context, path string) error {
	pool, err := d.read.DB()
	if err != nil {
		return err
	}
	conn, err := pool.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	return conn.Raw(func(from any) error {
		to, err := (&sqlite3.SQLiteDriver{}).Open(fileURL(path) + "?_journal_mode=OFF&_synchronous=0")
		if err != nil {
			return err
		}
		err = copyPages(to, from)
		fold(from)
		return errors.Join(err, to.Close())
	})
}

// fold brings what others wrote while a copy was read from the log into the file. Else
// the next act to commit would do all of it and be waited for, since nothing could be
// brought over as long as the reader needed what was before (SQLite documentation,
// "Write-Ahead Logging", 2.1). PASSIVE waits for nobody, and while it runs no commit
// does the same. The copy is whole without it, and what it leaves the next act does.
func fold(conn any) {
	if c, here := conn.(*sqlite3.SQLiteConn); here {
		_, _ = c.Exec("PRAGMA wal_checkpoint(PASSIVE)", nil)
	}
}

// copyPages copies all in one step, so that it is of one moment.
func copyPages(to driver.Conn, from any) error {
	source, here := from.(*sqlite3.SQLiteConn)
	target, there := to.(*sqlite3.SQLiteConn)
	if !here || !there {
		return fmt.Errorf("store: a connection is a %T, not SQLite's", from)
	}
	b, err := target.Backup("main", source, "main")
	if err != nil {
		return err
	}
	done, err := b.Step(-1)
	if err == nil && !done {
		err = errors.New("store: the copy did not end")
	}
	return errors.Join(err, b.Finish())
}

// SchemaVersion is the newest schema that this program knows.
func SchemaVersion() int { return schemaVersion }

// OpenFile opens the records in a file that nobody writes, to be read only: a copy in
// a backup. Nothing is made beside it. Its faults are Refused: no store, a foreign
// one, one of a newer program, or one of an older, which must be restored to be read.
func OpenFile(path string, now Config) (*DB, error) {
	if _, err := os.Stat(path); err != nil {
		return nil, fault.New(fault.Refused, "the file of records is not in the backup").WithHint("use another backup").WithCause(err)
	}
	version, err := fileVersion(path)
	switch {
	case err != nil:
		return nil, err
	case version > schemaVersion:
		return nil, newer(version, schemaVersion)
	case version < schemaVersion:
		return nil, fault.New(fault.Refused, "the backup is of an older Pawl (schema %d; this program's is %d)", version, schemaVersion).
			WithHint("restore it into an empty folder; it is brought up to date there")
	}
	return openReadOnly(path, "?mode=ro&immutable=1&_query_only=1", now)
}

// OpenClaimed opens the store of a folder that is claimed (see Claim), to be read only:
// of any schema up to this program's, and with what its log holds that no checkpoint
// brought into the file yet.
func OpenClaimed(dir string, now Config) (*DB, error) {
	return openReadOnly(filepath.Join(dir, FileName), "?mode=rw&_query_only=1", now)
}

func openReadOnly(path, how string, now Config) (*DB, error) {
	pool := sql.OpenDB(&sqliteConnector{dsn: fileURL(path) + how, driver: &sqlite3.SQLiteDriver{}})
	g, err := gorm.Open(sqlite.Dialector{Conn: pool}, gormConfig())
	if err != nil {
		return nil, errors.Join(unavailable("the file of records cannot be opened", err), pool.Close())
	}
	return &DB{engine: &sqliteEngine{}, write: g, read: g, release: func() error { return nil }, clock: now.Clock,
		queue: make(chan *request), closed: make(chan struct{})}, nil
}

// ShopName is the name of the shop in a store of any schema that has settings.
func (r *Rx) ShopName() (name string, err error) {
	return name, r.g.Raw("SELECT name FROM settings WHERE id = ?", settings.ID).Row().Scan(&name)
}
