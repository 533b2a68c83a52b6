package store

import (
	"fmt"
	"slices"
	"testing"
)

// Every table of the schema is listed in tables.go under exactly one sort, and
// every column of a recorded table is in its row type.
func TestTheListsCoverTheSchema(t *testing.T) {
	tables := map[string]string{
		"sqlite":   "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' AND name <> 'goose_db_version'",
		"postgres": "SELECT table_name FROM information_schema.tables WHERE table_schema = current_schema() AND table_name <> 'goose_db_version'",
	}
	columns := map[string]string{
		"sqlite":   "SELECT name FROM pragma_table_info('%s')",
		"postgres": "SELECT column_name FROM information_schema.columns WHERE table_schema = current_schema() AND table_name = '%s'",
	}
	onBoth(t, func(t *testing.T, at *site) {
		at.open(t)
		want := ourTables()
		slices.Sort(want)
		if got := at.strings(t, tables[at.engine]); !slices.Equal(got, want) {
			t.Errorf("the schema has %v\nthe lists  %v", got, want)
		}
		if len(slices.Compact(want)) != len(ourTables()) {
			t.Errorf("a table is listed twice: %v", ourTables())
		}
		for _, r := range recorded() {
			var fields []string
			for _, f := range r.schema.Fields {
				fields = append(fields, f.DBName)
			}
			slices.Sort(fields)
			if got := at.strings(t, fmt.Sprintf(columns[at.engine], r.schema.Table)); !slices.Equal(got, fields) {
				t.Errorf("table %s has columns %v, its row %v", r.schema.Table, got, fields)
			}
		}
	})
}

// strings gives the first column of a raw query, sorted.
func (at *site) strings(t testing.TB, query string) (out []string) {
	t.Helper()
	rows, err := at.raw(t).Query(query)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			t.Fatal(err)
		}
		out = append(out, s)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	slices.Sort(out)
	return out
}

// Text sorts by its bytes on both engines (DESIGN 16): PostgreSQL says so for
// every text column, SQLite by its default.
func TestTextSortsByBytes(t *testing.T) {
	queries := map[string]string{
		"sqlite": "SELECT name FROM sqlite_master WHERE upper(sql) LIKE '%COLLATE%'",
		"postgres": `SELECT table_name || '.' || column_name FROM information_schema.columns
			WHERE table_schema = current_schema() AND table_name <> 'goose_db_version' AND data_type = 'text' AND collation_name IS DISTINCT FROM 'C'`,
	}
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		if got := at.strings(t, queries[at.engine]); len(got) > 0 {
			t.Errorf("sorted otherwise: %v", got)
		}
		// The names are in the order of their bytes in UTF-8, which no dictionary has.
		want := []string{"A", "Z", "a", "z", "É", "é", "ﬀ", "𝐀"}
		for i, name := range []string{"z", "𝐀", "é", "A", "ﬀ", "a", "É", "Z"} {
			p := person(fmt.Sprint("H-", i), name)
			p.NameKey = name
			do(t, d, put(p))
		}
		var got []string
		err := d.Read(ctx, func(rx *Rx) error {
			all, err := rx.People()
			for _, p := range all {
				got = append(got, p.Name)
			}
			return err
		})
		if err != nil || !slices.Equal(got, want) {
			t.Errorf("%q, %v; want %q", got, err, want)
		}
	})
}
