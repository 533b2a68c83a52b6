package cli

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/rogpeppe/go-internal/testscript"

	"pawl/model/needs"
)

// The command of a script that runs on PostgreSQL is told by its environment:
const (
	scriptBase = "PAWL_SCRIPT_POSTGRES" // the URL of a database
	scriptLaid = "PAWL_SCRIPT_LAID"     // another beside it, with all tables and nothing in them, to be copied for each data folder
	scriptMade = "PAWL_SCRIPT_MADE"     // a folder with a file for each copy that was made
)

// TestScriptsOnPostgres runs the very same scripts with the records in
// PostgreSQL: both engines give the same answers. At the quick size it runs those that speak
// of PostgreSQL and every fourth of the others, since what the command line asks of an engine
// is the same use-cases, which the tests of model run on both.
func TestScriptsOnPostgres(t *testing.T) {
	base := os.Getenv("PAWL_TEST_POSTGRES")
	if base == "" {
		needs.Missing(t, "PAWL_TEST_POSTGRES is not set: give it a postgres:// URL to run the scripts on PostgreSQL too")
	}
	made, laid := t.TempDir(), layDatabase(t, base)
	p := scripts()
	sqlite := p.Setup
	p.Condition = onEngine("postgres")
	p.Setup = func(env *testscript.Env) error {
		env.Setenv(scriptBase, base)
		env.Setenv(scriptLaid, laid)
		env.Setenv(scriptMade, made)
		return sqlite(env)
	}
	if os.Getenv("PAWL_SIZE") == "" {
		p.Dir, p.Files = "", someScripts(t, p.Dir)
	}
	testscript.Run(t, p)
}

func someScripts(t *testing.T, dir string) (some []string) {
	t.Helper()
	all, err := filepath.Glob(filepath.Join(dir, "*.txtar"))
	if err != nil || len(all) < 40 {
		t.Fatalf("%d scripts in %s: %v", len(all), dir, err)
	}
	for i, name := range all {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if i%4 == 0 || strings.Contains(string(text), "postgres") {
			some = append(some, name)
		}
	}
	return some
}

// layDatabase makes the database that is copied, and drops it and its copies when the
// scripts are over. A shop that finds no room for its key has made its tables before, and nothing
// in them.
func layDatabase(t *testing.T, base string) (laid string) {
	t.Helper()
	name := make([]byte, 6)
	rand.Read(name)
	laid = "script_" + hex.EncodeToString(name)
	if err := onBase(base, "CREATE DATABASE "+laid, "CREATE SCHEMA "+noShop(laid)); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { dropDatabases(t, base, laid) })
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "keys"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	var out, errs strings.Builder
	if code := Run([]string{"pawl", "--db", inDatabase(base, laid), "--data", dir, "settings"}, strings.NewReader(""), &out, &errs); code == exitDone {
		t.Fatalf("a shop without a key was opened: %s", out.String())
	}
	if _, err := tablesOf(inDatabase(base, laid)); err != nil {
		t.Fatalf("%v after %s", err, errs.String())
	}
	return laid
}

// noShop is the schema that a command is led to whose folder has no shop.
func noShop(laid string) string { return laid + "_none" }

// onPostgres adds --db to a command line of a script, where the script is to
// run on PostgreSQL and the command opens a data folder.
func onPostgres(args []string) ([]string, error) {
	base, laid := os.Getenv(scriptBase), os.Getenv(scriptLaid)
	if base == "" || slices.Contains(args, "--server") || slices.Contains(args, "--db") || slices.Contains(args, "demo") {
		return args, nil
	}
	dir := os.Getenv("PAWL_DATA")
	for i, a := range args {
		if after, joined := strings.CutPrefix(a, "--data="); joined {
			dir = after
		} else if a == "--data" && i+1 < len(args) {
			dir = args[i+1]
		}
	}
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256([]byte(dir))
	name := laid + "_" + hex.EncodeToString(sum[:8])
	db, made := inDatabase(base, name), filepath.Join(os.Getenv(scriptMade), name)
	if _, err := os.Stat(made); err != nil {
		if begins := slices.ContainsFunc(args, func(a string) bool { return slices.Contains(beginners, a) }); begins {
			if err := onBase(base, "CREATE DATABASE "+name+" TEMPLATE "+laid+" STRATEGY FILE_COPY"); err != nil {
				return nil, err
			}
			if err := os.WriteFile(made, nil, 0o600); err != nil {
				return nil, err
			}
		} else {
			db = inSchema(base, noShop(laid))
		}
	}
	return slices.Concat(args[:1], []string{"--db", db}, args[1:]), nil
}

// inDatabase is the base with another database, inSchema with that schema of its own.
func inDatabase(base, name string) string {
	u, _ := url.Parse(base) // it was connected to before
	u.Path = "/" + name
	return u.String()
}

func inSchema(base, schema string) string {
	u, _ := url.Parse(base)
	q := u.Query()
	q.Set("search_path", schema)
	u.RawQuery = q.Encode()
	return u.String()
}

func onBase(base string, statements ...string) error {
	conn, err := pgx.Connect(context.Background(), base)
	if err != nil {
		return err
	}
	defer conn.Close(context.Background())
	for _, s := range statements {
		if _, err := conn.Exec(context.Background(), s); err != nil && !exists(err) {
			return fmt.Errorf("%s: %w", s, err)
		}
	}
	return nil
}

// exists: two commands of one folder may begin at once (PostgreSQL appendix A:
// duplicate_database, unique_violation).
func exists(err error) bool {
	var p *pgconn.PgError
	return errors.As(err, &p) && (p.Code == "42P04" || p.Code == "23505")
}

// tablesOf gives the tables of a database, and fails where there are none.
func tablesOf(db string) (names []string, err error) {
	return namesIn(db, "SELECT table_name::text FROM information_schema.tables WHERE table_schema = current_schema()")
}

// namesIn asks a database for names, and fails where there are none.
func namesIn(db, query string, args ...any) (names []string, err error) {
	conn, err := pgx.Connect(context.Background(), db)
	if err != nil {
		return nil, err
	}
	defer conn.Close(context.Background())
	rows, _ := conn.Query(context.Background(), query, args...)
	if names, err = pgx.CollectRows(rows, pgx.RowTo[string]); err == nil && len(names) == 0 {
		err = fmt.Errorf("none are there: %s", query)
	}
	return names, err
}

func dropDatabases(t *testing.T, base, laid string) {
	names, err := namesIn(base, "SELECT datname::text FROM pg_database WHERE starts_with(datname, $1)", laid)
	drop := []string{"DROP SCHEMA IF EXISTS " + noShop(laid)}
	for _, n := range names {
		drop = append(drop, "DROP DATABASE "+n+" WITH (FORCE)")
	}
	if err := errors.Join(err, onBase(base, drop...)); err != nil {
		t.Error(err)
	}
}
