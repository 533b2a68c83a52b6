package store

import (
	"context"
	"strings"

	"pawl/model/fault"
)

// Moving says what an opener wants with a store that does not stand here.
type Moving int

const (
	Standing Moving = iota // it must stand here
	Leaving                // it may have moved away: it is read, or moved on
	Arriving               // it may be half-moved: it is being filled
)

// stands says whether the store stands here, and refuses to open one that does not,
// unless that is wanted.
func (d *DB) stands(ctx context.Context, want Moving) (bool, error) {
	var me Identity
	err := d.Read(ctx, func(rx *Rx) (err error) {
		me, _, err = rx.Identity()
		return err
	})
	switch {
	case err != nil:
		return false, err
	case me.MovedTo != "" && want != Leaving:
		return false, movedAway(me.MovedTo)
	case me.MovingFrom != "" && want != Arriving:
		return false, fault.New(fault.Refused, "the move of this shop from %s was not finished", me.MovingFrom).
			WithHint("run the same pawl move again; until then the shop stands where it was")
	}
	d.left = me.MovedTo
	return me.MovedTo == "" && me.MovingFrom == "", nil
}

func movedAway(to string) error {
	return fault.New(fault.Refused, "this shop moved to %s; what is here is what was left behind", to).
		WithHint("use it there; pawl verify still reads what is here")
}

// standing is the number of lines, for an act that adds some. It is asked under the lock of
// the ledger, so that nothing is added to a shop that has moved away, not even by a process
// whose hold on the store broke unseen.
func (tx *Tx) standing() (size int64, err error) {
	var lines *int64
	var to *string
	err = tx.query(func(scan func(...any) error) error { return scan(&lines, &to) },
		"SELECT (SELECT max(seq) + 1 FROM lines), (SELECT max(moved_to) FROM store)")
	if lines != nil {
		size = *lines
	}
	if err == nil && to != nil {
		err = movedAway(*to)
	}
	return size, err
}

// SetOriginals notes where the originals are from now on; empty is the folder.
func (tx *Tx) SetOriginals(at string) error {
	tx.touched = true
	_, err := tx.exec("UPDATE store SET originals = ?", orNull(at))
	return err
}

func orNull(text string) any {
	if text == "" {
		return nil
	}
	return text
}

// AnyOriginal says whether a record, a packet or an upload names an original.
func (r *Rx) AnyOriginal() (bool, error) {
	n, err := r.count("SELECT CASE WHEN EXISTS (SELECT 1 FROM evidence) OR EXISTS (SELECT 1 FROM uploads) OR EXISTS (SELECT 1 FROM packets) THEN 1 ELSE 0 END")
	return n > 0, err
}

// Uploads gives the hashes that somebody sent and no record names yet, in order, after one.
func (r *Rx) Uploads(after string, limit int) (out []string, err error) {
	err = r.query(func(scan func(...any) error) error {
		var h string
		err := scan(&h)
		out = append(out, h)
		return err
	}, `SELECT DISTINCT sha256 FROM uploads u WHERE sha256 > ? AND NOT EXISTS (SELECT 1 FROM evidence e WHERE e.sha256 = u.sha256)
		AND NOT EXISTS (SELECT 1 FROM packets p WHERE p.statement = u.sha256) ORDER BY sha256 LIMIT ?`, after, limit)
	return out, err
}

// Arrive gives a store that is empty the name of one that is moved into it, with where that
// was and where its originals are to be. Until Settle it opens for nobody else. It may be
// done again for the same shop; what came over before is then no more. Its fault is Conflict
// where another shop stands.
func (tx *Tx) Arrive(who Identity) error {
	there, found, err := tx.Identity()
	switch {
	case err != nil:
		return err
	case found && (there.MovingFrom == "" || there.ID != who.ID):
		return fault.New(fault.Conflict, "there is a shop already where this one is to go").WithHint("name an empty folder, database or schema")
	}
	tx.touched = true
	if err := tx.emptyAll(); err != nil {
		return err
	}
	_, err = tx.exec("INSERT INTO store (id, vkey, created, originals, moving_from) VALUES (?, ?, ?, ?, ?)",
		who.ID, who.VKey, int64(who.Created), orNull(who.Originals), who.MovingFrom)
	return err
}

