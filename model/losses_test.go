package model

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"pawl/model/claims"
	"pawl/model/custody"
	"pawl/model/fault"
	"pawl/model/register"
	"pawl/model/worth"
)

// A tool is in a claim where the policy is recorded as covering its owner, and only then.
func TestLeftOut(t *testing.T) {
	shops, own, outside := register.Tool{}, register.Tool{Owner: "H-A"}, register.Tool{Outside: register.Outside{Outsider: "Neighbor Bay"}}
	for _, c := range []struct {
		name   string
		policy worth.Policy
		tool   register.Tool
		line   claims.LossLine
		in     bool
	}{
		{"the shop's on the shop's", worth.Policy{}, shops, claims.LossLine{}, true},
		{"one that ended since", worth.Policy{Ended: 9}, shops, claims.LossLine{}, true},
		{"an employee's on the shop's", worth.Policy{}, own, claims.LossLine{}, false},
		{"where it says so", worth.Policy{Employees: true}, own, claims.LossLine{}, true},
		{"their own on their own", worth.Policy{Owner: "H-A"}, own, claims.LossLine{}, true},
		{"another's on their own", worth.Policy{Owner: "H-B"}, own, claims.LossLine{}, false},
		{"the shop's on a person's", worth.Policy{Owner: "H-A"}, shops, claims.LossLine{}, false},
		{"somebody's outside", worth.Policy{Employees: true}, outside, claims.LossLine{}, false},
		{"one that was withdrawn", worth.Policy{}, shops, claims.LossLine{Withdrawn: 9}, false},
		{"one that came back stays", worth.Policy{}, shops, claims.LossLine{Recovered: "2026-11-25"}, true},
	} {
		if why := leftOutOf(c.policy, c.tool, c.line); (why == "") != c.in {
			t.Errorf("%s: left out as %q, want in: %v", c.name, why, c.in)
		}
	}
}

