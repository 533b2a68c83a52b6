package main

import (
	"context"
	"database/sql"
	"slices"
	"sync"

	"pawl/model"
)

// question is a statement that reads, as the store asked it.
type question struct {
	text string
	with []any
}

// recorder keeps what is asked, apart for each of many acts.
type recorder struct {
	mu   sync.Mutex
	acts [][]question
}

// next begins another act. It does nothing on nil.
func (r *recorder) next() {
	if r != nil {
		r.mu.Lock()
		defer r.mu.Unlock()
		r.acts = append(r.acts, nil)
	}
}

func (r *recorder) keep(text string, with []any) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if last := len(r.acts) - 1; last >= 0 {
		r.acts[last] = append(r.acts[last], question{text, slices.Clone(with)})
	}
}

// recorded opens the shop of a place once more, beside the one that is timed, and keeps
// what is asked while something is done in it.
func recorded(ctx context.Context, p *place, do func(*model.Shop, *recorder) error) ([][]question, error) {
	r := &recorder{}
	shop, err := model.Open(ctx, model.Options{Dir: p.dir, Existing: true, Program: "bench", Asked: r.keep})
	if err != nil {
		return nil, err
	}
	defer shop.Close()
	err = do(shop, r)
	return r.acts, err
}

// askers asks by prepared statements, each prepared once.
type askers struct {
	db   *sql.DB
	kept map[string]*sql.Stmt
}

// prepare makes the statements of all questions ready.
func prepare(db *sql.DB, acts [][]question) (askers, error) {
	a := askers{db, map[string]*sql.Stmt{}}
	for _, q := range slices.Concat(acts...) {
		if a.kept[q.text] == nil {
			s, err := db.Prepare(q.text)
			if err != nil {
				return a, err
			}
			a.kept[q.text] = s
		}
	}
	return a, nil
}

// ask reads all that the questions of one act are answered with, in one transaction.
func (a askers) ask(tx *sql.Tx, act []question) error {
	for _, q := range act {
		rows, err := tx.Stmt(a.kept[q.text]).Query(q.with...)
		if err != nil {
			return err
		}
		if _, err := scanned(rows); err != nil {
			return err
		}
	}
	return nil
}

// alone asks them in a transaction of their own.
func (a askers) alone(act []question) error {
	tx, err := a.db.Begin()
	if err != nil {
		return err
	}
	defer tx.Rollback()
	return a.ask(tx, act)
}

// scanned reads rows through and closes them.
func scanned(rows *sql.Rows) (out [][]any, err error) {
	defer rows.Close()
	names, err := rows.Columns()
	if err != nil {
		return nil, err
	}
	for rows.Next() {
		row, to := make([]any, len(names)), make([]any, len(names))
		for i := range row {
			to[i] = &row[i]
		}
		if err := rows.Scan(to...); err != nil {
			return nil, err
		}
		out = append(out, row)
	}
	return out, rows.Err()
}
