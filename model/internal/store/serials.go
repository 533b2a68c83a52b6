package store

import (
	"slices"

	"pawl/model/serials"
)

// Marked is a tool by what its maker marked on it: keys, as the register folds them.
type Marked struct{ Tool, Maker, Kind, Serial string }

const markedColumns = "SELECT id, coalesce(maker_key, ''), coalesce(kind, ''), coalesce(serial_key, '') FROM tools WHERE "

// EachMarked gives every tool with a serial, gone ones too.
func (r *Rx) EachMarked(each func(Marked)) error {
	return r.marked(each, markedColumns+"serial_key IS NOT NULL")
}

// MarkedSince gives the tools that were written at that place in the ledger or
// later, as they are now, and says whether that was all that ever was written of
// them.
func (r *Rx) MarkedSince(seq int64, each func(m Marked, fresh bool)) error {
	fresh := map[string]bool{}
	err := r.query(func(scan func(...any) error) error {
		var id string
		var first int64
		err := scan(&id, &first)
		fresh[id] = first == 1
		return err
	}, "SELECT id, min(rev) FROM lines WHERE seq >= ? AND noun = 'tool' GROUP BY id", seq)
	if err != nil {
		return err
	}
	var ids []string
	for id := range fresh {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	for some := range slices.Chunk(ids, lookRows) {
		err := r.marked(func(m Marked) { each(m, fresh[m.Tool]) }, markedColumns+"id IN ("+marks(len(some))+") ORDER BY id", values(some)...)
		if err != nil {
			return err
		}
	}
	return nil
}

func (r *Rx) marked(each func(Marked), query string, args ...any) error {
	return r.query(func(scan func(...any) error) error {
		var m Marked
		err := scan(&m.Tool, &m.Maker, &m.Kind, &m.Serial)
		each(m)
		return err
	}, query, args...)
}

// SerialsBeside gives serials of a maker that are nearest in order to one, at most so
// many before and after it, without that one. It reads the index alone.
func (r *Rx) SerialsBeside(maker, serial string, most int) ([]string, error) {
	const of = "SELECT serial_key FROM tools WHERE coalesce(maker_key, '') = ? AND serial_key IS NOT NULL AND serial_key "
	before, err := r.texts(of+"< ? ORDER BY serial_key DESC LIMIT ?", maker, serial, most)
	if err != nil {
		return nil, err
	}
	after, err := r.texts(of+"> ? ORDER BY serial_key LIMIT ?", maker, serial, most)
	return append(before, after...), err
}

// PatternOf learns from those serials how a maker marks.
func (r *Rx) PatternOf(maker, serial string) (serials.Pattern, error) {
	const most = 100
	beside, err := r.SerialsBeside(maker, serial, most)
	return serials.Learn(beside), err
}
