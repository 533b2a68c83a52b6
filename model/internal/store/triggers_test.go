package store

import (
	"strings"
	"testing"
)

// Whoever has the database open beside Pawl cannot change the ledger by a
// statement: the triggers are the database's own.
func TestTheDatabaseRefusesToChangeLines(t *testing.T) {
	statements := []struct{ engines, statement string }{
		{"sqlite postgres", "UPDATE lines SET noun = 'x' WHERE seq = 0"},
		{"sqlite postgres", "UPDATE lines SET after = NULL, salt = NULL"},
		{"sqlite postgres", "DELETE FROM lines WHERE seq = 0"},
		{"sqlite postgres", "DELETE FROM lines"},
		{"postgres", "TRUNCATE lines"},
		{"postgres", "TRUNCATE lines, tools CASCADE"},
	}
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		do(t, d, put(person("H-1", "Tech A")))
		for _, s := range statements {
			if !strings.Contains(s.engines, at.engine) {
				continue
			}
			if _, err := at.raw(t).Exec(s.statement); err == nil || !strings.Contains(err.Error(), "never changed or removed") {
				t.Errorf("%s: %v", s.statement, err)
			}
		}
		if n := size(t, d); n != 1 {
			t.Errorf("%d lines left, want 1", n)
		}
	})
}
