package model

import (
	"strings"
	"testing"

	"pawl/model/fault"
	"pawl/model/register"
	"pawl/model/settings"
	"pawl/model/worth"
)

// What a tool is worth is entered by whoever may see its money and edit it; nobody
// else learns that it was.
func TestWhoEntersWorth(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		hers := g.tool(t, owned(g.techA))
		quote, judged := worth.NewQuote{Amount: "310.00", Source: "Brindle dealer", Date: "2020-01-02"}, worth.NewCondition{Share: "0.8", Reason: "anvil worn"}
		w, err := g.AddQuote(ctx, g.techA, hers, quote)
		if err != nil || w.Cost.Amount != 31_000 || w.Cost.Of != worth.FromQuote {
			t.Fatalf("%+v, %v", w.Cost, err)
		}
		if w, err = g.Judge(ctx, g.techA, hers, judged); err != nil || w.Value.Condition == nil {
			t.Fatalf("%+v, %v", w.Value, err)
		}
		for _, by := range []By{g.manager, g.techB} {
			_, err = g.AddQuote(ctx, by, hers, quote)
			wantFault(t, err, fault.Forbidden, "")
			_, err = g.Judge(ctx, by, hers, judged)
			wantFault(t, err, fault.Forbidden, "")
			_, err = g.ToolWorth(ctx, by, hers)
			wantFault(t, err, fault.NotFound, "its owner's to show")
			lines, err := g.Recent(ctx, by, hers, 0)
			if err != nil {
				t.Fatal(err)
			}
			for _, l := range lines {
				if (l.Noun == "quote" || l.Noun == "condition") && l.After != nil {
					t.Errorf("%s learns %v", by.Name, l.After)
				}
			}
		}
		_, err = g.AddQuote(ctx, g.techA, hers, quote)
		wantFault(t, err, fault.Conflict, "on record already", "since", "*")
		_, err = g.AddQuote(ctx, g.techA, hers, worth.NewQuote{Amount: "-1", Date: "2199-01-01"})
		wantPointers(t, err, "#/amount #/source #/date")
		if w, err = g.Judge(ctx, g.techA, hers, worth.NewCondition{}); err != nil || w.Value.Condition != nil {
			t.Errorf("%+v, %v", w.Value, err)
		}
		_, err = g.Judge(ctx, g.techA, hers, worth.NewCondition{})
		wantFault(t, err, fault.Conflict, "nothing is taken off")
	})
}

// The shop's own lives and its one index are a manager's to set; an act that changes
// nothing writes nothing.
func TestLivesAndIndexAreTheShops(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		csv := "series,area,base,month,value\nall items,the coast,2020=100,2021-03,100.5\n"
		life := worth.NewLife{Kind: "impact wrench", Months: "60", Floor: "0.1"}
		_, err := g.SetLife(ctx, g.techA, life)
		wantFault(t, err, fault.Forbidden, "")
		_, err = g.ImportIndex(ctx, g.techA, strings.NewReader(csv), false)
		wantFault(t, err, fault.Forbidden, "")
		_, err = g.EndIndex(ctx, g.techA)
		wantFault(t, err, fault.Forbidden, "")

		set, err := g.SetLife(ctx, g.manager, life)
		if err != nil || set.Months != 60 || !set.Set {
			t.Fatalf("%+v, %v", set, err)
		}
		_, err = g.EndLife(ctx, g.techA, set.ID)
		wantFault(t, err, fault.Forbidden, "")
		if r, err := g.ImportIndex(ctx, g.manager, strings.NewReader(csv), false); err != nil || r.Added != 1 {
			t.Fatalf("%+v, %v", r, err)
		}
		before := g.lines(t)
		if again, err := g.SetLife(ctx, g.manager, life); err != nil || again.ID != set.ID {
			t.Errorf("%+v, %v", again, err)
		}
		if r, err := g.ImportIndex(ctx, g.manager, strings.NewReader(csv), false); err != nil || r.Unchanged != 1 {
			t.Errorf("%+v, %v", r, err)
		}
		if n := g.lines(t); n != before {
			t.Errorf("%d lines for nothing", n-before)
		}
		life.Months = "72"
		if set, err = g.SetLife(ctx, g.manager, life); err != nil || set.Months != 72 {
			t.Errorf("%+v, %v", set, err)
		}
		if r, err := g.ImportIndex(ctx, g.manager, strings.NewReader(strings.Replace(csv, "100.5", "100.6", 1)), false); err != nil || r.Changed != 1 {
			t.Errorf("a revised value: %+v, %v", r, err)
		}
		_, err = g.ImportIndex(ctx, g.manager, strings.NewReader(strings.Replace(csv, "the coast", "the hills", 1)), true)
		wantFault(t, err, fault.Conflict, "goes by another index", "since", "*")
		if all, err := g.Lives(ctx, g.techA); err != nil || len(all) != len(worth.Classes)+1 {
			t.Errorf("%d lives, %v", len(all), err)
		}
		if _, err = g.EndLife(ctx, g.manager, set.ID); err != nil {
			t.Error(err)
		}
		_, err = g.EndLife(ctx, g.manager, set.ID)
		wantFault(t, err, fault.Conflict, "ended", "since", "*")
		if _, err = g.EndIndex(ctx, g.manager); err != nil {
			t.Error(err)
		}
		if points, err := g.PriceIndex(ctx, g.manager); err != nil || len(points) != 0 {
			t.Errorf("%v, %v", points, err)
		}
	})
}

