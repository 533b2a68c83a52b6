package model

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/markings"
	"pawl/model/people"
	"pawl/model/register"
)

func printedTool(in *register.New) {
	in.Usage, in.Marking = ptr("daily"), &register.MarkingEntry{Method: "printed", Protection: "none"}
}

func (g *garage) mark(t *testing.T, by By, n string, in markings.Entry) MarkingsView {
	t.Helper()
	v, err := g.Mark(ctx, by, n, in)
	if err != nil {
		t.Fatalf("%+v: %v", in, err)
	}
	return v
}

func (g *garage) graded(t *testing.T, n string, grade int64, on string) {
	t.Helper()
	g.mark(t, g.boss, n, markings.Entry{Grade: &grade, On: on})
}

func (g *garage) forecast(t *testing.T, n string) MarkingForecast {
	t.Helper()
	f, err := g.MarkingForecast(ctx, g.boss, n, "")
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// Example A of money-and-statistics 5.3, through the store: none/daily, grades 4, 4, 3, 2.
func TestTheWorkedForecast(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t, printedTool)
		for _, l := range []struct {
			grade int64
			on    string
		}{{2, "2026-03-12"}, {4, "2026-01-05"}, {3, "2026-02-20"}, {4, "2026-01-26"}} { // entered in any order
			g.graded(t, n, l.grade, l.on)
		}
		f := g.forecast(t, n)
		if f.Expected != "2026-03-27" || f.Early != "2026-03-14" || f.Late != "2026-05-09" || f.AsOf != "2026-03-12" || f.Exposure != 66 || *f.Grade != 2 {
			t.Errorf("%+v", f)
		}
		if f.Shape != 4 || f.Rate != 60 || f.LearnedFrom != 0 || !strings.Contains(f.Words(), "the rate is assumed") || !f.Act {
			t.Errorf("%+v: %s", f, f.Words())
		}
		// Lost: no date, and it says so.
		g.graded(t, n, 1, "2026-04-01")
		if f := g.forecast(t, n); !f.Lost || f.Expected != "" || *f.UnreadableToday != 1 || !strings.HasPrefix(f.Words(), "lost") {
			t.Errorf("%+v", f)
		}
	})
}

// A class teaches the others of its kind, without the one that is asked about.
func TestAForecastLeavesItsOwnToolOut(t *testing.T) {
	g := openGarage(t, "sqlite")
	// (k, E) = (3,55) and (2,66) of money-and-statistics 5.4: K 5, S 121.
	first, second, third := g.tool(t, printedTool), g.tool(t, printedTool), g.tool(t, printedTool)
	g.graded(t, first, 4, "2026-01-01")
	g.graded(t, first, 1, "2026-02-25")
	g.graded(t, second, 4, "2026-01-01")
	g.graded(t, second, 2, "2026-03-08")
	g.graded(t, third, 4, "2026-01-01")
	rate := func(k, e float64) float64 { return 4 * (60 + e) / (4 + k) }
	for _, c := range []struct {
		n     string
		rate  float64
		tools int
	}{{first, rate(2, 66), 1}, {second, rate(3, 55), 1}, {third, rate(5, 121), 2}} {
		if f := g.forecast(t, c.n); math.Abs(f.Rate-c.rate) > 1e-9 || f.LearnedFrom != c.tools {
			t.Errorf("%s: rate %v from %d, not %v from %d", c.n, f.Rate, f.LearnedFrom, c.rate, c.tools)
		}
	}
}