// lossOf starts a loss and gives it.
func (g *garage) lossOf(t *testing.T, by By, in StartLoss) LossView {
	t.Helper()
	if in.Kind == "" {
		in.Kind = "theft"
	}
	if in.Found == "" {
		in.Found = "2026-10-30T07:40"
	}
	if in.Where == "" {
		in.Where = "Bay 2, side door forced"
	}
	v, err := g.StartLoss(ctx, by, in)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// stands says how each line of a loss stands: "1 missing, 2 stolen".
func stands(v LossView) string {
	var out []string
	for _, l := range v.Lines {
		out = append(out, fmt.Sprintf("%d/%d %s", l.Supplement, l.Line, l.Stands))
	}
	return strings.Join(out, ", ")
}

// line gives the line of a tool.
func lineOf(t *testing.T, v LossView, number string) LossLineView {
	t.Helper()
	i := slices.IndexFunc(v.Lines, func(l LossLineView) bool { return l.Number.String() == number })
	if i < 0 {
		t.Fatalf("%s is not on the list: %s", number, stands(v))
	}
	return v.Lines[i]
}

// From what is left: what is scanned is there, what somebody has by the record is shown
// apart, and the rest is missing, then stolen.
func TestLossFromWhatIsLeft(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		here, gone, out, late := g.tool(t, placed("Bay 1/Cart")), g.tool(t, placed("Bay 1/Cart")), g.tool(t, placed("Bay 1")), g.tool(t, placed("Bay 1/Cart"))
		g.must(t)(g.Take(ctx, g.techB, gone, Take{}))
		g.clock.advance(time.Hour)
		g.must(t)(g.Return(ctx, g.techB, gone, Return{}))
		returned := g.clock.Now()
		g.must(t)(g.Take(ctx, g.techA, out, Take{}))
		g.clock.advance(20 * time.Hour) // 8 in the morning
		v := g.lossOf(t, g.manager, StartLoss{Found: "2026-10-31T07:40", Place: "Bay 1"})
		if v.Count == "" || v.Stage != "open" || v.ToLookFor != 4 || len(v.Held) != 1 || v.Held[0].Number.String() != out || v.Held[0].Words != "out to Tech A" || len(v.Lines) != 0 {
			t.Fatalf("%+v", v)
		}
		_, err := g.StartLoss(ctx, g.manager, StartLoss{Kind: "theft", Found: "2026-10-31T07:40", Where: v.Spot, Place: "Bay 1"})
		wantFault(t, err, fault.Conflict, "this loss is on record: "+v.ID, "since", "*", "loss", v.ID)
		g.look(t, g.techB, v.Count, "seen", ScanCount{Scanned: here})
		if told, _, err := g.History(ctx, g.manager, here, 0, ""); err != nil || !slices.ContainsFunc(told, func(l LineView) bool { return l.Noun == "sighting" && l.After["found"] == "seen" }) {
			t.Errorf("%+v, %v", told, err)
		}
		v, err = g.MissingFromCount(ctx, g.manager, v.ID)
		if err != nil || stands(v) != "1/1 missing, 1/2 missing" || v.ToLookFor != 1 { // the one that is out by the record
			t.Fatalf("%s, %d to look for, %v", stands(v), v.ToLookFor, err)
		}
		if l := lineOf(t, v, gone); l.LastSeen.Time() != returned || l.SeenHow != "custody" || l.AfterLoss {
			t.Errorf("last seen %s by %q, want %s by custody", l.LastSeen, l.SeenHow, returned)
		}
		if l := lineOf(t, v, late); l.LastSeen != 0 || l.SeenHow != "" {
			t.Errorf("%+v", l)
		}

		// What turns up is withdrawn by the next look at the count, and its number stays its own.
		g.look(t, g.techB, v.Count, "seen", ScanCount{Scanned: late})
		if v, err = g.Loss(ctx, g.manager, v.ID); err != nil || lineOf(t, v, late).SeenSince == 0 {
			t.Errorf("%+v, %v", v.Lines, err)
		}
		if _, err := g.ConfirmLoss(ctx, g.manager, v.ID, LossTools{Numbers: []string{late}}); err == nil {
			t.Error("what was seen after that is confirmed as stolen")
		} else {
			wantFault(t, err, fault.Conflict, "the record shows it after the loss was found out", "since", "*", "number", late)
		}
		if _, err := g.CloseCount(ctx, g.manager, v.Count); err != nil {
			t.Fatal(err)
		}
		if v, err = g.Loss(ctx, g.manager, v.ID); err != nil || lineOf(t, v, late).Stands != claims.StateWithdrawn || lineOf(t, v, gone).Stands != claims.StateMissing {
			t.Fatalf("%s, %v", stands(v), err)
		}

		v, err = g.ConfirmLoss(ctx, g.manager, v.ID, LossTools{})
		if err != nil || lineOf(t, v, gone).Stands != claims.StateStolen {
			t.Fatalf("%s, %v", stands(v), err)
		}
		_, err = g.Take(ctx, g.techA, gone, Take{})
		wantFault(t, err, fault.Conflict, "is gone: stolen", "since", "*")
		tool, err := g.Tool(ctx, g.manager, gone)
		if err != nil || tool.Tool.GoneWhy != "stolen" || tool.Tool.GoneOn != "2026-10-31" || !strings.Contains(tool.Tool.GoneNote, v.ID) {
			t.Errorf("%+v, %v", tool.Tool, err)
		}
		_, err = g.ConfirmLoss(ctx, g.manager, v.ID, LossTools{})
		wantFault(t, err, fault.Conflict, "nothing on the list")
		_, err = g.MissingFromCount(ctx, g.manager, v.ID)
		if again, failed := g.Loss(ctx, g.manager, v.ID); err != nil || failed != nil || stands(again) != stands(v) {
			t.Errorf("%s, %v, %v", stands(again), err, failed)
		}
	})
}

// A tool that is out when it is confirmed is out no longer, and who had it is known.
func TestConfirmedLossEndsCustody(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		van := g.tool(t)
		g.must(t)(g.Take(ctx, g.techA, van, Take{}))
		g.clock.advance(time.Hour)
		v := g.lossOf(t, g.manager, StartLoss{Where: "van", Found: "2026-10-30T12:30", Tools: []string{van}})
		v, err := g.ConfirmLoss(ctx, g.manager, v.ID, LossTools{Numbers: []string{van}})
		if err != nil || stands(v) != "1/1 stolen" {
			t.Fatalf("%s, %v", stands(v), err)
		}
		tool, err := g.Tool(ctx, g.manager, van)
		if err != nil || tool.Custody.State != custody.InPlace || tool.Tool.Gone == 0 {
			t.Errorf("%+v, %v", tool.Custody, err)
		}
		// Of a fire what is left is there, and out of use.
		burnt := g.tool(t)
		fire := g.lossOf(t, g.manager, StartLoss{Kind: "fire", Found: "2026-10-30T12:45", Tools: []string{burnt}})
		if fire, err = g.ConfirmLoss(ctx, g.manager, fire.ID, LossTools{}); err != nil || stands(fire) != "1/1 damaged" {
			t.Fatalf("%s, %v", stands(fire), err)
		}
		_, err = g.Take(ctx, g.techA, burnt, Take{})
		wantFault(t, err, fault.Refused, "DO NOT USE: damaged")
	})
}

