package main

import (
	"database/sql"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	_ "github.com/mattn/go-sqlite3" // the limits are its own statements
)

// shopFile is where a shop keeps its records.
func shopFile(dir string) string { return dir + "/pawl.db" }

// bare opens the records of a shop on one connection, with nothing between, under
// the promises of the store: write-ahead, and on the disk before it answers.
func bare(file string) (*sql.DB, error) {
	db, err := sql.Open("sqlite3", "file:"+file+"?_journal_mode=WAL&_synchronous=FULL&_txlock=immediate")
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	return db, db.Ping()
}

// copyFile copies a file onto the disk.
func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.Create(to)
	if err != nil {
		return err
	}
	defer out.Close()
	if _, err := io.Copy(out, in); err != nil {
		return err
	}
	return out.Sync()
}

// written are rows that acts left in a table.
type written struct {
	table string
	rows  [][]any
}

// rowsOf reads the rows of a query.
func rowsOf(db *sql.DB, query string, with ...any) ([][]any, error) {
	found, err := db.Query(query, with...)
	if err != nil {
		return nil, err
	}
	return scanned(found)
}

// since reads what takes left beyond a line and a hash.
func since(db *sql.DB, seq, hash int64) (out []written, err error) {
	for _, w := range []struct {
		table, where string
		from         int64
	}{
		{"loans", "id IN (SELECT id FROM lines WHERE noun = 'loan' AND seq > ?) ORDER BY since", seq},
		{"lines", "seq > ? ORDER BY seq", seq},
		{"line_tools", "seq > ? ORDER BY seq", seq},
		{"hashes", "idx > ? ORDER BY idx", hash},
	} {
		rows, err := rowsOf(db, "SELECT * FROM "+w.table+" WHERE "+w.where, w.from)
		if err != nil {
			return nil, err
		}
		out = append(out, written{w.table, rows})
	}
	return out, nil
}

// again writes rows by prepared statements, those of each act in one transaction, after
// it asked the act's questions, if any. It gives how long each took.
func again(db *sql.DB, all []written, acts int, asked [][]question) (out times, err error) {
	if len(asked) > 0 && len(asked) != acts {
		return nil, fmt.Errorf("%d acts asked the questions of %d", acts, len(asked))
	}
	asks, err := prepare(db, asked)
	if err != nil {
		return nil, err
	}
	statements := make([]*sql.Stmt, len(all))
	for i, w := range all {
		if len(w.rows) < acts {
			return nil, fmt.Errorf("%d acts left %d rows in %s", acts, len(w.rows), w.table)
		}
		marks := strings.TrimSuffix(strings.Repeat("?,", len(w.rows[0])), ",")
		if statements[i], err = db.Prepare("INSERT INTO " + w.table + " VALUES (" + marks + ")"); err != nil {
			return nil, err
		}
		defer statements[i].Close()
	}
	for act := range acts {
		d, err := took(func() error {
			tx, err := db.Begin()
			if err != nil {
				return err
			}
			defer tx.Rollback()
			if len(asked) > 0 {
				if err := asks.ask(tx, asked[act]); err != nil {
					return err
				}
			}
			for i, w := range all {
				for _, row := range w.rows[act*len(w.rows)/acts : (act+1)*len(w.rows)/acts] {
					if _, err := tx.Stmt(statements[i]).Exec(row...); err != nil {
						return err
					}
				}
			}
			return tx.Commit()
		})
		if err != nil {
			return nil, err
		}
		out = append(out, d)
	}
	return out, nil
}

// found asks one prepared statement for a tool by its number.
type found struct{ statement *sql.Stmt }

func newFound(db *sql.DB) (f found, err error) {
	f.statement, err = db.Prepare("SELECT tools.* FROM numbers JOIN tools ON tools.id = numbers.tool WHERE numbers.id = ?")
	return f, err
}

func (f found) tool(number string) (time.Duration, error) {
	return took(func() error {
		rows, err := f.statement.Query(number)
		if err != nil {
			return err
		}
		read, err := scanned(rows)
		if err == nil && len(read) == 0 {
			err = fmt.Errorf("no tool has number %s", number)
		}
		return err
	})
}
