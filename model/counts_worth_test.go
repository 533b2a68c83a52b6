package model

import (
	"strings"
	"testing"
	"time"

	"pawl/model/counts"
	"pawl/model/fault"
	"pawl/model/register"
)

// By worth: the dear ones all, of the others a sample; what has no price, or one that
// the asker may not know, is a class of its own and not left out.
func TestCountsByWorth(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		price := func(amount string) func(*register.New) {
			return func(in *register.New) { in.Price = ptr(amount) }
		}
		dear := g.tool(t, price("8000.00"))
		for range 60 {
			g.tool(t, price("10.00"))
		}
		hidden := g.tool(t, owned(g.techA), price("9000.00"))
		unpriced := g.tool(t)

		by := g.manager
		v, err := g.StartCount(ctx, by, StartCount{How: counts.ByStrata})
		if err != nil || v.Listed != 63 || v.Draw == nil || v.Count.Drawn == v.Listed || v.Confidence != "0.95" {
			t.Fatalf("%+v, %v", v.Count, err)
		}
		classes := map[string]string{}
		for _, e := range g.list(t, v.ID).frame {
			classes[e.Number.String()] = e.Stratum
		}
		if classes[dear] != counts.ClassA || classes[hidden] != counts.Unpriced || classes[unpriced] != counts.Unpriced {
			t.Errorf("%v", classes)
		}
		v, err = g.CloseCount(ctx, by, v.ID)
		if err != nil || v.Statement.AtMostMissing != 63 || !strings.Contains(strings.Join(v.Statement.Words, " "), "Class A: the one was to be looked for. Class B: ") ||
			!strings.Contains(strings.Join(v.Statement.Words, " "), "what the missing are worth is 8600.00 USD") { // nobody looked
			t.Errorf("%+v, %v", v.Statement, err)
		}
		g.wantNoAmounts(t, v.ID)

		v, err = g.StartCount(ctx, by, StartCount{How: counts.ByUnits, Tolerable: "1000.00"})
		if err != nil || *v.Tolerable != 100_000 || v.Count.Drawn < 3 {
			t.Fatalf("%+v, %v", v.Count, err)
		}
		for _, e := range g.list(t, v.ID).frame {
			if e.Look {
				g.look(t, g.techA, v.ID, "seen", ScanCount{Scanned: e.Number.String()})
			}
		}
		v, err = g.CloseCount(ctx, by, v.ID)
		// Without errors the bound is the interval times the factor, about what may be
		// missing: the interval is rounded down, and the factor 3.00.
		if err != nil || v.Statement.Missing != 0 || !strings.Contains(strings.Join(v.Statement.Words, " "), "at most 999.99 USD more than is there") {
			t.Errorf("%+v, %v", v.Statement, err)
		}
		g.wantNoAmounts(t, v.ID)
		_, err = g.StartCount(ctx, by, StartCount{How: counts.ByUnits, Tolerable: "0.00"})
		wantPointers(t, err, "#/tolerable")
	})
}

// wantNoAmounts: who may not know what the tools cost gets no amount of a count, nowhere.
func (g *garage) wantNoAmounts(t *testing.T, count string) {
	t.Helper()
	v, err := g.Count(ctx, g.techA, count)
	words := strings.Join(v.Statement.Words, " ")
	if err != nil || v.Tolerable != nil || v.Currency != "" || strings.Contains(words, "USD") || !strings.Contains(words, "shown to whoever may see what the shop's tools cost") {
		t.Errorf("%v, %q, %v", v.Tolerable, words, err)
	}
	all, _, err := g.Counts(ctx, g.techA, CountQuery{})
	if err != nil || all[0].ID != count || all[0].Tolerable != nil {
		t.Errorf("%+v, %v", all[0].Count, err)
	}
	var csv strings.Builder
	if err := g.CountCSV(ctx, g.techA, count, &csv); err != nil || strings.Contains(csv.String(), "USD") {
		t.Errorf("%s, %v", csv.String(), err)
	}
	if v, err := g.Count(ctx, g.manager, count); err != nil || v.Currency != "USD" || !strings.Contains(strings.Join(v.Statement.Words, " "), "USD") {
		t.Errorf("the manager sees %+v, %v", v.Statement, err)
	}
}

