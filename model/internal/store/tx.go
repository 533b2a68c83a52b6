package store

import (
	"bytes"
	"context"
	"fmt"
	"strconv"
	"strings"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/numbers"
	"pawl/model/register"
)

// Tx is one act in progress. A function handed to Write touches nothing but
// its Tx, since it may run more than once.
type Tx struct {
	Rx
	db     *DB
	act    Act
	loaded map[recordID][]byte // the image as it was when loaded for change
	lines  []*pending
	wrote  map[recordID]*pending
	index  map[string]*searched // tools whose search tables follow, once the rows stand
	dues   dues                 // what is due that follows
	// touched says that an operational table changed: worth a commit without lines.
	touched bool
}

type recordID struct{ noun, id string }

// pending is a line that the act will leave.
type pending struct {
	key   recordID
	rev   int64
	tool  string
	image []byte // canonical
}

func newTx(d *DB, g *gorm.DB, act Act) *Tx {
	return &Tx{Rx: Rx{g: g, now: dates.InstantOf(d.clock())}, db: d, act: act,
		loaded: map[recordID][]byte{}, wrote: map[recordID]*pending{}, index: map[string]*searched{},
		dues: dues{tools: map[string]*register.Tool{}}}
}

// NewID draws a random id that starts with the letter.
func (tx *Tx) NewID(letter byte) (string, error) { return numbers.NewID(letter, tx.db.chance) }

// Chance fills p from the store's source of chance.
func (tx *Tx) Chance(p []byte) error {
	_, err := tx.db.chance.Read(p)
	return err
}

// Lock makes acts that ask for the same name wait for one another.
func (tx *Tx) Lock(name string) error { return tx.db.engine.lock(tx.g, name) }

// exec runs a statement with ? marks on either engine. It goes around gorm,
// which takes a byte slice after a parenthesis for a list of values.
func (r *Rx) exec(query string, args ...any) (affected int64, err error) {
	res, err := r.g.Statement.ConnPool.ExecContext(background, r.bind(query), args...)
	if err != nil {
		return 0, err
	}
	return res.RowsAffected()
}

// query scans every row of a query with fn.
func (r *Rx) query(fn func(scan func(...any) error) error, query string, args ...any) error {
	rows, err := r.g.Statement.ConnPool.QueryContext(background, r.bind(query), args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := fn(rows.Scan); err != nil {
			return err
		}
	}
	return rows.Err()
}

// bind writes ? marks as the engine wants them. Our statements hold no ? within
// quotes.
func (r *Rx) bind(query string) string {
	if r.g.Dialector.Name() != "postgres" {
		return query
	}
	var out strings.Builder
	n := 0
	for i := range len(query) {
		if query[i] != '?' {
			out.WriteByte(query[i])
			continue
		}
		n++
		out.WriteString("$" + strconv.Itoa(n))
	}
	return out.String()
}

// count gives the one integer of a query; null is 0.
func (r *Rx) count(query string, args ...any) (n int64, err error) {
	var v *int64
	err = r.query(func(scan func(...any) error) error { return scan(&v) }, query, args...)
	if v != nil {
		n = *v
	}
	return n, err
}

// rowLock is how PostgreSQL holds a row that is loaded for change. The one build that is
// wrong on purpose, for the test that must catch it, empties this with -ldflags -X.
var rowLock = "UPDATE"

// Change loads a recorded row in order to change it: other acts that want the
// row wait until this one ends.
func Change[T any](tx *Tx, id string) (row T, found bool, err error) {
	return changeWhere[T](tx, "id = ?", id)
}

func changeWhere[T any](tx *Tx, query string, args ...any) (row T, found bool, err error) {
	locking := tx.g.Session(&gorm.Session{NewDB: true})
	if rowLock != "" {
		locking = locking.Clauses(clause.Locking{Strength: rowLock})
	}
	row, found, err = one[T](&Rx{g: locking}, query, args...)
	if err != nil || !found {
		return row, found, err
	}
	t := tableOf(&row)
	_, image, err := t.columns(&row)
	id, _ := head(&row)
	if _, seen := tx.loaded[recordID{t.noun, id}]; !seen {
		tx.loaded[recordID{t.noun, id}] = image
	}
	return row, true, err
}

// Put writes a recorded row, new (Rev 0) or loaded by Change, and gathers its
// line. A row that is as it was loaded is left alone and leaves no line. The
// row's Rev is the new one afterwards.
func Put[T any](tx *Tx, row *T) error {
	t := tableOf(row)
	id, rev := head(row)
	key := recordID{t.noun, id}
	if p, twice := tx.wrote[key]; twice {
		return tx.rewrite(t, row, p)
	}
	next := rev + 1
	setRev(row, next)
	values, image, err := t.columns(row)
	if err != nil {
		return err
	}
	if rev > 0 {
		before, ok := tx.loaded[key]
		if !ok {
			return fmt.Errorf("store: %s %s was not loaded for change", t.noun, id)
		}
		if bytes.Equal(before, image) {
			setRev(row, rev)
			return nil
		}
		if err := tx.updateRow(t, values, id, rev); err != nil {
			return err
		}
	} else if _, err := tx.exec(t.insert, values...); err != nil {
		return err
	}
	p := &pending{key: key, rev: next, image: image}
	if t.tools != nil {
		p.tool = t.tools(row)
	}
	tx.lines, tx.wrote[key] = append(tx.lines, p), p
	tx.derive(row)
	return nil
}

// rewrite changes a row that this act wrote already: still one line.
func (tx *Tx) rewrite(t *table, row any, p *pending) error {
	setRev(row, p.rev)
	values, image, err := t.columns(row)
	if err != nil {
		return err
	}
	if err := tx.updateRow(t, values, p.key.id, p.rev); err != nil {
		return err
	}
	p.image = image
	if t.tools != nil {
		p.tool = t.tools(row)
	}
	tx.derive(row)
	return nil
}

func (tx *Tx) updateRow(t *table, values []any, id string, rev int64) error {
	args := make([]any, 0, len(values)+1)
	for i, f := range t.schema.Fields {
		if f.DBName != "id" {
			args = append(args, values[i])
		}
	}
	n, err := tx.exec(t.update, append(args, id, rev)...)
	if err != nil {
		return err
	}
	if n != 1 {
		return fault.New(fault.Stale, "%s %s changed since it was read", t.noun, id).WithHint("read it again and repeat the change")
	}
	return nil
}

// background is the context of all SQL: no caller's going away stops an act
// half-way.
var background = context.Background()
