package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"

	"github.com/mattn/go-sqlite3"
	"gorm.io/driver/sqlite"
	"gorm.io/gorm"

	"pawl/model/fault"
)

// FileName is the SQLite file in the data folder.
const FileName = "pawl.db"

// applicationID marks the file as ours ("PAWL", SQLite header offset 68).
const applicationID = 0x5041574c

// schemaVersion is the newest migration (SQLite user_version, offset 60).
var schemaVersion = 29

// synchronous is how SQLite syncs its log: 2, FULL, so that an answer is given
// only after the log is on the disk. The one build that is wrong on purpose,
// for the test that must catch it, sets this with -ldflags -X.
var synchronous = "2"

// journal is how SQLite undoes what it did not finish: by a log that is written ahead.
// It is a variable for the same reason.
var journal = "WAL"

// shared is how many acts of those who wait at once share a commit. It is a variable so
// that a build in which each has its own can be measured beside it, with -ldflags -X.
var shared = "64"

// sqliteEngine keeps the store in one file, with one writer and locks between
// processes.
type sqliteEngine struct {
	dir, program string
	existing     bool
	exclusive    bool
	locks        *folderLocks // nil: openReadOnly
}

func (e *sqliteEngine) file() string { return filepath.Join(e.dir, FileName) }

func (e *sqliteEngine) hold(ctx context.Context) (func() error, error) {
	if _, err := os.Stat(e.file()); e.existing && errors.Is(err, os.ErrNotExist) {
		return nil, None()
	}
	if err := os.MkdirAll(e.dir, 0o700); err != nil {
		return nil, fault.New(fault.Internal, "the data folder cannot be made").WithHint("choose another with --data").WithCause(err)
	}
	version, err := fileVersion(e.file())
	if err != nil {
		return nil, err
	}
	if version > schemaVersion {
		return nil, newer(version, schemaVersion)
	}
	locks, err := openLocks(e.dir)
	if err != nil {
		return nil, err
	}
	e.locks = locks
	alone, err := e.enter(ctx, locks)
	if err != nil {
		return nil, errors.Join(err, locks.close())
	}
	if err := e.bringUp(ctx, alone); err != nil {
		return nil, errors.Join(err, locks.close())
	}
	return locks.close, nil
}

// enter takes the folder as others do, or whole for as long as it is open.
func (e *sqliteEngine) enter(ctx context.Context, locks *folderLocks) (alone bool, err error) {
	if e.exclusive {
		return true, locks.claim()
	}
	return locks.enter(ctx)
}

// bringUp migrates the file when this process is alone with it. The version is
// read again, since another may have migrated while this one waited.
func (e *sqliteEngine) bringUp(ctx context.Context, alone bool) error {
	version, err := fileVersion(e.file())
	switch {
	case err != nil:
		return err
	case version > schemaVersion:
		return newer(version, schemaVersion)
	case version < schemaVersion && !alone:
		return busy(e.locks.holders())
	case version < schemaVersion:
		db := sql.OpenDB(e.connector(writeDSN))
		db.SetMaxOpenConns(1)
		if err := migrateUp(ctx, db, "sqlite"); err != nil {
			return errors.Join(err, db.Close())
		}
		if err := db.Close(); err != nil {
			return err
		}
	}
	if alone && !e.exclusive {
		return e.locks.share()
	}
	return nil
}

// fileVersion reads the schema version from the header of the file, without
// opening it as a database. No file is version 0.
func fileVersion(path string) (int, error) {
	f, err := os.Open(path)
	if errors.Is(err, os.ErrNotExist) {
		return 0, nil
	}
	if err != nil {
		return 0, fault.New(fault.Unavailable, "%s cannot be read", FileName).WithHint("see who owns it").WithCause(err)
	}
	defer f.Close()
	head := make([]byte, 100)
	if n, err := io.ReadFull(f, head); n == 0 {
		return 0, nil // made, and nothing written yet
	} else if err != nil || string(head[:16]) != "SQLite format 3\x00" {
		return 0, damaged()
	}
	id, version := binary.BigEndian.Uint32(head[68:]), binary.BigEndian.Uint32(head[60:])
	switch {
	case id == applicationID:
		return int(version), nil
	case id == 0 && version == 0:
		return 0, unused(path)
	}
	return 0, foreign()
}

// unused says whether a file that bears nobody's mark is free for us: it holds
// nothing, or what a first start leaves when it is killed half-way.
func unused(path string) error {
	db := sql.OpenDB(&sqliteConnector{dsn: fileURL(path) + "?mode=ro&immutable=1", driver: &sqlite3.SQLiteDriver{}})
	defer db.Close()
	var others int
	err := db.QueryRow("SELECT count(*) FROM sqlite_master WHERE name NOT LIKE 'sqlite_%' AND tbl_name <> 'goose_db_version'").Scan(&others)
	switch {
	case err != nil:
		return damaged().WithCause(err)
	case others > 0:
		return foreign()
	}
	return nil
}

func damaged() *fault.Error {
	return fault.New(fault.Refused, "%s is not a Pawl store, or is damaged; it was left as it is", FileName).WithHint("restore a backup, or choose another folder with --data")
}

func foreign() *fault.Error {
	return fault.New(fault.Refused, "%s belongs to another program; it was left as it is", FileName).WithHint("choose another folder with --data")
}

func fileURL(path string) string {
	return (&url.URL{Scheme: "file", Opaque: (&url.URL{Path: path}).EscapedPath()}).String()
}

