package cli_test

import (
	"context"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib"

	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model/custody/history"
	"pawl/model/fault"
	"pawl/model/needs"
)

// replicas are servers of one shop, each a process with a folder of its own, as on a
// machine of its own. What they share is PostgreSQL, the originals and the key.
type replicas struct {
	token   string
	numbers []string
	argv    []string // the program and the flags before its verb
	folders []string
	up      []*server
}

// schema makes one in the PostgreSQL of the tests, and drops it when the test ends.
func schema(t *testing.T) (address string, db *sql.DB) {
	t.Helper()
	base := os.Getenv("PAWL_TEST_POSTGRES")
	if base == "" {
		needs.Missing(t, "PAWL_TEST_POSTGRES is not set: give it a postgres:// URL to run several servers of one shop")
	}
	name := fmt.Sprintf("replicas_%d_%d", os.Getpid(), time.Now().UnixNano())
	u, err := url.Parse(base)
	if err != nil {
		t.Fatal(err)
	}
	q := u.Query()
	q.Set("search_path", name)
	u.RawQuery = q.Encode()
	if db, err = sql.Open("pgx", u.String()); err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("CREATE SCHEMA " + name); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if _, err := db.Exec("DROP SCHEMA " + name + " CASCADE"); err != nil {
			t.Error(err)
		}
		db.Close()
	})
	return u.String(), db
}

// replicated makes a shop in PostgreSQL and starts so many servers of it.
func replicated(t *testing.T, pawl string, many, tools int) (r *replicas, db *sql.DB) {
	t.Helper()
	address, db := schema(t)
	r = &replicas{argv: []string{pawl, "--db", address}}
	var first string
	first, r.token, r.numbers = shopFolder(t, pawl, tools, r.argv[1:]...)
	hire(t, first, r.argv)
	r.folders = []string{first}
	for range many - 1 {
		dir := t.TempDir()
		if err := os.CopyFS(filepath.Join(dir, "keys"), os.DirFS(filepath.Join(first, "keys"))); err != nil {
			t.Fatal(err)
		}
		if err := os.Symlink(filepath.Join(first, "originals"), filepath.Join(dir, "originals")); err != nil {
			t.Fatal(err)
		}
		r.folders = append(r.folders, dir)
	}
	r.start(t)
	return r, db
}

// start starts a server in each folder, and ends them with the test.
func (r *replicas) start(t *testing.T) {
	t.Helper()
	for _, dir := range r.folders {
		r.up = append(r.up, serve(t, dir, r.argv...))
	}
	t.Cleanup(func() {
		for _, s := range r.up {
			s.kill(t)
		}
	})
}

// client asks one of the servers, in the name of whoever has the token.
func (r *replicas) client(i int, token string) *client.Client {
	c := connect(r.up[i].url, token)
	c.Pause = time.Millisecond
	return c
}

// restart kills a server, as a power cut does, and starts it again at its address.
func (r *replicas) restart(t *testing.T, i int) {
	t.Helper()
	address := strings.TrimPrefix(r.up[i].url, "http://")
	r.up[i].kill(t)
	r.up[i] = serveAt(t, address, r.folders[i], r.argv...)
}

// hands are those who take tools from one another.
var hands = []string{"Hand 0", "Hand 1", "Hand 2", "Hand 3", "Hand 4"}

// hire adds the hands to a shop.
func hire(t *testing.T, data string, argv []string) {
	t.Helper()
	for _, name := range hands {
		run(t, nil, argv[0], slices.Concat(argv[1:], []string{"--data", data, "people", "add", name, "--role", "technician"})...)
	}
}

// caller is one of many who act at once, at whichever server answers.
type caller struct {
	id      int
	clients []*client.Client
	tools   []string
	rng     *rand.Rand
	clock   *atomic.Int64
	acts    []history.Operation
	failed  error
}

// act asks for one act until a server answers, always under the same key.
func (c *caller) act(ctx context.Context) error {
	who := hands[c.rng.IntN(len(hands))]
	op := history.Operation{Client: c.id, Asked: history.Asked{Tool: c.tools[c.rng.IntN(len(c.tools))], Act: []string{"take", "take", "return", "handover"}[c.rng.IntN(4)], Who: who}}
	if op.Act == "return" {
		op.Who = ""
	}
	key := client.Key(fmt.Sprintf("caller-%d-act-%d", c.id, len(c.acts)))
	op.Call = c.clock.Add(1)
	for {
		err := ask(ctx, c.clients[c.rng.IntN(len(c.clients))], op.Asked, key)
		switch {
		case err == nil:
			op.Told = history.Told{Done: true}
		case fault.Is(err, fault.Unavailable) && ctx.Err() == nil:
			continue
		case fault.Is(err, fault.Conflict):
			op.Told = history.Told{Holder: fault.Of(err).Facts["holder"]}
		default:
			return fmt.Errorf("%+v: %w", op.Asked, err)
		}
		op.Return = c.clock.Add(1)
		c.acts = append(c.acts, op)
		return nil
	}
}

