package model

import (
	"bytes"
	"errors"
	"io"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"pawl/model/claims"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/register"
	"pawl/model/worth"
)

// lineNamed is how a line of a loss stands on papers.
func lineNamed(t *testing.T, st claims.Statement, number string) claims.Line {
	t.Helper()
	at := slices.IndexFunc(st.Lines, func(l claims.Line) bool { return l.Number == number })
	if at < 0 {
		t.Fatalf("%s is in no line of %+v", number, st.Lines)
	}
	return st.Lines[at]
}

// insured is a loss of tools of the shop's that it claims.
func (g *garage) insured(t *testing.T, tools ...string) (LossView, ClaimView) {
	t.Helper()
	if _, err := g.AddPolicy(ctx, g.manager, NewPolicy{NewPolicy: worth.NewPolicy{Name: "Shop contents", Limit: "18000", Deductible: "250", Basis: "rcv"}}); err != nil {
		t.Fatal(err)
	}
	g.clock.advance(time.Hour)
	v := g.lossOf(t, g.manager, StartLoss{Found: "2026-10-30T12:30", Tools: tools})
	c, err := g.OpenClaim(ctx, g.manager, NewClaim{Kind: "insurance", Loss: v.ID, Policy: "Shop contents"})
	if err != nil {
		t.Fatal(err)
	}
	if v, err = g.ConfirmLoss(ctx, g.manager, v.ID, LossTools{}); err != nil {
		t.Fatal(err)
	}
	return v, c
}

// A tool that came back and is missing again stands with its new line; the old one is said
// to be struck out where it was given out, and papers are drawn all the same.
func TestMissingAgain(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		a, b := g.tool(t), g.tool(t)
		v, c := g.insured(t, a, b)
		g.packetOf(t, g.manager, NewPacket{Claim: c.ID})
		g.clock.advance(time.Hour)
		if _, err := g.Recover(ctx, g.manager, Recovered{Number: a}); err != nil {
			t.Fatal(err)
		}
		if _, err := g.AddToLoss(ctx, g.manager, v.ID, LossTools{Numbers: []string{a}}); err != nil {
			t.Fatal(err)
		}
		st := g.packetOf(t, g.manager, NewPacket{Claim: c.ID}).Statement
		if len(st.Lines) != 2 || lineNamed(t, st, a).Line != 3 || lineNamed(t, st, b).Line != 2 || st.Supplement != 2 {
			t.Fatalf("%+v", st.Lines)
		}
		if len(st.Off) != 1 || st.Off[0].Line != 1 || st.Off[0].Number != a || !strings.Contains(st.Off[0].Why, "missing again as line 3") {
			t.Errorf("%+v", st.Off)
		}
		var out bytes.Buffer
		if err := g.PoliceSheet(ctx, g.manager, v.ID, &out); err != nil {
			t.Error(err)
		}
	})
}

// A line that was withdrawn after its list was given out is told of, and the supplement
// does not go back. One that no paper ever held is not.
func TestWithdrawnIsSaid(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		a, b, late := g.tool(t), g.tool(t), g.tool(t)
		v, c := g.insured(t, a, b)
		if _, err := g.WithdrawFromLoss(ctx, g.manager, v.ID, WithdrawFromLoss{Number: b, Why: "in the van"}); err != nil {
			t.Fatal(err)
		}
		if st := g.packetOf(t, g.manager, NewPacket{Claim: c.ID}).Statement; len(st.Off) != 0 || st.Supplement != 1 {
			t.Errorf("no paper held it: %+v", st.Off)
		}
		if _, err := g.AddToLoss(ctx, g.manager, v.ID, LossTools{Numbers: []string{late}}); err != nil {
			t.Fatal(err)
		}
		g.clock.advance(time.Hour)
		if st := g.packetOf(t, g.manager, NewPacket{Claim: c.ID}).Statement; st.Supplement != 2 || lineNamed(t, st, late).Line != 3 {
			t.Fatalf("%+v", st.Lines)
		}
		g.clock.advance(time.Hour)
		if _, err := g.WithdrawFromLoss(ctx, g.manager, v.ID, WithdrawFromLoss{Number: late, Why: "at the dealer"}); err != nil {
			t.Fatal(err)
		}
		g.clock.advance(time.Hour)
		st := g.packetOf(t, g.manager, NewPacket{Claim: c.ID}).Statement
		if st.Supplement != 2 || len(st.Lines) != 1 || len(st.Off) != 1 || st.Off[0].Line != 3 || st.Off[0].Why != "withdrawn: at the dealer" {
			t.Errorf("supplement %d, %+v", st.Supplement, st.Off)
		}
	})
}

