package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"slices"
	"strings"
	"syscall"
	"testing"
	"testing/fstest"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"

	"pawl/model/fault"
	"pawl/model/register"
	"pawl/model/settings"
)

// dying opens connections that end the process, as SIGKILL does, at the step on which
// left comes to nothing: before a statement, before a commit and after it.
type dying struct {
	driver.Connector
	steps, left *int
}

func (d dying) Connect(ctx context.Context) (driver.Conn, error) {
	c, err := d.Connector.Connect(ctx)
	if err != nil {
		return nil, err
	}
	return dyingConn{c.(session), d}, nil
}

// session is what database/sql uses of a connection of either driver.
type session interface {
	driver.Conn
	driver.ConnBeginTx
	driver.ConnPrepareContext
	driver.ExecerContext
	driver.QueryerContext
}

type dyingConn struct {
	session
	dying
}

func (c dyingConn) ExecContext(ctx context.Context, query string, args []driver.NamedValue) (driver.Result, error) {
	c.step()
	return c.session.ExecContext(ctx, query, args)
}

func (c dyingConn) BeginTx(ctx context.Context, o driver.TxOptions) (driver.Tx, error) {
	tx, err := c.session.BeginTx(ctx, o)
	return dyingTx{tx, c.dying}, err
}

type dyingTx struct {
	driver.Tx
	dying
}

func (t dyingTx) Commit() error {
	t.step()
	defer t.step()
	return t.Tx.Commit()
}

func (d dying) step() {
	*d.steps++
	if *d.left--; *d.left == 0 {
		syscall.Kill(os.Getpid(), syscall.SIGKILL)
		select {}
	}
}

// migrateDying is the whole program of a helper that brings a store up to date and is
// killed at a step; killed at none, it says how many there are.
func migrateDying(role string) int {
	var left, steps int
	if _, loose := fmt.Sscanf(role, "migrate loose %d", &left); loose == nil {
		migrations = withoutTransactions()
	} else if _, err := fmt.Sscanf(role, "migrate %d", &left); err != nil {
		return 1
	}
	engine := "sqlite"
	var to driver.Connector = (&sqliteEngine{dir: os.Getenv(helperDir)}).connector(writeDSN)
	if url := os.Getenv(helperURL); url != "" {
		config, err := pgx.ParseConfig(url)
		if err != nil {
			return 1
		}
		engine, to = "postgres", stdlib.GetConnector(*config)
	}
	db := sql.OpenDB(dying{to, &steps, &left})
	db.SetMaxOpenConns(1)
	if err := migrateUp(ctx, db, engine); err != nil {
		fmt.Println("failed:", fault.Of(err).Unwrap())
		return 1
	}
	fmt.Println("steps", steps)
	return 0
}

// withoutTransactions has each migration run without one, which is wrong.
func withoutTransactions() fs.FS {
	files := fstest.MapFS{}
	fs.WalkDir(embedded, "migrations", func(name string, e fs.DirEntry, err error) error {
		if err == nil && !e.IsDir() {
			data, _ := fs.ReadFile(embedded, name)
			files[name] = &fstest.MapFile{Data: append([]byte("-- +goose NO TRANSACTION\n"), data...)}
		}
		return err
	})
	return files
}

// migrate runs that helper on a site, and gives the number of steps where it was not killed.
func (at *site) migrate(t *testing.T, role string) (steps int) {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	h := exec.Command(self)
	h.Env = append(os.Environ(), helperRole+"="+role, helperDir+"="+at.Dir, helperURL+"="+at.URL)
	out, err := h.CombinedOutput()
	if _, is := fmt.Sscanf(string(out), "steps %d", &steps); is == nil && err == nil {
		return steps
	}
	if status, is := h.ProcessState.Sys().(syscall.WaitStatus); !is || status.Signal() != syscall.SIGKILL {
		t.Fatalf("%s: %v\n%s", role, err, out)
	}
	return 0
}

