package claims

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/register"
)

// What a line says of its tool follows from its dates alone, the later ones first.
func TestStates(t *testing.T) {
	const at = dates.Instant(7)
	for _, c := range []struct {
		line LossLine
		kind LossKind
		want State
	}{
		{LossLine{}, Theft, StateMissing},
		{LossLine{Confirmed: at}, Theft, StateStolen},
		{LossLine{Confirmed: at}, Mislaid, StateLost},
		{LossLine{Confirmed: at}, Fire, StateDamaged},
		{LossLine{Confirmed: at}, Water, StateDamaged},
		{LossLine{Confirmed: at, Recovered: "2026-11-25"}, Theft, StateRecovered},
		{LossLine{Recovered: "2026-11-25"}, Theft, StateRecovered},
		{LossLine{Withdrawn: at}, Theft, StateWithdrawn},
		{LossLine{Confirmed: at, Withdrawn: at}, Theft, StateWithdrawn},
	} {
		if got := c.line.State(c.kind); got != c.want {
			t.Errorf("%+v in a %s is %s, want %s", c.line, c.kind, got, c.want)
		}
	}
	for kind, want := range map[LossKind]string{Theft: "stolen", Mislaid: "lost", Fire: "", Water: "", Damage: ""} {
		if kind.Gone() != want {
			t.Errorf("after %s a tool is gone as %q, want %q", kind, kind.Gone(), want)
		}
	}
}

// Missing, confirmed, recovered: what may follow what.
func TestSequences(t *testing.T) {
	const found, confirmed = dates.Instant(100), dates.Instant(200)
	missing, stolen := LossLine{Line: 1}, LossLine{Line: 1, Confirmed: confirmed}
	back, off := LossLine{Line: 1, Confirmed: confirmed, Recovered: "2026-11-25"}, LossLine{Line: 1, Withdrawn: confirmed}
	for _, c := range []struct {
		name string
		err  error
		want fault.Kind
	}{
		{"missing is confirmed", missing.MayConfirm(Theft, found, 50, "counted"), ""},
		{"so is what no record ever shows", missing.MayConfirm(Theft, found, 0, ""), ""},
		{"not what was seen after that", missing.MayConfirm(Theft, found, 101, "custody"), fault.Conflict},
		{"after a fire it may be seen", missing.MayConfirm(Fire, found, 101, "custody"), ""},
		{"not twice", stolen.MayConfirm(Theft, found, 50, "counted"), fault.Conflict},
		{"not what is back", back.MayConfirm(Theft, found, 50, "counted"), fault.Conflict},
		{"not what was withdrawn", off.MayConfirm(Theft, found, 50, "counted"), fault.Conflict},
		{"missing is withdrawn", missing.MayWithdraw(Theft), ""},
		{"stolen too", stolen.MayWithdraw(Theft), ""},
		{"not what is back", back.MayWithdraw(Theft), fault.Conflict},
		{"not twice", off.MayWithdraw(Theft), fault.Conflict},
		{"stolen comes back", ptr(stolen).Recover(Theft, Recovery{On: "2026-11-25"}, "2026-11-23"), ""},
		{"missing too", ptr(missing).Recover(Theft, Recovery{On: "2026-11-23"}, "2026-11-23"), ""},
		{"not before it went", ptr(stolen).Recover(Theft, Recovery{On: "2026-11-22"}, "2026-11-23"), fault.Invalid},
		{"not twice", ptr(back).Recover(Theft, Recovery{On: "2026-11-26"}, "2026-11-23"), fault.Conflict},
		{"on no other list while it is missing", MayAdd([]LossLine{missing}), fault.Conflict},
		{"nor while it is stolen", MayAdd([]LossLine{off, stolen}), fault.Conflict},
		{"again once it is back", MayAdd([]LossLine{back, off}), ""},
	} {
		if got := fault.Of(c.err); (got == nil) != (c.want == "") || got != nil && got.Kind != c.want {
			t.Errorf("%s: %v, want %q", c.name, c.err, c.want)
		}
	}
}

func ptr[T any](v T) *T { return &v }

// Later finds go into the next supplement once a list was given out, or when asked.
func TestSupplements(t *testing.T) {
	first := []LossLine{{Line: 1, Supplement: 1}}
	second := append(slices.Clone(first), LossLine{Line: 2, Supplement: 2})
	for _, c := range []struct {
		name    string
		given   int64
		lines   []LossLine
		packets []int64
		asked   bool
		want    int64
	}{
		{"the first", 0, nil, nil, false, 1},
		{"nothing to supplement yet", 0, nil, nil, true, 1},
		{"not given out", 0, first, nil, false, 1},
		{"asked for", 0, first, nil, true, 2},
		{"given to the police", 1, first, nil, false, 2},
		{"in a packet", 0, first, []int64{1}, false, 2},
		{"the second is open", 1, second, []int64{1}, false, 2},
		{"the second in a packet", 1, second, []int64{1, 2}, false, 3},
	} {
		if got := NextSupplement(Loss{Given: c.given}, c.lines, c.packets, c.asked); got != c.want {
			t.Errorf("%s: supplement %d, want %d", c.name, got, c.want)
		}
	}
}

