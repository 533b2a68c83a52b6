package cli

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/rogpeppe/go-internal/testscript"
)

// scriptBase names the environment variable by which the command of a script
// keeps each data folder's records in a PostgreSQL schema of its own.
const scriptBase = "PAWL_SCRIPT_POSTGRES"

// TestScriptsOnPostgres runs the very same scripts with the records in
// PostgreSQL: both engines give the same answers.
func TestScriptsOnPostgres(t *testing.T) {
	base := os.Getenv("PAWL_TEST_POSTGRES")
	if base == "" {
		if os.Getenv("CI") != "" {
			t.Fatal("PAWL_TEST_POSTGRES is not set; .ci/run starts a server and sets it")
		}
		t.Skip("PAWL_TEST_POSTGRES is not set: give it a postgres:// URL to run the scripts on PostgreSQL too")
	}
	t.Cleanup(func() { dropSchemas(t, base) })
	p := scripts()
	sqlite := p.Setup
	p.Condition = onEngine("postgres")
	p.Setup = func(env *testscript.Env) error {
		env.Setenv(scriptBase, base)
		return sqlite(env)
	}
	testscript.Run(t, p)
}

const schemaPrefix = "script_"

// onPostgres adds --db to a command line of a script, where the script is to
// run on PostgreSQL and the command opens a data folder.
func onPostgres(args []string) ([]string, error) {
	base := os.Getenv(scriptBase)
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
	schema := schemaPrefix + hex.EncodeToString(sum[:8])
	if err := onBase(base, "CREATE SCHEMA IF NOT EXISTS "+schema); err != nil {
		return nil, err
	}
	u, err := url.Parse(base)
	if err != nil {
		return nil, err
	}
	q := u.Query()
	q.Set("search_path", schema)
	u.RawQuery = q.Encode()
	return slices.Concat(args[:1], []string{"--db", u.String()}, args[1:]), nil
}

func onBase(base string, statements ...string) error {
	conn, err := pgx.Connect(context.Background(), base)
	if err != nil {
		return err
	}
	defer conn.Close(context.Background())
	for _, s := range statements {
		if _, err := conn.Exec(context.Background(), s); err != nil && !strings.Contains(err.Error(), "23505") {
			return fmt.Errorf("%s: %w", s, err)
		}
	}
	return nil
}

func dropSchemas(t *testing.T, base string) {
	conn, err := pgx.Connect(context.Background(), base)
	if err != nil {
		t.Error(err)
		return
	}
	rows, _ := conn.Query(context.Background(), "SELECT nspname FROM pg_namespace WHERE nspname LIKE $1", schemaPrefix+"%")
	names, err := pgx.CollectRows(rows, pgx.RowTo[string])
	conn.Close(context.Background())
	for _, n := range names {
		if err == nil {
			err = onBase(base, "DROP SCHEMA "+n+" CASCADE")
		}
	}
	if err != nil {
		t.Error(err)
	}
}
