package counts

import (
	"math"
	"slices"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

func TestConfidenceFactors(t *testing.T) {
	percents := []float64{.95, .90, .85, .80, .75, .50}
	for _, row := range vectors(t, "confidence-factors.txt") {
		for i, p := range percents {
			want, err := strconv.ParseFloat(row[1+i], 64)
			if err != nil {
				t.Fatal(err)
			}
			near(t, row[0]+" errors at "+Percent(p), TableFactor(whole(t, row[0]), p), want, 1e-9)
		}
	}
	for k, want := range []float64{2.995732, 4.743865, 6.295794, 7.753657, 9.153519} { // row 18, own values
		near(t, "exact factor", Factor(k, .95), want, 5e-7)
	}
	near(t, "no errors", Factor(0, .95), -math.Log(.05), 1e-12)
	if !math.IsNaN(Factor(-1, .95)) || !math.IsNaN(Factor(0, 1)) {
		t.Error("a factor of nothing")
	}
}

func TestEvaluateUnits(t *testing.T) {
	// University notes on monetary-unit sampling: 2,500,000 in 93 units, no errors.
	got, err := Evaluate(26_882, .95, TableFactor, nil)
	if err != nil || got.Upper != 80_646 || got.Projected != 0 || got.Basic != 80_646 {
		t.Errorf("%+v, %v", got, err)
	}
	// A published exercise, worked right: the answer posted beside it projects the raw
	// errors. 15,000 is above the interval, so its error is taken as is.
	found := []Finding{{3_000, 2_000}, {15_000, 12_500}, {10_000, 4_000}, {500, 500}, {700, 900}}
	got, err = Evaluate(12_300, .95, TableFactor, found)
	if want := (Overstated{2_500, 13_980, 36_900, 7_790, 58_670}); err != nil || got != want {
		t.Errorf("%+v, want %+v, %v", got, want, err)
	}
	// With exact factors, own values: R 2.995732, 4.743865, 6.295794.
	got, err = Evaluate(12_300, .95, Factor, found)
	if want := (Overstated{2_500, 13_980, 36_848, 5_521 + 2_263, 58_612}); err != nil || got != want {
		t.Errorf("%+v, want %+v, %v", got, want, err)
	}
}

func TestUnitsRefuse(t *testing.T) {
	for _, err := range []error{
		second(Evaluate(0, .95, Factor, nil)),
		second(Evaluate(10, 1, Factor, nil)),
		second(Evaluate(10, .95, Factor, []Finding{{-1, 0}})),
		second(Evaluate(10, .95, Factor, []Finding{{1, -1}})),
		second(UnitInterval(0, .95, Factor)),
		second(UnitInterval(100, 0, Factor)),
		second(DrawUnits(ChosenSeed(1), nil, 0)),
	} {
		if !fault.Is(err, fault.Invalid) {
			t.Error(err)
		}
	}
}

func second[T any](_ T, err error) error { return err }

func TestUnitInterval(t *testing.T) {
	if got, err := UnitInterval(80_646, .95, TableFactor); err != nil || got != 26_882 {
		t.Errorf("%d, %v", got, err)
	}
	if got, err := UnitInterval(1, .95, Factor); err != nil || got != 1 {
		t.Errorf("%d, %v", got, err)
	}
}

// TestUnitsFallWhereTheyFall walks the row of money one unit at a time.
func TestUnitsFallWhereTheyFall(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		worths := priced(rapid.SliceOfN(rapid.Int64Range(-1, 60), 0, 60).Draw(t, "worths")...)
		interval := rapid.Int64Range(1, 80).Draw(t, "interval")
		u, err := DrawUnits(ChosenSeed(rapid.Int64().Draw(t, "seed")), worths, interval)
		if err != nil {
			t.Fatal(err)
		}
		if u.Start < 0 || u.Start >= interval {
			t.Fatalf("start %d of %d", u.Start, interval)
		}
		var drawn, big, outside []int
		unit := int64(0)
		for i, w := range worths {
			hit := false
			for range w.Minor {
				hit = hit || unit%interval == u.Start
				unit++
			}
			if hit {
				drawn = append(drawn, i)
			}
			if w.Minor >= interval {
				big = append(big, i)
			}
			if w.Minor == 0 {
				outside = append(outside, i)
			}
		}
		if !slices.Equal(u.Drawn, drawn) || !slices.Equal(u.Big, big) || !slices.Equal(u.Outside, outside) {
			t.Fatalf("%+v, want drawn %v, big %v, outside %v", u, drawn, big, outside)
		}
		for _, i := range big {
			if !slices.Contains(drawn, i) {
				t.Fatalf("tool %d is worth the interval and was not drawn", i)
			}
		}
		if len(u.Looks()) != len(drawn)+len(outside) {
			t.Fatal("looks", u.Looks())
		}
	})
}

// TestDearToolsAreDrawnByTheirWorth: the share of starts that draw a tool is its worth
// over the interval.
func TestDearToolsAreDrawnByTheirWorth(t *testing.T) {
	worths, times := priced(10, 50, 5, 35), make([]float64, 4)
	for i := range draws {
		u, err := DrawUnits(ChosenSeed(int64(i)), worths, 100)
		if err != nil {
			t.Fatal(err)
		}
		for _, at := range u.Drawn {
			times[at]++
		}
	}
	sum := 0.0
	for i, w := range worths {
		each := draws * float64(w.Minor) / 100
		sum += (times[i] - each) * (times[i] - each) / each
	}
	fair(t, "by worth", sum, 3)
}

// TestTheUpperBoundHolds: 200 tools of which some are missing, sampled from every
// start; the bound is below the truth in no more than 1 − C of them.
func TestTheUpperBoundHolds(t *testing.T) {
	const interval, confidence = 4_000, .8
	worths, truth := make([]Worth, 200), int64(0)
	missing := map[int]bool{}
	for i, at := range Draw(ChosenSeed(11), len(worths), 60) { // in no order of worth
		missing[at] = i%2 == 0
	}
	for i := range worths {
		worths[i] = Worth{int64(100 + 37*(i*i%97)), true}
		if missing[i] {
			truth += worths[i].Minor
		}
	}
	low := 0
	const starts = 2_000
	for s := range starts {
		u, err := DrawUnits(ChosenSeed(int64(s)), worths, interval)
		if err != nil {
			t.Fatal(err)
		}
		var found []Finding
		for _, i := range u.Drawn {
			f := Finding{worths[i].Minor, worths[i].Minor}
			if missing[i] {
				f.Found = 0
			}
			found = append(found, f)
		}
		got, err := Evaluate(interval, confidence, Factor, found)
		if err != nil {
			t.Fatal(err)
		}
		if got.Upper < truth {
			low++
		}
	}
	if share := float64(low) / starts; share > 1-confidence {
		t.Errorf("too low in %.3f of all draws", share)
	}
}