// A policy is changed by who may see it, under the revision that was read.
func TestAPolicyIsChangedByItsOwner(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		hers, err := g.AddPolicy(ctx, g.techA, NewPolicy{Owner: "Tech A", NewPolicy: worth.NewPolicy{Name: "Own tools", Limit: "3000", Deductible: "100", Basis: "acv"}})
		if err != nil {
			t.Fatal(err)
		}
		limit, covers := "4000", true
		_, err = g.EditPolicy(ctx, g.manager, hers.ID, hers.Rev, PolicyChange{Limit: &limit})
		wantFault(t, err, fault.NotFound, "there is no policy")
		_, err = g.EditPolicy(ctx, g.techA, hers.ID, 0, PolicyChange{Limit: &limit})
		wantFault(t, err, fault.Precondition, "revision")
		_, err = g.EditPolicy(ctx, g.techA, hers.ID, hers.Rev, PolicyChange{Employees: &covers})
		wantPointers(t, err, "#/employees")
		now, err := g.EditPolicy(ctx, g.techA, hers.ID, hers.Rev, PolicyChange{Limit: &limit})
		if err != nil || *now.LimitAmount != 400_000 || *now.Policy.Deductible != 10_000 {
			t.Fatalf("%+v, %v", now.Policy, err)
		}
		_, err = g.EditPolicy(ctx, g.techA, hers.ID, hers.Rev, PolicyChange{Limit: &limit})
		wantFault(t, err, fault.Stale, "changed since")
		if _, err = g.EndPolicy(ctx, g.techA, hers.ID); err != nil {
			t.Fatal(err)
		}
		_, err = g.EditPolicy(ctx, g.techA, hers.ID, now.Rev+1, PolicyChange{Limit: &limit})
		wantFault(t, err, fault.Conflict, "ended", "since", "*")
	})
}

func priced(amount string) func(*register.New) {
	return func(in *register.New) { in.Price = ptr(amount) }
}

// The sum of what is listed is the total, to the cent, page by page.
func TestTheListAddsUp(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		for _, price := range []string{"100.01", "0.07", "33.33", "33.33"} {
			g.tool(t, priced(price))
		}
		g.tool(t)
		sum, cash, seen := int64(0), int64(0), 0
		for q := (WorthQuery{Limit: 2}); ; {
			v, err := g.Worth(ctx, g.manager, q)
			if err != nil {
				t.Fatal(err)
			}
			for _, w := range v.Tools {
				if seen++; w.Cost != nil {
					sum, cash = sum+w.Cost.Amount, cash+w.Value.ActualCash
				}
			}
			if q.Cursor = v.Next; q.Cursor == "" {
				if seen != 5 || sum != v.Total.Replacement || cash != v.Total.ActualCash || v.Total.Unpriced != 1 {
					t.Errorf("%d tools of %d and %d, in total %+v", seen, sum, cash, v.Total)
				}
				return
			}
		}
	})
}

