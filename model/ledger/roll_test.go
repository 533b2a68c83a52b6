package ledger

import (
	"fmt"
	"strings"
	"testing"

	"github.com/transparency-dev/merkle/compact"
	"github.com/transparency-dev/merkle/proof"
	"github.com/transparency-dev/merkle/rfc6962"
	"golang.org/x/mod/sumdb/tlog"
)

// Several rolls made at once are those that transparency-dev/merkle makes one by
// one; it takes the paths that PathNeeds says the hashes of.
func TestRoller(t *testing.T) {
	sizes := []int64{0, 1, 7, 20, 21, 60}
	type line struct {
		tool string
		seq  int64
	}
	var lines []line // by tool and place; tool i has lines i, i+13, i+26 …
	for i := range int64(13) {
		for seq := i; seq < 60; seq += 13 {
			lines = append(lines, line{fmt.Sprintf("T-%02d", i), seq})
		}
	}
	leaves, stored := make([][]ToolLeaf, len(sizes)), make([]memory, len(sizes))
	r := NewRoller(sizes)
	r.Each = func(k int, index int64, leaf ToolLeaf, hashes []tlog.Hash) {
		if index != int64(len(leaves[k])) {
			t.Errorf("roll %d: leaf %d comes as number %d", k, len(leaves[k]), index)
		}
		leaves[k], stored[k] = append(leaves[k], leaf), append(stored[k], hashes...)
	}
	for _, l := range lines {
		r.Line(l.tool, l.seq, LeafHash([]byte(fmt.Sprint(l))))
	}
	r.End()
	for k, size := range sizes {
		if want := min(size, 13); r.Tools(k) != want || int64(len(leaves[k])) != want {
			t.Errorf("the first %d lines: %d tools and %d leaves, want %d", size, r.Tools(k), len(leaves[k]), want)
		}
		factory := compact.RangeFactory{Hash: rfc6962.DefaultHasher.HashChildren}
		tree := factory.NewEmptyRange(0)
		for i, leaf := range leaves[k] {
			if leaf.Lines != (size-int64(i)+12)/13 || leaf.LastSeq != int64(i)+13*(leaf.Lines-1) {
				t.Errorf("the first %d lines: %+v", size, leaf)
			}
			if err := tree.Append(rfc6962.DefaultHasher.HashLeaf(leaf.Canonical()), nil); err != nil {
				t.Fatal(err)
			}
		}
		root, err := tree.GetRootHash(nil)
		got := r.Root(k)
		if err != nil || size > 0 && string(root) != string(got[:]) {
			t.Errorf("the first %d lines: root %x, want %x", size, got, root)
		}
		for i, leaf := range leaves[k] {
			needs, err := PathNeeds(r.Tools(k), int64(i))
			if err != nil {
				t.Fatal(err)
			}
			only := memory{}
			for _, n := range needs {
				for int64(len(only)) <= n {
					only = append(only, tlog.Hash{})
				}
				only[n] = stored[k][n]
			}
			p, err := ProveInclusion(r.Tools(k), int64(i), only)
			if err != nil {
				t.Fatal(err)
			}
			var path [][]byte
			for _, h := range p.Hashes {
				path = append(path, h[:])
			}
			if err := proof.VerifyInclusion(rfc6962.DefaultHasher, uint64(i), uint64(p.Size), rfc6962.DefaultHasher.HashLeaf(leaf.Canonical()), path, root); err != nil {
				t.Errorf("the first %d lines, tool %d: %v", size, i, err)
			}
		}
	}
}

// memory keeps stored hashes.
type memory []tlog.Hash

func (m memory) ReadHashes(at []int64) (out []tlog.Hash, err error) {
	for _, i := range at {
		out = append(out, m[i])
	}
	return out, nil
}

func TestRollOf(t *testing.T) {
	root := tlog.Hash{1}.String()
	for name, c := range map[string]struct {
		image Image
		want  string
	}{
		"a roll":          {Image{"root": root, "size": int64(9), "tools": int64(3)}, ""},
		"of no tool":      {Image{"root": root, "size": int64(9)}, ""},
		"no root":         {Image{"size": int64(9)}, "no hash"},
		"a number":        {Image{"root": int64(1), "size": int64(9)}, "no hash"},
		"more tools":      {Image{"root": root, "size": int64(9), "tools": int64(10)}, "10 tools in 9 lines"},
		"below nothing":   {Image{"root": root, "size": int64(-1)}, "in -1 lines"},
		"unused bits set": {Image{"root": strings.Replace(root, "A=", "B=", 1), "size": int64(9)}, "no hash"},
	} {
		r, err := RollOf("2026-11-25", c.image)
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) || err == nil && (r.ID != "2026-11-25" || r.Size != 9) {
			t.Errorf("%s: %+v, %v; want %q", name, r, err, c.want)
		}
	}
}

// FuzzParseToolLeaf: what is taken for a leaf is written again to the byte.
func FuzzParseToolLeaf(f *testing.F) {
	f.Add(ToolLeaf{Tool: "T-1", LastSeq: 7, Lines: 2}.Canonical())
	f.Add([]byte(`{"digest":"","last_seq":0,"lines":0,"tool":""}`))
	f.Add([]byte(`{"digest":"AB","last_seq":-1}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		if l, err := ParseToolLeaf(raw); err == nil && string(l.Canonical()) != string(raw) {
			t.Errorf("%q is taken for %+v", raw, l)
		}
	})
}