// What the record shows after the loss was found out is not gone by it, although it was
// reported only later.
func TestSeenAfterTheLossIsNotConfirmed(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		seen, gone := g.tool(t), g.tool(t)
		g.must(t)(g.Take(ctx, g.techA, seen, Take{}))
		g.clock.advance(2 * time.Hour)
		g.must(t)(g.Return(ctx, g.techA, seen, Return{}))
		g.clock.advance(time.Minute)
		v := g.lossOf(t, g.manager, StartLoss{Found: "2026-10-30T12:30", Tools: []string{seen, gone}})
		if lineOf(t, v, seen).SeenSince == 0 {
			t.Fatalf("%+v", v.Lines)
		}
		_, err := g.ConfirmLoss(ctx, g.manager, v.ID, LossTools{Numbers: []string{seen}})
		wantFault(t, err, fault.Conflict, "the record shows it after the loss was found out", "since", "*", "number", seen)
		if v, err = g.ConfirmLoss(ctx, g.manager, v.ID, LossTools{}); err != nil || lineOf(t, v, seen).Stands != claims.StateMissing || lineOf(t, v, gone).Stands != claims.StateStolen {
			t.Fatalf("%s, %v", stands(v), err)
		}
		if said := strings.Join(v.Advice, " "); !strings.Contains(said, "NOT CONFIRMED: "+seen+": the record shows") {
			t.Errorf("%q", said)
		}
	})
}

// A tool that comes back is in the register again and out of use; one that measures needs
// more than a look.
func TestRecovered(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		serial := func(s string) func(*register.New) {
			return func(in *register.New) { in.Serial, in.SerialAgain = ptr(s), s }
		}
		a, b, c := g.tool(t, serial("KD408B217")), g.tool(t, serial("KD408B218")), g.tool(t, kind("torque wrench"), serial("TW-5O01"))
		g.clock.advance(time.Hour)
		v := g.lossOf(t, g.manager, StartLoss{Found: "2026-10-30T12:30", Tools: []string{a, b, c}})
		var err error
		if v, err = g.ConfirmLoss(ctx, g.manager, v.ID, LossTools{Numbers: []string{a, c}}); err != nil {
			t.Fatal(err)
		}
		g.clock.advance(48 * time.Hour)
		back := func(in Recovered) LossView {
			t.Helper()
			v, err := g.Recover(ctx, g.manager, in)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		_, err = g.Recover(ctx, g.manager, Recovered{Reading: "KD4?8B21*"})
		wantFault(t, err, fault.Conflict, "is not enough to tell by")
		for _, guess := range []string{"KD*", "TW*", "TW5?0*"} { // it may be a stranger's
			_, err = g.Recover(ctx, g.manager, Recovered{Reading: guess})
			wantFault(t, err, fault.Conflict, "or none of the tools on record")
		}
		_, err = g.Recover(ctx, g.manager, Recovered{Serial: "TW-5"})
		wantPointers(t, err, "#/serial")
		_, err = g.Recover(ctx, g.manager, Recovered{Reading: "XX9*"})
		wantFault(t, err, fault.NotFound, "no tool that is missing")
		_, err = g.Recover(ctx, g.manager, Recovered{Number: a, Serial: "KD408B217"})
		wantFault(t, err, fault.Invalid, "in one way")
		_, err = g.Recover(ctx, g.manager, Recovered{Number: a, On: "2026-10-29"})
		wantPointers(t, err, "#/on")

		v = back(Recovered{Reading: "KD4?8B217", On: "2026-10-31", At: "pawn shop, by the police", Condition: "label gone"})
		if l := lineOf(t, v, a); l.Stands != claims.StateRecovered || l.RecoveredBy != "reading" || l.Recovered != "2026-10-31" || l.RecoveredAt == "" {
			t.Errorf("%+v", l)
		}
		_, err = g.Take(ctx, g.techA, a, Take{})
		wantFault(t, err, fault.Refused, "DO NOT USE: doubtful")
		if _, err = g.Clear(ctx, g.manager, a, Clear{Why: "looked over"}); err != nil {
			t.Error(err)
		}
		g.must(t)(g.Take(ctx, g.techA, a, Take{}))

		v = back(Recovered{Serial: "tw 5001"}) // an O read as a zero
		if l := lineOf(t, v, c); l.RecoveredBy != "serial" || !strings.Contains(strings.Join(v.Advice, " "), "needs a passing tool calibration") {
			t.Errorf("%+v %q", l, v.Advice)
		}
		_, err = g.Clear(ctx, g.manager, c, Clear{Why: "looked over"})
		wantFault(t, err, fault.Refused, "cannot be cleared by a look")
		if v = back(Recovered{Number: b}); stands(v) != "1/1 recovered, 1/2 recovered, 1/3 recovered" {
			t.Errorf("%s", stands(v))
		}
		_, err = g.Recover(ctx, g.manager, Recovered{Number: b})
		wantFault(t, err, fault.Conflict, "missing by no loss")
		// It may be stolen again, and is on another list then.
		second := g.lossOf(t, g.manager, StartLoss{Found: "2026-11-01T10:00", Tools: []string{b}})
		_, err = g.AddToLoss(ctx, g.manager, v.ID, LossTools{Numbers: []string{b}})
		wantFault(t, err, fault.Conflict, "is on the list of loss "+second.ID, "number", b)
	})
}

