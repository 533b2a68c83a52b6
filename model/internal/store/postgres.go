package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/stdlib"
	"gorm.io/driver/postgres"
	"gorm.io/gorm"

	"pawl/model/fault"
)

// MinPostgres is the oldest PostgreSQL taken.
const MinPostgres = 15

// postgresEngine keeps the store in one schema of a PostgreSQL database, for
// many processes on many machines.
type postgresEngine struct {
	url, program string
	existing     bool
	exclusive    bool
	unsafe       bool
	pool         *sql.DB
}

func (e *postgresEngine) connect() (*sql.DB, error) {
	config, err := pgx.ParseConfig(e.url)
	if err != nil {
		return nil, fault.New(fault.Invalid, "the database URL cannot be read").WithHint("write postgres://USER@HOST/NAME; the password comes from PGPASSWORD or a password file").WithCause(err)
	}
	if u, err := url.Parse(e.url); err == nil && u.User != nil {
		if _, secret := u.User.Password(); secret {
			return nil, fault.New(fault.Invalid, "a password stands in the database URL, where others can read it").WithHint("put it into PGPASSFILE, or PGPASSWORD")
		}
	}
	if config.RuntimeParams["application_name"] == "" {
		config.RuntimeParams["application_name"] = e.program
	}
	config.RuntimeParams["timezone"] = "UTC"
	config.RuntimeParams["synchronous_commit"] = "on" // an answer is given only after the log is on the disk
	return stdlib.OpenDB(*config), nil
}

// hold takes the schema's lock as a folder's open.lock is taken: whole while
// this process migrates, shared while it runs.
func (e *postgresEngine) hold(ctx context.Context) (func() error, error) {
	pool, err := e.connect()
	if err != nil {
		return nil, err
	}
	conn, err := pool.Conn(ctx)
	if err != nil {
		return nil, errors.Join(unavailable("PostgreSQL does not answer", err), pool.Close())
	}
	release := func() error {
		// A busy server may take its time to see that a connection is gone; whoever opens the
		// store next would be told that somebody has it open.
		soon, done := context.WithTimeout(background, 5*time.Second)
		defer done()
		_, _ = conn.ExecContext(soon, "SELECT pg_advisory_unlock_all()") // one that is gone holds nothing
		return errors.Join(conn.Close(), pool.Close())
	}
	if err := e.enter(ctx, pool, conn); err != nil {
		return nil, errors.Join(err, release())
	}
	e.pool = pool
	return release, nil
}

const openLock = "hashtextextended('pawl open ' || current_schema(), 0)"

func (e *postgresEngine) enter(ctx context.Context, pool *sql.DB, conn *sql.Conn) error {
	var server int
	if err := conn.QueryRowContext(ctx, "SELECT current_setting('server_version_num')::int / 10000").Scan(&server); err != nil {
		return unavailable("PostgreSQL does not answer", err)
	}
	if server < MinPostgres {
		return fault.New(fault.Refused, "PostgreSQL %d is too old", server).WithHint("use %d or later", MinPostgres)
	}
	if err := e.keeps(ctx, conn); err != nil {
		return err
	}
	var alone bool
	if err := conn.QueryRowContext(ctx, "SELECT pg_try_advisory_lock("+openLock+")").Scan(&alone); err != nil {
		return unavailable("PostgreSQL does not answer", err)
	}
	if !alone && e.exclusive {
		return inUse(otherPrograms(ctx, conn))
	}
	if !alone {
		if _, err := conn.ExecContext(ctx, "SELECT pg_advisory_lock_shared("+openLock+")"); err != nil {
			return unavailable("PostgreSQL does not answer", err)
		}
	}
	if err := e.bringUp(ctx, pool, conn, alone); err != nil || !alone || e.exclusive {
		return err
	}
	_, err := conn.ExecContext(ctx, "SELECT pg_advisory_lock_shared("+openLock+"), pg_advisory_unlock("+openLock+")")
	return err
}

// keeps refuses a server that may forget what it answered when the power fails
// (PostgreSQL documentation, 20.5.1 and 30.3).
func (e *postgresEngine) keeps(ctx context.Context, conn *sql.Conn) error {
	var fsync, commit, pages string
	err := conn.QueryRowContext(ctx, "SELECT current_setting('fsync'), current_setting('synchronous_commit'), current_setting('full_page_writes')").Scan(&fsync, &commit, &pages)
	if err != nil {
		return unavailable("PostgreSQL does not answer", err)
	}
	if bad := forgets(fsync, commit, pages); bad != "" && !e.unsafe {
		return fault.New(fault.Refused, "this PostgreSQL may lose what it answered: %s", bad).
			WithHint("set it on; or, for trials alone, set PAWL_UNSAFE_DATABASE=yes")
	}
	return nil
}

// forgets names the settings by which an answered act can be lost; "" is none.
func forgets(fsync, commit, pages string) string {
	var bad []string
	for _, s := range []struct{ name, value string }{{"fsync", fsync}, {"synchronous_commit", commit}, {"full_page_writes", pages}} {
		if s.value == "off" {
			bad = append(bad, s.name+" is off")
		}
	}
	return strings.Join(bad, ", ")
}

func (e *postgresEngine) bringUp(ctx context.Context, pool *sql.DB, conn *sql.Conn, alone bool) error {
	version, err := schemaOf(ctx, conn)
	switch {
	case err != nil:
		return unavailable("PostgreSQL does not answer", err)
	case version > schemaVersion:
		return newer(version, schemaVersion)
	case version == 0 && e.existing:
		return None()
	case version == 0:
		if err := unshared(ctx, conn); err != nil {
			return err
		}
	}
	switch {
	case version < schemaVersion && !alone:
		return busy(otherPrograms(ctx, conn))
	case version < schemaVersion:
		return migrateUp(ctx, pool, "postgres")
	}
	return nil
}