// Custody says on which days a tool was in use: days of the shop, not of UTC, each once.
func TestDaysInUseComeFromCustody(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t, printedTool)
		g.graded(t, n, 4, "")
		day := func() { g.clock.advance(24 * time.Hour) }
		for range 2 {
			day()
			for range 2 { // twice on the same day is one
				if _, err := g.Take(ctx, g.techA, n, Take{}); err != nil {
					t.Fatal(err)
				}
				g.clock.advance(time.Minute)
				if _, err := g.Return(ctx, g.techA, n, Return{}); err != nil {
					t.Fatal(err)
				}
			}
		}
		for range 8 {
			day()
		}
		g.graded(t, n, 3, "")
		if f := g.forecast(t, n); f.Exposure != 3 {
			t.Errorf("exposure %v; a day of which custody tells nothing, then out on 2 days of 9", f.Exposure)
		}
		// No take for longer says that nobody scanned, not that nobody used it.
		for range 10 {
			day()
		}
		g.graded(t, n, 3, "")
		if f := g.forecast(t, n); f.Exposure != 1+2+17 {
			t.Errorf("exposure %v; two days out, and 18 others in daily use", f.Exposure)
		}
		// One that nobody scans is taken to be used as often as was said.
		m := g.tool(t, printedTool)
		g.graded(t, m, 4, "2026-10-30")
		g.graded(t, m, 3, "")
		if f := g.forecast(t, m); f.Exposure != float64(dates.DaysBetween("2026-10-30", dates.Of(g.clock.Now(), time.UTC))) {
			t.Errorf("exposure %v", f.Exposure)
		}
	})
}

func TestWhatCannotBeRecordedOfAMarking(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t, printedTool)
		for _, c := range []struct {
			in   markings.Entry
			says string
		}{
			{markings.Entry{}, "nothing is said"},
			{markings.Entry{Grade: ptr(int64(5))}, "5 is not a grade"},
			{markings.Entry{Grade: ptr(int64(-1))}, "-1 is not a grade"},
			{markings.Entry{Grade: ptr(int64(3)), On: "2026-10-31"}, "in the future"},
			{markings.Entry{Grade: ptr(int64(3)), On: "yesterday"}, "yesterday"},
			{markings.Entry{Read: "(("}, "is not a letter"},
			{markings.Entry{Protection: "hope"}, "is not a protection"},
			{markings.Entry{Grade: ptr(int64(3)), Marking: "M-00000000"}, "has no marking"},
			{markings.Entry{OwnersNumber: "CA 1", Method: "sticker"}, "not for good"},
			{markings.Entry{OwnersNumber: "CA 1", Remark: "etched"}, "two markings"},
			{markings.Entry{Grade: ptr(int64(3)), Evidence: []register.Attach{{Kind: "receipt"}}}, "does not show a marking"},
		} {
			if _, err := g.Mark(ctx, g.boss, n, c.in); !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), c.says) {
				t.Errorf("%+v: %v", c.in, err)
			}
		}
		g.mark(t, g.boss, n, markings.Entry{Remark: "etched", Where: "on the handle", On: "2026-10-20"})
		if _, err := g.Mark(ctx, g.boss, n, markings.Entry{Grade: ptr(int64(4)), On: "2026-10-19"}); !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), "was made on 2026-10-20") {
			t.Errorf("a look before it was made: %v", err)
		}
	})
}

// Marked anew, the old marking ends; a number of the owner's stands beside the serial.
func TestMarkedAnewAndAnOwnersNumber(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t, printedTool)
		g.graded(t, n, 3, "2026-10-10")
		g.clock.advance(time.Minute) // markings stand in the order in which they were recorded
		v := g.mark(t, g.boss, n, markings.Entry{OwnersNumber: "CA 4471 908", Method: "engraved", Where: "under the grip", On: "2026-10-12"})
		if len(v.Markings) != 2 || v.Current != v.Markings[0].ID || v.Markings[1].Shows != markings.OwnersNumber || v.Markings[1].Code != "CA 4471 908" {
			t.Fatalf("%+v", v)
		}
		if _, err := g.Mark(ctx, g.boss, n, markings.Entry{OwnersNumber: "ca 4471 908", Method: "engraved"}); !fault.Is(err, fault.Conflict) {
			t.Errorf("the same number twice: %v", err)
		}
		g.clock.advance(time.Minute)
		v = g.mark(t, g.boss, n, markings.Entry{Remark: "engraved", Where: "on the plate", On: "2026-10-15"})
		if len(v.Markings) != 3 || v.Markings[0].Ended != "2026-10-15" || v.Current != v.Markings[2].ID || len(v.Markings[0].Checks) != 1 {
			t.Errorf("%+v", v)
		}
	})
}

