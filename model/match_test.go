package model

import (
	"fmt"
	"runtime"
	"strings"
	"testing"

	"pawl/model/fault"
	"pawl/model/register"
)

// withSerial gives a new tool a maker and a serial.
func withSerial(maker, serial string) func(*register.New) {
	return func(in *register.New) { in.Maker, in.Serial, in.SerialAgain = ptr(maker), ptr(serial), serial }
}

// firstMatch is the likeliest tool of a reading.
func firstMatch(t *testing.T, s *Shop, by By, reading string) (number string, v MatchView) {
	t.Helper()
	v, err := s.Match(ctx, by, MatchQuery{Reading: reading})
	if err != nil {
		t.Fatal(reading, err)
	}
	if len(v.Candidates) > 0 {
		number = v.Candidates[0].Row.Number.String()
	}
	return number, v
}

// What was read ahead is what a question takes, and catches up as it does.
func TestSerialsReadAheadAreUsed(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		first := g.tool(t, withSerial("Brindle", "KD408B217"))
		other := g.open(t)
		if err := other.ReadSerials(ctx); err != nil {
			t.Fatal(err)
		}
		ahead := other.serials.ix
		if got, v := firstMatch(t, other, g.boss, "KD4?8B217"); ahead == nil || other.serials.ix != ahead || got != first || v.Registered != 1 {
			t.Fatalf("%p, read ahead %p: %s, want %s", other.serials.ix, ahead, got, first)
		}
		second := g.tool(t, withSerial("Torvik", "9330-0127"))
		if got, v := firstMatch(t, other, g.boss, "93?00127"); got != second || v.Registered != 2 {
			t.Errorf("%q of %d, want %s", got, v.Registered, second)
		}
	})
}

// What one process registers, changes or parts with, another one matches at once;
// asking writes nothing.
func TestMatchSeesWhatAnotherProcessDid(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		other := g.open(t)
		first := g.tool(t, withSerial("Brindle", "KD408B217"), owned(g.techA))
		for _, s := range []*Shop{g.Shop, other} {
			if got, v := firstMatch(t, s, g.techB, "KD4?8{B8}217"); got != first || v.Registered != 1 || v.Candidates[0].Posterior < 0.9 {
				t.Fatalf("%s, want %s: %+v", got, first, v)
			}
		}
		second := g.tool(t, withSerial("Torvik", "9330-0127"))
		if got, v := firstMatch(t, other, g.boss, "93?00127"); got != second || v.Registered != 2 {
			t.Errorf("the other process finds %q of %d, want %s", got, v.Registered, second)
		}
		v, err := g.Tool(ctx, g.boss, second)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := g.ChangeTool(ctx, g.boss, second, v.Tool.Rev, register.Change{Serial: ptr("TV-55881"), SerialAgain: ptr("TV-55881")}); err != nil {
			t.Fatal(err)
		}
		if got, v := firstMatch(t, other, g.boss, "TV5?881"); got != second || v.Registered != 2 {
			t.Errorf("after the change it is %q of %d, want %s", got, v.Registered, second)
		}
		if got, v := firstMatch(t, other, g.boss, "93300127"); got == second {
			t.Errorf("the serial that was is still found: %+v", v)
		}
		if _, err := g.Gone(ctx, g.boss, second, Gone{Why: "lost", Note: "out of the van"}); err != nil {
			t.Fatal(err)
		}
		_, view := firstMatch(t, other, g.boss, "TV5?881")
		if c := view.Candidates[0]; c.State() != "gone (lost)" {
			t.Errorf("a tool that is gone is %q", c.State())
		}
		before := g.lines(t)
		if _, err := other.MatchList(ctx, g.techB, strings.NewReader("reading\nKD4?8*\n"), ""); err != nil {
			t.Fatal(err)
		}
		firstMatch(t, other, g.boss, "TV5?881")
		if after := g.lines(t); after != before {
			t.Errorf("asking wrote %d lines", after-before)
		}
	})
}

func TestMatchRefuses(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		g.tool(t, withSerial("Brindle", "KD408B217"))
		for _, c := range []struct {
			q        MatchQuery
			pointers string
		}{
			{MatchQuery{Reading: "???"}, "#/reading"},
			{MatchQuery{Reading: "KD4#", Found: "street", Limit: 51}, "#/reading #/limit #/found"},
			{MatchQuery{Reading: "KD4", Maker: "Nobody"}, "#/maker"},
			{MatchQuery{Reading: "KD408B217", Kind: "wrench"}, "#/kind"},
			{MatchQuery{Reading: "KD408B217", Maker: "Brindle", Kind: "wrench"}, "#/kind"},
		} {
			_, err := g.Match(ctx, g.boss, c.q)
			wantPointers(t, err, c.pointers)
		}
		_, err := g.MatchList(ctx, g.boss, strings.NewReader("case\n1\n"), "bench")
		wantFault(t, err, fault.Invalid, "no column")
	})
}

