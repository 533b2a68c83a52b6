package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"

	"golang.org/x/mod/sumdb/tlog"

	"pawl/model/fault"
)

// RollNoun is the noun of the lines that a roll leaves.
const RollNoun = "roll"

// Roll is the recorded row of one day's roll: the Merkle root over the leaves of
// all tools, by tool id, as the first Size lines leave them. With it nobody can
// leave out a line about a tool unseen: each leaf says how many there are.
type Roll struct {
	ID    string `gorm:"primaryKey"` // the day, in the shop's zone
	Rev   int64
	Root  string // base64, as in a checkpoint
	Size  int64  // lines of the ledger that it covers
	Tools int64  // leaves under the root
}

// TableName names the table of rolls.
func (Roll) TableName() string { return "rolls" }

// RollOf reads a roll from its id and its image.
func RollOf(id string, image Image) (Roll, error) {
	roll := Roll{ID: id}
	roll.Root, _ = image["root"].(string)
	roll.Size, _ = image["size"].(int64)
	roll.Tools, _ = image["tools"].(int64)
	_, err := roll.Hash()
	if err == nil && (roll.Size < 0 || roll.Size > MaxSize || roll.Tools < 0 || roll.Tools > roll.Size) {
		err = fault.New(fault.Malformed, "roll %.40q is of %d tools in %d lines", id, roll.Tools, roll.Size)
	}
	return roll, err
}

// Hash gives the root.
func (r Roll) Hash() (tlog.Hash, error) {
	h, err := tlog.ParseHash(r.Root)
	if err != nil || h.String() != r.Root {
		return h, fault.New(fault.Malformed, "roll %.40q has the root %.60q, which is no hash", r.ID, r.Root).WithCause(err)
	}
	return h, nil
}

// ToolLeaf is the leaf of one tool under a roll: what its lines come to. Digest
// chains them, oldest first: it is SHA-256(digest before ‖ leaf hash of the
// line), and 32 zero bytes before the first.
type ToolLeaf struct {
	Tool    string
	LastSeq int64 // seq of the newest line about it
	Lines   int64 // how many there are
	Digest  tlog.Hash
}

// Add takes in the next line about the tool.
func (l *ToolLeaf) Add(seq int64, leaf tlog.Hash) {
	l.LastSeq, l.Lines = seq, l.Lines+1
	l.Digest = sha256.Sum256(append(append(make([]byte, 0, 2*tlog.HashSize), l.Digest[:]...), leaf[:]...))
}

// Canonical returns the bytes that are hashed, in the form of Line.Canonical.
func (l ToolLeaf) Canonical() []byte {
	w := make(encoder, 0, 160)
	w.open('{')
	w.text("digest", hex.EncodeToString(l.Digest[:]))
	w.integer("last_seq", l.LastSeq)
	w.integer("lines", l.Lines)
	w.text("tool", l.Tool)
	w.shut('}')
	return w
}

// ParseToolLeaf reads a leaf from its canonical bytes and from no others.
func ParseToolLeaf(raw []byte) (ToolLeaf, error) {
	var l ToolLeaf
	r := decoder{raw: raw}
	r.want(`{"digest":`)
	digest := r.text()
	r.want(`,"last_seq":`)
	l.LastSeq = r.integer()
	r.want(`,"lines":`)
	l.Lines = r.integer()
	r.want(`,"tool":`)
	l.Tool = r.text()
	r.want(`}`)
	if err := r.finish("the leaf of a tool"); err != nil {
		return ToolLeaf{}, err
	}
	if n, err := hex.Decode(l.Digest[:], []byte(digest[:min(len(digest), 2*tlog.HashSize)])); err != nil || n != tlog.HashSize || !isText(l.Tool) || !bytes.Equal(l.Canonical(), raw) {
		return ToolLeaf{}, fault.New(fault.Malformed, "the leaf of tool %.40q is not in its canonical form", l.Tool)
	}
	return l, nil
}

// Roller makes several rolls at once, as of rising sizes, from the lines of all
// tools in the order of their ids and then of their places. It keeps one hash
// for each bit of the number of tools, for each roll.
type Roller struct {
	// Each is told of every leaf as it comes under roll k, with the hashes that
	// stand stored from FirstStored(index) on. It may be nil.
	Each func(k int, index int64, leaf ToolLeaf, stored []tlog.Hash)

	sizes []int64
	trees []Tree
	leaf  ToolLeaf
	raw   []byte // its canonical form; nil until it is wanted
	next  int    // the first size that the tool's lines have not passed
}

// NewRoller begins rolls of the first sizes[k] lines. Sizes rise.
func NewRoller(sizes []int64) *Roller {
	return &Roller{sizes: sizes, trees: make([]Tree, len(sizes))}
}

// Line takes in the next line: its tool, its place, its leaf hash.
func (r *Roller) Line(tool string, seq int64, leaf tlog.Hash) {
	if tool != r.leaf.Tool || r.leaf.Lines == 0 {
		r.End()
		r.leaf, r.next = ToolLeaf{Tool: tool}, 0
	}
	for r.next < len(r.sizes) && r.sizes[r.next] <= seq {
		r.emit()
	}
	r.leaf.Add(seq, leaf)
	r.raw = nil
}

// Leaf takes in a tool whose lines are known already, for all rolls from k on
// that are left for it.
func (r *Roller) Leaf(leaf ToolLeaf) {
	r.End()
	r.leaf, r.next, r.raw = leaf, 0, nil
	r.End()
}

// End closes the tool whose lines came last.
func (r *Roller) End() {
	for r.leaf.Lines > 0 && r.next < len(r.sizes) {
		r.emit()
	}
	r.leaf = ToolLeaf{}
}

func (r *Roller) emit() {
	k := r.next
	r.next++
	if r.leaf.Lines == 0 {
		return
	}
	if r.raw == nil {
		r.raw = r.leaf.Canonical()
	}
	stored := r.trees[k].Add(r.raw)
	if r.Each != nil {
		r.Each(k, r.trees[k].Size()-1, r.leaf, stored)
	}
}

// Tools gives how many tools are under roll k.
func (r *Roller) Tools(k int) int64 { return r.trees[k].Size() }

// Root gives the root of roll k.
func (r *Roller) Root(k int) tlog.Hash { return r.trees[k].Root() }

// PathNeeds gives the indexes of the stored hashes that the audit path of leaf
// index among size is made of.
func PathNeeds(size, index int64) ([]int64, error) {
	var needs noted
	_, err := ProveInclusion(size, index, &needs)
	return needs, err
}

// noted notes what is asked for and gives nothing.
type noted []int64

// ReadHashes makes it a tlog.HashReader.
func (n *noted) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	*n = append(*n, indexes...)
	return make([]tlog.Hash, len(indexes)), nil
}
