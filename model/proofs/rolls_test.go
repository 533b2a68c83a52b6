package proofs

import (
	"bytes"
	"crypto/sha256"
	"strings"
	"testing"

	"golang.org/x/mod/sumdb/tlog"

	"pawl/model/bag"
	"pawl/model/ledger"
)

// rolled adds a line about T-1 and then the roll of the first size lines, and
// gives the rows about T-1: the roll and its leaf.
func (k *kept) rolled(t testing.TB, size int64) []RollRow {
	t.Helper()
	var rows []RollRow
	roller := ledger.NewRoller([]int64{size})
	var hashes memory
	roller.Each = func(_ int, index int64, leaf ledger.ToolLeaf, stored []tlog.Hash) {
		hashes = append(hashes, stored...)
		if leaf.Tool == "T-1" {
			rows = append(rows, NewLeaf(leaf, ledger.Inclusion{Index: index}))
		}
	}
	for _, tool := range []string{"T-1", "T-2"} {
		for seq, l := range k.lines {
			if line, err := ledger.ParseLine(l[0]); err == nil && len(line.Tools) > 0 && line.Tools[0] == tool {
				roller.Line(tool, int64(seq), ledger.LeafHash(l[0]))
			}
		}
	}
	roller.End()
	p, err := ledger.ProveInclusion(roller.Tools(0), 0, hashes)
	if err != nil {
		t.Fatal(err)
	}
	rows[0].Path = encoded(p.Hashes)
	k.add(t, ledger.Line{Noun: ledger.RollNoun, ID: "2026-11-25"}, ledger.Image{"root": roller.Root(0).String(), "size": size, "tools": roller.Tools(0)})
	return rows
}

type memory []tlog.Hash

func (m memory) ReadHashes(at []int64) (out []tlog.Hash, err error) {
	for _, i := range at {
		out = append(out, m[i])
	}
	return out, nil
}

// add appends a line.
func (k *kept) add(t testing.TB, l ledger.Line, image ledger.Image) {
	t.Helper()
	seq, after := int64(len(k.lines)), image.Canonical()
	salt := sha256.Sum256([]byte{byte(seq)})
	l.V, l.Seq, l.Act, l.Rev, l.Digest = 1, seq, seq, max(l.Rev, 1), ledger.Digest(salt[:], after)
	stored, err := ledger.Append(seq, l.Canonical(), k)
	if err != nil {
		t.Fatal(err)
	}
	k.hashes = append(k.hashes, stored...)
	k.lines = append(k.lines, [3][]byte{l.Canonical(), salt[:], after})
}

