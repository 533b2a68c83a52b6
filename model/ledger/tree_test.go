package ledger

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"slices"
	"testing"

	"golang.org/x/mod/sumdb/tlog"

	"pawl/model/fault"
)

// numbered makes n different lines; that they are no ledger lines does not
// matter to a tree.
func numbered(n int) [][]byte {
	var lines [][]byte
	for i := range n {
		lines = append(lines, fmt.Appendf(nil, "line %d", i))
	}
	return lines
}

// plainRoot is the recursive definition of RFC 6962 section 2.1.
func plainRoot(lines [][]byte) tlog.Hash {
	switch len(lines) {
	case 0:
		return sha256.Sum256(nil)
	case 1:
		return tlog.RecordHash(lines[0])
	}
	k := 1
	for k*2 < len(lines) {
		k *= 2
	}
	return tlog.NodeHash(plainRoot(lines[:k]), plainRoot(lines[k:]))
}

func TestTreeAgreesWithStoredHashes(t *testing.T) {
	var tree Tree
	var kept hashes
	lines := numbered(300)
	for n := range len(lines) + 1 {
		if tree.Size() != int64(n) {
			t.Fatalf("Size = %d after %d lines", tree.Size(), n)
		}
		want := plainRoot(lines[:n])
		stored, err := Root(int64(n), &kept)
		if err != nil {
			t.Fatal(err)
		}
		if tree.Root() != want || stored != want {
			t.Fatalf("%d lines: Tree.Root %s, Root %s, by definition %s", n, tree.Root(), stored, want)
		}
		if n == len(lines) {
			break
		}
		if got := FirstStored(int64(n)); got != int64(len(kept)) {
			t.Fatalf("FirstStored(%d) = %d, but %d are kept", n, got, len(kept))
		}
		outside, err := tlog.StoredHashes(int64(n), lines[n], &kept)
		if err != nil {
			t.Fatal(err)
		}
		streamed := tree.Add(lines[n])
		if appended := kept.add(t, lines[n]); !slices.Equal(appended, outside) || !slices.Equal(streamed, outside) {
			t.Fatalf("line %d: Append %v, Tree.Add %v, tlog %v", n, appended, streamed, outside)
		}
	}
}

func TestTreeKeepsOneHashForEachBit(t *testing.T) {
	var tree Tree
	for _, line := range numbered(1024) {
		tree.Add(line)
	}
	if len(tree.peaks) != 1 || cap(tree.peaks) > 32 {
		t.Errorf("1024 lines leave %d hashes in room for %d, want 1 in 32 at most", len(tree.peaks), cap(tree.peaks))
	}
}

func TestSizesOutsideTheLedger(t *testing.T) {
	var none hashes
	for _, size := range []int64{-1, MaxSize + 1, 1<<63 - 1} {
		_, err := Root(size, &none)
		wantInvalid(t, err, fmt.Sprint(size))
		_, err = Append(size, nil, &none)
		wantInvalid(t, err, fmt.Sprint(size))
	}
}

func TestUnreadableHashesAreInternal(t *testing.T) {
	broken := errors.New("disk gone")
	reader := tlog.HashReaderFunc(func([]int64) ([]tlog.Hash, error) { return nil, broken })
	short := tlog.HashReaderFunc(func([]int64) ([]tlog.Hash, error) { return nil, nil })
	calls := map[string]func(tlog.HashReader) error{
		"Append":           func(r tlog.HashReader) error { _, err := Append(3, nil, r); return err },
		"Root":             func(r tlog.HashReader) error { _, err := Root(3, r); return err },
		"ProveInclusion":   func(r tlog.HashReader) error { _, err := ProveInclusion(3, 1, r); return err },
		"ProveConsistency": func(r tlog.HashReader) error { _, err := ProveConsistency(1, 3, r); return err },
	}
	for name, call := range calls {
		if err := call(reader); !fault.Is(err, fault.Internal) || !errors.Is(err, broken) {
			t.Errorf("%s: %v, want an internal fault caused by the reader's error", name, err)
		}
		if err := call(short); !fault.Is(err, fault.Internal) {
			t.Errorf("%s with too few hashes: %v, want an internal fault", name, err)
		}
	}
}