// emptyAll takes away what a move that was broken off left. The rule that lines stay is of
// a ledger that stands; this one never did.
func (tx *Tx) emptyAll() error {
	empty, err := tx.count("SELECT CASE WHEN EXISTS (SELECT 1 FROM lines) OR EXISTS (SELECT 1 FROM store) THEN 0 ELSE 1 END")
	if err != nil || empty == 1 {
		return err
	}
	if _, lite := tx.db.engine.(*sqliteEngine); !lite {
		var names []string
		for _, t := range allTables() {
			names = append(names, quote(t))
		}
		return tx.all("ALTER TABLE lines DISABLE TRIGGER USER", "TRUNCATE "+strings.Join(names, ", "), "ALTER TABLE lines ENABLE TRIGGER USER")
	}
	var rule string
	err = tx.query(func(scan func(...any) error) error { return scan(&rule) }, "SELECT sql FROM sqlite_master WHERE type = 'trigger' AND name = 'lines_no_delete'")
	if err != nil {
		return err
	}
	steps := []string{"DROP TRIGGER lines_no_delete"}
	for _, t := range allTables() {
		steps = append(steps, "DELETE FROM "+quote(t))
	}
	return tx.all(append(steps, rule)...)
}

func (tx *Tx) all(statements ...string) error {
	for _, s := range statements {
		if _, err := tx.exec(s); err != nil {
			return wrapf(err, "%.40s", s)
		}
	}
	return nil
}

// allTables is every table there is, in the order of tables.go.
func allTables() (out []string) {
	for _, t := range recorded() {
		out = append(out, t.schema.Table)
	}
	return append(append(append(out, "lines"), derived...), operational...)
}

// Carry brings everything but its name from another store into this one, in which Arrive
// was done: recorded rows, lines with their salts and images, what is derived from them,
// and what is neither, so that a session, a token and a replay key hold on. All of it comes
// in one act. It says how many rows those were.
func (d *DB) Carry(ctx context.Context, from *DB) (rows int64, err error) {
	return Write(ctx, d, Act{Verb: "move"}, func(tx *Tx) (rows int64, err error) {
		tx.touched = true
		err = from.Read(ctx, func(rx *Rx) error {
			me, _, err := tx.Identity()
			if err != nil {
				return err
			}
			if me.MovingFrom == "" {
				return fault.New(fault.Internal, "the store is not one that is being moved into")
			}
			for _, table := range allTables() {
				if table == "store" {
					continue
				}
				n, err := tx.copyTable(rx, table)
				if rows += n; err != nil {
					return wrapf(err, "copying %s", table)
				}
			}
			return nil
		})
		return rows, err
	})
}

// copyTable copies the rows of one table as they are.
func (tx *Tx) copyTable(from *Rx, table string) (n int64, err error) {
	source, err := from.g.Statement.ConnPool.QueryContext(background, "SELECT * FROM "+quote(table))
	if err != nil {
		return 0, err
	}
	defer source.Close()
	names, err := source.Columns()
	if err != nil {
		return 0, err
	}
	var quoted []string
	for _, name := range names {
		quoted = append(quoted, quote(name))
	}
	into := tx.rows("INSERT INTO "+quote(table)+" ("+strings.Join(quoted, ", ")+")", len(names))
	for source.Next() {
		values, to := make([]any, len(names)), make([]any, len(names))
		for i := range values {
			to[i] = &values[i]
		}
		if err := source.Scan(to...); err != nil {
			return n, err
		}
		if err := into.add(values...); err != nil {
			return n, err
		}
		n++
	}
	if err := source.Err(); err != nil {
		return n, err
	}
	return n, into.flush()
}

// Leave ends the shop here: it stands where it moved to. Its fault is Conflict when a line
// was added since, after so many.
func (tx *Tx) Leave(to string, size int64) error {
	if err := tx.Lock("ledger"); err != nil {
		return err
	}
	now, err := tx.standing()
	if err != nil {
		return err
	}
	if now != size {
		return fault.New(fault.Conflict, "%d lines were added while the shop was moved", now-size).WithHint("stop whoever writes, then run the same pawl move again")
	}
	tx.touched = true
	_, err = tx.exec("UPDATE store SET moved_to = ?", to)
	return err
}

// Settle makes a shop stand here that was moved here.
func (tx *Tx) Settle() error {
	tx.touched = true
	_, err := tx.exec("UPDATE store SET moving_from = NULL")
	return err
}
