package model

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/fault"
	"pawl/model/markings"
	"pawl/model/register"
)

// A change of protection or of usage begins a term, in whatever order they are entered.
func TestTermsFollowFromOneAnother(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t, printedTool)
		g.graded(t, n, 4, "2026-10-10")
		v, err := g.Tool(ctx, g.boss, n)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := g.ChangeTool(ctx, g.boss, n, v.Tool.Rev, register.Change{Usage: ptr("weekly")}); err != nil { // 10-30
			t.Fatal(err)
		}
		m := g.mark(t, g.boss, n, markings.Entry{Protection: "clear tape", On: "2026-10-20"})
		if m.Markings[0].Protection != "clear tape" || len(m.Markings[0].Terms) != 4 {
			t.Fatalf("%+v", m.Markings[0])
		}
		again := g.mark(t, g.boss, n, markings.Entry{Protection: "clear tape", On: "2026-10-25"})
		if again.Recorded == "" || len(again.Markings[0].Terms) != 4 || len(again.Said) != 1 {
			t.Errorf("the same again: %+v", again)
		}
		g.clock.advance(30 * 24 * time.Hour)
		g.graded(t, n, 3, "")
		// 10 days daily none, 10 daily tape, 30 weekly tape.
		if f := g.forecast(t, n); math.Abs(f.Exposure-(10+10.0/6+30*0.2/6)) > 1e-9 {
			t.Errorf("exposure %v", f.Exposure)
		}
		tape := slices.IndexFunc(m.Markings[0].Terms, func(x TermView) bool { return x.Protection == "clear tape" })
		if _, err := g.WithdrawMarking(ctx, g.boss, n, m.Markings[0].Terms[tape].ID, "it was never taped"); err != nil {
			t.Fatal(err)
		}
		if f := g.forecast(t, n); math.Abs(f.Exposure-(20+30*0.2)) > 1e-9 {
			t.Errorf("exposure %v without the tape", f.Exposure)
		}
		if _, err := g.WithdrawMarking(ctx, g.boss, n, m.Markings[0].Terms[tape].ID, "twice"); !fault.Is(err, fault.Conflict) {
			t.Errorf("taken back twice: %v", err)
		}
	})
}

// One that is dated before the first takes its place by its day, and each can be taken
// back, the start among them: what was said before it holds on.
func TestATermBeforeTheFirst(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t, printedTool, func(in *register.New) { in.Bought = ptr("2026-09-15") })
		g.graded(t, n, 4, "2026-10-01")
		g.graded(t, n, 3, "2026-10-30")
		g.mark(t, g.boss, n, markings.Entry{Protection: "clear tape", On: "2026-10-20"})
		g.clock.advance(time.Second)
		v := g.mark(t, g.boss, n, markings.Entry{Protection: "lacquer", On: "2026-10-05"})
		terms := v.Markings[0].Terms
		if len(terms) != 3 || terms[0].From != "" || terms[1].From != "2026-10-05" || terms[2].From != "2026-10-20" || v.Markings[0].Protection != "clear tape" {
			t.Fatalf("%+v", v.Markings[0])
		}
		for _, c := range []struct {
			term     int
			exposure float64
			kept     markings.Protection
		}{
			{-1, 4 + 15.0/4 + 10.0/6, "clear tape"}, // none, lacquer, tape
			{2, 4 + 25.0/4, "lacquer"},
			{0, 4 + 25.0/4, "lacquer"}, // what nobody says counts as none
			{1, 29, ""},
		} {
			if c.term >= 0 {
				if v, err := g.WithdrawMarking(ctx, g.boss, n, terms[c.term].ID, "mistaken"); err != nil || v.Markings[0].Protection != c.kept {
					t.Errorf("without %+v it is protected by %q, %v", terms[c.term].Term, v.Markings[0].Protection, err)
				}
			}
			if f := g.forecast(t, n); math.Abs(f.Exposure-c.exposure) > 1e-9 {
				t.Errorf("after taking back %d the exposure is %v, not %v", c.term, f.Exposure, c.exposure)
			}
		}
	})
}

// That nothing protects a marking is said; that nobody said is something else.
func TestNoProtectionIsNotUnknown(t *testing.T) {
	g := openGarage(t, "sqlite")
	n := g.tool(t, func(in *register.New) { in.Usage, in.Marking = ptr("daily"), &register.MarkingEntry{Method: "printed"} })
	if v, err := g.Markings(ctx, g.boss, n); err != nil || v.Markings[0].Protection != "" {
		t.Fatalf("%+v, %v", v.Markings, err)
	}
	v := g.mark(t, g.boss, n, markings.Entry{Protection: "none"})
	if m := v.Markings[0]; m.Protection != "none" || len(m.Terms) != 1 || v.Recorded != m.Terms[0].ID {
		t.Errorf("%+v", m)
	}
	if v := g.mark(t, g.boss, n, markings.Entry{Protection: "none"}); len(v.Markings[0].Terms) != 1 || len(v.Said) != 1 {
		t.Errorf("the same again: %+v", v)
	}
	v = g.mark(t, g.boss, n, markings.Entry{Remark: "sticker"})
	if m, is := slices.IndexFunc(v.Markings, func(m MarkingView) bool { return m.ID == v.Current }), true; !is || v.Markings[m].Protection != "" {
		t.Errorf("a new plate of which nobody said: %+v", v.Markings)
	}
}

