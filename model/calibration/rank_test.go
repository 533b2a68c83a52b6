package calibration

import (
	"testing"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/units"
)

func numbered(t testing.TB, number string, change func(*Facts)) Prepared {
	f := good(t)
	f.Number = number
	q := *f.Requirement
	f.Requirement = &q
	if change != nil {
		change(&f)
	}
	return Prepare(f)
}

func TestRankPutsTheBestFirst(t *testing.T) {
	gauge := Requirement{Instrument: PressureGauge, Unit: units.PSI, Scale: Scale{Low: qty(t, "0 psi"), High: qty(t, "200 psi")}, Limit: limit("2 % of span"), LimitSource: Source{OwnPaper, "dial"}}
	tester := wrench()
	tester.Instrument, tester.Class = TorqueTester, NoClass
	tools := []Prepared{
		numbered(t, "dropped", func(f *Facts) { f.Events = []Event{{Kind: Dropped, On: "2026-06-01"}} }),
		numbered(t, "doubtful", func(f *Facts) { f.Unreadable = []string{"a paper"} }),
		numbered(t, "old", func(f *Facts) { f.Today = "2027-04-01" }),
		numbered(t, "with Lee", func(f *Facts) { f.Holder = "Lee" }),
		numbered(t, "b", nil),
		numbered(t, "a", nil),
		numbered(t, "gone", func(f *Facts) { f.Gone = "sold" }),
		numbered(t, "gauge", func(f *Facts) { f.Requirement = &gauge }),
		numbered(t, "tester", func(f *Facts) { f.Requirement = &tester }),
		numbered(t, "hammer", func(f *Facts) { f.Requirement = nil }),
		numbered(t, "jack", func(f *Facts) { f.Kind = "jack" }),
	}
	got, err := Rank(tools, asks(t, "108 N·m", "100..116"))
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"a", "b", "old", "with Lee", "doubtful", "dropped"}
	if len(got) != len(want) {
		t.Fatalf("%d tools, want %v", len(got), want)
	}
	for i, r := range got {
		if r.Number != want[i] || tools[r.Index].facts.Number != r.Number {
			t.Errorf("place %d: %s (%s), want %s", i, r.Number, r.Answer.Verdict, want[i])
		}
	}
}

func TestRankLeavesOutWhatTheAdapterCannotBeOn(t *testing.T) {
	q := asks(t, "60 N·m", "40..80")
	q.Adapter, _ = ParseCrowfoot("450 mm", "180")
	tools := []Prepared{numbered(t, "short", nil), numbered(t, "long", func(f *Facts) { f.Requirement.GripToDrive = qty(t, "900 mm") })}
	got, err := Rank(tools, q)
	if err != nil || len(got) != 1 || got[0].Number != "long" {
		t.Errorf("%v, %v", got, err)
	}
	if _, err := Rank(tools, Question{}); !fault.Is(err, fault.Invalid) {
		t.Errorf("no target: %v", err)
	}
}

// What one of 5,000 answers costs; reading the rows of one from a store is of the
// order of ten microseconds.
func BenchmarkRank(b *testing.B) {
	tools := make([]Prepared, 5000)
	for i := range tools {
		tools[i] = numbered(b, "n", func(f *Facts) { f.Today = f.Today.AddDays(i % 400) })
	}
	q := asks(b, "80 ft-lb", "74..86")
	for b.Loop() {
		if _, err := Rank(tools, q); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPrepare(b *testing.B) {
	f := good(b)
	for b.Loop() {
		Prepare(f)
	}
}

func TestRankAsksEachToolTheSameAsReady(t *testing.T) {
	q := asks(t, "80 ft-lb", "74..86")
	var tools []Prepared
	for i := range 30 {
		tools = append(tools, numbered(t, "n", func(f *Facts) { f.Today = dates.Date("2026-05-04").AddDays(20 * i) }))
	}
	got, err := Rank(tools, q)
	if err != nil || len(got) != len(tools) {
		t.Fatal(len(got), err)
	}
	for _, r := range got {
		alone := answered(t, tools[r.Index].facts, q)
		if alone.Verdict != r.Answer.Verdict || codes(alone) != codes(r.Answer) {
			t.Errorf("tool %d: %s, alone %s", r.Index, r.Answer.Verdict, alone.Verdict)
		}
	}
}
