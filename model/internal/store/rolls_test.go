package store

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/transparency-dev/merkle/compact"
	"github.com/transparency-dev/merkle/proof"
	"github.com/transparency-dev/merkle/rfc6962"

	"pawl/model/ledger"
	"pawl/model/register"
)

// rolledBy makes the root of a roll by transparency-dev/merkle from the lines
// alone, read by seq, with the leaves written by hand.
func rolledBy(t *testing.T, d *DB, size int64) (root []byte, tools []string, leaves map[string][]byte) {
	t.Helper()
	lines := map[string][]ledger.Line{}
	raws := map[int64][]byte{}
	err := d.Read(ctx, func(rx *Rx) error {
		all, err := rx.entries(0, 1_000_000)
		for _, e := range all {
			l, err := ledger.ParseLine(e.Raw)
			if err != nil {
				return err
			}
			if l.Seq >= size {
				break
			}
			raws[l.Seq] = e.Raw
			for _, tool := range l.Tools {
				lines[tool] = append(lines[tool], l)
			}
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	factory := compact.RangeFactory{Hash: rfc6962.DefaultHasher.HashChildren}
	tree := factory.NewEmptyRange(0)
	leaves = map[string][]byte{}
	for tool, all := range lines {
		digest := make([]byte, 32)
		for _, l := range all {
			sum := rfc6962.DefaultHasher.New()
			sum.Write(digest)
			sum.Write(rfc6962.DefaultHasher.HashLeaf(raws[l.Seq]))
			digest = sum.Sum(nil)
		}
		tools = append(tools, tool)
		leaves[tool] = fmt.Appendf(nil, `{"digest":"%s","last_seq":%d,"lines":%d,"tool":"%s"}`, hex.EncodeToString(digest), all[len(all)-1].Seq, len(all), tool)
	}
	slices.Sort(tools)
	for _, tool := range tools {
		if err := tree.Append(rfc6962.DefaultHasher.HashLeaf(leaves[tool]), nil); err != nil {
			t.Fatal(err)
		}
	}
	if root, err = tree.GetRootHash(nil); len(tools) == 0 {
		root, err = rfc6962.DefaultHasher.EmptyRoot(), nil
	}
	if err != nil {
		t.Fatal(err)
	}
	return root, tools, leaves
}

// Rolls over some days are the roots that transparency-dev/merkle makes of the
// same lines, and it takes the audit paths of tools in each of them, also of
// those long since overtaken.
func TestRolls(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		v := openVault(t, at)
		var rolls []ledger.Roll
		for day := range 7 {
			rolls = append(rolls, v.roll(t, fmt.Sprintf("2026-11-%02d", 2+day)))
			do(t, v.DB, func(tx *Tx) error {
				for i := range day * 3 {
					if err := put(tool(fmt.Sprintf("T-%c%d%d", 'A'+(i*7+day)%26, day, i)))(tx); err != nil {
						return err
					}
				}
				return change("T-2", func(t *register.Tool) { t.Notes = fmt.Sprint("day ", day) })(tx)
			})
		}
		for _, r := range rolls {
			root, tools, leaves := rolledBy(t, v.DB, r.Size)
			got, err := r.Hash()
			if err != nil || !bytes.Equal(got[:], root) || r.Tools != int64(len(tools)) {
				t.Errorf("roll %+v, %v; want %d tools and %x", r, err, len(tools), root)
			}
			err = v.Read(ctx, func(rx *Rx) error {
				under, err := rx.ToolsUnder(ctx, r, append(tools, "T-none", tools[0]))
				if len(under) != len(tools) {
					t.Errorf("roll %s: %d of %d tools are proven", r.ID, len(under), len(tools))
				}
				for i, u := range under {
					path := make([][]byte, len(u.Hashes))
					for i, h := range u.Hashes {
						path[i] = h[:]
					}
					if raw := u.Canonical(); !bytes.Equal(raw, leaves[tools[i]]) {
						t.Errorf("roll %s: leaf %s, want %s", r.ID, raw, leaves[tools[i]])
					}
					if err := proof.VerifyInclusion(rfc6962.DefaultHasher, uint64(u.Index), uint64(u.Size), rfc6962.DefaultHasher.HashLeaf(u.Canonical()), path, root); err != nil {
						t.Errorf("roll %s, tool %s: %v", r.ID, u.Tool, err)
					}
				}
				return err
			})
			if err != nil {
				t.Fatal(err)
			}
		}
		report := Report{}
		err := v.ReadTwice(ctx, func(rx, beside *Rx) (err error) {
			report, err = rx.Verify(ctx, beside, v.vkey, nil, WhichRolls{Newest: AllRolls})
			return err
		})
		if err != nil || len(report.Problems) > 0 || report.Rolls != 7 {
			t.Errorf("%+v, %v", report, err)
		}
		kept := dump(t, at.raw(t), []string{"leaves"})
		do(t, v.DB, (*Tx).RebuildDerived)
		if made := dump(t, at.raw(t), []string{"leaves"}); made != kept || kept == "" {
			t.Errorf("kept\n%s\nmade anew\n%s", kept, made)
		}
	})
}

// A roll, or what the table of leaves says, changed below Pawl is named; an
// older roll only by a look at all of them.
func TestVerifyFindsAChangedRoll(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		v := openVault(t, at)
		first := v.roll(t, "2026-11-02")
		do(t, v.DB, put(tool("T-3")))
		// A roll that never was the root, recorded as any other is.
		wrong := ledger.Roll{ID: "2026-11-03", Root: first.Root, Size: first.Size + 2, Tools: 3}
		do(t, v.DB, put(wrong))
		wantProblem(t, v.tampered(t, nil, func(func(string, ...any)) {}), "roll 2026-11-03")
		v.roll(t, "2026-11-04")
		if r := v.tampered(t, nil, func(func(string, ...any)) {}); len(r.Problems) > 0 || r.Rolls != 1 {
			t.Errorf("the newest roll: %+v", r)
		}
		for statement, names := range map[string]string{
			"UPDATE leaves SET lines = lines + 1 WHERE tool = 'T-2'":                                                                   "tool T-2",
			"UPDATE leaves SET digest = (SELECT digest FROM leaves WHERE tool = 'T-1') WHERE tool = 'T-2'":                             "tool T-2",
			"UPDATE leaves SET tool = 'T-9' WHERE tool = 'T-3'":                                                                        "tool T-3",
			"DELETE FROM leaves WHERE tool = 'T-1'":                                                                                    "tool T-1",
			"INSERT INTO leaves (tool, first_seq, last_seq, lines, digest) SELECT 'U', 1, 1, 1, digest FROM leaves WHERE tool = 'T-3'": "1 tools of which no line speaks",
			"UPDATE rolls SET tools = 1 WHERE id = '2026-11-04'":                                                                       "roll 2026-11-04",
			"UPDATE rolls SET size = size + 2 WHERE id = '2026-11-04'":                                                                 "roll 2026-11-04: it says that it covers",
		} {
			wantProblem(t, v.tampered(t, nil, func(exec func(string, ...any)) { exec(statement) }), names)
		}
		err := v.ReadTwice(ctx, func(rx, beside *Rx) error {
			r, err := rx.Verify(ctx, beside, v.vkey, nil, WhichRolls{Newest: AllRolls})
			if len(r.Problems) != 1 || !strings.Contains(r.Problems[0], "roll 2026-11-03: the first") {
				t.Errorf("all rolls: %q; want the one of 2026-11-03", r.Problems)
			}
			return err
		})
		if err != nil {
			t.Error(err)
		}
	})
}
