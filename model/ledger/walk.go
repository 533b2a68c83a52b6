package ledger

import (
	"slices"

	"golang.org/x/mod/sumdb/tlog"

	"pawl/model/fault"
)

// Walk goes through a whole ledger by seq and holds it to its stored hashes and
// its checkpoints. It keeps one hash for each bit of the size and nothing of
// the lines gone by. The zero Walk stands before line 0; after a refusal it is
// of no further use.
type Walk struct {
	tree   Tree
	act    int64 // act of the line before
	closed bool  // a checkpoint stands here, so the next line begins an act
}

// Size returns the number of lines gone by.
func (w *Walk) Size() int64 { return w.tree.Size() }

// Root returns the root of the lines gone by.
func (w *Walk) Root() tlog.Hash { return w.tree.Root() }

// Next takes the bytes of the next line and the hashes kept for it, those from
// FirstStored of its seq to the next line's. Bytes that are no line are
// Malformed; a line out of place or other hashes are Invalid. Both name the line.
func (w *Walk) Next(raw []byte, kept []tlog.Hash) (Line, error) {
	l, err := ParseLine(raw)
	if err != nil {
		f := fault.Of(err)
		return Line{}, fault.New(f.Kind, "where ledger line %d belongs: %s", w.Size(), f.Message).WithHint("%s", f.Hint).WithCause(err)
	}
	if err := w.place(l); err != nil {
		return Line{}, err
	}
	if !slices.Equal(w.tree.Add(raw), kept) {
		return Line{}, l.wrong("its bytes do not have the hashes kept for it: the line or a hash was changed")
	}
	w.act, w.closed = l.Act, false
	return l, nil
}

// place says whether the line may follow those gone by.
func (w *Walk) place(l Line) error {
	switch {
	case l.Seq != w.Size():
		return l.wrong("it stands where line %d belongs", w.Size())
	case l.Act == l.Seq:
		return nil
	case l.Act != w.act:
		return l.wrong("it is of act %d, but stands within act %d", l.Act, w.act)
	case w.closed:
		return l.wrong("it is of act %d, which the checkpoint of size %d cuts in two", l.Act, w.Size())
	}
	return nil
}

// Meet says whether the checkpoint is of the lines gone by, neither more nor
// fewer. A checkpoint stands between acts; Next refuses a line that says
// otherwise. A refusal is Invalid and names the size.
func (w *Walk) Meet(c Checkpoint) error {
	if c.Size != w.Size() {
		return fault.New(fault.Invalid, "the checkpoint is of %d lines, but %d have gone by", c.Size, w.Size())
	}
	if root := w.Root(); c.Root != root {
		return fault.New(fault.Invalid, "the checkpoint of %d lines has root %s, but the lines have %s", c.Size, c.Root, root).
			WithHint("lines were changed after the checkpoint was signed, or it is of another ledger")
	}
	w.closed = true
	return nil
}