// How often a tool is used belongs to the tool: taken back at one of its markings it is
// taken back at all.
func TestUsageIsTakenBackForTheTool(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t, printedTool)
		g.clock.advance(time.Second)
		g.mark(t, g.boss, n, markings.Entry{OwnersNumber: "CA 4471 908", Method: "engraved"})
		if _, err := g.ChangeTool(ctx, g.boss, n, AnyRevision, register.Change{Usage: ptr("weekly")}); err != nil {
			t.Fatal(err)
		}
		v, err := g.Markings(ctx, g.boss, n)
		if err != nil || v.Usage != register.Weekly || len(v.Markings) != 2 {
			t.Fatalf("%+v, %v", v, err)
		}
		terms := v.Markings[1].Terms
		if v, err = g.WithdrawMarking(ctx, g.boss, n, terms[len(terms)-1].ID, "it was never weekly"); err != nil || v.Usage != register.Daily {
			t.Fatalf("used %q, %v", v.Usage, err)
		}
		for _, m := range v.Markings {
			for _, term := range m.Terms {
				if gone := term.Usage == register.Weekly; gone != (term.Withdrawn != 0) {
					t.Errorf("%s: %+v", m.ID, term.Term)
				}
			}
		}
	})
}

// A usage that an edit takes away holds up to that day and not on: from then on daily use
// is assumed, and said to be. It may be said again, and taking back that it is not said
// brings back what was.
func TestUsageThatIsNoLongerSaid(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t, printedTool, func(in *register.New) { in.Usage = ptr("weekly") })
		used := func(usage string, days int) {
			t.Helper()
			g.clock.advance(time.Duration(days) * 24 * time.Hour)
			if _, err := g.ChangeTool(ctx, g.boss, n, AnyRevision, register.Change{Usage: &usage}); err != nil {
				t.Fatal(err)
			}
		}
		exposed := func(want float64, assumed bool) {
			t.Helper()
			if f := g.forecast(t, n); math.Abs(f.Exposure-want) > 1e-9 || f.NoUsage != assumed {
				t.Errorf("exposure %v, want %v; usage assumed: %v", f.Exposure, want, f.NoUsage)
			}
		}
		g.graded(t, n, 4, "")
		used("", 10)
		g.clock.advance(10 * 24 * time.Hour)
		g.graded(t, n, 3, "")
		exposed(10*0.2+10, true)
		used("rare", 0)
		g.clock.advance(10 * 24 * time.Hour)
		g.graded(t, n, 2, "")
		exposed(10*0.2+10+10*0.03, false)

		v, err := g.Markings(ctx, g.boss, n)
		if err != nil {
			t.Fatal(err)
		}
		terms := v.Markings[0].Terms
		at := slices.IndexFunc(terms, func(x TermView) bool { return x.Usage == markings.NotSaid })
		if len(terms) != 3 || at < 0 {
			t.Fatalf("terms %+v", terms)
		}
		if _, err := g.WithdrawMarking(ctx, g.boss, n, terms[at].ID, "it was weekly all along"); err != nil {
			t.Fatal(err)
		}
		exposed(20*0.2+10*0.03, false)
	})
}

// Of a tool that was bought used, or came in exchange, nobody knows how worn its marking
// was: there is no forecast until somebody looks, and it says why to whoever may know.
func TestWhatWasNotNewStartsUnknown(t *testing.T) {
	g := openGarage(t, "sqlite")
	mine := func(in *register.New) { in.Owner, in.Bought = ptr("Tech A"), ptr("2026-10-01") }
	fresh := g.tool(t, printedTool, mine)
	used := g.tool(t, printedTool, mine, func(in *register.New) { in.BoughtAs = ptr("used") })
	old := g.tool(t, printedTool, mine, func(in *register.New) { in.Serial, in.SerialAgain = ptr("KD1"), "KD1" })
	swapped, err := g.Swap(ctx, g.techA, old, Swap{Serial: "KD2", SerialAgain: "KD2"})
	if err != nil {
		t.Fatal(err)
	}
	other := swapped.New.Number.String()
	if _, err := g.ChangeTool(ctx, g.techA, other, AnyRevision, register.Change{Marking: &register.MarkingEntry{Method: "printed"}}); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		n    string
		by   By
		want WhyNot
		says string
	}{
		{fresh, g.techA, "", "assumed to have been bought new, and crisp then, on 2026-10-01"},
		{fresh, g.techB, "", "assumed to have been bought new, and crisp then"},
		{used, g.techA, BoughtUsed, "it was bought used"},
		{used, g.techB, NeverLooked, "nobody knows when it was new"},
		{other, g.techA, CameInExchange, "it came in exchange"},
	} {
		f, err := g.MarkingForecast(ctx, c.by, c.n, "")
		if err != nil || f.WhyNot != c.want || !strings.Contains(f.Words(), c.says) || (f.UnreadableToday == nil) != (c.want != "") || f.Assumed != (c.want == "") {
			t.Errorf("%s: %+v: %s, %v", c.n, f, f.Words(), err)
		}
		if c.by == g.techB && strings.Contains(f.Words(), "2026-10-01") {
			t.Errorf("the day of purchase is told: %s", f.Words())
		}
	}
	round, err := g.MarkingRound(ctx, g.techA, RoundQuery{})
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range []string{used, other} {
		at := slices.IndexFunc(round.Rows, func(r RoundRow) bool { return r.Number.String() == n })
		if at < 0 || !slices.Contains(round.Rows[at].Reasons, markings.LookAtFirst) {
			t.Errorf("%s on the round: %+v", n, round.Rows)
		}
	}
	g.graded(t, used, 3, "")
	if f := g.forecast(t, used); f.WhyNot != "" || f.Expected == "" {
		t.Errorf("looked at: %+v", f)
	}
}
