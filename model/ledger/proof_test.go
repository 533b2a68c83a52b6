package ledger

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/transparency-dev/merkle/proof"
	"github.com/transparency-dev/merkle/rfc6962"
	"golang.org/x/mod/sumdb/tlog"
)

func slicesOf(list []tlog.Hash) [][]byte {
	var out [][]byte
	for _, h := range list {
		out = append(out, slices.Clone(h[:]))
	}
	return out
}

// rootsTo returns the roots of the first 0 to n lines.
func rootsTo(lines [][]byte) []tlog.Hash {
	var tree Tree
	roots := []tlog.Hash{tree.Root()}
	for _, line := range lines {
		tree.Add(line)
		roots = append(roots, tree.Root())
	}
	return roots
}

// Every inclusion proof of every tree up to 64 lines, judged by
// transparency-dev/merkle and by ourselves.
func TestInclusionProofsAgainstMerkle(t *testing.T) {
	lines := numbered(64)
	kept, roots := keep(t, lines), rootsTo(lines)
	for size := int64(1); size <= 64; size++ {
		for index := range size {
			p, err := ProveInclusion(size, index, kept)
			if err != nil {
				t.Fatal(err)
			}
			root, leaf := roots[size], LeafHash(lines[index])
			if err := proof.VerifyInclusion(rfc6962.DefaultHasher, uint64(index), uint64(size), leaf[:], slicesOf(p.Hashes), root[:]); err != nil {
				t.Errorf("line %d of %d: transparency-dev/merkle: %v", index, size, err)
			}
			if err := p.Check(root, leaf); err != nil {
				t.Errorf("line %d of %d: %v", index, size, err)
			}
		}
	}
}

// Every consistency proof between trees up to 64 lines, judged likewise.
func TestConsistencyProofsAgainstMerkle(t *testing.T) {
	lines := numbered(64)
	kept, roots := keep(t, lines), rootsTo(lines)
	for size := int64(0); size <= 64; size++ {
		for old := range size + 1 {
			p, err := ProveConsistency(old, size, kept)
			if err != nil {
				t.Fatal(err)
			}
			if err := proof.VerifyConsistency(rfc6962.DefaultHasher, uint64(old), uint64(size), slicesOf(p.Hashes), roots[old][:], roots[size][:]); err != nil {
				t.Errorf("%d to %d: transparency-dev/merkle: %v", old, size, err)
			}
			if err := p.Check(roots[old], roots[size]); err != nil {
				t.Errorf("%d to %d: %v", old, size, err)
			}
		}
	}
}

// eachHashFlip calls try while one byte of one hash in the list is changed.
func eachHashFlip(list []tlog.Hash, try func()) {
	for i := range list {
		for j := range list[i] {
			list[i][j] ^= 0x10
			try()
			list[i][j] ^= 0x10
		}
	}
}

func TestChangedInclusionIsRefused(t *testing.T) {
	lines := numbered(11)
	kept, roots := keep(t, lines), rootsTo(lines)
	for size := int64(1); size <= 11; size++ {
		for index := range size {
			p, err := ProveInclusion(size, index, kept)
			if err != nil {
				t.Fatal(err)
			}
			given := []tlog.Hash{roots[size], LeafHash(lines[index])}
			name := fmt.Sprintf("line %d ", index)
			refused := func() { wantInvalid(t, p.Check(given[0], given[1]), name) }
			eachHashFlip(given, refused)
			eachHashFlip(p.Hashes, refused)
			longer := Inclusion{index, size, append(slices.Clone(p.Hashes), roots[1])}
			wantInvalid(t, longer.Check(given[0], given[1]), name)
			if len(p.Hashes) > 0 {
				shorter := Inclusion{index, size, p.Hashes[1:]}
				wantInvalid(t, shorter.Check(given[0], given[1]), name)
			}
			for other := range size {
				if other != index {
					moved := Inclusion{other, size, p.Hashes}
					wantInvalid(t, moved.Check(given[0], given[1]), fmt.Sprintf("line %d ", other))
				}
			}
		}
	}
}