func (e *sqliteEngine) open() (write, read *gorm.DB, err error) {
	w := sql.OpenDB(e.connector(writeDSN))
	w.SetMaxOpenConns(1)
	r := sql.OpenDB(e.connector(readDSN))
	r.SetMaxOpenConns(8)
	r.SetMaxIdleConns(8)
	if write, err = gorm.Open(sqlite.Dialector{Conn: w}, gormConfig()); err != nil {
		return nil, nil, unavailable("the store cannot be opened", errors.Join(err, w.Close(), r.Close()))
	}
	if read, err = gorm.Open(sqlite.Dialector{Conn: r}, gormConfig()); err != nil {
		return nil, nil, unavailable("the store cannot be opened", errors.Join(err, w.Close(), r.Close()))
	}
	return write, read, nil
}

const (
	writeDSN = "&_txlock=immediate"
	readDSN  = "&_txlock=deferred&_query_only=1"
)

// statementsKept is how many prepared statements a connection keeps, the latest used of
// them: about as many as there are questions on the way of a take or a page.
const statementsKept = 200

// connector opens connections and reads every pragma back on each of them: the
// driver lowers some silently.
func (e *sqliteEngine) connector(extra string) *sqliteConnector {
	dsn := fileURL(e.file()) + "?_journal_mode=" + journal + "&_synchronous=" + synchronous + "&_foreign_keys=1&_busy_timeout=30000&_cache_size=-16000&_stmt_cache_size=" + strconv.Itoa(statementsKept) + extra
	want := map[string]string{"journal_mode": strings.ToLower(journal), "synchronous": synchronous, "foreign_keys": "1", "busy_timeout": "30000"}
	return &sqliteConnector{dsn: dsn, driver: &sqlite3.SQLiteDriver{ConnectHook: func(c *sqlite3.SQLiteConn) error {
		return readBack(c, want)
	}}}
}

type sqliteConnector struct {
	dsn    string
	driver *sqlite3.SQLiteDriver
}

func (c *sqliteConnector) Connect(context.Context) (driver.Conn, error) { return c.driver.Open(c.dsn) }
func (c *sqliteConnector) Driver() driver.Driver                        { return c.driver }

func readBack(c *sqlite3.SQLiteConn, want map[string]string) error {
	for pragma, value := range want {
		rows, err := c.Query("PRAGMA "+pragma, nil)
		if err != nil {
			return err
		}
		got := make([]driver.Value, 1)
		err = rows.Next(got)
		rows.Close()
		if err != nil {
			return err
		}
		text := fmt.Sprint(got[0])
		if n, ok := got[0].(int64); ok {
			text = strconv.FormatInt(n, 10)
		}
		if text != value {
			return fmt.Errorf("SQLite has %s = %s, not %s as asked", pragma, text, value)
		}
	}
	return nil
}

func (e *sqliteEngine) writers() int { return 1 }

func (e *sqliteEngine) turn() (func(), error) {
	if e.locks == nil {
		return func() {}, nil // opened to be read, where nobody writes
	}
	return e.locks.turn()
}

// sameMoment: a view begins with its first question (SQLite, "Isolation In SQLite").
func (e *sqliteEngine) sameMoment(view, other *gorm.DB) error {
	for _, g := range []*gorm.DB{view, other} {
		var lines int
		if err := g.Raw("SELECT count(*) FROM (SELECT 1 FROM lines LIMIT 1)").Scan(&lines).Error; err != nil {
			return err
		}
	}
	return nil
}

func (e *sqliteEngine) lock(*gorm.DB, string) error { return nil } // one writer at a time

func (e *sqliteEngine) batch() int {
	n, err := strconv.Atoi(shared)
	if err != nil {
		panic(err) // it is set when the program is built
	}
	return n
}

// unsure: a log that could not be synced may hold the commit all the same, and the next
// start may find it there: a frame is valid by its salt and checksum alone (SQLite
// database file format, section 4.1).
func (e *sqliteEngine) unsure(err error) bool {
	var s sqlite3.Error
	return errors.Is(err, errCommit) && errors.As(err, &s) && s.Code == sqlite3.ErrIoErr
}

func (e *sqliteEngine) full(err error) bool {
	var s sqlite3.Error
	return errors.As(err, &s) && s.Code == sqlite3.ErrFull
}

func (e *sqliteEngine) only(_ context.Context, name string) (func() error, bool, error) {
	f, err := os.OpenFile(filepath.Join(e.dir, name+".lock"), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, false, unavailable("the data folder cannot be written", err)
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		return nil, false, f.Close()
	}
	return f.Close, true, nil
}

// again: a drawn id that is in use is drawn anew.
func (e *sqliteEngine) again(err error) bool {
	var s sqlite3.Error
	return errors.As(err, &s) && (s.Code == sqlite3.ErrBusy ||
		s.ExtendedCode == sqlite3.ErrConstraintUnique || s.ExtendedCode == sqlite3.ErrConstraintPrimaryKey)
}

func newer(got, known int) error {
	return fault.New(fault.Refused, "this store was written by a newer Pawl (schema %d; this program knows %d); it was left as it is", got, known).
		WithHint("install the newer program")
}

func busy(holders string) error {
	return fault.New(fault.Unavailable, "this store must be brought up to date, and %s has it open", holders).
		WithHint("stop that process, then run this again")
}