// schemaOf is the newest migration applied; 0 where there is no table of them.
func schemaOf(ctx context.Context, conn *sql.Conn) (version int, err error) {
	var known bool
	err = conn.QueryRowContext(ctx, "SELECT to_regclass('goose_db_version') IS NOT NULL").Scan(&known)
	if err != nil || !known {
		return 0, err
	}
	err = conn.QueryRowContext(ctx, "SELECT coalesce(max(version_id), 0) FROM goose_db_version WHERE is_applied").Scan(&version)
	return version, err
}

// unshared refuses a schema in which others keep theirs.
func unshared(ctx context.Context, conn *sql.Conn) error {
	var others int
	err := conn.QueryRowContext(ctx, `SELECT count(*) FROM information_schema.tables
		WHERE table_schema = current_schema() AND table_type = 'BASE TABLE' AND table_name <> 'goose_db_version'`).Scan(&others)
	if err != nil {
		return unavailable("PostgreSQL does not answer", err)
	}
	if others > 0 {
		return fault.New(fault.Refused, "the schema holds tables of another program; it was left as it is").
			WithHint("make a schema or a database of its own: ?search_path=NAME in the URL chooses a schema")
	}
	return nil
}

func otherPrograms(ctx context.Context, conn *sql.Conn) string {
	rows, err := conn.QueryContext(ctx, `SELECT DISTINCT a.pid, a.application_name, coalesce(host(a.client_addr), 'local')
		FROM pg_locks l JOIN pg_stat_activity a ON a.pid = l.pid
		WHERE l.locktype = 'advisory' AND l.mode = 'ShareLock' AND a.datname = current_database() AND a.pid <> pg_backend_pid()`)
	if err != nil {
		return "another process"
	}
	defer rows.Close()
	var names []string
	for rows.Next() {
		var pid int
		var name, host string
		if rows.Scan(&pid, &name, &host) == nil {
			names = append(names, fmt.Sprintf("%s (connection %d from %s)", name, pid, host))
		}
	}
	if len(names) == 0 || rows.Err() != nil {
		return "another process"
	}
	return strings.Join(names, " and ")
}

func (e *postgresEngine) open() (write, read *gorm.DB, err error) {
	pool, err := e.connect()
	if err != nil {
		return nil, nil, err
	}
	pool.SetMaxOpenConns(16)
	pool.SetMaxIdleConns(16)
	if write, err = gorm.Open(postgres.New(postgres.Config{Conn: pool}), gormConfig()); err != nil {
		return nil, nil, errors.Join(unavailable("PostgreSQL does not answer", err), pool.Close())
	}
	return write, write, nil
}

func (e *postgresEngine) writers() int { return 8 }

// batch: an act holds its rows and the ledger until its commit. Two that did so for the
// acts of others as well would wait for one another, unless each took the ledger first; and
// then all acts of all servers would be done one after another, questions and all, each of
// which is a way to the server and back. BENCHMARKS.md has what that costs.
func (e *postgresEngine) batch() int { return 1 }

func (e *postgresEngine) turn() (func(), error) { return func() {}, nil }

// sameMoment: PostgreSQL documentation, 9.28.5, and SET TRANSACTION.
func (e *postgresEngine) sameMoment(view, other *gorm.DB) error {
	var snapshot string
	if err := other.Raw("SELECT pg_export_snapshot()").Scan(&snapshot).Error; err != nil {
		return err
	}
	return view.Exec("SET TRANSACTION SNAPSHOT '" + strings.ReplaceAll(snapshot, "'", "''") + "'").Error
}

func (e *postgresEngine) lock(tx *gorm.DB, name string) error {
	return tx.Exec("SELECT pg_advisory_xact_lock(hashtextextended('pawl ' || ? || ' ' || current_schema(), 0))", name).Error
}

func (e *postgresEngine) only(ctx context.Context, name string) (func() error, bool, error) {
	conn, err := e.pool.Conn(ctx)
	if err != nil {
		return nil, false, unavailable("PostgreSQL does not answer", err)
	}
	const lock = "(hashtextextended('pawl only ' || $1::text || ' ' || current_schema(), 0))"
	var ok bool
	if err := conn.QueryRowContext(ctx, "SELECT pg_try_advisory_lock"+lock, name).Scan(&ok); err != nil || !ok {
		return nil, false, errors.Join(err, conn.Close())
	}
	return func() error {
		_, err := conn.ExecContext(background, "SELECT pg_advisory_unlock"+lock, name)
		return errors.Join(err, conn.Close())
	}, true, nil
}

// again: serialization failure, deadlock, or a unique key that another act took
// between this act's question and its row (PostgreSQL appendix A).
func (e *postgresEngine) again(err error) bool {
	var p *pgconn.PgError
	if !errors.As(err, &p) {
		return false
	}
	switch p.Code {
	case "40001", "40P01", "23505":
		return true
	}
	return false
}

// full: SQLSTATE 53100, disk_full (PostgreSQL manual, appendix A).
func (e *postgresEngine) full(err error) bool {
	var p *pgconn.PgError
	return errors.As(err, &p) && p.Code == "53100"
}

// unsure: the connection was lost before the server's word on the commit came.
func (e *postgresEngine) unsure(err error) bool {
	var p *pgconn.PgError
	return errors.Is(err, errCommit) && !errors.As(err, &p) && !errors.Is(err, pgx.ErrTxCommitRollback)
}
