package store

import (
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"golang.org/x/mod/sumdb/tlog"

	"pawl/model/ledger"
)

// Size is the number of lines.
func (r *Rx) Size() (int64, error) { return r.count("SELECT max(seq) + 1 FROM lines") }

// ChangedSince says whether a line from seq on is about a record of one of the
// nouns.
func (r *Rx) ChangedSince(seq int64, nouns ...string) (bool, error) {
	args := []any{seq}
	for _, noun := range nouns {
		args = append(args, noun)
	}
	n, err := r.count("SELECT count(*) FROM lines WHERE seq >= ? AND noun IN (?"+strings.Repeat(", ?", len(nouns)-1)+")", args...)
	return n > 0, err
}

// ReadHashes gives stored hashes by index; it makes a view a tlog.HashReader.
func (r *Rx) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	out := make([]tlog.Hash, len(indexes))
	for i, idx := range indexes {
		var raw []byte
		err := r.query(func(scan func(...any) error) error { return scan(&raw) }, "SELECT hash FROM hashes WHERE idx = ?", idx)
		if err != nil {
			return nil, err
		}
		if len(raw) != tlog.HashSize {
			return nil, fmt.Errorf("hash %d of the ledger is missing or damaged; pawl verify says more", idx)
		}
		copy(out[i][:], raw)
	}
	return out, nil
}

// Root is the Merkle root over the first size lines.
func (r *Rx) Root(size int64) (tlog.Hash, error) { return ledger.Root(size, r) }

// appendLines gives the act's records their lines, in the order they were put.
// Every act waits here for the one before it, so this comes last.
func (tx *Tx) appendLines() (first int64, err error) {
	if err := tx.Lock("ledger"); err != nil {
		return 0, err
	}
	if first, err = tx.standing(); err != nil {
		return 0, err
	}
	return first, tx.insertLines(first)
}

// insertLines writes the lines from seq first on, with what is derived of them.
func (tx *Tx) insertLines(first int64) error {
	lines := tx.rows(`INSERT INTO lines (seq, act, "at", noun, id, rev, line, salt, after)`, 9)
	tools := tx.rows("INSERT INTO line_tools (tool, seq)", 2)
	hashes := tx.rows("INSERT INTO hashes (idx, hash)", 2)
	made := unsaved{&tx.Rx, map[int64]tlog.Hash{}}
	for i, p := range tx.lines {
		seq := first + int64(i)
		raw, salt, err := tx.line(first, seq, p)
		if err != nil {
			return err
		}
		if err := lines.add(seq, first, int64(tx.now), p.key.noun, p.key.id, p.rev, raw, salt, p.image); err != nil {
			return err
		}
		if p.tool != "" {
			if err := tools.add(p.tool, seq); err != nil {
				return err
			}
		}
		completed, err := ledger.Append(seq, raw, made)
		if err != nil {
			return err
		}
		for i, h := range completed {
			idx := ledger.FirstStored(seq) + int64(i)
			made.made[idx] = h
			if err := hashes.add(idx, h[:]); err != nil {
				return err
			}
		}
	}
	return errors.Join(lines.flush(), tools.flush(), hashes.flush())
}

// line makes the bytes of one line, with its salt.
func (tx *Tx) line(act, seq int64, p *pending) (raw, salt []byte, err error) {
	if salt, err = ledger.NewSalt(tx.db.chance); err != nil {
		return nil, nil, err
	}
	line := ledger.Line{V: ledger.Version, Seq: seq, Act: act, At: int64(tx.now), Actor: tx.act.Actor, Verb: tx.act.Verb,
		Noun: p.key.noun, ID: p.key.id, Rev: p.rev, Digest: ledger.Digest(salt, p.image)}
	if p.tool != "" {
		line.Tools = []string{p.tool}
	}
	return line.Canonical(), salt, line.Check()
}

// Entry is a line as it is kept, with what may have been withheld.
type Entry struct {
	Raw   []byte
	Salt  []byte
	After []byte // nil when withheld
}

// History gives lines about a tool from seq on, oldest first.
func (r *Rx) History(tool string, from int64, limit int) (out []Entry, err error) {
	err = r.query(func(scan func(...any) error) error {
		var e Entry
		if err := scan(&e.Raw, &e.Salt, &e.After); err != nil {
			return err
		}
		out = append(out, e)
		return nil
	}, `SELECT l.line, l.salt, l.after FROM line_tools t JOIN lines l ON l.seq = t.seq
		WHERE t.tool = ? AND t.seq >= ? ORDER BY t.seq LIMIT ?`, tool, from, limit)
	return out, err
}

// Latest is the greatest time in lines after seq, or 0.
func (r *Rx) Latest(after int64) (int64, error) {
	n, err := r.count(`SELECT "at" FROM lines WHERE seq > ? ORDER BY "at" DESC LIMIT 1`, after)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, nil
	}
	return n, err
}
