package store

import (
	"strings"

	"pawl/model/ledger"
	"pawl/model/register"
	"pawl/model/serials"
)

// derive notes what must follow from a row once the act's rows stand.
func (tx *Tx) derive(row any) {
	if t, ok := row.(*register.Tool); ok {
		tool := *t
		tx.after = append(tx.after, func() error { return tx.indexTool(tool) })
	}
}

// indexTool writes the search tables of one tool anew.
func (r *Rx) indexTool(t register.Tool) error {
	for _, table := range []string{"words", "serial_keys"} {
		if _, err := r.exec("DELETE FROM "+table+" WHERE tool = ?", t.ID); err != nil {
			return err
		}
	}
	for _, w := range toolWords(t) {
		if _, err := r.exec("INSERT INTO words (word, tool) VALUES (?, ?)", w, t.ID); err != nil {
			return err
		}
	}
	if t.SerialKey == "" {
		return nil
	}
	_, err := r.exec("INSERT INTO serial_keys (tool, folded) VALUES (?, ?)", t.ID, serials.Fold(t.SerialKey))
	return err
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
		for _, t := range tools {
			if err := tx.indexTool(t); err != nil {
				return err
			}
		}
		after = tools[len(tools)-1].ID
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