// Withdrawn lines keep their numbers; what is found later is a supplement once the list was
// given out.
func TestSupplementsAndWithdrawals(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		a, b, c, d := g.tool(t), g.tool(t), g.tool(t), g.tool(t)
		g.clock.advance(time.Hour)
		v := g.lossOf(t, g.manager, StartLoss{Tools: []string{a, b}})
		v, err := g.ConfirmLoss(ctx, g.manager, v.ID, LossTools{})
		if err == nil {
			v, err = g.WithdrawFromLoss(ctx, g.manager, v.ID, WithdrawFromLoss{Number: b, Why: "was in the other van"})
		}
		if err != nil || stands(v) != "1/1 stolen, 1/2 withdrawn" {
			t.Fatalf("%s, %v", stands(v), err)
		}
		g.must(t)(g.Take(ctx, g.techA, b, Take{})) // it never was gone
		_, err = g.WithdrawFromLoss(ctx, g.manager, v.ID, WithdrawFromLoss{Number: b, Why: "again"})
		wantFault(t, err, fault.Conflict, "is withdrawn already")
		_, err = g.WithdrawFromLoss(ctx, g.manager, v.ID, WithdrawFromLoss{Number: a})
		wantPointers(t, err, "#/why")
		if v, err = g.AddToLoss(ctx, g.manager, v.ID, LossTools{Numbers: []string{c}}); err != nil || stands(v) != "1/1 stolen, 1/2 withdrawn, 1/3 missing" {
			t.Fatalf("%s, %v", stands(v), err)
		}
		if v, err = g.GiveLossList(ctx, g.manager, v.ID); err != nil || v.Given != 1 {
			t.Fatalf("%+v, %v", v, err)
		}
		_, err = g.GiveLossList(ctx, g.manager, v.ID)
		wantFault(t, err, fault.Conflict, "given out already")
		if v, err = g.AddToLoss(ctx, g.manager, v.ID, LossTools{Numbers: []string{d}}); err != nil || stands(v) != "1/1 stolen, 1/2 withdrawn, 1/3 missing, 2/4 missing" {
			t.Fatalf("%s, %v", stands(v), err)
		}
		g.must(t)(g.Return(ctx, g.techA, b, Return{}))
		if v, err = g.AddToLoss(ctx, g.manager, v.ID, LossTools{Numbers: []string{b}, Supplement: true}); err != nil || !strings.HasSuffix(stands(v), "3/5 missing") {
			t.Fatalf("%s, %v", stands(v), err)
		}
	})
}

