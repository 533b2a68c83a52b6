package model

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/ledger"
	"pawl/model/packets"
	"pawl/model/proofs"
)

// Under the roll from before a loss the copy shows the tools of that loss's list and no
// others, under the newest all of them. However many losses came since, a packet about the
// first proves as much from the copy as from the shop.
func TestTheRollOfALossShowsItsList(t *testing.T) {
	g := openGarage(t, "sqlite")
	for range 2 {
		g.tool(t)
	}
	_, claim := used(t, g)
	late := dates.InstantOf(g.clock.Now().Add(-time.Hour))
	for i := range 101 {
		put(t, g, &claims.Loss{ID: fmt.Sprint("L-", i), Kind: claims.Theft, Found: late, Started: late})
	}
	g.clock.advance(time.Hour)
	kept := g.keptElsewhere(t, g.boss)
	c, err := packets.CheckElsewhere(bagOf(t, kept), proofs.Outside{})
	if err != nil || len(c.Problems) > 0 {
		t.Fatalf("%v %q", err, c.Problems)
	}
	if r := c.Proven.Rolls; len(r) != 2 || r[0].Tools != 3 || r[0].Shown != 1 || r[1].Shown != 3 {
		t.Errorf("%+v", r)
	}
	p, err := PacketFromCopies(ctx, []CopyFile{fileOf(kept)}, FromCopy{Claim: claim})
	must(t, err)
	defer p.Close()
	if proven := provenIn(t, p.annex(t)); len(proven.Rolls) != 2 || proven.Anchor == nil {
		t.Errorf("%d rolls, anchor %v", len(proven.Rolls), proven.Anchor)
	}
}

// A leaf that the copy should show and that was taken out of it is found missing: of the
// newest roll one of any tool, of the roll from before a loss one of its list.
func TestALeafTakenOutOfTheCopyIsMissed(t *testing.T) {
	g := openGarage(t, "sqlite")
	other := g.id(t, g.tool(t))
	w, _ := used(t, g)
	kept := g.keptElsewhere(t, g.boss)
	for _, c := range []struct {
		tool string
		roll int
	}{{other, 1}, {g.id(t, w), 0}, {g.id(t, w), 1}} {
		altered := rewritten(t, kept, "proof/rolls.jsonl", func(raw []byte) []byte { return withoutLeaf(t, raw, c.tool, c.roll) })
		want := "tool " + c.tool + ": nothing shows how many lines about it roll"
		bad, err := packets.CheckElsewhere(bagOf(t, altered), proofs.Outside{})
		if err != nil || !slices.ContainsFunc(bad.Problems, func(p string) bool { return strings.HasPrefix(p, want) }) {
			t.Errorf("%v: %v %q", c, err, bad.Problems)
		}
		v, err := VerifyPacket(bytes.NewReader(altered), int64(len(altered)), PacketQuery{})
		if err != nil || !slices.ContainsFunc(v.Problems, func(p string) bool { return strings.HasPrefix(p, want) }) {
			t.Errorf("verify of %v: %v %q", c, err, v.Problems)
		}
	}
}

// withoutLeaf takes the leaf of a tool out, under the roll of that number.
func withoutLeaf(t *testing.T, raw []byte, tool string, under int) (out []byte) {
	t.Helper()
	roll, taken := -1, 0
	for row := range bytes.Lines(raw) {
		var one proofs.RollRow
		must(t, json.Unmarshal(row, &one))
		if one.Roll != nil {
			roll++
		} else if leaf, err := ledger.ParseToolLeaf([]byte(one.Leaf)); err != nil || leaf.Tool == tool && roll == under {
			must(t, err)
			taken++
			continue
		}
		out = append(out, row...)
	}
	if taken != 1 {
		t.Fatalf("%d leaves of %s under roll %d", taken, tool, under)
	}
	return out
}

// rewritten alters one file of a bag whose lists are made to agree with it.
func rewritten(t *testing.T, kept []byte, name string, change func([]byte) []byte) []byte {
	t.Helper()
	altered, was, now := entries(t, kept), "", ""
	for i, e := range altered {
		if strings.HasSuffix(e.name, "/"+name) {
			altered[i].raw = change(e.raw)
			was, now = hashOf(e.raw), hashOf(altered[i].raw)
		}
	}
	if was == now {
		t.Fatalf("%s was not altered", name)
	}
	for _, list := range []string{"/manifest-sha256.txt", "/tagmanifest-sha256.txt"} {
		for i, e := range altered {
			if strings.HasSuffix(e.name, list) {
				altered[i].raw = bytes.ReplaceAll(e.raw, []byte(was), []byte(now))
				if list == "/manifest-sha256.txt" && !bytes.Equal(e.raw, altered[i].raw) {
					was, now = hashOf(e.raw), hashOf(altered[i].raw)
				}
			}
		}
	}
	return rezipped(t, altered)
}
