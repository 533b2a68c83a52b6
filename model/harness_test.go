package model

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"image"
	"image/png"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"pawl/model/fault"
	"pawl/model/internal/pgtest"
	"pawl/model/internal/store"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/settings"
)

// Every use-case runs on both engines. Each shop that a test opens is verified
// when the test ends.

func TestMain(m *testing.M) {
	if after := os.Getenv(killedMove); after != "" {
		os.Exit(moveAndDie(after))
	}
	os.Exit(pgtest.Main(m))
}

var ctx = context.Background()

// garage is a shop in a test: the demo garage in Chicago with a manager at the
// computer, two technicians and a bay. Its clock stands still until it is moved.
type garage struct {
	*Shop
	engine string
	Options
	clock   *testClock
	boss    By // the manager at this computer
	manager By // a manager with a name, elsewhere
	techA   By
	techB   By
	damaged bool // do not verify at the end
}

// onBoth runs a test once for each engine, each time in a new garage.
func onBoth(t *testing.T, test func(t *testing.T, g *garage)) {
	for _, engine := range []string{"sqlite", "postgres"} {
		t.Run(engine, func(t *testing.T) { test(t, openGarage(t, engine)) })
	}
}

func openGarage(t *testing.T, engine string) *garage {
	t.Helper()
	g := emptyGarage(t, engine)
	set, err := g.ChangeSettings(ctx, g.boss, 1, settings.Change{Name: ptr("Demo garage"), Zone: ptr("America/Chicago")})
	if err != nil {
		t.Fatal(set, err)
	}
	g.manager, g.techA, g.techB = g.hire(t, "Manager M", "manager"), g.hire(t, "Tech A", "technician"), g.hire(t, "Tech B", "technician")
	if _, err := g.AddPlace(ctx, g.boss, "Bay 1/Cart"); err != nil {
		t.Fatal(err)
	}
	return g
}

// emptyGarage is a shop as it is after its first start.
func emptyGarage(t *testing.T, engine string) *garage {
	t.Helper()
	// A Friday noon in Chicago, two days before the clocks there go back.
	g := &garage{engine: engine, clock: &testClock{now: time.Date(2026, 10, 30, 17, 0, 0, 0, time.UTC)},
		boss: By{Actor: Actor{Role: people.Manager, Via: people.ViaLocal}}}
	g.Options = Options{Dir: t.TempDir(), Program: "pawl test", Clock: g.clock.Now, Chance: rand.NewChaCha8([32]byte{7})}
	if engine == "postgres" {
		g.Database = pgtest.Laid(t, func(url string) error { return laidOut(store.Config{URL: url}) })
	} else if err := os.WriteFile(filepath.Join(g.Dir, store.FileName), emptyStore(t), 0o600); err != nil {
		t.Fatal(err)
	}
	g.Shop = g.open(t)
	return g
}

// laidOut makes the tables of a store and lets go of it; a copy of that is taken for each
// shop, instead of as many migrations.
func laidOut(c store.Config) error {
	c.Clock, c.Chance, c.Program = time.Now, rand.NewChaCha8([32]byte{}), "pawl test"
	d, err := store.Open(ctx, c)
	if err != nil {
		return err
	}
	return d.Close()
}

var emptyFile = sync.OnceValues(func() ([]byte, error) {
	dir, err := os.MkdirTemp("", "pawl-empty-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	if err := laidOut(store.Config{Dir: dir}); err != nil {
		return nil, err
	}
	return os.ReadFile(filepath.Join(dir, store.FileName))
})

