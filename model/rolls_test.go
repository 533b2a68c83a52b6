package model

import (
	"bytes"
	"cmp"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/bag"
	"pawl/model/dates"
	"pawl/model/internal/store"
	"pawl/model/ledger"
	"pawl/model/proofs"
	"pawl/model/register"
	"pawl/model/settings"
)

// roll runs the chores and gives what they said of a roll.
func (g *garage) roll(t *testing.T) (said string) {
	t.Helper()
	done, err := g.Chores(ctx, chores)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range done {
		if strings.HasPrefix(d, "rolled") {
			said = d
		}
	}
	return said
}

// A roll a day of the shop's zone, of all that stands then, and none where
// nothing new does: a roll is no news to the next.
func TestDailyRoll(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		if _, err := g.ChangeSettings(ctx, g.boss, 2, settings.Change{Zone: ptr("America/Chicago")}); err != nil {
			t.Fatal(err)
		}
		g.tool(t)
		if said := g.roll(t); !strings.HasPrefix(said, "rolled 1 tools in ") {
			t.Errorf("the first day: %q", said)
		}
		g.tool(t)
		now := g.clock.Now()
		loc, err := time.LoadLocation("America/Chicago")
		if err != nil {
			t.Fatal(err)
		}
		local := now.In(loc)
		midnight := time.Date(local.Year(), local.Month(), local.Day()+1, 0, 0, 0, 0, loc)
		g.clock.advance(midnight.Sub(now) - time.Minute)
		if said := g.roll(t); said != "" {
			t.Errorf("the same day: %q", said)
		}
		g.clock.advance(2 * time.Minute)
		if said := g.roll(t); !strings.HasPrefix(said, "rolled 2 tools in ") {
			t.Errorf("the day after, past its midnight: %q", said)
		}
		lines := g.lines(t)
		for range 3 {
			g.clock.advance(24 * time.Hour)
			if said := g.roll(t); said != "" {
				t.Errorf("a day without lines: %q", said)
			}
		}
		if n := g.lines(t); n != lines {
			t.Errorf("days without lines left %d", n-lines)
		}
		v, err := g.Verify(ctx, g.boss, VerifyQuery{Rolls: "all"})
		if err != nil || len(v.Problems) > 0 || v.Rolls != 2 {
			t.Errorf("%+v, %v", v, err)
		}
		_, err = g.Verify(ctx, g.boss, VerifyQuery{Rolls: "some"})
		wantPointers(t, err, "#/rolls")
	})
}

// A packet shows a tool in the last roll that a checkpoint from before the loss
// covers, and in the newest; a line less is missed by both.
func TestRollsOfAPacket(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		first, second := g.tool(t), g.tool(t)
		g.roll(t) // with a checkpoint over it
		given, err := g.Checkpoint(ctx, g.boss)
		if err != nil {
			t.Fatal(err)
		}
		loss := dates.InstantOf(g.clock.Now())
		g.clock.advance(24 * time.Hour)
		v, err := g.Tool(ctx, g.boss, first)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := g.ChangeTool(ctx, g.boss, first, v.Tool.Rev, register.Change{Notes: ptr("missing since the break-in")}); err != nil {
			t.Fatal(err)
		}
		g.tool(t)
		g.roll(t)
		other, err := g.Tool(ctx, g.boss, second)
		if err != nil {
			t.Fatal(err)
		}
		own, err := g.Checkpoint(ctx, g.boss)
		if err != nil {
			t.Fatal(err)
		}
		ids := []string{v.Tool.ID, other.Tool.ID}
		for _, c := range []struct {
			skip  int64 // place of a line of the first tool that is left out
			by    dates.Instant
			rolls []int64 // tools under each roll
			want  string
		}{
			{-1, loss, []int64{2, 3}, ""},
			{-1, loss - 3600_000_000, []int64{3}, ""},
			{0, loss, []int64{2, 3}, "some were left out"},
		} {
			src := proofs.Source{Note: own.Note, Key: own.Key}
			err := g.db.Read(ctx, func(rx *store.Rx) (err error) {
				if src.Older, err = olderOf(rx, own.Size); err != nil {
					return err
				}
				rows, err := rollsFor(ctx, rx, ids, c.by, own.Size)
				src.Rolls = proofs.Rows(rows)
				if err != nil {
					return err
				}
				if src.Anchor, err = anchorFor(rx, c.by, own.Size); err != nil {
					return err
				}
				src.Lines, err = linesAbout(rx, ids, own.Size, c.skip)
				return err
			})
			if err != nil {
				t.Fatal(err)
			}
			b := provenBag(t, src)
			if lines, olders, leaves := independently(t, b, given.Note); lines < 4 || olders != 1 || leaves < 2 {
				t.Errorf("%d lines, %d older checkpoints, %d leaves", lines, olders, leaves)
			}
			p, err := proofs.Check(b, proofs.Outside{Key: own.Key, Checkpoints: []string{given.Note}})
			if err != nil {
				t.Fatal(err)
			}
			var got []int64
			for _, r := range p.Rolls {
				got = append(got, r.Tools)
			}
			if said := strings.Join(p.Problems, "; "); (said == "") != (c.want == "") || !strings.Contains(said, c.want) {
				t.Errorf("%+v: %q", c, said)
			}
			if len(got) != len(c.rolls) || got[0] != c.rolls[0] || len(got) == 2 && (p.Rolls[0].Anchor != given.Size || p.Rolls[1].Anchor != 0) {
				t.Errorf("%+v: rolls %+v", c, p.Rolls)
			}
			if before := c.by == loss; before != (p.Anchor != nil) || before && (p.Anchor.Note != given.Note || p.AnchorSize != given.Size) {
				t.Errorf("%+v: anchored in %+v of %d lines", c, p.Anchor, p.AnchorSize)
			}
			if c.want == "" && (p.Compared != 1 || p.Rolls[0].Shown != 2) {
				t.Errorf("%+v: %+v", c, p)
			}
		}
	})
}