// A claim of which every tool was withdrawn says that nothing is claimed any more, and makes
// no packet; with a tool that is there it says nothing of the sort.
func TestNothingIsLeftOfAClaim(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		a := g.tool(t)
		v, c := g.insured(t, a)
		says := func(want bool) {
			t.Helper()
			got, err := g.Claim(ctx, g.manager, c.ID)
			if said := strings.Join(got.Advice, " "); err != nil || strings.Contains(said, "NOTHING IS CLAIMED any more") != want || strings.Contains(said, "recorded as covering") {
				t.Errorf("%v: %s", err, said)
			}
		}
		says(false)
		if _, err := g.WithdrawFromLoss(ctx, g.manager, v.ID, WithdrawFromLoss{Number: a, Why: "in the van"}); err != nil {
			t.Fatal(err)
		}
		says(true)
		_, err := g.BuildPacket(ctx, g.manager, NewPacket{Claim: c.ID})
		wantFault(t, err, fault.Refused, "no tool that this packet may hold")
		if f := fault.Of(err); !strings.Contains(f.Hint, "every tool of the loss was withdrawn from it") {
			t.Errorf("%q", f.Hint)
		}
		if _, err := g.AddToLoss(ctx, g.manager, v.ID, LossTools{Numbers: []string{a}}); err != nil {
			t.Fatal(err)
		}
		says(false)
	})
}

// A tool that came back after it was gone is in its place since then, and not since it went:
// it was taken by nobody in between, and what somebody saw of it before is no longer so.
func TestWhoHasAToolBeginsAnewWhenItCameBack(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		lost, scrapped, never := g.tool(t), g.tool(t), g.tool(t)
		for _, n := range []string{lost, scrapped} {
			if _, err := g.Take(ctx, g.techA, n, Take{Job: "1042"}); err != nil {
				t.Fatal(err)
			}
			if _, err := g.Return(ctx, g.techA, n, Return{}); err != nil {
				t.Fatal(err)
			}
		}
		g.clock.advance(time.Hour)
		g.insured(t, lost, never)
		seen := map[string]string{}
		for _, n := range []string{lost, scrapped, never} {
			v, err := g.Tool(ctx, g.techA, n)
			if err != nil {
				t.Fatal(err)
			}
			seen[n] = v.Custody.Since.String()
		}
		if _, err := g.Gone(ctx, g.boss, scrapped, Gone{Why: "scrapped"}); err != nil {
			t.Fatal(err)
		}
		g.clock.advance(48 * time.Hour)
		between := g.clock.Now().Add(-24 * time.Hour).Format(time.RFC3339)
		for _, n := range []string{lost, never} {
			if _, err := g.Recover(ctx, g.manager, Recovered{Number: n}); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := g.Back(ctx, g.manager, scrapped, Back{}); err != nil {
			t.Fatal(err)
		}
		back := dates.InstantOf(g.clock.Now())
		for name, n := range map[string]string{"lost": lost, "scrapped": scrapped, "lost, and never taken": never} {
			v, err := g.Tool(ctx, g.techA, n)
			if err != nil || v.Custody.State != custody.InPlace || v.Custody.Since < back-dates.Instant(time.Minute.Microseconds()) {
				t.Errorf("%s: %s since %s, %v; it was back at %s", name, v.Custody.State, v.Custody.Since, err, back)
			}
			if _, err := g.Clear(ctx, g.manager, n, Clear{Why: "looked over"}); err != nil {
				t.Fatal(err)
			}
			_, err = g.Undo(ctx, g.techA, n, Undo{Since: v.Custody.Since.String()})
			wantFault(t, err, fault.Conflict, "neither a take nor a return")
			_, err = g.Take(ctx, g.techA, n, Take{Happened: between})
			wantFault(t, err, fault.Invalid, "before the last change of custody")
			_, err = g.Take(ctx, g.techA, n, Take{Since: seen[n]})
			wantFault(t, err, fault.Conflict, "custody changed since")
			if _, err := g.Take(ctx, g.techA, n, Take{Since: v.Custody.Since.String()}); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
	})
}

