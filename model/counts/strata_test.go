package counts

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

// priced makes worths of amounts; a negative one is a tool without a price.
func priced(minor ...int64) (out []Worth) {
	for _, m := range minor {
		out = append(out, Worth{max(m, 0), m >= 0})
	}
	return out
}

func TestClassesByWorth(t *testing.T) {
	tests := []struct {
		name   string
		worths []Worth
		want   string
	}{
		{"up to 80, 95 and 100 of 100", priced(80, 15, 5), "[A B C]"},
		{"who crosses a line is in the dearer class", priced(4, 15, 70, 3, 8), "[B A A C B]"}, // 70, 85 | 93, 97 | 100
		{"without a price is a class of its own", priced(-1, 100, -1), "[unpriced A unpriced]"},
		{"alike in worth go by the list", priced(10, 10, 10, 10, 10, 10, 10, 10, 10, 10), "[A A A A A A A A B B]"},
		{"worth nothing, known", priced(0, 0), "[C C]"},
		{"none", nil, "[]"},
		{"beyond what 64 bits hold", []Worth{{1 << 62, true}, {1 << 62, true}, {1 << 62, true}, {1, true}}, "[A A A C]"},
	}
	for _, tt := range tests {
		if got := fmt.Sprint(Classes(tt.worths)); got != tt.want {
			t.Errorf("%s: %s, want %s", tt.name, got, tt.want)
		}
	}
}

// TestTheWorkedStrata: the example of money and statistics 4.4, own values: 12 in full,
// 24 of 38 against 3 missing, 19 of 70 against 7.
func TestTheWorkedStrata(t *testing.T) {
	near(t, "B", Detects(38, 24, 3), .956852, 5e-7)
	near(t, "C", Detects(70, 19, 7), .903422, 5e-7)
	near(t, "1 of B", Detects(38, 24, 1), .631579, 5e-7)
	near(t, "2 of C", Detects(70, 19, 2), .472050, 5e-7)
	near(t, "1 of B and 2 of C", DetectsIn([]Part{{ClassA, 12, 12, 0, 0}, {ClassB, 38, 24, 1, 0}, {ClassC, 70, 19, 2, 0}}), .805492, 5e-7)

	worths := make([]Worth, 120)
	for i := range worths { // 12 of 700, 38 of 40, 70 of 7: 8400 | 1520 | 490 of 10410 …
		worths[i] = priced(7)[0]
		if i < 12 {
			worths[i] = priced(700)[0]
		} else if i < 50 {
			worths[i] = priced(40)[0]
		}
	}
	strata, err := Strata(worths, map[string]Rule{ClassA: {Full: true}, ClassB: {Missing: 3, Confidence: .95}, ClassC: {Missing: 7, Confidence: .90}})
	if err != nil {
		t.Fatal(err)
	}
	var got string
	looks := 0
	for _, s := range strata {
		got += fmt.Sprintf("%s %d of %d; ", s.Class, s.Looks, len(s.Members))
		looks += s.Looks
	}
	if want := "A 12 of 12; B 24 of 38; C 19 of 70; "; got != want || looks != 55 {
		t.Errorf("%s%d looks, want %s55", got, looks, want)
	}
}

func TestStrataLeaveNothingOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		worths := priced(rapid.SliceOfN(rapid.Int64Range(-1, 5_000_00), 1, 300).Draw(t, "worths")...)
		strata, err := Strata(worths, nil)
		if err != nil {
			t.Fatal(err)
		}
		seen := make([]int, len(worths))
		for _, s := range strata {
			for _, m := range s.Members {
				seen[m]++
				if !worths[m].Known != (s.Class == Unpriced) {
					t.Fatalf("%v is in class %s", worths[m], s.Class)
				}
			}
			if s.Looks < 1 || s.Looks > len(s.Members) || (s.Class == ClassA && s.Looks != len(s.Members)) {
				t.Fatalf("class %s: %d looks at %d", s.Class, s.Looks, len(s.Members))
			}
		}
		if i := slices.IndexFunc(seen, func(n int) bool { return n != 1 }); i >= 0 {
			t.Fatalf("tool %d is in %d strata", i, seen[i])
		}
		drawn := DrawStrata(ChosenSeed(1), strata)
		for _, s := range strata {
			n := 0
			for _, m := range s.Members {
				if slices.Contains(drawn, m) {
					n++
				}
			}
			if n != s.Looks {
				t.Fatalf("class %s: %d drawn, %d planned", s.Class, n, s.Looks)
			}
		}
	})
}

func TestAClassWithoutARuleIsRefused(t *testing.T) {
	_, err := Strata(priced(100, -1), map[string]Rule{ClassA: {Full: true}})
	if !fault.Is(err, fault.Invalid) {
		t.Error(err)
	}
	_, err = Strata(priced(100), map[string]Rule{ClassA: {Missing: 2, Confidence: .9}})
	if !fault.Is(err, fault.Invalid) {
		t.Error("two missing of one:", err)
	}
}

// TestBoundsOfStrataHoldTogether enumerates every way in which tools can be missing
// from two small strata: how often the added bound is too low is at most 1 − C.
func TestBoundsOfStrataHoldTogether(t *testing.T) {
	const n1, l1, n2, l2, confidence = 12, 5, 20, 8, .9
	for d1 := range n1 + 1 {
		for d2 := range n2 + 1 {
			wrong := 0.0
			for k1 := 0; k1 <= min(d1, l1); k1++ {
				for k2 := 0; k2 <= min(d2, l2); k2++ {
					parts := []Part{{ClassB, n1, l1, k1, 0}, {ClassC, n2, l2, k2, 0}}
					if MissingAtMostIn(parts, confidence) < d1+d2 {
						wrong += exactly(n1, l1, k1, d1) * exactly(n2, l2, k2, d2)
					}
				}
			}
			if wrong > 1-confidence {
				t.Errorf("%d and %d missing: the bound is too low in %.3f", d1, d2, wrong)
			}
		}
	}
	// One stratum is a plain sample; those in full add what they miss and no more.
	if got := MissingAtMostIn([]Part{{ClassB, 100, 45, 1, 0}}, .95); got != 8 {
		t.Errorf("one stratum: %d", got)
	}
	if got := MissingAtMostIn([]Part{{ClassA, 12, 12, 2, 0}, {ClassC, 70, 70, 1, 0}}, .95); got != 3 {
		t.Errorf("in full: %d", got)
	}
	if got := MissingAtMostIn([]Part{{ClassA, 12, 12, 2, 0}}, 1); got != 12 {
		t.Errorf("without a confidence: %d", got)
	}
}

// exactly is P(X = k).
func exactly(listed, looked, k, missing int) float64 {
	p := atMost(listed, looked, k, missing)
	if k > 0 {
		p -= atMost(listed, looked, k-1, missing)
	}
	return p
}

func TestLossOfStrata(t *testing.T) {
	// 38 worth 1,520.00, 1 of 24 missing; 70 worth 490.00, 2 of 19: 63.33 and 51.58.
	got := LossIn([]Part{{ClassA, 12, 12, 0, 8_400_00}, {ClassB, 38, 24, 1, 1_520_00}, {ClassC, 70, 19, 2, 490_00}, {Unpriced, 5, 0, 0, 0}})
	if got != 63_33+51_58 {
		t.Errorf("%d", got)
	}
}
