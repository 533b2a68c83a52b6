package ledger

import (
	"crypto/sha256"

	"golang.org/x/mod/sumdb/tlog"

	"pawl/model/fault"
)

// MaxSize is the greatest number of lines that a tree, proof or checkpoint may
// speak of: 2^53, up to which every JSON reader keeps whole numbers apart. It
// also keeps the index arithmetic of tlog, which loops for ever past 2^62, in
// its range.
const MaxSize = int64(1) << 53

// LeafHash returns SHA-256(0x00 ‖ line), the hash of a leaf (RFC 6962 section 2.1).
func LeafHash(line []byte) tlog.Hash { return tlog.RecordHash(line) }

// FirstStored returns the index of the first stored hash of the line seq >= 0:
// its leaf hash. The others that the line completes follow it. It is also the
// number of hashes stored by all lines before.
func FirstStored(seq int64) int64 { return tlog.StoredHashIndex(0, seq) }

// Append returns the hashes to store from FirstStored(seq) on when the line
// becomes number seq of the ledger; r gives those stored before.
func Append(seq int64, line []byte, r tlog.HashReader) ([]tlog.Hash, error) {
	if seq < 0 || seq >= MaxSize {
		return nil, fault.New(fault.Invalid, "ledger line %d: its seq is outside 0 to %d", seq, MaxSize-1)
	}
	hashes, err := tlog.StoredHashes(seq, line, r)
	if err != nil {
		return nil, unread(seq, err)
	}
	return hashes, nil
}

// Root returns the root of the first size lines (RFC 6962 section 2.1) from
// their stored hashes. The root of none is SHA-256 of the empty string.
func Root(size int64, r tlog.HashReader) (tlog.Hash, error) {
	if size < 0 || size > MaxSize {
		return tlog.Hash{}, fault.New(fault.Invalid, "a ledger of %d lines is outside 0 to %d", size, MaxSize)
	}
	root, err := tlog.TreeHash(size, r)
	if err != nil {
		return tlog.Hash{}, unread(size, err)
	}
	return root, nil
}

func unread(size int64, err error) error {
	return fault.New(fault.Internal, "the stored hashes of the first %d ledger lines cannot be read", size).WithCause(err)
}

// Tree computes roots from the lines alone, one after another, with one hash
// for each bit of the size. The zero Tree is empty and ready.
type Tree struct {
	size  int64
	peaks []tlog.Hash // roots of the complete subtrees, largest first
}

// Add makes line the next leaf and returns the hashes that must stand stored
// from FirstStored of its seq on, in that order.
func (t *Tree) Add(line []byte) []tlog.Hash {
	h := LeafHash(line)
	stored := []tlog.Hash{h}
	for done := t.size; done&1 == 1; done >>= 1 {
		last := len(t.peaks) - 1
		h = tlog.NodeHash(t.peaks[last], h)
		t.peaks = t.peaks[:last]
		stored = append(stored, h)
	}
	t.peaks = append(t.peaks, h)
	t.size++
	return stored
}

// Size returns the number of lines added.
func (t *Tree) Size() int64 { return t.size }

// Root returns the root of the lines added.
func (t *Tree) Root() tlog.Hash {
	if t.size == 0 {
		return sha256.Sum256(nil)
	}
	last := len(t.peaks) - 1
	root := t.peaks[last]
	for i := last - 1; i >= 0; i-- {
		root = tlog.NodeHash(t.peaks[i], root)
	}
	return root
}