// What is due says how much of a claim may still be asked for, as far as that is on record, to
// whoever may see the claim; a calendar holds no amount.
func TestHowMuchOfAClaimIsLeft(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		a, b := g.tool(t), g.tool(t)
		_, c := g.insured(t, a, b)
		asked := func(number, amount string) {
			t.Helper()
			if _, err := g.SetAmounts(ctx, g.manager, c.ID, []ClaimAmount{{Number: number, Amount: amount}}); err != nil {
				t.Fatal(err)
			}
		}
		paid := func(amount string, part claims.Payment) {
			t.Helper()
			if _, err := g.AddFact(ctx, g.manager, c.ID, NewFact{On: "2026-10-30", What: "payment", Amount: amount, Payment: string(part)}); err != nil {
				t.Fatal(err)
			}
		}
		left := func(want string) {
			t.Helper()
			v, err := g.Due(ctx, g.manager, DueQuery{Sort: "claim", Within: ptr(400)})
			got := []string{}
			for _, r := range v.Rows {
				got = append(got, r.Paid)
			}
			if err != nil || strings.Join(got, "|") != want {
				t.Errorf("%q, %v; want %q", got, err, want)
			}
			if v, err := g.Due(ctx, g.techB, DueQuery{Sort: "claim", Within: ptr(400)}); err != nil || len(v.Rows) > 0 {
				t.Errorf("whoever may not see the claim: %+v, %v", v.Rows, err)
			}
			var out bytes.Buffer
			if err := g.WriteDue(ctx, g.manager, DueQuery{}, &out); err != nil || strings.Contains(out.String(), "paid so far") {
				t.Errorf("a calendar: %v\n%s", err, out.String())
			}
		}
		left("")
		asked(a, "600.00")
		paid("250.00", claims.PaidActualCash)
		left("paid so far 250.00 USD; not all that is asked is on record, so what is left is NOT KNOWN")
		asked(b, "400.00")
		left("paid so far 250.00 USD of 1000.00 USD that is asked: at most 750.00 USD is left")
		paid("900.00", claims.PaidActualCash)
		left("paid so far 1150.00 USD of 1000.00 USD that is asked: at most 0.00 USD is left")
		paid("0", claims.PaidRest)
		left("")
	})
}