// A reading that does not fit warns, and never changes the serial.
func TestAReadingWarnsAndChangesNothing(t *testing.T) {
	g := openGarage(t, "sqlite")
	n := g.tool(t, printedTool, func(in *register.New) { in.Serial, in.SerialAgain = ptr("KD408B217"), "KD408B217" })
	for read, warns := range map[string]bool{"KD408B2?7": false, "kd-408 b217": false, "KD*": false, "KD4{80}8B217": false, "KD408B2?8": true, "KD408B2": true, "X*": true} {
		v := g.mark(t, g.techB, n, markings.Entry{Read: read})
		if said := strings.Contains(strings.Join(v.Said, " "), "does not fit"); said != warns {
			t.Errorf("%s: %q", read, v.Said)
		}
		if !strings.Contains(strings.Join(v.Said, " "), "No photo of this look") || v.Serial != "KD408B217" {
			t.Errorf("%s: %+v", read, v)
		}
	}
}

// A grade goes with what was read. Where it says that characters are lost, and all were
// read, one of both was mistyped, and neither is taken; where it says that all can be read,
// and some were not, it is said.
func TestAGradeGoesWithTheReading(t *testing.T) {
	g := openGarage(t, "sqlite")
	n := g.tool(t, printedTool, func(in *register.New) { in.Serial, in.SerialAgain = ptr("KD408B217"), "KD408B217" })
	none := g.tool(t, printedTool)
	for _, c := range []struct {
		number, read  string
		grade         int64
		said, refused string
	}{
		{n, "KD408B217", 4, "", ""},
		{n, "KD408B217", 2, "", ""},
		{n, "KD40{8B}B217", 2, "", ""},  // with care
		{n, "KD408@0.6B217", 2, "", ""}, // a guess
		{n, "KD4?8@0.6{B8}2*{0,2}", 2, "leaves some out", ""},
		{n, "KD408B2?7", 3, "leaves some open", ""},
		{n, "KD408*", 4, "leaves some open", ""},
		{n, "KD408B2?7", 1, "", ""},
		{n, "K*", 0, "", ""},
		{n, "KD408B217", 1, "", "grade 1 says that characters are lost, and in the reading KD408B217 every one is read"},
		{n, "KD408B217", 0, "", "every one is read"},
		{n, "KD40{8B}B217", 1, "", ""},
		{n, "KD408B2", 1, "", ""}, // does not fit, and is asked about
		{none, "KD408B217", 0, "", "every one is read"},
		{none, "KD408B2", 1, "", ""}, // its end may be lost
	} {
		v, err := g.Mark(ctx, g.boss, c.number, markings.Entry{Grade: &c.grade, Read: c.read})
		if said := strings.Join(v.Said, " "); c.refused == "" && err == nil && (c.said != "") == strings.Contains(said, "leaves some") && strings.Contains(said, c.said) {
			continue
		}
		if c.refused == "" || !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), c.refused) || !strings.Contains(fault.Of(err).Hint, "give grade") {
			t.Errorf("grade %d and %s: %v", c.grade, c.read, err)
		}
	}
}

