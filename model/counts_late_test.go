package model

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/counts"
	"pawl/model/fault"
	"pawl/model/register"
)

// A look that waited on a phone without a connection is judged by what was on record when
// it was made, whatever happened to the tool before it was sent.
func TestALookThatIsEnteredLate(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		if _, err := g.AddPlace(ctx, g.boss, "Bay 2"); err != nil {
			t.Fatal(err)
		}
		in := func() string { return g.tool(t, placed("Bay 1/Cart")) }
		taken, away, sold, home, out, lost, plain := in(), in(), in(), in(), in(), in(), in()
		g.must(t)(g.Take(ctx, g.techB, out, Take{}))
		g.clock.advance(time.Minute)
		before := g.clock.Now()
		g.clock.advance(time.Minute)
		c := g.count(t, StartCount{})
		g.clock.advance(time.Minute)
		looked := g.clock.Now().Format(time.RFC3339)
		g.clock.advance(time.Minute)

		g.must(t)(g.Take(ctx, g.techB, taken, Take{}))
		g.must(t)(g.Away(ctx, g.boss, away, Away{To: "Lab 1", For: "calibration"}))
		g.must(t)(g.Gone(ctx, g.boss, sold, Gone{Why: "sold"}))
		g.must(t)(g.Gone(ctx, g.boss, lost, Gone{Why: "lost"}))
		g.must(t)(g.ChangeTool(ctx, g.boss, home, AnyRevision, register.Change{Place: ptr("Bay 2")}))
		g.must(t)(g.Return(ctx, g.techB, out, Return{}))
		g.clock.advance(time.Minute)

		scan := func(number, happened string) ScanCount {
			return ScanCount{Scanned: number, At: "Bay 1/Cart", Happened: happened}
		}
		for _, number := range []string{taken, away, sold, home, lost} {
			d := g.look(t, g.techA, c.ID, "seen", scan(number, looked))
			if d.Why != "" || d.Seen.String() != looked {
				t.Errorf("%+v", d)
			}
		}
		if d := g.look(t, g.techA, c.ID, "seen elsewhere", scan(out, looked)); !strings.Contains(d.Why, "put away in Bay 1/Cart, and by the record out to Tech B") {
			t.Errorf("%+v", d)
		}
		// Another saw it since, somewhere else: the later look says where it is.
		g.look(t, g.techB, c.ID, "seen elsewhere", ScanCount{Scanned: plain, At: "Bay 2"})
		if d := g.look(t, g.techA, c.ID, SeenAlready, scan(plain, looked)); d.At != "Bay 2" || d.By != "Tech B" {
			t.Errorf("%+v", d)
		}
		rows, _, err := g.CountTools(ctx, g.boss, c.ID, CountToolsQuery{Which: "seen elsewhere"})
		if err != nil || len(rows) != 2 || rows[1].Seen.Place != "Bay 2" && rows[0].Seen.Place != "Bay 2" {
			t.Errorf("%+v, %v", rows, err)
		}
		for happened, says := range map[string]string{
			before.Format(time.RFC3339): "before the count", g.clock.Now().Add(time.Hour).Format(time.RFC3339): "in the future", "noon": "noon",
		} {
			_, err := g.ScanCount(ctx, g.techA, c.ID, scan(taken, happened))
			wantFault(t, err, fault.Invalid, says)
		}
		// A repeat under one key says when it was, and gives the first answer.
		keyed := g.techA
		keyed.Key = "phone-1"
		first, err := g.ScanCount(ctx, keyed, c.ID, ScanCount{Scanned: taken})
		if err != nil {
			t.Fatal(err)
		}
		again, err := g.ScanCount(ctx, keyed, c.ID, ScanCount{Scanned: taken, Happened: looked})
		if err != nil || again.Done != first.Done || again.Seen != first.Seen {
			t.Errorf("%+v, %v; first %+v", again, err, first)
		}
		v, err := g.CloseCount(ctx, g.boss, c.ID)
		if n := v.Numbers; err != nil || n.By[counts.Seen] != 5 || n.By[counts.SeenElsewhere] != 2 || n.Missing != 0 {
			t.Errorf("%+v, %v", n, err)
		}
	})
}

// A look that waited while its tool was settled as missing ends that, though it was made
// before: the count shows the tool as seen. A set of which a piece was seen to be missing
// before it was settled stays on the list, and so does a tool on somebody's word.
func TestALateLookEndsMissing(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		in := func() string { return g.tool(t, placed("Bay 1/Cart")) }
		late, whole, told := in(), in(), in()
		set := g.tool(t, placed("Bay 1/Cart"), func(n *register.New) { n.Pieces = &register.Pieces{{Name: "socket", Count: 3}} })
		g.must(t)(g.Take(ctx, g.techB, told, Take{}))
		g.clock.advance(time.Minute)
		c := g.count(t, StartCount{})
		g.clock.advance(time.Minute)
		looked := g.clock.Now().Format(time.RFC3339)
		g.look(t, g.techA, c.ID, "seen", ScanCount{Scanned: set, Missing: []string{"socket"}})
		if _, err := g.ConfirmCount(ctx, g.techB, c.ID, ConfirmCount{Number: told}); err != nil {
			t.Fatal(err)
		}
		g.must(t)(g.Gone(ctx, g.boss, told, Gone{Why: "lost"}))
		g.clock.advance(time.Minute)
		for _, number := range []string{late, whole, set, told} {
			if _, err := g.SettleDifference(ctx, g.boss, c.ID, SettleDifference{Number: number, How: "missing", Note: "searched"}); err != nil {
				t.Fatal(number, err)
			}
		}
		missing := func() (out []string) {
			all, _, err := g.MissingTools(ctx, g.boss, 0, "")
			if err != nil {
				t.Fatal(err)
			}
			for _, m := range all {
				out = append(out, m.Number.String())
			}
			slices.Sort(out)
			return out
		}
		want := func(numbers ...string) {
			t.Helper()
			slices.Sort(numbers)
			if got := missing(); !slices.Equal(got, numbers) {
				t.Errorf("missing: %q; want %q", got, numbers)
			}
			v, err := g.Place(ctx, g.boss, "Bay 1/Cart")
			if err != nil || v.PlaceCounts.Missing != int64(len(numbers)) {
				t.Errorf("the place says %d, %v; want %q", v.PlaceCounts.Missing, err, numbers)
			}
		}
		want(late, whole, set)
		g.clock.advance(time.Minute)
		g.look(t, g.techA, c.ID, "seen", ScanCount{Scanned: late, Happened: looked})
		want(whole, set)
		// Of the set, that a later look of this count is entered ends it as well.
		g.look(t, g.techA, c.ID, "seen", ScanCount{Scanned: set, Condition: "rusty", Happened: looked})
		want(whole)
	})
}