// What is told of a loss is kept; what is at fault changes nothing.
func TestWhatIsToldOfALoss(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		a := g.tool(t)
		g.clock.advance(time.Hour)
		_, err := g.StartLoss(ctx, g.manager, StartLoss{Kind: "magic", Found: "2026-11-30T07:40", Place: "Nowhere"})
		wantPointers(t, err, "#/kind #/found #/where #/place")
		_, err = g.StartLoss(ctx, g.manager, StartLoss{Kind: "theft", Found: "2026-11-01T01:30", Where: "x"}) // twice on that night's clock, and to come
		if err == nil {
			t.Error("a time that occurs twice")
		}
		v := g.lossOf(t, g.manager, StartLoss{Tools: []string{a}, Secure: "2026-10-29T18:05"})
		if v.Secure == 0 || v.Agency != "" || !strings.Contains(strings.Join(v.Advice, " "), "Not reported to the police") {
			t.Errorf("%+v", v)
		}
		lines := g.lines(t)
		_, err = g.ReportLoss(ctx, g.manager, v.ID, PoliceReport{Report: ptr("26-11873")})
		wantPointers(t, err, "#/agency")
		_, err = g.ReportLoss(ctx, g.manager, v.ID, PoliceReport{Agency: ptr("County sheriff"), Reported: ptr("2026-10-29")})
		wantPointers(t, err, "#/reported")
		if n := g.lines(t); n != lines {
			t.Errorf("%d lines more", n-lines)
		}
		v, err = g.ReportLoss(ctx, g.manager, v.ID, PoliceReport{Agency: ptr("County sheriff"), Officer: ptr("Dep. Wren")})
		if err != nil || v.Reported != "2026-10-30" || v.Report != "" {
			t.Fatalf("%+v, %v", v.Loss, err)
		}
		if v, err = g.ReportLoss(ctx, g.manager, v.ID, PoliceReport{Report: ptr("26-11873")}); err != nil || v.Agency != "County sheriff" || v.Report != "26-11873" {
			t.Fatalf("%+v, %v", v.Loss, err)
		}
		in := LossChange{LossChange: claims.LossChange{Keys: ptr("Manager M, Tech A"), Locks: ptr("padlock cut")}}
		if v, err = g.ChangeLoss(ctx, g.manager, v.ID, v.Rev, in); err != nil || v.Keys != "Manager M, Tech A" || v.Spot != "Bay 2, side door forced" {
			t.Fatalf("%+v, %v", v.Loss, err)
		}
		_, err = g.ChangeLoss(ctx, g.manager, v.ID, 1, in)
		wantFault(t, err, fault.Stale, "changed since it was read")
		if v, err = g.ChangeLossLine(ctx, g.manager, v.ID, LossLineChange{Number: a, LeftBehind: ptr("case and charger"), LastSeen: ptr("2026-10-29T17:00"), SeenHow: ptr("Tech A, at closing")}); err != nil {
			t.Fatal(err)
		}
		if l := v.Lines[0]; l.LeftBehind != "case and charger" || l.LastSeen == 0 || l.SeenHow != "Tech A, at closing" || l.Rev != 2 {
			t.Errorf("%+v", l.LossLine)
		}
		_, err = g.ChangeLossLine(ctx, g.manager, v.ID, LossLineChange{Number: a, LastSeen: ptr("2026-10-30T12:00")})
		wantPointers(t, err, "#/last_seen")

		photo := g.upload(t, g.manager, picture(7))
		if v, err = g.AttachToLoss(ctx, g.manager, v.ID, []register.Attach{{Kind: "damage", SHA256: photo, Name: "door.png"}}); err != nil || len(v.Papers) != 1 {
			t.Fatalf("%+v, %v", v.Papers, err)
		}
		if _, _, err := g.OpenOriginal(ctx, g.techA, photo); !fault.Is(err, fault.NotFound) {
			t.Errorf("whose tools are not on it sees its photos: %v", err)
		}
		if unsorted, _, err := g.Unsorted(ctx, g.manager, 0, ""); err != nil || len(unsorted) != 0 {
			t.Errorf("%+v, %v", unsorted, err)
		}
	})
}

// Who sees and does what: managers all, whoever owns a tool its line, nobody else any.
func TestWhoSeesALoss(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		shops, theirs := g.tool(t), g.tool(t, owned(g.techA))
		g.clock.advance(time.Hour)
		v := g.lossOf(t, g.manager, StartLoss{Tools: []string{shops, theirs}})
		if got, err := g.Loss(ctx, g.techA, v.ID); err != nil || stands(got) != "1/2 missing" || got.Settles {
			t.Errorf("%s, %v", stands(got), err)
		}
		if all, _, err := g.Losses(ctx, g.techA, LossQuery{}); err != nil || len(all) != 1 || stands(all[0]) != "1/2 missing" {
			t.Errorf("%+v, %v", all, err)
		}
		if all, _, err := g.Losses(ctx, g.techB, LossQuery{}); err != nil || len(all) != 0 {
			t.Errorf("%+v, %v", all, err)
		}
		_, err := g.Loss(ctx, g.techB, v.ID)
		wantFault(t, err, fault.NotFound, "there is no loss")
		_, err = g.ConfirmLoss(ctx, g.techA, v.ID, LossTools{Numbers: []string{shops}})
		wantFault(t, err, fault.Forbidden, "may not")
		_, err = g.ReportLoss(ctx, g.techA, v.ID, PoliceReport{Agency: ptr("x")})
		wantFault(t, err, fault.Forbidden, "may not")
		_, err = g.StartLoss(ctx, g.techA, StartLoss{Kind: "theft", Found: "2026-10-30T12:00", Where: "van", Tools: []string{shops}})
		wantFault(t, err, fault.Forbidden, "may not")
		if v, err = g.ConfirmLoss(ctx, g.techA, v.ID, LossTools{}); err != nil || stands(v) != "1/2 stolen" {
			t.Errorf("%s, %v", stands(v), err)
		}
		// The history of a tool tells of its line in names and times.
		history, _, err := g.History(ctx, g.techA, theirs, 0, "")
		if err != nil || !slices.ContainsFunc(history, func(l LineView) bool { return l.Noun == "loss line" && l.After["confirmed"] != nil }) {
			t.Errorf("%+v, %v", history, err)
		}
	})
}

