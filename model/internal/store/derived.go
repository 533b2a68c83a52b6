package store

import (
	"errors"
	"maps"
	"slices"
	"strings"

	"pawl/model/ledger"
	"pawl/model/register"
	"pawl/model/serials"
)

// searched is what a tool is found by.
type searched struct {
	id, text, serialKey string
	fresh               bool // nothing is in the search tables yet
}

// derive notes what must follow from a row once the act's rows stand.
func (tx *Tx) derive(row any) {
	tx.dues.note(tx, row)
	if t, ok := row.(*register.Tool); ok {
		tx.index[t.ID] = &searched{id: t.ID, text: toolText(t), serialKey: t.SerialKey, fresh: t.Rev == 1}
	}
}

// indexTools writes the search tables of tools anew.
func (r *Rx) indexTools(all []*searched) error {
	words, keys := r.rows("INSERT INTO words (word, tool)", 2), r.rows("INSERT INTO serial_keys (tool, folded)", 2)
	slices.SortFunc(all, func(a, b *searched) int { return strings.Compare(a.id, b.id) })
	found := map[string][]string{}
	for _, t := range all {
		for _, table := range []string{"words", "serial_keys"} {
			if t.fresh {
				break
			}
			if _, err := r.exec("DELETE FROM "+table+" WHERE tool = ?", t.id); err != nil {
				return err
			}
		}
		for _, w := range serials.Words(t.text) {
			found[w] = append(found[w], t.id)
		}
		if t.serialKey != "" {
			if err := keys.add(t.id, serials.Fold(t.serialKey)); err != nil {
				return err
			}
		}
	}
	for _, w := range slices.Sorted(maps.Keys(found)) { // in the order of the table, which is faster to write
		for _, id := range found[w] {
			if err := words.add(w, id); err != nil {
				return err
			}
		}
	}
	return errors.Join(words.flush(), keys.flush())
}

// indexChanged writes the search tables of the tools that this act put.
func (tx *Tx) indexChanged() error {
	if len(tx.index) == 0 {
		return nil
	}
	return tx.indexTools(slices.Collect(maps.Values(tx.index)))
}

// searchable gives what tools are found by, and no more of them: a value that
// cannot be read is nobody's concern here. Their search tables are empty.
func (r *Rx) searchable(after string, limit int) (out []*searched, err error) {
	err = r.query(func(scan func(...any) error) error {
		var t register.Tool
		err := scan(&t.ID, &t.Kind, &t.Maker, &t.Model, &t.Serial, &t.Lot, &t.Notes, &t.SerialKey)
		out = append(out, &searched{id: t.ID, text: toolText(&t), serialKey: t.SerialKey, fresh: true})
		return err
	}, `SELECT id, coalesce(kind, ''), coalesce(maker, ''), coalesce(model, ''), coalesce(serial, ''), coalesce(lot, ''),
		coalesce(notes, ''), coalesce(serial_key, '') FROM tools WHERE id > ? ORDER BY id LIMIT ?`, after, limit)
	return out, err
}

// toolText holds the words by which a tool is found.
func toolText(t *register.Tool) string {
	return strings.Join([]string{t.Kind, t.Maker, t.Model, t.Serial, t.Lot, t.Notes}, " ")
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
	if err := tx.rebuildLeaves(); err != nil {
		return err
	}
	if err := tx.rebuildDue(); err != nil {
		return err
	}
	for after := ""; ; {
		tools, err := tx.searchable(after, 500)
		if err != nil || len(tools) == 0 {
			return err
		}
		after = tools[len(tools)-1].id
		if err := tx.indexTools(tools); err != nil {
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
