package store

import (
	"context"
	"database/sql"
	"flag"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"testing"
	"time"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/pgtest"
	"pawl/model/names"
	"pawl/model/people"
	"pawl/model/register"
)

// The suite runs on both engines; a missing one fails in CI. Tests of what only
// one engine has (pragmas, files, locks between processes) say so by name.

func TestMain(m *testing.M) {
	if role := os.Getenv(helperRole); role != "" {
		os.Exit(help(role))
	}
	os.Exit(pgtest.Main(m))
}

var ctx = context.Background()

// site is where one store is kept, with the clock and chance handed to it.
type site struct {
	engine string
	Config
	clock *testClock
}

// onBoth runs a test once for each engine, each time at a new site whose store has its
// tables and nothing in them.
func onBoth(t *testing.T, test func(t *testing.T, at *site)) {
	for _, engine := range []string{"sqlite", "postgres"} {
		t.Run(engine, func(t *testing.T) { test(t, newSite(t, engine)) })
	}
}

// fromNothing is onBoth for tests of how a store comes to be.
func fromNothing(t *testing.T, test func(t *testing.T, at *site)) {
	for _, engine := range []string{"sqlite", "postgres"} {
		t.Run(engine, func(t *testing.T) { test(t, emptySite(t, engine)) })
	}
}

// newSite has a copy of a store that was laid out once, which takes a fraction of what
// all migrations do.
func newSite(t testing.TB, engine string) *site {
	t.Helper()
	at := siteOf(t, engine)
	if engine == "postgres" {
		at.URL = pgtest.Laid(t, func(url string) error { return laidOut(Config{URL: url}) })
		return at
	}
	raw, err := laidFile()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(at.Dir, FileName), raw, 0o600); err != nil {
		t.Fatal(err)
	}
	return at
}

// emptySite has no store yet.
func emptySite(t testing.TB, engine string) *site {
	t.Helper()
	at := siteOf(t, engine)
	if engine == "postgres" {
		at.URL = pgtest.URL(t)
	}
	return at
}

func siteOf(t testing.TB, engine string) *site {
	at := &site{engine: engine, clock: newClock()}
	at.Config = Config{Dir: t.TempDir(), Program: "pawl test", Clock: at.clock.Now, Chance: newChance(7)}
	return at
}

func laidOut(c Config) error {
	c.Clock, c.Chance, c.Program = newClock().Now, newChance(1), "pawl test"
	d, err := Open(ctx, c)
	if err != nil {
		return err
	}
	return d.Close()
}

var laidFile = sync.OnceValues(func() ([]byte, error) {
	dir, err := os.MkdirTemp("", "pawl-laid-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	if err := laidOut(Config{Dir: dir}); err != nil {
		return nil, err
	}
	return os.ReadFile(filepath.Join(dir, FileName))
})

// open opens the store. When the test ends it is verified, unless the test
// damaged it, and closed.
func (at *site) open(t testing.TB) *DB {
	t.Helper()
	d := at.openDamaged(t)
	t.Cleanup(func() { wantClean(t, d) })
	return d
}

func (at *site) openDamaged(t testing.TB) *DB {
	t.Helper()
	d, err := Open(ctx, at.Config)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := d.Close(); err != nil {
			t.Error(err)
		}
	})
	return d
}