// A tool that is built from old photos after the loss is gone at once, and marked.
func TestRegisteredAfterTheLoss(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		a := g.tool(t)
		g.clock.advance(time.Hour)
		v := g.lossOf(t, g.manager, StartLoss{Found: "2026-10-30T12:30", Tools: []string{a}})
		old := g.tool(t, func(in *register.New) { in.GoneByLoss = v.ID })
		v, err := g.Loss(ctx, g.manager, v.ID)
		if l := lineOf(t, v, old); err != nil || !l.AfterLoss || l.Stands != claims.StateStolen || l.Line != 2 || lineOf(t, v, a).AfterLoss {
			t.Errorf("%+v, %v", l, err)
		}
		_, err = g.Register(ctx, g.manager, register.New{Change: register.Change{Kind: ptr("drill")}, GoneByLoss: "L-00000000"})
		wantPointers(t, err, "#/gone_by_loss")
		fire := g.lossOf(t, g.manager, StartLoss{Kind: "fire", Found: "2026-10-30T12:30"})
		_, err = g.Register(ctx, g.manager, register.New{Change: register.Change{Kind: ptr("drill")}, GoneByLoss: fire.ID})
		wantPointers(t, err, "#/gone_by_loss")
	})
}

// However many report the same tool at once, it is on one list.
func TestOneOpenLossOfATool(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		a := g.tool(t)
		g.clock.advance(time.Hour)
		var all sync.WaitGroup
		won := make([]bool, 6)
		for i := range won {
			all.Go(func() {
				_, err := g.StartLoss(ctx, g.manager, StartLoss{Kind: "theft", Found: "2026-10-30T12:30", Where: "van", Tools: []string{a}})
				won[i] = err == nil
				if err != nil && !fault.Is(err, fault.Conflict) {
					t.Error(err)
				}
			})
		}
		all.Wait()
		if n := len(slices.DeleteFunc(won, func(w bool) bool { return !w })); n != 1 {
			t.Errorf("%d of them have it on their list", n)
		}
		_, err := g.StartLoss(ctx, g.manager, StartLoss{Kind: "theft", Found: "2026-10-30T12:30", Where: "van", Tools: []string{g.tool(t), a}})
		wantFault(t, err, fault.Conflict, "is on the list of loss", "number", a)
		b := g.tool(t)
		_, err = g.StartLoss(ctx, g.manager, StartLoss{Kind: "theft", Found: "2026-10-30T12:30", Where: "van", Tools: []string{b, b}})
		wantFault(t, err, fault.Conflict, "is on the list of loss", "number", b)
	})
}

// A repeat gives the first answer, and does nothing again.
func TestLossIsReplayed(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		a := g.tool(t)
		g.clock.advance(time.Hour)
		by := g.manager
		by.Key = "loss-1"
		in := StartLoss{Kind: "theft", Found: "2026-10-30T12:30", Where: "van", Tools: []string{a}}
		first, err := g.StartLoss(ctx, by, in)
		if err != nil {
			t.Fatal(err)
		}
		lines := g.lines(t)
		again, err := g.StartLoss(ctx, by, in)
		if err != nil || again.ID != first.ID || stands(again) != stands(first) || g.lines(t) != lines {
			t.Errorf("%s and %s, %v", first.ID, again.ID, err)
		}
	})
}