// entry is the row of a line under the ledger as it stands.
func (k *kept) entry(t testing.TB, seq int) Entry {
	t.Helper()
	l := k.lines[seq]
	e, err := NewEntry(l[0], l[1], l[2], int64(len(k.lines)), k)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// bagged writes the folder and opens it again.
func bagged(t testing.TB, src Source) *bag.Bag {
	t.Helper()
	var out bytes.Buffer
	w, err := bag.NewWriter(&out, bag.Info{Name: "b", Date: "2026-11-25"})
	if err == nil {
		err = Write(w, src)
	}
	if err == nil {
		_, err = w.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	b, err := bag.Open(bytes.NewReader(out.Bytes()), int64(out.Len()))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestCheckRolls: with a roll nobody leaves out a line unseen, not even the
// newest about a record, which nothing else would miss.
func TestCheckRolls(t *testing.T) {
	k := newLedger(t)
	leaf := k.rolled(t, 8)[0] // lines 0 to 7, roll at 8
	k.add(t, ledger.Line{Noun: "tool", ID: "T-1", Rev: 5, Tools: []string{"T-1"}}, ledger.Image{"gone": "sold"})
	older, err := NewOlder(9, 10, k)
	if err != nil {
		t.Fatal(err)
	}
	roll := NewRoll(k.entry(t, 8), 9)
	with := func(edit func(roll, leaf *RollRow)) []RollRow {
		r, l, line := roll, leaf, *roll.Roll
		r.Roll = &line
		edit(&r, &l)
		return []RollRow{r, l}
	}
	both := []RollRow{roll, leaf}
	for name, c := range map[string]struct {
		seqs []int // lines in the folder
		rows []RollRow
		want string // within a problem or the error; empty: none
	}{
		"all of it":                   {[]int{0, 2, 4, 6, 9}, both, ""},
		"all, without a roll":         {[]int{0, 2, 4, 6, 9}, nil, ""},
		"up to the roll":              {[]int{0, 2, 4, 6}, both, ""},
		"the last left out":           {[]int{0, 2, 4}, both, "roll 2026-11-25 counts 4 lines about it, and 3 of those are here"},
		"a leaf twice":                {[]int{0, 2, 4, 6}, []RollRow{roll, leaf, leaf}, "stands twice under roll"},
		"no leaf":                     {[]int{0, 2, 4, 6}, []RollRow{roll}, "nothing shows how many lines"},
		"a leaf without its roll":     {[]int{0, 2, 4, 6}, []RollRow{leaf}, "neither a roll nor"},
		"another path":                {[]int{0, 2, 4, 6}, with(func(_, l *RollRow) { l.Path = []string{ledger.LeafHash(nil).String()} }), "does not lead to its root"},
		"another place":               {[]int{0, 2, 4, 6}, with(func(_, l *RollRow) { l.Index = 1 }), "does not lead to its root"},
		"fewer lines in the leaf":     {[]int{0, 2, 4}, with(func(_, l *RollRow) { l.Leaf = strings.Replace(l.Leaf, `"lines":4`, `"lines":3`, 1) }), "does not lead to its root"},
		"an anchor that nobody has":   {[]int{0, 2, 4, 6}, with(func(r, _ *RollRow) { r.Anchor = 10_000 }), "to which nothing here leads"},
		"an anchor before the roll":   {[]int{0, 2, 4, 6}, with(func(r, _ *RollRow) { r.Anchor = 8 }), "to which nothing here leads"},
		"the checkpoint as anchor":    {[]int{0, 2, 4, 6}, with(func(r, _ *RollRow) { r.Anchor = 10 }), ""},
		"another root":                {[]int{0, 2, 4, 6}, with(func(r, _ *RollRow) { r.Roll.After = strings.Replace(r.Roll.After, `"size":8`, `"size":6`, 1) }), "does not say what its roll is"},
		"a roll that is none":         {[]int{0, 2, 4, 6}, []RollRow{NewRoll(k.entry(t, 0), 0), leaf}, "does not say what its roll is"},
		"a roll that is withheld":     {[]int{0, 2, 4, 6}, with(func(r, _ *RollRow) { r.Roll.After, r.Roll.Salt = "", "" }), "does not say what its roll is"},
		"a roll of another ledger":    {[]int{0, 2, 4, 6}, with(func(r, _ *RollRow) { r.Roll.Line = strings.Replace(r.Roll.Line, `"at":0`, `"at":1`, 1) }), "does not lead to the root"},
		"a leaf with a space":         {[]int{0, 2, 4, 6}, with(func(_, l *RollRow) { l.Leaf += " " }), "not canonical"},
		"nothing of the tool is here": {nil, both, "counts 4 lines about it, and 0 of those are here"},
	} {
		src := Source{Note: k.note(t, 10), Key: k.vkey, Older: []Older{older}, Rolls: Rows(c.rows), Lines: func(keep func(Entry) error) error {
			for _, seq := range c.seqs {
				if err := keep(k.entry(t, seq)); err != nil {
					return err
				}
			}
			return nil
		}}
		p, err := Check(bagged(t, src), Outside{Key: k.vkey})
		said := strings.Join(p.Problems, "\n")
		if err != nil {
			said = err.Error()
		}
		if (c.want == "") != (said == "") || !strings.Contains(said, c.want) {
			t.Errorf("%s: %q, want %q", name, said, c.want)
		}
		if told := strings.Join(p.Complete(), " "); c.want == "" && c.rows != nil && !strings.Contains(told, "of 1 tools every line up to then is here") {
			t.Errorf("%s: said %q", name, told)
		}
	}
}

// That a checkpoint covers a roll is said of one that was seen: anybody can write a row that
// says so of one that was never signed.
func TestACheckpointThatNobodyHasCoversNothing(t *testing.T) {
	k := newLedger(t)
	leaf := k.rolled(t, 8)[0]
	k.add(t, ledger.Line{Noun: "tool", ID: "T-1", Rev: 5, Tools: []string{"T-1"}}, ledger.Image{"gone": "sold"})
	older, err := NewOlder(9, 10, k)
	if err != nil {
		t.Fatal(err)
	}
	src := Source{Note: k.note(t, 10), Key: k.vkey, Older: []Older{older}, Rolls: Rows([]RollRow{NewRoll(k.entry(t, 8), 9), leaf}), Lines: func(keep func(Entry) error) error {
		for _, seq := range []int{0, 2, 4, 6} {
			if err := keep(k.entry(t, seq)); err != nil {
				return err
			}
		}
		return nil
	}}
	for what, c := range map[string]struct {
		anchor *Anchor
		given  []string
		want   string
	}{
		"none":             {nil, nil, "a checkpoint of 9 lines covers it: give the one"},
		"one that is here": {&Anchor{Note: k.note(t, 9)}, nil, "; the checkpoint of 9 lines covers it"},
		"one that is kept": {nil, []string{k.note(t, 9)}, "; the checkpoint of 9 lines covers it"},
	} {
		src.Anchor = c.anchor
		p, err := Check(bagged(t, src), Outside{Checkpoints: c.given})
		if err != nil || len(p.Problems) > 0 {
			t.Fatalf("%s: %q, %v", what, p.Problems, err)
		}
		if said := strings.Join(p.Complete(), " "); !strings.Contains(said, c.want) {
			t.Errorf("%s: %q, want %q", what, said, c.want)
		}
	}
}

// FuzzRolls: what somebody writes in place of the rows of rolls is refused or a
// problem unless it says no more than they do.
func FuzzRolls(f *testing.F) {
	k := newLedger(f)
	leaf := k.rolled(f, 8)[0]
	roll := NewRoll(k.entry(f, 8), 0)
	src := Source{Note: k.note(f, 9), Key: k.vkey, Rolls: Rows([]RollRow{roll, leaf}), Lines: func(keep func(Entry) error) error { return keep(k.entry(f, 0)) }}
	b := bagged(f, src)
	text := func(path string) string { s, _ := b.Text(path, 1<<20); return s }
	f.Add([]byte(text(rollsFile)))
	f.Add([]byte(strings.Replace(text(rollsFile), `\"lines\":4`, `\"lines\":1`, 1)))
	f.Add([]byte(`{"leaf":"{}","index":0}`))
	note, lines := text(checkpointFile), text(linesFile)
	f.Fuzz(func(t *testing.T, raw []byte) {
		var out bytes.Buffer
		w, err := bag.NewWriter(&out, bag.Info{Name: "b", Date: "2026-11-25"})
		for _, file := range []struct{ path, text string }{{checkpointFile, note}, {consistencyFile, ""}, {keyFile, k.vkey}, {linesFile, lines}, {rollsFile, string(raw)}} {
			if err == nil {
				err = w.Add(file.path, false, strings.NewReader(file.text))
			}
		}
		if err == nil {
			_, err = w.Close()
		}
		if err != nil {
			t.Fatal(err)
		}
		b, err := bag.Open(bytes.NewReader(out.Bytes()), int64(out.Len()))
		if err != nil {
			t.Fatal(err)
		}
		p, err := Check(b, Outside{})
		if err != nil || len(p.Problems) > 0 {
			return
		}
		// One line of four is here: no roll may say that this is all.
		for _, r := range p.Rolls {
			if r.Size > 0 {
				t.Errorf("%s is said to hold with %+v", raw, r)
			}
		}
	})
}