// A look at which something else was read than the serial may be of another tool: its grade
// moves no forecast until the serial, if that was wrong, is corrected.
func TestAReadingOfAnotherSerialMovesNoForecast(t *testing.T) {
	g := openGarage(t, "sqlite")
	n := g.tool(t, printedTool, func(in *register.New) { in.Serial, in.SerialAgain = ptr("KD408B217"), "KD408B217" })
	g.graded(t, n, 4, "2026-10-01")
	before := g.forecast(t, n)
	v := g.mark(t, g.boss, n, markings.Entry{Grade: ptr(int64(1)), Read: "RT55*"})
	if !strings.Contains(strings.Join(v.Said, " "), "counts in no forecast") {
		t.Errorf("%q", v.Said)
	}
	if after := g.forecast(t, n); after.Words() != before.Words() || after.Lost {
		t.Errorf("%s; was %s", after.Words(), before.Words())
	}
	tool, err := g.Tool(ctx, g.boss, n)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := g.ChangeTool(ctx, g.boss, n, tool.Tool.Rev, register.Change{Serial: ptr("RT5512093"), SerialAgain: ptr("RT5512093")}); err != nil {
		t.Fatal(err)
	}
	if f := g.forecast(t, n); !f.Lost {
		t.Errorf("the serial was corrected: %s", f.Words())
	}
}

// A look from before the tool was bought is refused, or from years before anything is known
// of it: its year is mistyped, and ten years without wear would make its like last for ever.
func TestALookFromBeforeTheTool(t *testing.T) {
	g := openGarage(t, "sqlite") // on 2026-10-30
	bought := g.tool(t, printedTool, func(in *register.New) { in.Bought, in.Owner = ptr("2026-10-01"), ptr("Tech A") })
	unknown := g.tool(t, printedTool)
	for _, c := range []struct {
		by              By
		number, on      string
		refused, hidden string
	}{
		{g.boss, bought, "2026-10-01", "", ""},
		{g.techA, bought, "2026-09-30", "a look on 2026-09-30 is before the tool was bought, on 2026-10-01", ""},
		{g.techA, bought, "2016-10-30", "was bought, on 2026-10-01", ""},
		{g.techB, bought, "2016-10-30", "is before the day on which the tool was bought", "2026-10-01"},
		{g.boss, unknown, "2016-10-30", "more than five years before the tool was registered, on 2026-10-30", ""},
		{g.boss, unknown, "2021-10-29", "more than five years", ""},
		{g.boss, unknown, "2021-10-30", "", ""}, // by an old photo
	} {
		_, err := g.Mark(ctx, c.by, c.number, markings.Entry{Grade: ptr(int64(4)), On: c.on})
		if c.refused == "" {
			if err != nil {
				t.Errorf("%s: %v", c.on, err)
			}
			continue
		}
		f := fault.Of(err)
		if !fault.Is(err, fault.Invalid) || !strings.Contains(f.Error(), c.refused) || !strings.Contains(f.Hint, "correct the date") || c.hidden != "" && strings.Contains(f.Error()+f.Hint, c.hidden) {
			t.Errorf("%s: %v", c.on, err)
		}
	}
}

// Looks that contradict one another give no date, and ask for another look.
func TestLooksThatDoNotFitTheRecord(t *testing.T) {
	g := openGarage(t, "sqlite")
	n := g.tool(t, printedTool, func(in *register.New) { in.Bought = ptr("2026-09-30") })
	for _, on := range []string{"2026-09-30", "2026-10-01", "2026-10-02"} {
		g.mark(t, g.boss, n, markings.Entry{Grade: ptr(int64(0)), On: on})
	}
	g.graded(t, n, 4, "2026-10-03")
	f := g.forecast(t, n)
	if f.Lost || f.UnreadableToday != nil || f.Expected != "" || f.NextPhoto != "2026-10-03" || !strings.Contains(f.Words(), "look again") {
		t.Errorf("%+v: %s", f, f.Words())
	}
	v, err := g.MarkingRound(ctx, g.boss, RoundQuery{})
	if err != nil || len(v.Rows) != 1 || v.Rows[0].Soon != nil || !strings.Contains(v.Rows[0].Do[0], "look again") {
		t.Errorf("%+v, %v", v.Rows, err)
	}
}