func TestChangedConsistencyIsRefused(t *testing.T) {
	lines := numbered(11)
	kept, roots := keep(t, lines), rootsTo(lines)
	for size := int64(0); size <= 11; size++ {
		for old := range size + 1 {
			p, err := ProveConsistency(old, size, kept)
			if err != nil {
				t.Fatal(err)
			}
			given := []tlog.Hash{roots[old], roots[size]}
			name := fmt.Sprintf("of %d lines", old)
			refused := func() { wantInvalid(t, p.Check(given[0], given[1]), name) }
			eachHashFlip(p.Hashes, refused)
			eachHashFlip(given[:1], refused)
			if old > 0 || size == 0 { // any newer root has the empty beginning
				eachHashFlip(given[1:], refused)
			}
			longer := Consistency{old, size, append(slices.Clone(p.Hashes), roots[1])}
			wantInvalid(t, longer.Check(given[0], given[1]), name)
			if len(p.Hashes) > 0 {
				shorter := Consistency{old, size, p.Hashes[1:]}
				wantInvalid(t, shorter.Check(given[0], given[1]), name)
			}
		}
	}
}

// A root does not cover the size, so Check alone lets a proof for 4 lines pass
// as one for 3; Under and Between hold the sizes to the checkpoints.
func TestProofsAreHeldToTheSizeOfTheCheckpoint(t *testing.T) {
	lines := numbered(9)
	kept, roots := keep(t, lines), rootsTo(lines)
	at := func(size int64) Checkpoint {
		return Checkpoint{Origin: "pawl/0123456789abcdef", Size: size, Root: roots[size]}
	}
	p, err := ProveInclusion(4, 0, kept)
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Under(at(4), LeafHash(lines[0])); err != nil {
		t.Error(err)
	}
	wantInvalid(t, p.Under(at(4), LeafHash(lines[1])), "line 0")
	p.Size = 3
	if err := p.Check(roots[4], LeafHash(lines[0])); err != nil {
		t.Errorf("a proof of the same shape no longer passes Check (%v): this test and the comment on Check are out of date", err)
	}
	wantInvalid(t, p.Under(at(4), LeafHash(lines[0])), "line 0")

	c, err := ProveConsistency(3, 9, kept)
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Between(at(3), at(9)); err != nil {
		t.Error(err)
	}
	wantInvalid(t, c.Between(at(4), at(9)), "from 3 to 9")
	wantInvalid(t, c.Between(at(3), at(8)), "from 3 to 9")
	foreign := at(9)
	foreign.Origin = "pawl/fedcba9876543210"
	wantInvalid(t, c.Between(at(3), foreign), "two ledgers")
	forged := at(9)
	forged.Root[0]++
	wantInvalid(t, c.Between(at(3), forged), "of 3 lines")
}

// Sizes outside the ledger are refused at once, also those past 2^62 on which
// the arithmetic of tlog would never end.
func TestProofBounds(t *testing.T) {
	var none hashes
	var h tlog.Hash
	for _, p := range []Inclusion{{-1, 3, nil}, {3, 3, nil}, {0, 0, nil}, {0, -1, nil}, {0, MaxSize + 1, nil}, {0, math.MaxInt64, nil}, {math.MinInt64, math.MinInt64, nil}} {
		wantInvalid(t, p.Check(h, h), fmt.Sprintf("line %d ", p.Index))
		_, err := ProveInclusion(p.Size, p.Index, &none)
		wantInvalid(t, err, fmt.Sprintf("line %d ", p.Index))
	}
	for _, p := range []Consistency{{-1, 3, nil}, {4, 3, nil}, {1, MaxSize + 1, nil}, {0, math.MaxInt64, nil}, {math.MinInt64, 0, nil}} {
		wantInvalid(t, p.Check(h, h), fmt.Sprintf("of %d lines", p.Old))
		_, err := ProveConsistency(p.Old, p.New, &none)
		wantInvalid(t, err, fmt.Sprintf("of %d lines", p.Old))
	}
	largest := Inclusion{MaxSize - 1, MaxSize, make([]tlog.Hash, 53)}
	wantInvalid(t, largest.Check(h, h), fmt.Sprintf("line %d ", MaxSize-1))
}
