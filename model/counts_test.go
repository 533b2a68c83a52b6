package model

import (
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/counts"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/register"
)

// placed puts a tool in a place.
func placed(path string) func(*register.New) {
	return func(in *register.New) { in.Place = ptr(path) }
}

// count starts a count.
func (g *garage) count(t *testing.T, in StartCount) CountView {
	t.Helper()
	v, err := g.StartCount(ctx, g.boss, in)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// look scans in a count, and wants that to be done.
func (g *garage) look(t *testing.T, by By, count, want string, in ScanCount) CountedDone {
	t.Helper()
	g.clock.advance(time.Second)
	d, err := g.ScanCount(ctx, by, count, in)
	if err != nil || d.Done != want {
		t.Fatalf("%+v: %q, %v; want %q", in, d.Done, err, want)
	}
	return d
}

// A count of everything, with what can become of a tool in it.
func TestACountOfEverything(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		if _, err := g.AddPlace(ctx, g.boss, "Bay 2/Box"); err != nil {
			t.Fatal(err)
		}
		in := func(path string) string { return g.tool(t, placed(path)) }
		here, moved, away, out, lost, taken := in("Bay 1/Cart"), in("Bay 1/Cart"), in("Bay 1"), in("Bay 1"), in("Bay 1"), in("Bay 2")
		set := g.tool(t, placed("Bay 1"), func(n *register.New) { n.Pieces = &register.Pieces{{Name: "socket", Count: 3}} })
		worn := g.tool(t, placed("Bay 1"), func(n *register.New) { n.Serial, n.SerialAgain = ptr("KD408-B217"), "KD408-B217" })
		g.must(t)(g.Take(ctx, g.techA, out, Take{}))
		g.must(t)(g.Away(ctx, g.boss, away, Away{To: "Lab 1", For: "calibration"}))
		g.clock.advance(time.Minute)

		c := g.count(t, StartCount{})
		if c.Listed != 8 || c.Drawn != 8 || c.Draw != nil || c.Scope != "everything" || c.Confidence != "0.95" || !strings.HasPrefix(c.ID, "N-") {
			t.Errorf("%+v", c.Count)
		}
		if n := c.Numbers; n.By[counts.NotSeen] != 6 || n.By[counts.StillOut] != 1 || n.By[counts.StillAway] != 1 || n.Unsettled != 8 || n.Missing != 8 {
			t.Errorf("before anything was seen: %+v", n)
		}
		g.clock.advance(time.Minute)
		box, cart := "", ""
		places, _ := g.Places(ctx, g.boss)
		for _, p := range places {
			switch p.Path {
			case "Bay 2/Box":
				box = "P/" + p.Code
			case "Bay 1/Cart":
				cart = "p/" + strings.ToLower(p.Code)
			}
		}
		if d := g.look(t, g.techA, c.ID, StandsHere, ScanCount{Scanned: box}); d.At != "Bay 2/Box" {
			t.Errorf("%+v", d)
		}
		g.look(t, g.techA, c.ID, "seen", ScanCount{Scanned: "T/" + here, At: cart})
		g.look(t, g.techB, c.ID, SeenAlready, ScanCount{Scanned: here, At: "Bay 1/Cart"})
		if d := g.look(t, g.techB, c.ID, "seen elsewhere", ScanCount{Scanned: moved, At: box}); !strings.Contains(d.Why, "in Bay 2/Box, and belongs in Bay 1/Cart") {
			t.Errorf("%+v", d)
		}
		if d := g.look(t, g.techB, c.ID, "seen", ScanCount{Scanned: set, Missing: []string{"socket*2"}, Condition: "case cracked"}); len(d.Missing) != 1 {
			t.Errorf("%+v", d)
		}
		if d := g.look(t, g.techA, c.ID, "seen", ScanCount{Scanned: "serial:kd408 b217"}); d.Label != counts.LabelUnreadable || d.Number.String() != worn {
			t.Errorf("by its serial number: %+v", d)
		}
		// It is taken while the count goes on, and followed.
		g.must(t)(g.Take(ctx, g.techB, taken, Take{}))
		// Something that is on no list.
		late := in("Bay 2")
		if d := g.look(t, g.techA, c.ID, "extra", ScanCount{Scanned: late}); !strings.Contains(strings.Join(d.Advice, " "), "registered after") {
			t.Errorf("%+v", d)
		}
		if _, err := g.ConfirmCount(ctx, g.techB, c.ID, ConfirmCount{Number: out}); fault.Of(err).Kind != fault.Forbidden {
			t.Errorf("another's word: %v", err)
		}
		if d, err := g.ConfirmCount(ctx, g.techA, c.ID, ConfirmCount{Number: out}); err != nil || d.Done != "confirmed" {
			t.Errorf("%+v, %v", d, err)
		}

		v, err := g.Count(ctx, g.techA, c.ID)
		n := v.Numbers
		if err != nil || n.By[counts.Seen] != 2 || n.By[counts.SeenElsewhere] != 1 || n.By[counts.Incomplete] != 1 || n.By[counts.Confirmed] != 1 ||
			n.By[counts.Moved] != 1 || n.By[counts.StillAway] != 1 || n.By[counts.NotSeen] != 1 || n.Extra != 1 || n.Missing != 3 || n.Right != 4 || n.Unsettled != 5 {
			t.Errorf("%+v, %v", n, err)
		}
		if !slices.Equal(v.Counted, []string{"Tech A", "Tech B"}) || v.Last == nil || v.Last.By != "Tech A" {
			t.Errorf("%q, %+v", v.Counted, v.Last)
		}
		g.settleAll(t, c.ID, moved, away, lost, taken, set, late)
		g.wantClosed(t, c.ID, lost, here)
	})
}

