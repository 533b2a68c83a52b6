package pgtest

import (
	"database/sql"
	"os"
	"testing"
)

func TestMain(m *testing.M) { os.Exit(Main(m)) }

// Each test writes in a schema of its own, under the durability that a shop has.
func TestURLGivesAFreshSchemaWithFsyncOn(t *testing.T) {
	first, second := open(t, URL(t)), open(t, URL(t))
	for _, db := range []*sql.DB{first, second} {
		if _, err := db.Exec("CREATE TABLE tools (id text)"); err != nil {
			t.Errorf("the schema is not its own: %v", err)
		}
	}
	var fsync, schema string
	if err := first.QueryRow("SELECT current_setting('fsync'), current_schema()").Scan(&fsync, &schema); err != nil {
		t.Fatal(err)
	}
	if fsync != "on" || schema == "public" {
		t.Errorf("fsync %s in schema %s, want on, in one of its own", fsync, schema)
	}
}

func TestSchemasAreDroppedWhenTheTestEnds(t *testing.T) {
	var schema string
	t.Run("a test", func(t *testing.T) {
		if err := open(t, URL(t)).QueryRow("SELECT current_schema()").Scan(&schema); err != nil {
			t.Fatal(err)
		}
	})
	var left int
	if err := open(t, URL(t)).QueryRow("SELECT count(*) FROM information_schema.schemata WHERE schema_name = $1", schema).Scan(&left); err != nil || left != 0 || schema == "" {
		t.Errorf("schema %q: %d left behind, %v", schema, left, err)
	}
}

// A copy has what was laid out, once; what is written into it is in no other, and it is
// dropped when the test ends.
func TestLaidGivesACopyOfItsOwn(t *testing.T) {
	times := 0
	lay := func(url string) error {
		times++
		return try(url, "CREATE TABLE tools (id text)")
	}
	var first string
	t.Run("a test", func(t *testing.T) {
		db := open(t, Laid(t, lay))
		if _, err := db.Exec("INSERT INTO tools VALUES ('one')"); err != nil {
			t.Fatal(err)
		}
		if err := db.QueryRow("SELECT current_database()").Scan(&first); err != nil {
			t.Fatal(err)
		}
	})
	var rows, left int
	if err := open(t, Laid(t, lay)).QueryRow("SELECT (SELECT count(*) FROM tools), (SELECT count(*) FROM pg_database WHERE datname = $1)", first).Scan(&rows, &left); err != nil {
		t.Fatal(err)
	}
	if times != 1 || rows != 0 || left != 0 {
		t.Errorf("laid out %d times, %d rows of another test, %d databases left behind; want 1, 0, 0", times, rows, left)
	}
}

func open(t *testing.T, url string) *sql.DB {
	t.Helper()
	db, err := sql.Open("pgx", url)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

func TestAPasswordIsTakenOutOfTheURL(t *testing.T) {
	t.Setenv("PGPASSWORD", "")
	cases := []struct{ base, want, password string }{
		{"postgres://pawl@/postgres?host=%2Ftmp&sslmode=disable", "postgres://pawl@/postgres?host=%2Ftmp&sslmode=disable", ""},
		{"postgres://pawl:s%40cret@db:5432/test", "postgres://pawl@db:5432/test", "s@cret"},
		{"postgres:///test", "postgres:///test", "s@cret"}, // as it was before
	}
	for _, c := range cases {
		if got := withoutPassword(t, c.base); got != c.want || os.Getenv("PGPASSWORD") != c.password {
			t.Errorf("%s: %s and PGPASSWORD %q, want %s and %q", c.base, got, os.Getenv("PGPASSWORD"), c.want, c.password)
		}
	}
}