// Whatever is added, withdrawn, recovered and given out: no number of a line is given
// twice, none changes, and supplements never go back.
func TestLineNumbersAreNeverReused(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var lines []LossLine
		loss, used, supplement := Loss{Kind: Theft}, map[int64]bool{}, int64(1)
		for range rapid.IntRange(1, 40).Draw(t, "acts") {
			switch act := rapid.IntRange(0, 3).Draw(t, "act"); {
			case act == 0 || len(lines) == 0:
				line := LossLine{Line: NextLine(lines), Supplement: NextSupplement(loss, lines, nil, rapid.Bool().Draw(t, "asked"))}
				if used[line.Line] || line.Supplement < supplement {
					t.Fatalf("line %d, supplement %d after %+v", line.Line, line.Supplement, lines)
				}
				used[line.Line], supplement = true, line.Supplement
				lines = append(lines, line)
			case act == 1:
				lines[rapid.IntRange(0, len(lines)-1).Draw(t, "which")].Withdrawn = 9
			case act == 2:
				i := rapid.IntRange(0, len(lines)-1).Draw(t, "which")
				_ = lines[i].Recover(Theft, Recovery{On: "2026-11-25"}, "2026-11-23") // refused where it is back
			default:
				loss.Given = supplement
			}
		}
	})
}

// The last day of the warranty is inside it; where the record does not say, it is unknown.
func TestWithinWarranty(t *testing.T) {
	bought := register.Purchase{Bought: "2025-11-30", WarrantyMonths: 12}
	for _, c := range []struct {
		p    register.Purchase
		day  dates.Date
		want Within
	}{
		{bought, "2026-11-30", Inside},
		{bought, "2026-12-01", Outside},
		{bought, "2025-11-29", Outside},
		{register.Purchase{WarrantyMonths: 12}, "2026-11-30", NotKnown},
		{register.Purchase{Bought: "2025-11-30"}, "2026-11-30", NotKnown},
		{bought, "", NotKnown},
		{register.Purchase{Bought: "2020-01-01", WarrantyMonths: 12, WarrantyFrom: "2026-01-01"}, "2026-11-30", Inside},
	} {
		if got := WithinWarranty(c.p, c.day); got != c.want {
			t.Errorf("%+v on %s: %s, want %s", c.p, c.day, got, c.want)
		}
	}
}

// A change keeps what it does not name, takes away what is empty, and names all at fault.
func TestClaimChange(t *testing.T) {
	c := Claim{ID: "C-1", Kind: Insurance, Insured: "Our shop", ProofDue: "2027-01-22", AnswerDue: "2026-12-05"}
	in := ClaimChange{Adjuster: ptr(" Ada  Ling "), ProofDue: ptr(""), SuitDue: ptr("2027-11-23")}
	if err := in.Apply(&c, "2026-11-25"); err != nil || c.Insured != "Our shop" || c.ProofDue != "" || c.SuitDue != "2027-11-23" {
		t.Errorf("%+v, %v", c, err)
	}
	if days := c.Deadlines(nil, Holdback{}); len(days) != 2 || days[0].ID != "C-1/answer" || days[1].Day != "2027-11-23" {
		t.Errorf("%+v", days)
	}
	bad := ClaimChange{ProofDue: ptr("soon"), FaultOn: ptr("2026-12-01")}
	if f := fault.Of(bad.Apply(&Claim{Kind: Warranty, Fault: "x"}, "2026-11-25")); f == nil || len(f.Fields) != 2 {
		t.Errorf("%v", f)
	}
	if err := (ClaimChange{}).Apply(&Claim{Kind: Warranty}, "2026-11-25"); !fault.Is(err, fault.Invalid) {
		t.Errorf("a warranty claim without a fault: %v", err)
	}
	if err := (ClaimChange{Fault: ptr("x")}).Apply(&Claim{Kind: Insurance}, "2026-11-25"); !fault.Is(err, fault.Invalid) {
		t.Errorf("an insurance claim with one: %v", err)
	}
	if _, err := ReadFact("2026-11-26", "first payment", "", "2026-11-25"); !fault.Is(err, fault.Invalid) {
		t.Errorf("a fact of tomorrow: %v", err)
	}
	if _, err := ReadFact("2026-11-25", "first payment", "half", "2026-11-25"); !fault.Is(err, fault.Invalid) {
		t.Errorf("a payment of half: %v", err)
	}
	if f, err := ReadFact("2026-11-25", "adjuster came", "", "2026-11-25"); err != nil || f.On != "2026-11-25" || f.What != "adjuster came" {
		t.Errorf("%+v, %v", f, err)
	}
}