// An insurance claim holds the tools whose owners the policy is recorded as covering, and
// says why the others are left out.
func TestInsuranceClaims(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		shops := g.tool(t, func(in *register.New) {
			in.Price, in.Owed, in.OwedTo, in.Terms = ptr("600.00"), ptr("120.00"), ptr("Brindle dealer"), ptr("on account")
		})
		theirs := g.tool(t, owned(g.techA))
		neighbor := g.tool(t, func(in *register.New) { in.OwnerOutside = ptr("Neighbor Bay") })
		policy := func(by By, name, owner string, employees bool) {
			t.Helper()
			_, err := g.AddPolicy(ctx, by, NewPolicy{Owner: owner, NewPolicy: worth.NewPolicy{Name: name, Limit: "18000", Deductible: "250", Basis: "rcv", Employees: employees}})
			if err != nil {
				t.Fatal(err)
			}
		}
		policy(g.manager, "Shop contents", "", false)
		policy(g.manager, "Shop and crew", "", true)
		policy(g.techA, "Own tools", "Tech A", false)
		g.clock.advance(time.Hour)
		v := g.lossOf(t, g.manager, StartLoss{Found: "2026-10-30T12:30", Tools: []string{shops, theirs, neighbor}})

		c, err := g.OpenClaim(ctx, g.manager, NewClaim{Kind: "insurance", Loss: v.ID, Policy: "shop contents"})
		if err != nil || len(c.Tools) != 1 || c.Tools[0].Number.String() != shops || *c.Tools[0].Owed != 12_000 || len(c.LeftOut) != 2 || !strings.Contains(c.LeftOut[0].Why, "an employee's own") {
			t.Fatalf("%+v, %v", c, err)
		}
		_, err = g.OpenClaim(ctx, g.manager, NewClaim{Kind: "insurance", Loss: v.ID, Policy: "Shop contents"})
		wantFault(t, err, fault.Conflict, "is opened on the policy", "id", c.ID)
		_, err = g.OpenClaim(ctx, g.manager, NewClaim{Kind: "insurance", Loss: v.ID, Policy: "Own tools"})
		wantPointers(t, err, "#/policy") // it is not the manager's to see
		crew, err := g.OpenClaim(ctx, g.manager, NewClaim{Kind: "insurance", Loss: v.ID, Policy: "Shop and crew"})
		if err != nil || len(crew.Tools) != 2 || !crew.Tools[1].Hidden || crew.Tools[1].Amount != nil {
			t.Fatalf("%+v, %v", crew, err)
		}
		_, err = g.SetAmounts(ctx, g.manager, crew.ID, []ClaimAmount{{theirs, "289.00"}})
		wantFault(t, err, fault.Forbidden, "its owner's to show", "number", theirs)
		_, err = g.SetAmounts(ctx, g.manager, c.ID, []ClaimAmount{{theirs, "289.00"}})
		wantPointers(t, err, "#/amounts")
		if c, err = g.SetAmounts(ctx, g.manager, c.ID, []ClaimAmount{{shops, "649.00"}}); err != nil || *c.Tools[0].Amount != 64_900 {
			t.Fatalf("%+v, %v", c, err)
		}
		if sum, unsaid := c.Claimed(); sum != 64_900 || unsaid != 0 {
			t.Errorf("%d, %d", sum, unsaid)
		}

		// Their own claim is theirs: nobody else sees that there is one.
		own, err := g.OpenClaim(ctx, g.techA, NewClaim{Kind: "insurance", Loss: v.ID, Policy: "Own tools"})
		if err != nil || len(own.Tools) != 1 || own.Tools[0].Number.String() != theirs || own.Insured != "Tech A" || len(own.LeftOut) != 0 {
			t.Fatalf("%+v, %v", own, err)
		}
		for _, by := range []By{g.manager, g.techB} {
			_, err = g.Claim(ctx, by, own.ID)
			wantFault(t, err, fault.NotFound, "there is no claim")
		}
		if all, _, err := g.Claims(ctx, g.manager, ClaimQuery{}); err != nil || len(all) != 2 {
			t.Errorf("%d, %v", len(all), err)
		}
		if all, _, err := g.Claims(ctx, g.techB, ClaimQuery{}); err != nil || len(all) != 0 {
			t.Errorf("%+v, %v", all, err)
		}
		g.facts(t, c)
	})
}

