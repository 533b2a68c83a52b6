package store

import (
	"cmp"
	"errors"
	"maps"
	"slices"
	"strings"

	"pawl/model/ledger"
	"pawl/model/register"
	"pawl/model/serials"
)

// derive notes what must follow from a row once the act's rows stand.
func (tx *Tx) derive(row any) {
	if t, ok := row.(*register.Tool); ok {
		tx.index[t.ID] = *t
	}
}

// indexTools writes the search tables of tools anew. Of fresh ones nothing is
// there yet.
func (r *Rx) indexTools(all []register.Tool, fresh func(register.Tool) bool) error {
	words, keys := r.rows("INSERT INTO words (word, tool)", 2), r.rows("INSERT INTO serial_keys (tool, folded)", 2)
	slices.SortFunc(all, func(a, b register.Tool) int { return strings.Compare(a.ID, b.ID) })
	var found [][2]string
	for _, t := range all {
		for _, table := range []string{"words", "serial_keys"} {
			if fresh(t) {
				break
			}
			if _, err := r.exec("DELETE FROM "+table+" WHERE tool = ?", t.ID); err != nil {
				return err
			}
		}
		for _, w := range toolWords(t) {
			found = append(found, [2]string{w, t.ID})
		}
		if t.SerialKey != "" {
			if err := keys.add(t.ID, serials.Fold(t.SerialKey)); err != nil {
				return err
			}
		}
	}
	// In the order of the table, which is faster to write.
	slices.SortFunc(found, func(a, b [2]string) int { return cmp.Or(strings.Compare(a[0], b[0]), strings.Compare(a[1], b[1])) })
	for _, w := range found {
		if err := words.add(w[0], w[1]); err != nil {
			return err
		}
	}
	return errors.Join(words.flush(), keys.flush())
}

// indexChanged writes the search tables of the tools that this act put.
func (tx *Tx) indexChanged() error {
	if len(tx.index) == 0 {
		return nil
	}
	return tx.indexTools(slices.Collect(maps.Values(tx.index)), func(t register.Tool) bool { return t.Rev == 1 })
}

// searchable gives what tools are found by, and no more of them: a value that
// cannot be read is nobody's concern here.
func (r *Rx) searchable(after string, limit int) (out []register.Tool, err error) {
	err = r.query(func(scan func(...any) error) error {
		var t register.Tool
		err := scan(&t.ID, &t.Kind, &t.Maker, &t.Model, &t.Serial, &t.Lot, &t.Notes, &t.SerialKey)
		out = append(out, t)
		return err
	}, `SELECT id, coalesce(kind, ''), coalesce(maker, ''), coalesce(model, ''), coalesce(serial, ''), coalesce(lot, ''),
		coalesce(notes, ''), coalesce(serial_key, '') FROM tools WHERE id > ? ORDER BY id LIMIT ?`, after, limit)
	return out, err
}

// toolWords are the words by which a tool is found.
func toolWords(t register.Tool) []string {
	return serials.Words(strings.Join([]string{t.Kind, t.Maker, t.Model, t.Serial, t.Lot, t.Notes}, " "))
}

// RebuildDerived makes every derived table anew from recorded rows and lines,
// while no other act adds any.
func (tx *Tx) RebuildDerived() error {
	if err := tx.Lock("ledger"); err != nil {
		return err
	}
	for _, table := range derived {
		if _, err := tx.exec("DELETE FROM " + table); err != nil {
			return err
		}
	}
	tx.touched = true
	if err := tx.rebuildLines(); err != nil {
		return err
	}
	for after := ""; ; {
		tools, err := tx.searchable(after, 500)
		if err != nil || len(tools) == 0 {
			return err
		}
		after = tools[len(tools)-1].ID
		if err := tx.indexTools(tools, func(register.Tool) bool { return true }); err != nil {
			return err
		}
	}
}

func (tx *Tx) rebuildLines() error {
	var tree ledger.Tree
	for seq := int64(0); ; {
		batch, err := tx.entries(seq, 1000)
		if err != nil || len(batch) == 0 {
			return err
		}
		for _, e := range batch {
			line, err := ledger.ParseLine(e.Raw)
			if err != nil {
				return err
			}
			for _, tool := range line.Tools {
				if _, err := tx.exec("INSERT INTO line_tools (tool, seq) VALUES (?, ?)", tool, seq); err != nil {
					return err
				}
			}
			for i, h := range tree.Add(e.Raw) {
				if _, err := tx.exec("INSERT INTO hashes (idx, hash) VALUES (?, ?)", ledger.FirstStored(seq)+int64(i), h[:]); err != nil {
					return err
				}
			}
			seq++
		}
	}
}

// entries gives kept lines from seq on.
func (r *Rx) entries(seq int64, limit int) (out []Entry, err error) {
	err = r.query(func(scan func(...any) error) error {
		var e Entry
		if err := scan(&e.Raw, &e.Salt, &e.After); err != nil {
			return err
		}
		out = append(out, e)
		return nil
	}, "SELECT line, salt, after FROM lines WHERE seq >= ? ORDER BY seq LIMIT ?", seq, limit)
	return out, err
}
