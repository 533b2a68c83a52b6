package store

import (
	"database/sql"
	"path/filepath"
	"testing"
)

// A store from before there was a table of what is due has it made once, from its
// record, when it is opened.
func TestAnOlderStoreHasItsDueMade(t *testing.T) {
	fromNothing(t, func(t *testing.T, at *site) {
		d, err := Open(ctx, at.Config)
		if err != nil {
			t.Fatal(err)
		}
		bought := tool("T-00001")
		bought.Bought, bought.WarrantyMonths = "2026-01-15", 24
		do(t, d, put(bought))
		raw := at.raw(t)
		kept := dump(t, raw, []string{"due"})
		if kept == "" {
			t.Fatal("nothing is due of a tool under warranty")
		}
		if err := d.Close(); err != nil {
			t.Fatal(err)
		}
		for _, q := range []string{"DELETE FROM due", `INSERT INTO due (id, tool, sort, what, day, "at", known, person, owner, place, veil, why)
			VALUES ('', '', '', '', '', 0, 0, '', '', '', '', '')`} {
			if _, err := raw.Exec(q); err != nil {
				t.Fatal(err)
			}
		}
		at.open(t)
		if made := dump(t, raw, []string{"due"}); made != kept {
			t.Errorf("made\n%s\nwant\n%s", made, kept)
		}
	})
}

// The migration marks a store that holds tools, and no other.
func TestTheMigrationOfDueMarksAnOlderStore(t *testing.T) {
	for tools, marks := range []int{0, 1} {
		db, err := sql.Open("sqlite3", filepath.Join(t.TempDir(), "a.db"))
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		p, err := migrator(db, "sqlite")
		if err != nil {
			t.Fatal(err)
		}
		if _, err := p.UpTo(ctx, 4); err != nil {
			t.Fatal(err)
		}
		if tools > 0 {
			if _, err := db.Exec("INSERT INTO tools (id, rev) VALUES ('T-00001', 1)"); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := p.UpTo(ctx, 5); err != nil {
			t.Fatal(err)
		}
		var n int
		if err := db.QueryRow("SELECT count(*) FROM due WHERE id = ''").Scan(&n); err != nil || n != marks {
			t.Errorf("%d marks with %d tools, %v; want %d", n, tools, err, marks)
		}
	}
}