// linesAbout gives the rows about tools, but for one of the first of them.
func linesAbout(rx *store.Rx, ids []string, size int64, skip int64) (func(func(proofs.Entry) error) error, error) {
	g := gathering{size: size}
	for i, id := range ids {
		history, err := rx.History(id, 0, 100)
		if err != nil {
			return nil, err
		}
		for n, e := range history {
			line, err := ledger.ParseLine(e.Raw)
			if err != nil {
				return nil, err
			}
			if i > 0 || int64(n) != skip {
				g.places = append(g.places, place{seq: line.Seq})
			}
		}
	}
	slices.SortFunc(g.places, func(a, b place) int { return cmp.Compare(a.seq, b.seq) })
	var rows []proofs.Entry
	for _, p := range g.places {
		kept, err := rx.EntriesAt([]int64{p.seq})
		if err != nil {
			return nil, err
		}
		e, err := proofs.NewEntry(kept[0].Raw, kept[0].Salt, kept[0].After, size, rx)
		if err != nil {
			return nil, err
		}
		rows = append(rows, e)
	}
	return func(keep func(proofs.Entry) error) error {
		for _, e := range rows {
			if err := keep(e); err != nil {
				return err
			}
		}
		return nil
	}, nil
}

func provenBag(t *testing.T, src proofs.Source) *bag.Bag {
	t.Helper()
	zipped := baggedBytes(t, src)
	b, err := bag.Open(bytes.NewReader(zipped), int64(len(zipped)))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// baggedBytes is a packet of proofs alone.
func baggedBytes(t *testing.T, src proofs.Source) []byte {
	t.Helper()
	var out bytes.Buffer
	w, err := bag.NewWriter(&out, bag.Info{Name: "packet", Date: "2026-11-25"})
	if err == nil {
		err = proofs.Write(w, src)
	}
	if err == nil {
		_, err = w.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// Both engines come to the same roll for the same acts, to the byte.
func TestARollIsTheSameOnBothEngines(t *testing.T) {
	roots := map[string]string{}
	onBoth(t, func(t *testing.T, g *garage) {
		for range 5 {
			g.tool(t)
		}
		g.roll(t)
		err := g.db.Read(ctx, func(rx *store.Rx) error {
			all, err := rx.Rolls(ledger.MaxSize, 10)
			if len(all) != 1 || all[0].Tools != 5 {
				t.Errorf("%+v", all)
				return err
			}
			roots[g.engine] = all[0].Root
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	})
	if len(roots) == 2 && roots["sqlite"] != roots["postgres"] {
		t.Errorf("%v", roots)
	}
}

// Unless it is told otherwise, verify makes those rolls again too that packets and the copy
// kept elsewhere name: what of them was altered where it is kept is found.
func TestVerifyLooksAtTheRollsThatPacketsName(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		days := func() {
			g.tool(t)
			g.clock.advance(25 * time.Hour)
			if said := g.roll(t); said == "" {
				t.Fatal("nothing was rolled")
			}
		}
		days() // named by nothing
		days() // the last before the loss
		if _, err := g.Checkpoint(ctx, g.boss); err != nil {
			t.Fatal(err)
		}
		g.clock.advance(time.Hour)
		claim := rob(t, g, true).claim
		days() // the newest of the packet
		g.packetOf(t, g.boss, NewPacket{Claim: claim})
		days() // the newest of all
		for which, want := range map[string]int64{"": 3, "newest": 1, "all": 4} {
			v, err := g.Verify(ctx, g.boss, VerifyQuery{Rolls: which})
			if err != nil || len(v.Problems) > 0 || v.Rolls != want {
				t.Errorf("%q: %d rolls, %q %v", which, v.Rolls, v.Problems, err)
			}
		}
		g.keptElsewhere(t, g.manager)
		if v, err := g.Verify(ctx, g.boss, VerifyQuery{}); err != nil || v.Rolls != 3 {
			t.Errorf("with a copy: %d rolls, %v", v.Rolls, err)
		}
	})
}