// A line that reads otherwise than on papers given out is marked, so that the police get it
// again with the next sheet.
func TestRewordedIsMarked(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		a, late := g.tool(t), g.tool(t)
		v, c := g.insured(t, a)
		g.packetOf(t, g.manager, NewPacket{Claim: c.ID})
		g.clock.advance(time.Hour)
		if _, err := g.AddToLoss(ctx, g.manager, v.ID, LossTools{Numbers: []string{late}}); err != nil {
			t.Fatal(err)
		}
		if _, err := g.ChangeTool(ctx, g.manager, a, AnyRevision, register.Change{Maker: ptr("Kestrel")}); err != nil {
			t.Fatal(err)
		}
		if list, err := g.listOfLoss(ctx, g.manager, v.ID); err != nil || !list.Mended(lineNamed(t, list, a)) {
			t.Errorf("%+v, %v", list.Lines, err)
		}
		p := g.packetOf(t, g.manager, NewPacket{Claim: c.ID, Reworded: true})
		st := p.Statement
		if l := lineNamed(t, st, a); !l.Reworded || !st.Mended(l) {
			t.Errorf("%+v", l)
		}
		if l := lineNamed(t, st, late); l.Reworded || st.Mended(l) {
			t.Errorf("%+v", l)
		}
		if again, err := g.Packet(ctx, g.manager, p.ID, true); err != nil || len(again.Changed) != 0 {
			t.Errorf("%q, %v", again.Changed, err)
		}
	})
}

// The police get a stolen tool of somebody outside too, under its owner's name and without
// money; a claim does not.
func TestOutsidersAreOnThePoliceSheet(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		a := g.tool(t)
		loaner := g.tool(t, func(in *register.New) { in.OwnerOutside = ptr("Parts store") })
		v, c := g.insured(t, a, loaner)
		list, err := g.listOfLoss(ctx, g.manager, v.ID)
		if err != nil {
			t.Fatal(err)
		}
		l := lineNamed(t, list, loaner)
		if l.Owner != "Parts store" || l.Money || l.Price != nil || l.Replacement != nil {
			t.Errorf("%+v", l)
		}
		p := g.packetOf(t, g.manager, NewPacket{Claim: c.ID})
		if len(p.Statement.Lines) != 1 {
			t.Errorf("%+v", p.Statement.Lines)
		}
		const said = "not asked here: it belongs to Parts store"
		if at := slices.IndexFunc(p.Left, func(l claims.LeftOut) bool { return l.Number == loaner }); at < 0 || !strings.HasPrefix(p.Left[at].Why, said) {
			t.Errorf("%+v", p.Left)
		}
		if shown, err := g.Claim(ctx, g.manager, c.ID); err != nil || len(shown.LeftOut) != 1 || !strings.HasPrefix(shown.LeftOut[0].Why, said) {
			t.Errorf("%+v, %v", shown.LeftOut, err)
		}
	})
}

// What a new one costs is entered after a theft too, and of no tool that is gone otherwise.
func TestQuoteForAStolenTool(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		a, sold := g.tool(t), g.tool(t)
		if _, err := g.Gone(ctx, g.manager, sold, Gone{Why: "sold"}); err != nil {
			t.Fatal(err)
		}
		_, c := g.insured(t, a)
		quote := worth.NewQuote{Amount: "649.00", Source: "Gannet Tool Counter", Date: "2026-10-30"}
		if _, err := g.AddQuote(ctx, g.manager, a, quote); err != nil {
			t.Fatal(err)
		}
		if l := lineNamed(t, g.packetOf(t, g.manager, NewPacket{Claim: c.ID}).Statement, a); l.Replacement == nil || *l.Replacement != 64_900 {
			t.Errorf("%+v", l)
		}
		if _, err := g.Judge(ctx, g.manager, a, worth.NewCondition{Share: "0.1", Reason: "worn anvil"}); err != nil {
			t.Error(err)
		}
		_, err := g.AddQuote(ctx, g.manager, sold, quote)
		wantFault(t, err, fault.Conflict, "is gone: sold")
		file := "number,amount,source,date\n" + a + ",655.00,Gannet Tool Counter,2026-10-29\n"
		if r, err := g.ImportQuotes(ctx, g.manager, strings.NewReader(file), false); err != nil || r.Added != 1 {
			t.Errorf("%+v, %v", r, err)
		}
		_, err = g.ImportQuotes(ctx, g.manager, strings.NewReader(file+sold+",1.00,x,2026-10-29\n"), false)
		wantPointers(t, err, "#/rows/3/number")
	})
}