// settleAll settles what differs.
func (g *garage) settleAll(t *testing.T, count, moved, away, lost, taken, set, late string) {
	t.Helper()
	for _, s := range []struct {
		in   SettleDifference
		says string // of a refusal
	}{
		{SettleDifference{Number: moved, How: "missing"}, "it was seen"},
		{SettleDifference{Number: moved, How: "eaten"}, "does not settle"},
		{SettleDifference{Number: moved, How: "record mended"}, "how the record was mended"},
		{SettleDifference{Number: moved, How: "record mended", At: "Bay 2/Box"}, ""},
		{SettleDifference{Number: moved, How: "found", At: "Bay 1"}, "settled already"},
		{SettleDifference{Number: away, How: "known elsewhere"}, "say who has it"},
		{SettleDifference{Number: away, How: "known elsewhere", With: "Lab 1", Note: "by phone"}, ""},
		{SettleDifference{Number: lost, How: "found"}, "in which place"},
		{SettleDifference{Number: lost, How: "record mended", At: "Bay 1"}, "nobody saw it"},
		{SettleDifference{Number: lost, How: "missing", Note: "Bay 1 searched, Tech A"}, ""},
		{SettleDifference{Number: taken, How: "found", At: "Bay 2"}, "nothing is to be settled"},
		{SettleDifference{Number: late, How: "record mended", Note: "it is new"}, ""},
	} {
		_, err := g.SettleDifference(ctx, g.boss, count, s.in)
		if s.says == "" && err != nil || s.says != "" && (err == nil || !strings.Contains(err.Error(), s.says)) {
			t.Errorf("%+v: %v, want %q", s.in, err, s.says)
		}
	}
	_, err := g.SettleDifference(ctx, g.techA, count, SettleDifference{Number: set, How: "missing"})
	wantFault(t, err, fault.Forbidden, "start, settle or close a count")
	if v, err := g.Tool(ctx, g.boss, moved); err != nil || v.Place != "Bay 2/Box" {
		t.Errorf("%q, %v", v.Place, err)
	}
}

