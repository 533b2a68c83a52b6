// Package pgtest gives tests a PostgreSQL to write on; nothing but tests
// imports it. A base is the URL of a database: what PAWL_TEST_POSTGRES says, or
// else a server of the test binary's own, started at the first wish and stopped
// when the tests are over. Each test gets a schema of its own within the base or, where
// what is in it at the start costs much to make, a database of its own beside it; either
// is dropped when the test ends.
//
// A machine without PostgreSQL skips the test and says so, except in CI (the
// environment variable CI is set), where a missing engine fails.
package pgtest

import (
	"crypto/rand"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"net/url"
	"os"
	"sync"
	"testing"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver "pgx"

	"pawl/model/needs"
)

// Env names the environment variable that holds a base, a postgres:// URL.
const Env = "PAWL_TEST_POSTGRES"

var own struct {
	once sync.Once
	*server
	err error
}

// laid is the database that Laid copies, made at the first wish.
var laid struct {
	once sync.Once
	name string
	drop func() error
	err  error
}

// Main runs the tests of a package, drops what they made for all of them, and stops the
// server that they started, if any:
// func TestMain(m *testing.M) { os.Exit(pgtest.Main(m)) }.
func Main(m *testing.M) int {
	code := m.Run()
	if laid.drop != nil {
		if err := laid.drop(); err != nil {
			fmt.Fprintln(os.Stderr, err)
			code = max(code, 1)
		}
	}
	if own.server != nil {
		own.stop()
	}
	return code
}

// URL gives the URL of a fresh, empty schema.
func URL(t testing.TB) string {
	t.Helper()
	base := withoutPassword(t, baseURL(t))
	schema := newName()
	run(t, base, "CREATE SCHEMA "+schema)
	t.Cleanup(func() { run(t, base, "DROP SCHEMA "+schema+" CASCADE") })
	u, err := url.Parse(base)
	if err != nil {
		t.Fatalf("%s: %v", Env, err)
	}
	q := u.Query()
	q.Set("search_path", schema)
	u.RawQuery = q.Encode()
	return u.String()
}

// Laid gives the URL of a fresh database that is as lay leaves one. It runs once a test
// binary, on a database that the others are copied from; lay must have let go of it when
// it returns. A copy takes a fraction of what making all tables anew does. Who is named
// in the base must be allowed to make databases.
func Laid(t testing.TB, lay func(url string) error) string {
	t.Helper()
	base := withoutPassword(t, baseURL(t))
	laid.once.Do(func() {
		laid.name = newName()
		if laid.err = try(base, "CREATE DATABASE "+laid.name); laid.err == nil {
			laid.drop = func() error { return try(base, "DROP DATABASE "+laid.name+" WITH (FORCE)") }
			laid.err = lay(database(base, laid.name))
		}
	})
	if laid.err != nil {
		t.Fatalf("no database can be laid out: %v", laid.err)
	}
	name := newName()
	run(t, base, "CREATE DATABASE "+name+" TEMPLATE "+laid.name+" STRATEGY FILE_COPY") // less work than WAL_LOG, measured
	t.Cleanup(func() { run(t, base, "DROP DATABASE "+name+" WITH (FORCE)") })
	return database(base, name)
}

// database is the base with another database.
func database(base, name string) string {
	u, err := url.Parse(base)
	if err != nil {
		panic(err) // it was parsed before
	}
	u.Path = "/" + name
	return u.String()
}

func newName() string {
	name := make([]byte, 8)
	rand.Read(name)
	return "t_" + hex.EncodeToString(name)
}

func baseURL(t testing.TB) string {
	t.Helper()
	if base := os.Getenv(Env); base != "" {
		return base
	}
	own.once.Do(func() { own.server, own.err = start() })
	skipWithout(t, own.err)
	return own.url()
}

// With gives the URL of a server of the test's own that runs with those settings, such
// as fsync=off, and is stopped when the test ends.
func With(t testing.TB, settings ...string) string {
	t.Helper()
	s, err := start(settings...)
	skipWithout(t, err)
	t.Cleanup(s.stop)
	return s.url()
}

// skipWithout ends a test that has no server.
func skipWithout(t testing.TB, err error) {
	t.Helper()
	switch {
	case err == nil:
	case errors.Is(err, errNone):
		needs.Missing(t, "no PostgreSQL: install it, or set %s to the URL of a database", Env)
	default:
		t.Fatalf("PostgreSQL does not start: %v", err)
	}
}

// withoutPassword moves a password from the URL to where the store takes it
// from: PGPASSWORD.
func withoutPassword(t testing.TB, base string) string {
	t.Helper()
	u, err := url.Parse(base)
	if err != nil {
		t.Fatalf("%s: %v", Env, err)
	}
	if password, secret := u.User.Password(); secret {
		os.Setenv("PGPASSWORD", password)
		u.User = url.User(u.User.Username())
	}
	return u.String()
}

func run(t testing.TB, base, statement string) {
	t.Helper()
	if err := try(base, statement); err != nil {
		t.Fatal(err)
	}
}

func try(base, statement string) error {
	db, err := sql.Open("pgx", base)
	if err != nil {
		return err
	}
	defer db.Close()
	if _, err := db.Exec(statement); err != nil {
		return fmt.Errorf("%s: %w", statement, err)
	}
	return nil
}