// What a used one sells for is on a packet where that was asked for, and in no sum of worth.
func TestMarketValueOfATool(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		a := g.tool(t)
		_, c := g.insured(t, a)
		used := worth.NewQuote{Amount: "380.00", Source: "Gannet used tools", Date: "2026-10-29", Basis: "Market"}
		w, err := g.AddQuote(ctx, g.manager, a, used)
		if err != nil || w.Cost != nil {
			t.Fatalf("%+v, %v", w.Cost, err)
		}
		_, err = g.AddQuote(ctx, g.manager, a, worth.NewQuote{Amount: "380.00", Source: "x", Date: "2026-10-29", Basis: "guess"})
		wantPointers(t, err, "#/basis")
		used.Basis = "replacement" // another figure, although all else is the same
		if w, err = g.AddQuote(ctx, g.manager, a, used); err != nil || w.Cost.Amount != 38_000 {
			t.Fatalf("%+v, %v", w.Cost, err)
		}
		file := "number,amount,source,date,basis\n" + a + ",395.00,Gannet used tools,2026-10-30,market\n"
		if r, err := g.ImportQuotes(ctx, g.manager, strings.NewReader(file), false); err != nil || r.Added != 1 {
			t.Fatalf("%+v, %v", r, err)
		}
		plain := g.packetOf(t, g.manager, NewPacket{Claim: c.ID})
		if l := plain.Statement.Lines[0]; l.Market != nil || *l.Replacement != 38_000 {
			t.Errorf("%+v", l)
		}
		proven := func(v PacketView) bool {
			t.Helper()
			lines, err := bagOf(t, g.annexOf(t, v)).Text("proof/lines.jsonl", 1<<20)
			if err != nil || !strings.Contains(lines, `\"noun\":\"quote\"`) {
				t.Fatalf("no quote is in the proofs: %v", err)
			}
			return strings.Contains(lines, `\"basis\":\"market\"`)
		}
		if proven(plain) {
			t.Error("a market value that was not asked for is in the proofs")
		}
		added := g.packetOf(t, g.manager, NewPacket{Claim: c.ID, Add: []string{"market"}})
		l := added.Statement.Lines[0]
		if l.Market == nil || *l.Market != 39_500 || l.MarketWords() != "Gannet used tools, 2026-10-30" || *l.Replacement != 38_000 {
			t.Errorf("%+v", l)
		}
		if !proven(added) {
			t.Error("the market value that was asked for is not in the proofs")
		}
	})
}