// emptyStore is the SQLite file of a store that has its tables and nothing in them.
func emptyStore(t *testing.T) []byte {
	t.Helper()
	raw, err := emptyFile()
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

// open opens the shop once more, as another process would.
func (g *garage) open(t *testing.T) *Shop {
	t.Helper()
	s, err := Open(ctx, g.Options)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if !g.damaged {
			g.wantVerified(t, s)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

func (g *garage) wantVerified(t *testing.T, s *Shop) {
	t.Helper()
	v, err := s.Verify(ctx, g.boss, VerifyQuery{})
	if err != nil || len(v.Problems) > 0 {
		t.Errorf("verify: %q, %v", v.Problems, err)
	}
}

// hire adds a person and gives the one who acts as that person by a token.
func (g *garage) hire(t *testing.T, name, role string) By {
	t.Helper()
	p, err := g.AddPerson(ctx, g.boss, NewPerson{Name: name, Role: role})
	if err != nil {
		t.Fatal(err)
	}
	return By{Actor: Actor{Person: p.ID, Name: p.Name, Role: p.Role, Via: people.ViaToken}}
}

// tool registers a plain tool of the shop and gives its number.
func (g *garage) tool(t *testing.T, edit ...func(*register.New)) string {
	t.Helper()
	in := register.New{Change: register.Change{Kind: ptr("impact wrench")}}
	for _, e := range edit {
		e(&in)
	}
	done, err := g.Register(ctx, g.boss, in)
	if err != nil {
		t.Fatal(err)
	}
	return done.Number.String()
}

// owned makes a tool that person's, with a price.
func owned(by By) func(*register.New) {
	return func(in *register.New) {
		in.Owner, in.Price, in.Seller = ptr(by.Name), ptr("289.00"), ptr("Corner tools")
	}
}

func kind(k string) func(*register.New) { return func(in *register.New) { in.Kind = ptr(k) } }

// upload stores bytes and gives their hash.
func (g *garage) upload(t *testing.T, by By, data []byte) string {
	t.Helper()
	sha := hashOf(data)
	if _, _, err := g.StoreOriginal(ctx, by, Upload{SHA256: sha, Size: int64(len(data))}, bytes.NewReader(data)); err != nil {
		t.Fatal(err)
	}
	return sha
}

// raw opens the database beside the shop, as an intruder would.
func (g *garage) raw(t *testing.T) *sql.DB {
	t.Helper()
	driver, dsn := "sqlite3", "file:"+filepath.Join(g.Dir, "pawl.db")+"?_busy_timeout=30000"
	if g.engine == "postgres" {
		driver, dsn = "pgx", g.Database
	}
	db, err := sql.Open(driver, dsn)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

// lines is the number of lines in the ledger.
func (g *garage) lines(t *testing.T) (n int64) {
	t.Helper()
	if err := g.raw(t).QueryRow("SELECT count(*) FROM lines").Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}

// wantFault holds an error to be a fault of the kind with those words in its
// message or hint and those facts.
func wantFault(t *testing.T, err error, kind fault.Kind, says string, facts ...string) {
	t.Helper()
	f := fault.Of(err)
	if f == nil || f.Kind != kind || !strings.Contains(f.Error(), says) {
		t.Fatalf("%v, want %s that says %q", err, kind, says)
	}
	for i := 0; i+1 < len(facts); i += 2 {
		if got, there := f.Facts[facts[i]]; !there || facts[i+1] != "*" && got != facts[i+1] {
			t.Errorf("fact %s is %q in %v, want %q", facts[i], got, f.Facts, facts[i+1])
		}
	}
}

// wantPointers holds an Invalid fault to name exactly those values.
func wantPointers(t *testing.T, err error, pointers string) {
	t.Helper()
	f := fault.Of(err)
	if f == nil || f.Kind != fault.Invalid {
		t.Fatalf("%v, want Invalid at %s", err, pointers)
	}
	var got []string
	for _, field := range f.Fields {
		got = append(got, field.Pointer)
	}
	if strings.Join(got, " ") != pointers {
		t.Errorf("at fault: %q (%v), want %q", got, err, pointers)
	}
}

// testClock stands still until it is moved.
type testClock struct {
	mu  sync.Mutex
	now time.Time
}

func (c *testClock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *testClock) advance(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

func (c *testClock) at(now time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = now
}

func ptr[T any](v T) *T { return &v }

func hashOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// picture is a small PNG; another shade is another picture.
func picture(shade byte) []byte {
	img := image.NewGray(image.Rect(0, 0, 64, 48))
	img.Pix[0] = shade
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		panic(err) // to memory
	}
	return b.Bytes()
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
