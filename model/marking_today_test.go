package model

import (
	"reflect"
	"testing"
	"time"

	"pawl/model/markings"
	"pawl/model/numbers"
	"pawl/model/register"
)

// keptRound is the round of somebody as the shop has it now.
func (g *garage) keptRound(t *testing.T, by By) *roundMaking {
	t.Helper()
	m, err := g.roundMade(ctx, by)
	if err != nil {
		t.Fatal(err)
	}
	if <-m.done; m.err != nil {
		t.Fatal(m.err)
	}
	return m
}

// The round is reckoned once and kept, until something is done that it rests on, whoever
// does it, or a new day comes; then it says what a shop says that keeps nothing.
func TestTheKeptRoundForgets(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		var all []string
		for range 4 {
			all = append(all, g.tool(t, printedTool, placed("Bay 1/Cart")))
		}
		other := g.open(t) // as another process would
		looks := func(s *Shop, in markings.Entry) {
			t.Helper()
			if _, err := s.Mark(ctx, g.boss, all[0], in); err != nil {
				t.Fatal(err)
			}
		}
		for _, c := range []struct {
			after   string
			forgets bool
			do      func()
		}{
			{"nothing", false, func() {}},
			{"a look", true, func() { looks(g.Shop, markings.Entry{Grade: ptr(int64(2))}) }},
			{"a term", true, func() { looks(g.Shop, markings.Entry{Protection: "clear tape"}) }},
			{"a look through another process", true, func() { looks(other, markings.Entry{Grade: ptr(int64(1))}) }},
			{"a tool that moved", true, func() {
				if _, err := g.ChangeTool(ctx, g.boss, all[1], AnyRevision, register.Change{Place: ptr("")}); err != nil {
					t.Fatal(err)
				}
			}},
			{"a tool that is gone", true, func() { g.must(t)(g.Gone(ctx, g.boss, all[2], Gone{Why: "sold"})) }},
			{"a tool that came", true, func() { g.tool(t, printedTool) }},
			{"a plate photo", true, func() {
				sha := g.upload(t, g.boss, picture(3))
				g.must(t)(g.Attach(ctx, g.boss, all[3], []register.Attach{{SHA256: sha, Kind: "plate", Name: "plate.jpg"}}))
			}},
			{"somebody who came, on whom it does not rest", false, func() { g.hire(t, "Tech N", "technician") }},
			{"another day", true, func() { g.clock.advance(24 * time.Hour) }},
		} {
			before := g.keptRound(t, g.boss)
			c.do()
			after := g.keptRound(t, g.boss)
			if (before != after) != c.forgets {
				t.Errorf("after %s it was reckoned anew: %v, want %v", c.after, before != after, c.forgets)
			}
			v, walk, err := other.walk(ctx, g.boss)
			if err != nil || !reflect.DeepEqual(after.view, v) || !reflect.DeepEqual(after.walk, walk) {
				t.Errorf("after %s:\n%+v of %v\nwant %+v of %v, %v", c.after, after.view, after.walk, v, walk, err)
			}
		}
	})
}

// A step of the round counts what is left from a tool on, and names the one after it; of
// a tool that is not on it, the first.
func TestStepsOfTheRound(t *testing.T) {
	g := openGarage(t, "sqlite")
	for range 3 {
		g.tool(t, printedTool, placed("Bay 1/Cart"))
	}
	off := g.tool(t, placed("Bay 1/Cart"))
	behind := g.tool(t) // no place: last of all
	v, err := g.MarkingRound(ctx, g.techA, RoundQuery{All: true})
	if err != nil || len(v.Rows) != 3 {
		t.Fatal(v.Rows, err)
	}
	one, two, three := v.Rows[0].Number, v.Rows[1].Number, v.Rows[2].Number
	for n, want := range map[numbers.Number]RoundStep{one: {3, two}, two: {2, three}, three: {Left: 1}, numbers.Number(off): {Next: one}, numbers.Number(behind): {}} {
		if got, err := g.RoundStep(ctx, g.techA, n); err != nil || got != want {
			t.Errorf("at %s: %+v, want %+v, %v", n, got, want, err)
		}
	}
	// What is to be seen to stays on the round, and nobody is sent there again that day.
	g.mark(t, g.boss, two.String(), markings.Entry{Grade: ptr(int64(2))})
	if v, err := g.MarkingRound(ctx, g.techA, RoundQuery{}); err != nil || v.All != 3 {
		t.Fatalf("%d on the round, %v", v.All, err)
	}
	sent := map[numbers.Number]bool{}
	for at, n := 0, numbers.Number(off); at < 3; at++ {
		step, err := g.RoundStep(ctx, g.techA, n)
		if err != nil {
			t.Fatal(err)
		}
		if n = step.Next; n == "" {
			break
		}
		sent[n] = true
	}
	if looked, err := g.RoundStep(ctx, g.techA, two); err != nil || looked.Left != 0 || sent[two] || !sent[one] || !sent[three] {
		t.Errorf("sent to %v; at the one that was looked at %+v, %v", sent, looked, err)
	}
}

// One tool is one tool on the sheet of the round, and two are two.
func TestTheSheetOfARoundCounts(t *testing.T) {
	g := openGarage(t, "sqlite")
	for range 2 {
		g.graded(t, g.tool(t, printedTool), 4, "2026-09-01")
	}
	v, err := g.MarkingRound(ctx, g.boss, RoundQuery{})
	if err != nil || len(v.Rows) != 2 {
		t.Fatalf("%+v, %v", v, err)
	}
	for _, c := range []struct {
		rows, unmarked int
		want           string
	}{
		{0, 0, "0 markings"},
		{1, 1, "1 marking; not among them: 1 tool with a serial of which nobody recorded how it is marked"},
		{2, 2, "2 markings; not among them: 2 tools with a serial of which nobody recorded how it is marked"},
	} {
		err := g.read(ctx, func(d *directory) error {
			sheet, err := d.roundSheet(RoundView{Today: v.Today, Unmarked: c.unmarked}, v.Rows[:c.rows])
			if sheet.Of != c.want {
				t.Errorf("of %d and %d: %q, want %q", c.rows, c.unmarked, sheet.Of, c.want)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
}