// facts: what is known of a claim is dated, and its deadlines are due.
func (g *garage) facts(t *testing.T, c ClaimView) {
	t.Helper()
	in := claims.ClaimChange{PolicyNumber: ptr("HP-55120"), Adjuster: ptr("A. Ling"), ProofDue: ptr("2026-11-20"), SuitDue: ptr("2027-10-30")}
	c, err := g.ChangeClaim(ctx, g.manager, c.ID, c.Rev, in)
	if err != nil || c.Adjuster != "A. Ling" || c.ProofDue != "2026-11-20" {
		t.Fatalf("%+v, %v", c, err)
	}
	for _, f := range []NewFact{{On: "2026-10-30", What: "reported"}, {On: "2026-10-29", What: "first payment", Amount: "399.00"}} {
		if c, err = g.AddFact(ctx, g.manager, c.ID, f); err != nil {
			t.Fatal(err)
		}
	}
	if len(c.Facts) != 2 || c.Facts[0].What != "first payment" || *c.Facts[0].Amount != 39_900 || c.Facts[0].Currency != "USD" {
		t.Errorf("%+v", c.Facts)
	}
	_, err = g.AddFact(ctx, g.manager, c.ID, NewFact{On: "2026-12-24", Amount: "x"})
	wantPointers(t, err, "#/on #/what #/amount")
	v, err := g.Due(ctx, g.manager, DueQuery{Sort: "claim"})
	if err != nil || len(v.Rows) != 2 || v.Rows[1].Claim != c.ID || v.Rows[1].What != "sworn proof of loss" || v.Rows[1].Days != 21 {
		t.Errorf("%+v, %v", v.Rows, err)
	}
	if r := v.Rows[0]; r.What != claims.FindOutDay || r.Claim != c.ID || r.Day != "2026-10-29" || !strings.Contains(r.Why, "not known") || !strings.Contains(strings.Join(c.Advice, " "), "NOT KNOWN") {
		t.Errorf("the rest of what was paid: %+v, %q", r, c.Advice)
	}
	if v, err = g.Due(ctx, g.techA, DueQuery{Sort: "claim", Within: ptr(500)}); err != nil || len(v.Rows) != 0 {
		t.Errorf("%+v, %v", v.Rows, err)
	}
	var ics strings.Builder
	if err := g.WriteDue(ctx, g.manager, DueQuery{}, &ics); err != nil || !strings.Contains(ics.String(), "claim "+c.ID) || strings.Contains(ics.String(), "Ling") {
		t.Errorf("%v\n%s", err, ics.String())
	}
	if today, err := g.Today(ctx, g.manager); err != nil || !slices.ContainsFunc(today.Due, func(r DueRow) bool { return r.Claim == c.ID }) {
		t.Errorf("%+v, %v", today.Due, err)
	}
}

// A claim on a warranty says whether it runs still, puts the tool out of use, and learns
// what it was exchanged for.
func TestWarrantyClaims(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		a := g.tool(t, func(in *register.New) { in.Bought, in.WarrantyMonths = ptr("2025-10-30"), ptr(int64(12)) })
		b := g.tool(t)
		theirs := g.tool(t, owned(g.techA))
		_, err := g.OpenClaim(ctx, g.manager, NewClaim{Kind: "warranty", Number: theirs, Fault: "x"})
		wantFault(t, err, fault.Forbidden, "may not")
		_, err = g.OpenClaim(ctx, g.manager, NewClaim{Kind: "warranty", Number: a})
		wantPointers(t, err, "#/fault")
		c, err := g.OpenClaim(ctx, g.manager, NewClaim{Kind: "warranty", Number: a, Fault: "anvil detent fails"})
		if err != nil || c.Within != claims.Inside || c.Through != "2026-10-30" || c.FaultOn != "2026-10-30" {
			t.Fatalf("%+v, %v", c, err)
		}
		_, err = g.Take(ctx, g.techA, a, Take{})
		wantFault(t, err, fault.Refused, "DO NOT USE: damaged")
		if c, err := g.OpenClaim(ctx, g.manager, NewClaim{Kind: "warranty", Number: b, Fault: "trigger sticks"}); err != nil || c.Within != claims.NotKnown || !strings.Contains(strings.Join(c.Advice, " "), "is unknown") {
			t.Errorf("%+v, %v", c, err)
		}
		swapped, err := g.Swap(ctx, g.manager, a, Swap{Serial: "XC-1", SerialAgain: "XC-1"})
		if err != nil {
			t.Fatal(err)
		}
		if c, err = g.Claim(ctx, g.manager, c.ID); err != nil || c.SwappedFor != swapped.New.Number || c.NewSerial != "XC-1" {
			t.Errorf("%+v, %v", c, err)
		}
		// After the exchange it is connected at once.
		if c, err = g.OpenClaim(ctx, g.manager, NewClaim{Kind: "warranty", Number: a, Fault: "anvil", On: "2026-10-29"}); err != nil || c.SwappedFor != swapped.New.Number {
			t.Errorf("%+v, %v", c, err)
		}
		if c, err = g.OpenClaim(ctx, g.techA, NewClaim{Kind: "ownership", Number: theirs}); err != nil || c.Insured != "Tech A" || c.Within != "" {
			t.Errorf("%+v, %v", c, err)
		}
	})
}