func ask(ctx context.Context, c *client.Client, a history.Asked, key client.Option) (err error) {
	switch a.Act {
	case "take":
		_, err = c.Take(ctx, a.Tool, wire.Take{To: a.Who}, key)
	case "handover":
		_, err = c.Handover(ctx, a.Tool, wire.Handover{To: a.Who}, key)
	default:
		_, err = c.Return(ctx, a.Tool, wire.Return{}, key)
	}
	return err
}

// under has so many callers act for so long, and meanwhile runs beside every fifth of
// it. It gives all that was asked and answered, and what nobody was to be told.
func (r *replicas) under(t *testing.T, callers int, long time.Duration, beside func(turn int)) (all []history.Operation, failed []error) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), long+time.Minute)
	defer cancel()
	var over atomic.Bool
	var clock atomic.Int64
	var working sync.WaitGroup
	crew := make([]*caller, callers)
	for i := range crew {
		c := &caller{id: i, tools: r.numbers, rng: rand.New(rand.NewPCG(23, uint64(i))), clock: &clock}
		for s := range r.up {
			c.clients = append(c.clients, r.client(s, r.token))
		}
		crew[i] = c
		working.Go(func() {
			for !over.Load() {
				if c.failed = c.act(ctx); c.failed != nil {
					return
				}
			}
		})
	}
	fifth := time.NewTicker(long / 5)
	defer fifth.Stop()
	for turn := range 5 {
		<-fifth.C
		if turn < 4 {
			beside(turn)
		}
	}
	over.Store(true)
	working.Wait()
	for _, c := range crew {
		all = append(all, c.acts...)
		if c.failed != nil {
			failed = append(failed, fmt.Errorf("caller %d: %w", c.id, c.failed))
		}
	}
	return all, failed
}

// TestReplicasUnderLoad has 64 callers take a few tools from one another at three
// servers of one shop, which are killed with SIGKILL and started again in turn. What
// everybody was told fits one order of the acts on each tool, so that there is one
// holder of each at any time, and the ledger holds each act that was answered once.
func TestReplicasUnderLoad(t *testing.T) {
	r, db := replicated(t, itself, 3, 16)
	all, failed := r.under(t, 64, time.Duration(size(5, 10, 60))*time.Second, func(turn int) { r.restart(t, turn%3) })
	for _, err := range failed {
		t.Error(err)
	}
	done := 0
	for _, op := range all {
		if op.Done {
			done++
		}
	}
	if j := history.Judge(all, 5*time.Minute); !j.Fits {
		folder, err := j.Keep()
		t.Errorf("the answers fit no order of the acts: %s; the history is kept in %s, %v", j.Said, folder, err)
	}
	var kept int
	if err := db.QueryRow("SELECT count(DISTINCT act) FROM lines WHERE noun = 'loan'").Scan(&kept); err != nil || kept != done {
		t.Errorf("%d acts were answered, the ledger has %d, %v", done, kept, err)
	}
	run(t, nil, r.argv[0], slices.Concat(r.argv[1:], []string{"--data", r.folders[0], "verify"})...)
	t.Logf("%d acts done and %d refused by 64 callers at 3 servers, which were killed 4 times", done, len(all)-done)
}

// The control of TestReplicasUnderLoad: a build that holds no row while it changes it,
// wrong on purpose, is found out by the same look.
func TestReplicasWithoutARowLockAreFoundOut(t *testing.T) {
	r, _ := replicated(t, program(t, "-X pawl/model/internal/store.rowLock="), 3, 4)
	all, failed := r.under(t, 64, time.Duration(size(2, 4, 10))*time.Second, func(int) {})
	j := history.Judge(all, time.Minute)
	if len(failed) == 0 && !j.Broken() {
		t.Errorf("%d answers of a build without a row lock: %s, and nobody was told that a loan changed", len(all), j.Said)
	}
	t.Logf("%d answers: %s; %d of 64 callers were told what nobody is to be told", len(all), j.Said, len(failed))
}