// raw opens the same database beside the store, as an intruder would.
func (at *site) raw(t testing.TB) *sql.DB {
	t.Helper()
	driver, dsn := "sqlite3", "file:"+at.Dir+"/"+FileName+"?_busy_timeout=30000"
	if at.engine == "postgres" {
		driver, dsn = "pgx", at.URL
	}
	db, err := sql.Open(driver, dsn)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

// testClock goes on by one second at every reading.
type testClock struct {
	mu  sync.Mutex
	now time.Time
}

func newClock() *testClock { return &testClock{now: time.Date(2026, 11, 2, 8, 0, 0, 0, time.UTC)} }

func (c *testClock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(time.Second)
	return c.now
}

func (c *testClock) advance(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

func newChance(seed byte) *rand.ChaCha8 { return rand.NewChaCha8([32]byte{seed}) }

// wantClean verifies the whole store.
func wantClean(t testing.TB, d *DB) {
	t.Helper()
	if r := verify(t, d); len(r.Problems) > 0 {
		t.Errorf("verify: %q", r.Problems)
	}
}

func verify(t testing.TB, d *DB, outside ...Outside) (out Report) {
	t.Helper()
	err := d.ReadTwice(ctx, func(rx, beside *Rx) (err error) {
		me, _, err := rx.Identity()
		if err != nil {
			return err
		}
		out, err = rx.Verify(ctx, beside, me.VKey, outside, WhichRolls{Newest: 1})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// do writes one act that has no answer.
func do(t testing.TB, d *DB, fn func(*Tx) error) {
	t.Helper()
	if err := try(d, Act{Verb: "do", Actor: "shop via local"}, fn); err != nil {
		t.Fatal(err)
	}
}

func try(d *DB, act Act, fn func(*Tx) error) error {
	_, err := Write(ctx, d, act, func(tx *Tx) (bool, error) { return true, fn(tx) })
	return err
}

// person, loan and tool are rows that fill most of their columns.
func person(id, name string) people.Person {
	return people.Person{ID: id, Name: name, NameKey: names.Key(name), Role: people.Technician, Badge: "B" + id}
}

func tool(id string) register.Tool {
	price := int64(28900)
	return register.Tool{ID: id, Number: "", Kind: "impact wrench", Maker: "Brindle", MakerKey: "BRINDLE", Model: "BW-2",
		Serial: "SN" + id, SerialKey: "SN" + id, Usage: register.Daily, Notes: "left drawer", Created: dates.Instant(1),
		Pieces: register.Pieces{{Name: "case", Count: 1}}, Purchase: register.Purchase{Bought: "2026-01-15", Price: &price, Currency: "USD"}}
}

// put is Put of a new row, for tables of cases; it may run again.
func put[T any](row T) func(*Tx) error {
	return func(tx *Tx) error {
		fresh := row
		return Put(tx, &fresh)
	}
}

// change loads a row, changes it and puts it.
func change[T any](id string, edit func(*T)) func(*Tx) error {
	return func(tx *Tx) error {
		row, found, err := Change[T](tx, id)
		if err != nil || !found {
			return orElse(err, fault.New(fault.NotFound, "no %s", id))
		}
		edit(&row)
		return Put(tx, &row)
	}
}

func orElse(err error, f error) error {
	if err != nil {
		return err
	}
	return f
}

// tallies gives the number of rows of every table of ours, which tells whether
// anything at all was left behind.
func tallies(t testing.TB, db *sql.DB) map[string]int {
	t.Helper()
	out := map[string]int{}
	for _, table := range ourTables() {
		var n int
		if err := db.QueryRow("SELECT count(*) FROM " + quote(table)).Scan(&n); err != nil {
			t.Fatal(err)
		}
		out[table] = n
	}
	return out
}

func ourTables() (out []string) {
	for _, t := range recorded() {
		out = append(out, t.schema.Table)
	}
	return append(append(append(out, "lines"), derived...), operational...)
}

func size(t testing.TB, d *DB) (n int64) {
	t.Helper()
	if err := d.Read(ctx, func(rx *Rx) (err error) { n, err = rx.Size(); return err }); err != nil {
		t.Fatal(err)
	}
	return n
}

// pawlSize is how large the tests are: "" quick, "ci", or "full".
func pawlSize(quick, ci, full int) int {
	switch os.Getenv("PAWL_SIZE") {
	case "full":
		return full
	case "ci":
		return ci
	}
	return quick
}

// checks sets how many cases the properties of this test try.
func checks(t testing.TB, n int) {
	t.Helper()
	f := flag.Lookup("rapid.checks")
	was := f.Value.String()
	if err := f.Value.Set(strconv.Itoa(n)); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Value.Set(was) })
}