// wantClosed closes a count, after which nothing in it changes.
func (g *garage) wantClosed(t *testing.T, count, lost, here string) {
	t.Helper()
	_, err := g.CloseCount(ctx, g.techA, count)
	wantFault(t, err, fault.Forbidden, "close a count")
	v, err := g.CloseCount(ctx, g.boss, count)
	if err != nil {
		t.Fatal(err)
	}
	// Eight looked for, of which the set is not complete and one is missing.
	if s := v.Statement; s == nil || s.Listed != 8 || s.Looked != 8 || s.Seen != 3 || s.ByWord != 2 || s.Moved != 1 || s.Missing != 2 || s.AtMostMissing != 2 || s.Accuracy.Share != 0.5 {
		t.Errorf("%+v", v.Statement)
	}
	if len(v.Unsettled) != 1 || v.Unsettled[0].Bucket != counts.Incomplete || v.Numbers.Unsettled != 1 {
		t.Errorf("%+v", v.Unsettled)
	}
	_, err = g.ScanCount(ctx, g.techA, count, ScanCount{Scanned: lost})
	wantFault(t, err, fault.Conflict, "is closed", "by", "Demo garage", "since", "*")
	_, err = g.SettleDifference(ctx, g.boss, count, SettleDifference{Number: lost, How: "found", At: "Bay 1"})
	wantFault(t, err, fault.Conflict, "is closed")
	_, err = g.CloseCount(ctx, g.boss, count)
	wantFault(t, err, fault.Conflict, "is closed")
	_, err = g.PauseCount(ctx, g.boss, count)
	wantFault(t, err, fault.Conflict, "is closed")
	// What custody does later changes nothing of what was found.
	before := g.numbers(t, count)
	g.clock.advance(time.Hour)
	if all, next, err := g.MissingTools(ctx, g.techA, 0, ""); err != nil || next != "" || len(all) != 1 || all[0].Number.String() != lost || all[0].NotSeenSince != 0 {
		t.Errorf("%+v, %v", all, err)
	}
	g.must(t)(g.Take(ctx, g.techA, lost, Take{}))
	if all, _, err := g.MissingTools(ctx, g.techA, 0, ""); err != nil || len(all) != 0 {
		t.Errorf("taken since, and missing: %+v, %v", all, err)
	}
	if after := g.numbers(t, count); after != before {
		t.Errorf("%s\n%s", before, after)
	}
	rows, next, err := g.CountTools(ctx, g.techA, count, CountToolsQuery{Which: "not seen"})
	if err != nil || next != "" || len(rows) != 1 || rows[0].Number.String() != lost || rows[0].Settled.How != counts.Missing || rows[0].Settled.By != "Demo garage" {
		t.Errorf("%+v, %v", rows, err)
	}
}

// What leaves for good while a count goes on: sold it is accounted for and not seen, lost
// it is missing, and what is scanned after it was said to be gone is to be settled.
func TestWhatLeavesDuringACount(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		sold, lost, here := g.tool(t), g.tool(t), g.tool(t)
		c := g.count(t, StartCount{})
		g.clock.advance(time.Minute)
		g.look(t, g.techA, c.ID, "seen", ScanCount{Scanned: here})
		for number, why := range map[string]string{sold: "sold", lost: "lost", here: "scrapped"} {
			if _, err := g.Gone(ctx, g.boss, number, Gone{Why: why}); err != nil {
				t.Fatal(err)
			}
		}
		if d := g.look(t, g.techA, c.ID, "seen elsewhere", ScanCount{Scanned: here}); !strings.Contains(d.Why, "gone: scrapped") {
			t.Errorf("%+v", d)
		}
		rows, _, err := g.CountTools(ctx, g.boss, c.ID, CountToolsQuery{Which: ListDifferences})
		if err != nil || len(rows) != 2 || rows[0].Number.String() != lost || rows[0].Bucket != counts.NotSeen || rows[0].Moved == nil || rows[0].Moved.Words != "gone: lost" ||
			rows[1].Number.String() != here {
			t.Errorf("%+v, %v", rows, err)
		}
		v, err := g.CloseCount(ctx, g.boss, c.ID)
		if s := v.Statement; err != nil || s.Seen != 1 || s.Moved != 1 || s.Missing != 1 || s.Accuracy.Right != 1 || len(v.Unsettled) != 2 {
			t.Errorf("%+v, %v", v.Statement, err)
		}
	})
}