// A policy in another currency than the shop's is held against nothing: its limit says
// nothing of tools in other money, and where it would answer for what is lost nobody can
// say what would be paid. Neither does what is asked in another currency add to a claim.
func TestNothingIsReckonedAcrossCurrencies(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t)
		_, c := g.insured(t, n)
		if _, err := g.AddQuote(ctx, g.manager, g.tool(t), worth.NewQuote{Amount: "900.00", Source: "Brindle dealer", Date: "2026-10-02"}); err != nil {
			t.Fatal(err)
		}
		if _, err := g.SetAmounts(ctx, g.manager, c.ID, []ClaimAmount{{Number: n, Amount: "600.00"}}); err != nil {
			t.Fatal(err)
		}
		if v, err := g.EditPolicy(ctx, g.manager, c.Policy, 1, PolicyChange{Coinsurance: ptr("0.8"), OtherCovered: ptr("0")}); err != nil || v.Foreign {
			t.Fatalf("%+v, %v", v, err)
		}
		look := func() (PolicyView, ClaimView, error) {
			t.Helper()
			w, err := g.Worth(ctx, g.manager, WorthQuery{})
			if err != nil || len(w.Policies) != 1 {
				t.Fatalf("%+v, %v", w.Policies, err)
			}
			v, err := g.Claim(ctx, g.manager, c.ID)
			if err != nil {
				t.Fatal(err)
			}
			_, lost := g.IfLost(ctx, g.manager, IfLost{Everything: true})
			return w.Policies[0], v, lost
		}
		p, v, lost := look()
		if asked, unsaid := v.Claimed(); p.Foreign || p.Adequacy == nil || asked != 60_000 || unsaid != 0 || lost != nil {
			t.Fatalf("in one currency: %+v, %d, %d, %v", p, asked, unsaid, lost)
		}
		set, err := g.Settings(ctx)
		if err == nil {
			_, err = g.ChangeSettings(ctx, g.manager, set.Rev, settings.Change{Currency: ptr("JPY")})
		}
		if err != nil {
			t.Fatal(err)
		}
		p, v, lost = look()
		if !p.Foreign || p.Adequacy != nil || p.Gap != 0 || !strings.Contains(p.Warning(), "in another currency") {
			t.Errorf("a policy in dollars is held against yen: %+v, %q", p, p.Warning())
		}
		if asked, unsaid := v.Claimed(); asked != 0 || unsaid != 1 || v.Tools[0].Amount != nil || !strings.Contains(strings.Join(v.Advice, " "), "What is asked for 1 tool was entered in USD") {
			t.Errorf("%d yen are asked, of %d nothing is said: %v", asked, unsaid, v.Advice)
		}
		wantFault(t, lost, fault.Invalid, `the policy "Shop contents" is in USD, and the tools are in JPY`)
		if _, err := g.SetAmounts(ctx, g.manager, c.ID, []ClaimAmount{{Number: n, Amount: "90000"}}); err != nil {
			t.Fatal(err)
		}
		if _, v, _ = look(); v.Tools[0].Amount == nil || *v.Tools[0].Amount != 90_000 || strings.Contains(strings.Join(v.Advice, " "), "was entered in") {
			t.Errorf("entered anew: %+v, %v", v.Tools[0].Amount, v.Advice)
		}
	})
}

// Where tools that a policy covers stand in no figure, a limit that seems to be enough is
// said to be so at best.
func TestALimitThatIsEnoughAtBest(t *testing.T) {
	g := openGarage(t, "sqlite")
	n := g.tool(t)
	if _, err := g.AddQuote(ctx, g.manager, n, worth.NewQuote{Amount: "900.00", Source: "Brindle dealer", Date: "2026-10-02"}); err != nil {
		t.Fatal(err)
	}
	if _, err := g.AddPolicy(ctx, g.manager, NewPolicy{NewPolicy: worth.NewPolicy{Name: "Shop contents", Limit: "18000", Deductible: "250", Basis: "rcv", Coinsurance: "0.8", OtherCovered: "0"}}); err != nil {
		t.Fatal(err)
	}
	warned := func() string {
		v, err := g.Worth(ctx, g.manager, WorthQuery{})
		if err != nil || v.Policies[0].Adequacy == nil {
			t.Fatalf("%+v, %v", v.Policies, err)
		}
		return v.Policies[0].Warning()
	}
	if said := warned(); said != "" {
		t.Errorf("every tool has a price: %q", said)
	}
	kind := "chain hoist"
	if _, err := g.Register(ctx, g.manager, register.New{Change: register.Change{Kind: &kind}}); err != nil {
		t.Fatal(err)
	}
	if said := warned(); !strings.Contains(said, "in no figure here") {
		t.Errorf("one has none: %q", said)
	}
}