// A look at the police sheet records nothing. The one that is handed over is kept, once, and
// drawn again to the byte until something is recorded otherwise; a packet that is built later
// says what that was, and a sheet that says otherwise can be given out anew.
func TestThePoliceSheetIsKept(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		a := g.tool(t)
		v, c := g.insured(t, a)
		drawn := func() string {
			t.Helper()
			var out bytes.Buffer
			g.clock.advance(time.Hour)
			if err := g.PoliceSheet(ctx, g.manager, v.ID, &out); err != nil {
				t.Fatal(err)
			}
			return out.String()
		}
		sheets := func() (n, size int) {
			t.Helper()
			if err := g.db.Read(ctx, func(rx *store.Rx) error {
				all, err := rx.SheetsOfLoss(v.ID)
				now, failed := rx.Size()
				n, size = len(all), int(now)
				return errors.Join(err, failed)
			}); err != nil {
				t.Fatal(err)
			}
			return n, size
		}
		_, before := sheets()
		if first := drawn(); drawn() == first {
			t.Error("a sheet that was not handed over does not say of when it is")
		}
		if n, size := sheets(); n != 0 || size != before {
			t.Errorf("a look recorded %d lines, and kept %d sheets", size-before, n)
		}
		var wait sync.WaitGroup
		failed := make([]error, 2)
		for i := range failed {
			wait.Go(func() { _, failed[i] = g.GiveLossList(ctx, g.manager, v.ID) })
		}
		wait.Wait()
		if n, _ := sheets(); n != 1 || (failed[0] == nil) == (failed[1] == nil) {
			t.Errorf("of two who give it at once: %v; %d sheets are kept", failed, n)
		}
		first := drawn()
		if drawn() != first {
			t.Error("the sheet that was handed over is drawn otherwise")
		}
		p := g.packetOf(t, g.manager, NewPacket{Claim: c.ID})
		if again, err := g.Packet(ctx, g.manager, p.ID, true); err != nil || again.Police == nil || len(again.Police.Changed) != 0 {
			t.Errorf("%+v, %v", again.Police, err)
		}
		if _, err := g.ChangeTool(ctx, g.manager, a, AnyRevision, register.Change{Notes: ptr("red grip")}); err != nil {
			t.Fatal(err)
		}
		again, err := g.Packet(ctx, g.manager, p.ID, true)
		if want := []string{"line 1, " + a + ": notes was changed"}; err != nil || !slices.Equal(again.Police.Changed, want) || !slices.Equal(again.Changed, want) {
			t.Errorf("%q, %q, %v", again.Police.Changed, again.Changed, err)
		}
		if drawn() == first {
			t.Error("a sheet that says otherwise is the same")
		}
		if _, err := g.GiveLossList(ctx, g.manager, v.ID); err != nil {
			t.Fatal(err)
		}
		if n, _ := sheets(); n != 2 {
			t.Errorf("%d sheets are kept", n)
		}
		_, err = g.Packet(ctx, g.manager, "S-1", false)
		wantFault(t, err, fault.NotFound, "there is no packet")
		if _, err := g.Chores(ctx, g.boss); err != nil { // what is kept is not swept up
			t.Fatal(err)
		}
		drawn()
	})
}

// A list that is changed after its sheet was drawn is not given out as it was; one beside
// which something else was recorded is.
func TestASheetIsGivenAsItStands(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		a, b := g.tool(t), g.tool(t)
		v, _ := g.insured(t, a)
		sheet, err := g.sheetToGive(ctx, g.manager, v.ID)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := g.AddToLoss(ctx, g.manager, v.ID, LossTools{Numbers: []string{b}}); err != nil {
			t.Fatal(err)
		}
		if _, err := g.giveSheet(ctx, g.manager, v.ID, sheet, nil); !errors.Is(err, errMoved) {
			t.Errorf("a list of two is given as one of one: %v", err)
		}
		if sheet, err = g.sheetToGive(ctx, g.manager, v.ID); err != nil {
			t.Fatal(err)
		}
		g.tool(t)
		if given, err := g.giveSheet(ctx, g.manager, v.ID, sheet, nil); err != nil || given.Given != 1 {
			t.Errorf("%+v, %v", given.Given, err)
		}
	})
}

// From the first minute on there is a sheet, which says that no tool is listed yet; it can be
// looked at, and not be given out as a list.
func TestThePoliceSheetOfAnEmptyList(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		if _, err := g.AddPlace(ctx, g.manager, "Bay 2"); err != nil {
			t.Fatal(err)
		}
		g.tool(t, func(in *register.New) { in.Place = ptr("Bay 2") })
		v, err := g.StartLoss(ctx, g.manager, StartLoss{Kind: "theft", Found: "2026-10-30T07:40", Where: "Bay 2, side door forced", Place: "Bay 2"})
		if err != nil {
			t.Fatal(err)
		}
		var out bytes.Buffer
		if err := g.PoliceSheet(ctx, g.manager, v.ID, &out); err != nil || !bytes.HasPrefix(out.Bytes(), []byte("%PDF")) {
			t.Fatal(err)
		}
		_, err = g.GiveLossList(ctx, g.manager, v.ID)
		wantFault(t, err, fault.Conflict, "nothing is on the list")
	})
}