// older makes a site whose store is as its first version left it, with what an act of
// today records of people, tools and settings that the first version knew too.
func older(t *testing.T, today *site, kept []string) *site {
	t.Helper()
	at := emptySite(t, today.engine)
	db := sql.OpenDB((&sqliteEngine{dir: at.Dir}).connector(writeDSN))
	if at.engine == "postgres" {
		db = at.raw(t)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	p, err := migrator(db, at.engine)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := p.UpTo(ctx, 1); err != nil {
		t.Fatal(err)
	}
	from := today.raw(t)
	defer from.Close()
	for _, table := range kept {
		copyRows(t, from, db, table)
	}
	return at
}

// copyRows copies the columns that both have.
func copyRows(t *testing.T, from, to *sql.DB, table string) {
	t.Helper()
	columns := columnsOf(t, to, table)
	names := quote(strings.Join(columns, `", "`))
	rows, err := from.Query("SELECT " + names + " FROM " + quote(table))
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		values, into, marks := make([]any, len(columns)), make([]any, len(columns)), make([]string, len(columns))
		for i := range values {
			into[i], marks[i] = &values[i], fmt.Sprintf("$%d", i+1)
		}
		if err := rows.Scan(into...); err != nil {
			t.Fatal(err)
		}
		if _, err := to.Exec("INSERT INTO "+quote(table)+" ("+names+") VALUES ("+strings.Join(marks, ", ")+")", values...); err != nil {
			t.Fatalf("%s: %v", table, err)
		}
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
}

func columnsOf(t *testing.T, db *sql.DB, table string) []string {
	t.Helper()
	rows, err := db.Query("SELECT * FROM " + quote(table) + " LIMIT 0")
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		t.Fatal(err)
	}
	return columns
}

// laidOut gives the tables and indexes of a store, and rows.
func (at *site) laidOut(t *testing.T, kept []string) string {
	t.Helper()
	query := "SELECT coalesce(sql, name) FROM sqlite_master ORDER BY type, name"
	if at.engine == "postgres" {
		query = `SELECT concat_ws(' ', table_name, column_name, data_type, is_nullable, column_default) FROM information_schema.columns
			WHERE table_schema = current_schema() AND table_name <> 'goose_db_version'
			UNION ALL SELECT replace(indexdef, current_schema(), '') FROM pg_indexes WHERE schemaname = current_schema() ORDER BY 1`
	}
	db := at.raw(t)
	defer db.Close()
	return strings.Join(at.strings(t, query), "\n") + "\n" + dump(t, db, slices.Concat(kept, []string{"due"}))
}

// A migration that is killed at any step is finished by the next start: no line is lost,
// and the store is as if it had never been killed. Begun are a store of the first version
// that has lines, and no store at all.
func TestAMigrationThatIsKilled(t *testing.T) {
	onBoth(t, func(t *testing.T, today *site) {
		first := settings.Default()
		d := today.open(t)
		do(t, d, func(tx *Tx) error { return Put(tx, &first) })
		for i := range 5 {
			do(t, d, put(person(fmt.Sprint("H-", i), fmt.Sprint("Tech ", i))))
			do(t, d, put(tool(fmt.Sprint("T-0000000", i))))
		}
		do(t, d, change("T-00000001", func(r *register.Tool) { r.Notes = "left bench" }))
		kept := []string{"settings", "people", "tools", "lines", "line_tools", "hashes", "words", "serial_keys"}
		for _, begun := range []string{"a store of the first version", "no store"} {
			t.Run(begun, func(t *testing.T) {
				start := func() *site {
					if begun == "no store" {
						return emptySite(t, today.engine)
					}
					return older(t, today, kept)
				}
				whole := start()
				steps := whole.migrate(t, "migrate 0")
				if steps < 100 {
					t.Fatalf("only %d steps: there was nothing to migrate", steps)
				}
				whole.openDamaged(t)
				want := whole.laidOut(t, kept)
				if begun != "no store" && strings.Count(want, "\nlines ") < 12 {
					t.Fatalf("there are no lines to lose:\n%s", want)
				}
				tried := 0
				for n := 1; n <= steps; n += max(1, steps/pawlSize(4, 12, steps)) {
					at := start()
					at.migrate(t, fmt.Sprint("migrate ", n))
					d, err := Open(ctx, at.Config)
					if err != nil {
						t.Fatalf("killed at step %d of %d, it does not open: %v", n, steps, fault.Of(err).Unwrap())
					}
					wantClean(t, d)
					if err := d.Close(); err != nil {
						t.Error(err)
					}
					if got := at.laidOut(t, kept); got != want {
						t.Errorf("killed at step %d of %d, it is not as if it had not been", n, steps)
					}
					tried++
				}
				t.Logf("%d of %d steps", tried, steps)
			})
		}
	})
}

// The control: migrations that run without a transaction each leave, when they are
// killed, a store that does not open any more.
func TestAMigrationWithoutTransactionsIsFoundOut(t *testing.T) {
	onBoth(t, func(t *testing.T, like *site) {
		found := 0
		for _, n := range []int{20, 40, 100} {
			at := emptySite(t, like.engine)
			at.migrate(t, fmt.Sprint("migrate loose ", n))
			d, err := Open(ctx, at.Config)
			if err != nil {
				found++
				continue
			}
			d.Close()
		}
		if found == 0 {
			t.Error("stores that were left half-way open, as if nothing had been")
		}
	})
}