// Whoever works in the shop looks at any tool; what else is done to a marking is its
// owner's, or a manager's.
func TestWhoMayLook(t *testing.T) {
	g := openGarage(t, "sqlite")
	n := g.tool(t, printedTool, func(in *register.New) { in.Owner = ptr("Tech A") })
	v := g.mark(t, g.techB, n, markings.Entry{Grade: ptr(int64(3))})
	if _, err := g.Mark(ctx, g.techB, n, markings.Entry{Protection: "lacquer"}); !fault.Is(err, fault.Forbidden) {
		t.Errorf("another's tool was lacquered: %v", err)
	}
	if _, err := g.WithdrawMarking(ctx, g.techB, n, v.Recorded, "mistaken"); err != nil {
		t.Errorf("their own look: %v", err)
	}
	w := g.mark(t, g.techA, n, markings.Entry{Grade: ptr(int64(3))})
	if _, err := g.WithdrawMarking(ctx, g.techB, n, w.Recorded, "mistaken"); !fault.Is(err, fault.Forbidden) {
		t.Errorf("another's look: %v", err)
	}
	device := By{Actor: Actor{Role: people.ShopDevice}}
	if _, err := g.Mark(ctx, device, n, markings.Entry{Grade: ptr(int64(3))}); !fault.Is(err, fault.Forbidden) {
		t.Errorf("a board looked: %v", err)
	}
}

// The round: most to lose first by rank, in walking order; what others' tools cost is
// not in it for those who may not see that; page after page it is the same list.
func TestTheRoundOfMarkings(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		var all []string
		for i, price := range []string{"100.00", "900.00", ""} {
			n := g.tool(t, printedTool, func(in *register.New) {
				in.Place, in.Owner = ptr("Bay 1/Cart"), ptr("Tech A")
				if price != "" {
					in.Price = &price
				}
			})
			g.graded(t, n, int64(4-i%2), "2026-09-01")
			all = append(all, n)
		}
		v, err := g.MarkingRound(ctx, g.techA, RoundQuery{})
		if err != nil || len(v.Rows) != 3 || v.All != 3 || v.Through != "2026-10-31" {
			t.Fatalf("%+v, %v", v, err)
		}
		if v.Rows[0].Number.String() != all[1] || v.Rows[0].Rank != 1 || *v.Rows[0].Cost != 90000 {
			t.Errorf("first is %+v", v.Rows[0])
		}
		for _, r := range v.Rows {
			if r.Number.String() == all[2] && (r.CostFrom != markings.CostKind || *r.Cost != 50000) {
				t.Errorf("the one without a price: %v %v", r.Cost, r.CostFrom)
			}
		}
		// One of which no marking is on record tells what its kind costs, too.
		g.tool(t, func(in *register.New) { in.Owner, in.Price = ptr("Tech A"), ptr("300.00") })
		priced, err := g.MarkingRound(ctx, g.techA, RoundQuery{})
		if err != nil || !slices.ContainsFunc(priced.Rows, func(r RoundRow) bool { return r.CostFrom == markings.CostKind && *r.Cost == 30000 }) {
			t.Errorf("%+v, %v", priced.Rows, err)
		}
		hidden, err := g.MarkingRound(ctx, g.techB, RoundQuery{})
		if err != nil || len(hidden.Rows) != 3 || hidden.Rows[0].Cost != nil {
			t.Errorf("%+v, %v", hidden.Rows, err)
		}
		var paged []string
		for q := (RoundQuery{Limit: 1}); ; {
			one, err := g.MarkingRound(ctx, g.techA, q)
			if err != nil || len(one.Rows) != 1 {
				t.Fatal(one, err)
			}
			paged = append(paged, one.Rows[0].Number.String())
			if q.Cursor = one.Next; q.Cursor == "" {
				break
			}
		}
		for i, r := range v.Rows {
			if paged[i] != r.Number.String() {
				t.Errorf("page %d has %s, not %s", i, paged[i], r.Number)
			}
		}
		due, err := g.Due(ctx, g.boss, DueQuery{Sort: "marking"})
		if err != nil || len(due.Rows) != 3 || due.Rows[0].What != "look at the marking" {
			t.Errorf("%+v, %v", due.Rows, err)
		}
	})
}