// A tool that was searched for and not found is not in place: not on the page of its
// place, not in its tree, not on paper, until somebody sees it.
func TestWhatACountMissedIsNotInPlace(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		lost, out := g.tool(t, placed("Bay 1/Cart")), g.tool(t, placed("Bay 1/Cart"))
		g.tool(t, placed("Bay 1/Cart"))
		g.must(t)(g.Take(ctx, g.techA, out, Take{}))
		c := g.count(t, StartCount{})
		g.clock.advance(time.Minute)
		for _, number := range []string{lost, out} {
			if _, err := g.SettleDifference(ctx, g.boss, c.ID, SettleDifference{Number: number, How: "missing"}); err != nil {
				t.Fatal(err)
			}
		}
		want := func(counts PlaceCounts, rows, paper string) {
			t.Helper()
			shown, err := g.Place(ctx, g.boss, "Bay 1/Cart")
			if err != nil || shown.PlaceCounts != counts {
				t.Errorf("%+v, %v; want %+v", shown.PlaceCounts, err, counts)
			}
			if tree, err := g.PlaceTree(ctx, g.boss); err != nil || tree[0].PlaceCounts != counts {
				t.Errorf("%+v, %v; want %+v", tree, err, counts)
			}
			var said, printed []string
			for _, row := range shown.Tools {
				r, err := (&directory{}).drawerRow(PlaceTool{ToolRow: ToolRow{State: "in place"}, MissingIn: row.MissingIn})
				if err != nil {
					t.Fatal(err)
				}
				said = append(said, r.Now)
			}
			sheet, err := g.SignOut(ctx, g.boss, "Bay 1")
			for _, row := range sheet.Rows {
				printed = append(printed, row.Now)
			}
			if got := strings.Join(said, "; "); got != rows {
				t.Errorf("%q, want %q", got, rows)
			}
			if got := strings.Join(printed, "; "); err != nil || got != paper {
				t.Errorf("%q, %v; want %q", got, err, paper)
			}
		}
		missing := "MISSING since count " + c.ID
		want(PlaceCounts{Belong: 3, InPlace: 1, Out: 1, Missing: 1}, missing+"; "+missing+"; in place", missing+"; "+missing+"; by the record out: Tech A; ")
		g.look(t, g.techA, c.ID, "seen", ScanCount{Scanned: lost})
		want(PlaceCounts{Belong: 3, InPlace: 2, Out: 1}, "in place; "+missing+"; in place", "; "+missing+"; by the record out: Tech A; ")
	})
}

// A record is not mended to a place that was closed, however the place is named.
func TestNoToolIsSettledIntoAClosedPlace(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		box, err := g.AddPlace(ctx, g.boss, "Bay 2/Box")
		if err != nil {
			t.Fatal(err)
		}
		number := g.tool(t, placed("Bay 1/Cart"))
		c := g.count(t, StartCount{})
		g.look(t, g.techA, c.ID, "seen elsewhere", ScanCount{Scanned: number, At: "Bay 2/Box"})
		if _, err := g.ClosePlace(ctx, g.boss, "Bay 2/Box"); err != nil {
			t.Fatal(err)
		}
		for _, at := range []string{"P/" + box.Code, "p/" + strings.ToLower(box.Code), box.ID, "Bay 2/Box"} {
			_, err := g.SettleDifference(ctx, g.boss, c.ID, SettleDifference{Number: number, How: "record mended", At: at})
			wantPointers(t, err, "#/at")
		}
		if v, err := g.Tool(ctx, g.boss, number); err != nil || v.Place != "Bay 1/Cart" {
			t.Errorf("%q, %v", v.Place, err)
		}
		_, err = g.ScanCount(ctx, g.techA, c.ID, ScanCount{Scanned: "P/" + box.Code})
		wantFault(t, err, fault.NotFound, "was closed", "since", "*")
	})
}