// What the police were handed is held against what the insurer is to read, whoever else
// looks at a sheet meanwhile.
func TestThePacketReadsAsTheSheetThatWasHandedOver(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		a := g.tool(t)
		v, c := g.insured(t, a)
		drawn := func(by By) {
			t.Helper()
			g.clock.advance(time.Hour)
			if err := g.PoliceSheet(ctx, by, v.ID, io.Discard); err != nil {
				t.Fatal(err)
			}
		}
		drawn(g.manager)
		if _, err := g.GiveLossList(ctx, g.manager, v.ID); err != nil {
			t.Fatal(err)
		}
		if _, err := g.ChangeTool(ctx, g.manager, a, AnyRevision, register.Change{Model: ptr("NW-9")}); err != nil {
			t.Fatal(err)
		}
		drawn(g.manager) // a look at the sheet hands nothing over
		_, err := g.BuildPacket(ctx, g.manager, NewPacket{Claim: c.ID})
		wantFault(t, err, fault.Refused, "it said")
		p := g.packetOf(t, g.manager, NewPacket{Claim: c.ID, Reworded: true})
		if !p.Statement.Lines[0].Reworded {
			t.Errorf("%+v", p.Statement.Lines[0])
		}
		again, err := g.Packet(ctx, g.manager, p.ID, true)
		if err != nil || again.Police == nil || len(again.Police.Changed) != 1 || !strings.Contains(again.Police.Changed[0], "model was changed") {
			t.Errorf("%+v, %v", again.Police, err)
		}
	})
}

// Of a sheet that somebody else had drawn only the wording is compared: that a person does
// not share what a tool cost is no change.
func TestASheetOfAnotherIsComparedByItsWords(t *testing.T) {
	line := claims.Line{Tool: "T-1", Line: 1, Number: "000-01Y", Kind: "jack", Money: true, Price: ptr(int64(9900)), Files: []claims.File{{Record: "E-1"}}}
	hidden := line
	hidden.Money, hidden.Price, hidden.Files = false, nil, nil
	was := claims.Statement{Lines: []claims.Line{line}}
	if got := claims.Reworded(was, claims.Statement{Lines: []claims.Line{hidden}}); len(got) != 0 {
		t.Errorf("%q", got)
	}
	hidden.Serial = "4171"
	if got := claims.Reworded(was, claims.Statement{Lines: []claims.Line{hidden, {Tool: "T-2", Line: 2, Number: "000-02W"}}}); len(got) != 2 || !strings.Contains(got[0], "it said") || !strings.Contains(got[1], "is new") {
		t.Errorf("%q", got)
	}
}

// At the shop's computer an amount can be entered for somebody's own tool; the papers have
// it only once its owner shares what it is worth, and that is said.
func TestAnAmountThatNoPaperShows(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		shops, theirs := g.tool(t), g.tool(t, owned(g.techA))
		g.clock.advance(time.Hour)
		loss := g.lossOf(t, g.boss, StartLoss{Found: "2026-10-30T12:30", Tools: []string{shops, theirs}})
		if _, err := g.AddPolicy(ctx, g.boss, NewPolicy{NewPolicy: worth.NewPolicy{Name: "Shop and crew", Limit: "18000", Deductible: "250", Basis: "rcv", Employees: true}}); err != nil {
			t.Fatal(err)
		}
		c, err := g.OpenClaim(ctx, g.boss, NewClaim{Kind: "insurance", Loss: loss.ID, Policy: "Shop and crew"})
		if err != nil {
			t.Fatal(err)
		}
		v, err := g.SetAmounts(ctx, g.boss, c.ID, []ClaimAmount{{theirs, "289.00"}, {shops, "649.00"}})
		want := "The amount for " + theirs + " stands on no paper of the claim until Tech A shares what it is worth."
		if err != nil || len(v.Advice) == 0 || v.Advice[0] != want || strings.Contains(strings.Join(v.Advice, " "), shops) {
			t.Errorf("%q, %v", v.Advice, err)
		}
	})
}
