package ledger

import (
	"golang.org/x/mod/sumdb/tlog"

	"pawl/model/fault"
)

// Inclusion proves that one line is under a root (RFC 6962 section 2.1.1).
type Inclusion struct {
	Index  int64       // seq of the line
	Size   int64       // lines under the root
	Hashes []tlog.Hash // audit path, from the leaf up
}

// ProveInclusion makes the proof that line index is under the root of the first
// size lines.
func ProveInclusion(size, index int64, r tlog.HashReader) (Inclusion, error) {
	p := Inclusion{Index: index, Size: size}
	if err := p.bounds(); err != nil {
		return Inclusion{}, err
	}
	path, err := tlog.ProveRecord(size, index, r)
	if err != nil {
		return Inclusion{}, unread(size, err)
	}
	p.Hashes = path
	return p, nil
}

// Under says whether the proof leads from the leaf hash to the checkpoint. A
// refusal is Invalid and names the line and the size.
func (p Inclusion) Under(c Checkpoint, leaf tlog.Hash) error {
	if p.Size != c.Size {
		return fault.New(fault.Invalid, "the proof for ledger line %d is for the first %d lines, but the checkpoint is of %d", p.Index, p.Size, c.Size).
			WithHint("use the proof that was made for this checkpoint")
	}
	return p.Check(c.Root, leaf)
}

// Check says whether the proof leads from the leaf hash to the root. A refusal
// is Invalid and names the line and the size. A root does not cover its size:
// trees of several sizes have paths of one shape. So Size must come from where
// the root came from, as Under sees to.
func (p Inclusion) Check(root, leaf tlog.Hash) error {
	if err := p.bounds(); err != nil {
		return err
	}
	if err := tlog.CheckRecord(p.Hashes, p.Size, root, p.Index, leaf); err != nil {
		return fault.New(fault.Invalid, "ledger line %d is not shown to be among the first %d lines: the proof does not lead to the root", p.Index, p.Size).
			WithHint("line, proof and checkpoint must come from the same ledger, unchanged").WithCause(err)
	}
	return nil
}

func (p Inclusion) bounds() error {
	if p.Index < 0 || p.Size > MaxSize || p.Index >= p.Size {
		return fault.New(fault.Invalid, "ledger line %d cannot be among the first %d lines", p.Index, p.Size)
	}
	return nil
}

// Consistency proves that the first Old lines of a ledger of New lines are the
// whole of an older one (RFC 6962 section 2.1.2).
type Consistency struct {
	Old, New int64       // lines under the older and the newer root, 0 <= Old <= New
	Hashes   []tlog.Hash // empty when Old is 0 or New
}

// ProveConsistency makes the proof that the ledger of old lines is the
// beginning of that of size lines.
func ProveConsistency(old, size int64, r tlog.HashReader) (Consistency, error) {
	p := Consistency{Old: old, New: size}
	if err := p.bounds(); err != nil || old == 0 {
		return p, err
	}
	path, err := tlog.ProveTree(size, old, r)
	if err != nil {
		return Consistency{}, unread(size, err)
	}
	p.Hashes = path
	return p, nil
}

// Between says whether the proof leads from the older checkpoint to the newer
// of the same ledger. A refusal is Invalid and names both sizes.
func (p Consistency) Between(older, newer Checkpoint) error {
	if older.Origin != newer.Origin {
		return fault.New(fault.Invalid, "the checkpoints are of two ledgers, %q at %d lines and %q at %d lines", older.Origin, older.Size, newer.Origin, newer.Size)
	}
	if p.Old != older.Size || p.New != newer.Size {
		return fault.New(fault.Invalid, "the proof is from %d to %d lines, but the checkpoints are of %d and %d", p.Old, p.New, older.Size, newer.Size).
			WithHint("use the proof that was made for these checkpoints")
	}
	return p.Check(older.Root, newer.Root)
}

// Check says whether the proof leads from the older root to the newer. A refusal
// is Invalid and names both sizes. As with Inclusion,
// the sizes must come from where the roots came from.
func (p Consistency) Check(oldRoot, newRoot tlog.Hash) error {
	if err := p.bounds(); err != nil {
		return err
	}
	if p.Old == 0 {
		return p.checkEmpty(oldRoot, newRoot)
	}
	if err := tlog.CheckTree(p.Hashes, p.New, newRoot, p.Old, oldRoot); err != nil {
		return p.refusal().WithCause(err)
	}
	return nil
}

// checkEmpty covers what RFC 6962 leaves open: every ledger begins with the
// empty one, which has one root and needs no hashes.
func (p Consistency) checkEmpty(oldRoot, newRoot tlog.Hash) error {
	empty := new(Tree).Root()
	if len(p.Hashes) != 0 || oldRoot != empty || p.New == 0 && newRoot != empty {
		return p.refusal()
	}
	return nil
}

func (p Consistency) refusal() *fault.Error {
	return fault.New(fault.Invalid, "the ledger of %d lines is not shown to be the beginning of that of %d lines", p.Old, p.New).
		WithHint("if both checkpoints are from this store, lines were changed between them")
}

func (p Consistency) bounds() error {
	if p.Old < 0 || p.New > MaxSize || p.Old > p.New {
		return fault.New(fault.Invalid, "a ledger of %d lines cannot be the beginning of one of %d lines", p.Old, p.New)
	}
	return nil
}