func (g *garage) numbers(t *testing.T, count string) string {
	t.Helper()
	v, err := g.Count(ctx, g.boss, count)
	if err != nil {
		t.Fatal(err)
	}
	return fmt.Sprintf("%+v %+v", v.Numbers, v.Statement)
}

// must fails the test unless an act was done.
func (g *garage) must(t *testing.T) func(Done, error) {
	return func(d Done, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
}

// A sample is drawn from what was kept before it, so that anybody can draw it again.
func TestASampleIsDrawnFromWhatWasKept(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		for range 20 {
			g.tool(t)
		}
		lines := g.lines(t)
		c := g.count(t, StartCount{How: counts.BySample, MissingAtLeast: 1, Confidence: ptr(0.95)})
		// 19 of 20: reference, money and statistics 4.1, an exact tie.
		if c.Drawn != 19 || c.Draw == nil || c.Draw.Chosen != nil || c.Draw.Checkpoint == "" || c.Redraw != "" || c.MissingAtLeast != 1 {
			t.Errorf("%+v %+v", c.Count, c.Draw)
		}
		if n := g.lines(t) - lines; n != 3 { // the draw, the count, its list
			t.Errorf("%d lines", n)
		}
		nonce, err := hex.DecodeString(c.Draw.Nonce)
		if err != nil {
			t.Fatal(err)
		}
		seed := counts.Seed([]byte(c.Draw.Checkpoint), nonce)
		if hex.EncodeToString(seed[:]) != c.Draw.Seed {
			t.Errorf("the seed %s is not that of its checkpoint and nonce", c.Draw.Seed)
		}
		g.wantDrawn(t, c.ID, counts.Draw(seed, 20, 19))

		chosen := g.count(t, StartCount{How: counts.BySample, MissingAtLeast: 5, Seed: ptr(int64(7))})
		if chosen.Redraw != c.ID || *chosen.Draw.Chosen != 7 || chosen.Draw.Nonce != "" || !strings.Contains(strings.Join(chosen.Advice, " "), "CHOSEN") {
			t.Errorf("%+v %+v", chosen.Count, chosen.Draw)
		}
		g.wantDrawn(t, chosen.ID, counts.Draw(counts.ChosenSeed(7), 20, int(chosen.Drawn)))
		v, err := g.CloseCount(ctx, g.boss, chosen.ID)
		if words := strings.Join(v.Statement.Words, " "); err != nil || !strings.Contains(words, "CHOSEN, NOT DRAWN: 7") || !strings.Contains(words, "DRAWN AGAIN") {
			t.Errorf("%q, %v", words, err)
		}
		// So many cannot be missing: all are looked for.
		if few := g.count(t, StartCount{How: counts.BySample, MissingAtLeast: 50}); few.Drawn != 20 {
			t.Errorf("%+v", few.Count)
		}
		if other := g.count(t, StartCount{Scope: "kind:Impact  wrench", How: counts.BySample}); other.Redraw != "" || other.MissingAtLeast != 2 || other.Confidence != "0.9" {
			t.Errorf("%+v", other.Count)
		}
	})
}

// wantDrawn holds the tools that are to be looked for to those positions of the list.
func (g *garage) wantDrawn(t *testing.T, count string, want []int) {
	t.Helper()
	var rows []counts.FrameRow
	var c counts.Count
	err := g.db.Read(ctx, func(rx *store.Rx) (err error) {
		if c, _, err = rx.Count(count); err == nil {
			rows, err = rx.FrameRows(count)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	frame, err := counts.ReadFrame(rows, c.Digest)
	var got []int
	for i, e := range frame {
		if e.Look {
			got = append(got, i)
		}
	}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("%d, %v; want %d", got, err, want)
	}
}
