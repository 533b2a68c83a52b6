package ledger

import (
	"fmt"
	"slices"
	"testing"

	"golang.org/x/mod/sumdb/tlog"

	"pawl/model/fault"
)

// frozenLedger returns the frozen lines and the hashes kept for each.
func frozenLedger(t *testing.T) (lines [][]byte, kept [][]tlog.Hash) {
	var all hashes
	for _, f := range readFrozen(t) {
		lines = append(lines, []byte(f.line))
		kept = append(kept, slices.Clone(all.add(t, []byte(f.line))))
	}
	return lines, kept
}

// walkAll goes through the lines and returns the first refusal.
func walkAll(lines [][]byte, kept [][]tlog.Hash) error {
	var w Walk
	for i := range lines {
		if _, err := w.Next(lines[i], kept[i]); err != nil {
			return err
		}
	}
	return nil
}

// The acts of the frozen lines begin at 0, 1, 3, 4 and 5: all sizes but 2 are
// act boundaries.
func TestWalk(t *testing.T) {
	lines, kept := frozenLedger(t)
	var w Walk
	for i, f := range readFrozen(t) {
		l, err := w.Next(lines[i], kept[i])
		if err != nil || l.Seq != int64(i) {
			t.Fatalf("line %d: %+v, %v", i, l, err)
		}
		c := Checkpoint{Size: int64(i) + 1, Root: tlog.Hash(unhex(t, f.root))}
		if w.Size() != c.Size || w.Root() != c.Root {
			t.Errorf("after line %d: size %d, root %s; want %d, %s", i, w.Size(), w.Root(), c.Size, c.Root)
		}
		if c.Size == 2 {
			continue
		}
		if err := w.Meet(c); err != nil {
			t.Errorf("checkpoint of %d: %v", c.Size, err)
		}
	}
}

func TestWalkRefusesACheckpointWithinAnAct(t *testing.T) {
	lines, kept := frozenLedger(t)
	var w Walk
	for i := range 2 {
		if _, err := w.Next(lines[i], kept[i]); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Meet(Checkpoint{Size: 2, Root: w.Root()}); err != nil {
		t.Fatal(err)
	}
	_, err := w.Next(lines[2], kept[2])
	wantInvalid(t, err, "line 2: it is of act 1, which the checkpoint of size 2 cuts in two")
}

func TestWalkRefusesAnotherCheckpoint(t *testing.T) {
	lines, kept := frozenLedger(t)
	var w Walk
	if _, err := w.Next(lines[0], kept[0]); err != nil {
		t.Fatal(err)
	}
	wantInvalid(t, w.Meet(Checkpoint{Size: 2, Root: w.Root()}), "of 2 lines")
	wantInvalid(t, w.Meet(Checkpoint{Size: 0, Root: new(Tree).Root()}), "of 0 lines")
	root := w.Root()
	root[31] ^= 1
	wantInvalid(t, w.Meet(Checkpoint{Size: 1, Root: root}), "of 1 lines")
}

func TestWalkRefusesLinesOutOfPlace(t *testing.T) {
	lines, kept := frozenLedger(t)
	drop := func(i int) error {
		return walkAll(slices.Delete(slices.Clone(lines), i, i+1), slices.Delete(slices.Clone(kept), i, i+1))
	}
	for i := range len(lines) - 1 {
		wantInvalid(t, drop(i), fmt.Sprintf("line %d: it stands where line %d belongs", i+1, i))
	}
	swapped := slices.Clone(lines)
	swapped[1], swapped[2] = swapped[2], swapped[1]
	wantInvalid(t, walkAll(swapped, kept), "line 2: it stands where line 1 belongs")

	for _, act := range []int64{0, 2} { // line 3 begins act 3 and stands after act 1
		l, err := ParseLine(lines[3])
		if err != nil {
			t.Fatal(err)
		}
		l.Act = act
		stray := slices.Clone(lines)
		stray[3] = l.Canonical()
		wantInvalid(t, walkAll(stray, kept), fmt.Sprintf("line 3: it is of act %d, but stands within act 1", act))
	}
}

// One bit anywhere in a line or in a kept hash is found at that line; a line
// that still parses is also refused by its inclusion proof.
func TestOneFlippedBitInALedgerIsFound(t *testing.T) {
	lines, kept := frozenLedger(t)
	all := keep(t, lines)
	root, err := Root(int64(len(lines)), all)
	if err != nil {
		t.Fatal(err)
	}
	for i := range lines {
		p, err := ProveInclusion(int64(len(lines)), int64(i), all)
		if err != nil {
			t.Fatal(err)
		}
		whole := lines[i]
		eachFlip(whole, func(changed []byte) {
			lines[i] = changed
			if err := walkAll(lines, kept); !fault.Is(err, fault.Invalid) && !fault.Is(err, fault.Malformed) {
				t.Errorf("Walk over %q: %v, want a refusal", changed, err)
			}
			wantInvalid(t, p.Check(root, LeafHash(changed)), fmt.Sprintf("line %d ", i))
		})
		lines[i] = whole
		eachHashFlip(kept[i], func() { wantInvalid(t, walkAll(lines, kept), fmt.Sprintf("line %d:", i)) })
	}
	wantInvalid(t, walkAll(lines[:1], [][]tlog.Hash{nil}), "line 0:")
	if err := walkAll(lines, kept); err != nil {
		t.Errorf("unchanged again: %v", err)
	}
}

func BenchmarkWalk(b *testing.B) {
	l := goodLine()
	var w Walk
	var tree Tree
	for b.Loop() {
		l.Seq, l.Act = w.Size(), w.Size()
		raw := l.Canonical()
		if _, err := w.Next(raw, tree.Add(raw)); err != nil {
			b.Fatal(err)
		}
	}
}