// list gives the list of a count.
func (g *garage) list(t *testing.T, count string) (l listed) {
	t.Helper()
	err := g.read(ctx, func(d *directory) error {
		c, err := countByID(d.Rx, count)
		if err == nil {
			l, err = g.frameOf(d.Rx, c)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// A count pauses for days; whoever goes on is asked to look again at the last place.
func TestACountPauses(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		a, b := g.tool(t, placed("Bay 1/Cart")), g.tool(t, placed("Bay 1/Cart"))
		c := g.count(t, StartCount{Scope: "place:Bay 1"})
		g.look(t, g.techA, c.ID, "seen", ScanCount{Scanned: a, At: "Bay 1/Cart"})
		if _, err := g.PauseCount(ctx, g.techB, c.ID); err != nil {
			t.Fatal(err)
		}
		_, err := g.ScanCount(ctx, g.techA, c.ID, ScanCount{Scanned: b})
		wantFault(t, err, fault.Conflict, "is paused", "by", "Tech B", "since", "*")
		g.clock.advance(48 * time.Hour)
		v, err := g.ResumeCount(ctx, g.techA, c.ID)
		if err != nil || v.Stage() != counts.Open || !strings.Contains(strings.Join(v.Advice, " "), "look again at all of Bay 1/Cart, where Tech A scanned last") {
			t.Errorf("%+v, %v", v.Advice, err)
		}
		_, err = g.ResumeCount(ctx, g.techA, c.ID)
		wantFault(t, err, fault.Conflict, "is not paused", "by", "*", "since", "*")
		g.look(t, g.techA, c.ID, "seen", ScanCount{Scanned: b})
		if v, err = g.Count(ctx, g.techA, c.ID); err != nil || len(v.Advice) != 0 || v.Numbers.Missing != 0 {
			t.Errorf("%+v, %v", v, err)
		}
	})
}

// Strata of somebody's own are kept with the count, said in its statement, and told in
// amounts only to whoever may know what the shop's tools cost.
func TestOwnStrataOfACount(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		for _, price := range []string{"900.00", "40.00", "30.00", "20.00"} {
			g.tool(t, func(in *register.New) { in.Price = ptr(price) })
		}
		g.tool(t)
		own := []string{"from=0,missing-at-least=2", "from=500,all", "unpriced,all"}
		v, err := g.StartCount(ctx, g.boss, StartCount{Strata: own})
		if err != nil || v.How != counts.ByStrata || v.Strata != "from=500.00,all\nfrom=0.00,missing-at-least=2,confidence=0.95\nunpriced,all" || v.Count.Drawn != 1+2+1 { // of three, one look may miss both: two cannot
			t.Fatalf("%+v, %v", v.Count, err)
		}
		classes := map[string]int{}
		for _, e := range g.list(t, v.ID).frame {
			classes[e.Stratum]++
		}
		if classes[counts.ClassA] != 1 || classes[counts.ClassB] != 3 || classes[counts.Unpriced] != 1 {
			t.Errorf("%v", classes)
		}
		closed, err := g.CloseCount(ctx, g.boss, v.ID)
		said := strings.Join(closed.Statement.Words, " ")
		if err != nil || !strings.Contains(said, "class A from 500.00 USD on: all; class B from 0.00 USD on: 2 or more missing") {
			t.Errorf("%s, %v", said, err)
		}
		for by, knows := range map[*By]bool{&g.boss: true, &g.manager: true, &g.techA: false} {
			v, err := g.Count(ctx, *by, v.ID)
			if err != nil {
				t.Fatal(err)
			}
			if said := strings.Join(v.Statement.Words, " "); strings.Contains(said, "500.00") != knows || (v.Strata != "") != knows {
				t.Errorf("%s is told %q, %s", by.Name, v.Strata, said)
			}
		}
		for how, in := range map[string]StartCount{"for a count by strata": {How: counts.BySample, Strata: own}, "no stratum": {Strata: []string{"from=500,all"}}} {
			_, err := g.StartCount(ctx, g.boss, in)
			wantFault(t, err, fault.Invalid, how)
		}
	})
}
