package model

import (
	"database/sql"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	_ "github.com/mattn/go-sqlite3"
)

// 20,000 rows in one act: the time in which the store is held, beside that of
// the same rows inserted by prepared statements on a bare connection.
func TestImportOf20000RowsHoldsTheStoreBriefly(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	const rows = 20_000
	var file strings.Builder
	file.WriteString("kind,maker,model,serial,place,usage,bought,price,seller,notes\r\n")
	for i := range rows {
		fmt.Fprintf(&file, "impact wrench,Brindle,BX-%d,KD%06dA,Bay %d/Drawer %d,daily,2026-01-%02d,%d.50,Counter sale,left side\r\n", i%40, i, i%8, i%20, 1+i%28, 20+i%900)
	}
	s := openSheetShop(t)
	begin := time.Now()
	if r := s.imported(file.String(), SheetOptions{CreatePlaces: true}); r.Added != rows || len(r.Places) != 40 {
		t.Fatalf("%+v", r)
	}
	held, whole := time.Since(s.began), time.Since(begin)
	bare := max(bareInserts(t, s.dir), bareInserts(t, s.dir)) // the machine is not always the same
	t.Logf("%d rows: store held %v, all %v; bare inserts of the same rows %v; ratio %.1f", rows, held, whole, bare, held.Seconds()/bare.Seconds())
	if held > 3*bare {
		t.Errorf("held for %v, which is over 3 × %v", held, bare)
	}
}

// bareInserts is the time that it takes to write every row of a store into a
// new one, row by row with prepared statements, in one transaction.
func bareInserts(t *testing.T, dir string) time.Duration {
	t.Helper()
	from, err := sql.Open("sqlite3", "file:"+filepath.Join(dir, "pawl.db")+"?mode=ro")
	if err != nil {
		t.Fatal(err)
	}
	defer from.Close()
	to, err := sql.Open("sqlite3", "file:"+filepath.Join(t.TempDir(), "bare.db")+"?_journal_mode=WAL&_synchronous=2&_txlock=immediate&_cache_size=-16000")
	if err != nil {
		t.Fatal(err)
	}
	defer to.Close()
	to.SetMaxOpenConns(1)
	for _, statement := range column(t, from, "SELECT sql FROM sqlite_master WHERE sql IS NOT NULL AND type IN ('table', 'index') AND name NOT LIKE 'sqlite_%'") {
		if _, err := to.Exec(statement); err != nil {
			t.Fatal(err)
		}
	}
	all := map[string][][]any{}
	for _, table := range column(t, from, "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'") {
		all[table] = everyRow(t, from, table)
	}
	begin := time.Now()
	tx, err := to.Begin()
	if err != nil {
		t.Fatal(err)
	}
	for table, rows := range all {
		if len(rows) == 0 {
			continue
		}
		insert, err := tx.Prepare("INSERT INTO \"" + table + "\" VALUES (?" + strings.Repeat(", ?", len(rows[0])-1) + ")")
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range rows {
			if _, err := insert.Exec(row...); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := tx.Commit(); err != nil {
		t.Fatal(err)
	}
	return time.Since(begin)
}

func column(t *testing.T, db *sql.DB, query string) (out []string) {
	t.Helper()
	rows, err := db.Query(query)
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
	return out
}

func everyRow(t *testing.T, db *sql.DB, table string) (out [][]any) {
	t.Helper()
	rows, err := db.Query("SELECT * FROM \"" + table + "\"")
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	names, err := rows.Columns()
	if err != nil {
		t.Fatal(err)
	}
	for rows.Next() {
		row, into := make([]any, len(names)), make([]any, len(names))
		for i := range row {
			into[i] = &row[i]
		}
		if err := rows.Scan(into...); err != nil {
			t.Fatal(err)
		}
		out = append(out, row)
	}
	return out
}