// A list that calls a tool otherwise than the register does still finds it, and says
// that its kind was not used.
func TestAKindThatOthersSayHidesNoTool(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		number := g.tool(t, withSerial("Brindle", "KD408B217"))
		g.tool(t, withSerial("Brindle", "QX55191C2"), func(in *register.New) { in.Kind = ptr("grinder") })
		v, err := g.MatchList(ctx, g.boss, strings.NewReader("reading,kind,maker\nKD408B217,impact gun,Brindle\nKD408B217,grinder,\nQX55191C2,grinder,Unheard\n"), "others")
		if err != nil || len(v.Rows) != 3 {
			t.Fatal(v, err)
		}
		for i, said := range []string{"no serial on a tool of kind impact gun is registered; all kinds were looked at", "no tool of kind grinder fits as well as another; all kinds were looked at", "no serial of maker Unheard is registered; all makers were looked at"} {
			if got := v.Rows[i]; got.Said != said || len(got.Candidates) == 0 {
				t.Errorf("row %d says %q, of %+v; want %q", got.Row, got.Said, got.Candidates, said)
			}
		}
		if v.Rows[0].Assigned != number && v.Rows[1].Assigned != number {
			t.Errorf("%s is not found: %+v", number, v.Rows)
		}
	})
}

// A serial that is unlike its maker's others is asked about, by place, wherever it
// is entered, and stays as it was entered.
func TestOddSerials(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		var list strings.Builder
		list.WriteString("kind,maker,serial\n")
		for i := range 12 {
			fmt.Fprintf(&list, "jack,Brindle,KD%06d\n", i*37)
		}
		report, err := g.Import(ctx, g.boss, strings.NewReader(list.String()+"jack,Brindle,KD00O912\n"), SheetOptions{Format: "csv"})
		if err != nil {
			t.Fatal(err)
		}
		const asks = "character 5 is the letter O; there stands a digit in 12 of 12 others of Brindle"
		if len(report.Warnings) != 1 || report.Warnings[0].Row != 14 || !strings.Contains(report.Warnings[0].Detail, asks) {
			t.Errorf("the import warns %+v", report.Warnings)
		}
		number := g.tool(t, withSerial("Brindle", "KD00912"))
		v, err := g.Tool(ctx, g.boss, number)
		if err != nil || v.Tool.Serial != "KD00912" || !strings.Contains(v.Oddity, "it has 7 characters; 13 of 13 others have 8 of Brindle") || !strings.Contains(strings.Join(v.Advice, "\n"), v.Oddity) {
			t.Errorf("%q, %v", v.Oddity, err)
		}
		if _, err := g.ChangeTool(ctx, g.boss, number, v.Tool.Rev, register.Change{Serial: ptr("KD000912"), SerialAgain: ptr("KD000912")}); err != nil {
			t.Fatal(err)
		}
		if v, err = g.Tool(ctx, g.boss, number); err != nil || v.Oddity != "" {
			t.Errorf("after it was put right: %q, %v", v.Oddity, err)
		}
		other := g.tool(t, withSerial("Torvik", "KD00O9"))
		if v, err = g.Tool(ctx, g.boss, other); err != nil || v.Oddity != "" {
			t.Errorf("of a maker of whom nothing is known: %q, %v", v.Oddity, err)
		}
	})
}

// Once many tools came, their serials are sorted in beside the questions, which find all
// of them before, meanwhile and after.
func TestMatchSortsBesideQuestions(t *testing.T) {
	g := openGarage(t, "sqlite")
	g.tool(t, withSerial("Brindle", "KD408B217"))
	firstMatch(t, g.Shop, g.boss, "KD408B217")
	sorted := func() bool {
		g.serials.mu.Lock()
		defer g.serials.mu.Unlock()
		return g.serials.sorting == nil && !g.serials.ix.Crowded()
	}
	for i := range 70 {
		number := g.tool(t, withSerial("Torvik", fmt.Sprintf("93%05d", i*977)))
		if got, v := firstMatch(t, g.Shop, g.boss, fmt.Sprintf("93%05d", i*977)); got != number || v.Registered != i+2 {
			t.Fatalf("%d: %q of %d, want %s", i, got, v.Registered, number)
		}
	}
	for !sorted() { // so many are crowded until they are
		runtime.Gosched()
	}
	if got, v := firstMatch(t, g.Shop, g.boss, "9300977"); got == "" || v.Registered != 71 || v.Candidates[0].Posterior < 0.9 {
		t.Errorf("sorted, it is %q of %d", got, v.Registered)
	}
}
