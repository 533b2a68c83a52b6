package counts

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

func state(t *testing.T, tally Tally) Statement {
	t.Helper()
	s, err := State(tally)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestWhatACountMaySay(t *testing.T) {
	tests := []struct {
		name   string
		tally  Tally
		atMost int
		want   []string
	}{
		{"everything, all there", Tally{Listed: 40, Looked: 40, Seen: 40, Right: 40, Confidence: .95}, 0, []string{
			"Listed tools only: 40 tools were on the list when the count began. What is on no list was not counted.",
			"All of them were to be looked for: 40 seen, 0 missing. A look that was not made counts as missing.",
			"0 of 40 are missing. Every listed tool was to be looked for, so this is no estimate.",
			"40 of 40 records were right in everything, 100.0 %.",
		}},
		{"everything, one missing, two with somebody", Tally{Listed: 40, Looked: 40, Seen: 37, ByWord: 2, Right: 36, Confidence: .95}, 1, []string{
			"Listed tools only: 40 tools were on the list when the count began. What is on no list was not counted.",
			"All of them were to be looked for: 37 seen, 2 not seen but with somebody who says so, 1 missing. A look that was not made counts as missing. What follows takes people at their word.",
			"1 of 40 is missing. Every listed tool was to be looked for, so this is no estimate.",
			"36 of 40 records were right in everything, 90.0 %.",
		}},
		{"everything, two moved meanwhile", Tally{Listed: 40, Looked: 40, Seen: 36, Moved: 2, Right: 38, Confidence: .95}, 2, []string{
			"Listed tools only: 40 tools were on the list when the count began. What is on no list was not counted.",
			"All of them were to be looked for: 36 seen, 2 not seen but by the record moved while the count went on, 2 missing. A look that was not made counts as missing. What follows takes the record of these at its word.",
			"2 of 40 are missing. Every listed tool was to be looked for, so this is no estimate.",
			"38 of 40 records were right in everything, 95.0 %.",
		}},
		{"a sample that found all", Tally{Listed: 100, Looked: 45, Seen: 45, Right: 45, Confidence: .95, Planned: 5}, 4, []string{
			"Listed tools only: 100 tools were on the list when the count began. What is on no list was not counted.",
			"45 of them were drawn to be looked for: 45 seen, 0 missing. A look that was not made counts as missing.",
			"If 5 or more of the 100 listed were missing, this count had at least 95 % chance of finding one.",
			"With confidence 95 % at most 4 of 100 are missing.",
			"45 of 45 records were right in everything, 100.0 %; with confidence 95 % at least 96 % of all 100 are.",
		}},
		{"a sample that found one missing, by a chosen seed, drawn again", // row 38 is 47 right of 50 of 120
			Tally{Listed: 120, Looked: 50, Seen: 49, Right: 47, Confidence: .95, Planned: 6, Chosen: "7", Redraws: 1}, 9, []string{
				"Listed tools only: 120 tools were on the list when the count began. What is on no list was not counted.",
				"50 of them were drawn to be looked for: 49 seen, 1 missing. A look that was not made counts as missing.",
				"If 6 or more of the 120 listed were missing, this count had at least 95 % chance of finding one.",
				"With confidence 95 % at most 9 of 120 are missing. The best estimate is 2.4.",
				"47 of 50 records were right in everything, 94.0 %; with confidence 95 % at least 87.5 % of all 120 are.",
				"THE SEED WAS CHOSEN, NOT DRAWN: 7. Whoever chooses a seed can choose which tools are looked at, so what is said of the others rests on trust.",
				"DRAWN AGAIN: 1 sample of the same scope had been drawn before this one. Who may draw until a sample suits can choose which tools are looked at.",
			}},
		{"by worth", Tally{Listed: 120, Looked: 55, Seen: 52, Right: 52, Confidence: .95, Currency: "USD", Strata: []Outcome{
			{Class: ClassA, Rule: Rule{Full: true}, Listed: 12, Looked: 12, Seen: 12, Right: 12, Worth: 8_400_00},
			{Class: ClassB, Rule: Rule{Missing: 3, Confidence: .95}, Listed: 38, Looked: 24, Seen: 23, Right: 23, Worth: 1_520_00},
			{Class: ClassC, Rule: Rule{Missing: 7, Confidence: .90}, Listed: 70, Looked: 19, Seen: 17, Right: 17, Worth: 490_00},
		}}, 28, []string{
			"Listed tools only: 120 tools were on the list when the count began. What is on no list was not counted.",
			"55 of them were drawn to be looked for: 52 seen, 3 missing. A look that was not made counts as missing.",
			"Class A: all 12 were to be looked for.",
			"Class B: 24 of 38 were to be looked for. If 3 or more of these were missing, this count had at least 95.6 % chance of finding one.",
			"Class C: 19 of 70 were to be looked for. If 7 or more of these were missing, this count had at least 90.3 % chance of finding one.",
			"If so many were missing in each of these at once: at least 99.5 %.",          // 1 − (1 − 0.956852)(1 − 0.903422) = 0.99583
			"With confidence 95 % at most 28 of 120 are missing. The best estimate is 9.", // 38/24 + 70·2/19 = 8.95
			"The best estimate of what the missing are worth is 114.91 USD: of each class its worth times the share found missing in it. It is no bound.",
			"52 of 55 records were right in everything, 94.5 %; with confidence 95 % at least 76.6 % of all 120 are.",
		}},
		{"by worth, one without a price too", Tally{Listed: 30, Looked: 20, Seen: 17, Right: 17, Confidence: .95, Currency: "USD", Strata: []Outcome{
			{Class: ClassB, Rule: Rule{Missing: 3, Confidence: .95}, Listed: 20, Looked: 10, Seen: 9, Right: 9, Worth: 100_00},
			{Class: Unpriced, Rule: Rule{Full: true}, Listed: 10, Looked: 10, Seen: 8, Right: 8},
		}}, 9, []string{
			"Listed tools only: 30 tools were on the list when the count began. What is on no list was not counted.",
			"20 of them were drawn to be looked for: 17 seen, 3 missing. A look that was not made counts as missing.",
			"Class B: 10 of 20 were to be looked for. If 3 or more of these were missing, this count had at least 89.4 % chance of finding one.",
			"Tools without a price: all 10 were to be looked for.",
			"With confidence 95 % at most 9 of 30 are missing. The best estimate is 4.",
			"The best estimate of what the missing are worth is 10.00 USD: of each class its worth times the share found missing in it. It is no bound. Without a price, and not in that figure: 2 tools missing.",
			"17 of 20 records were right in everything, 85.0 %; with confidence 95 % at least 70 % of all 30 are.",
		}},
		{"by money", Tally{Listed: 300, Looked: 60, Seen: 58, Right: 57, Confidence: .95, Currency: "USD",
			Money: &ByMoney{Overstated{2_500, 13_980, 36_900, 7_790, 58_670}, 4}}, 242, []string{
			"Listed tools only: 300 tools were on the list when the count began. What is on no list was not counted.",
			"60 of them were drawn to be looked for: 58 seen, 2 missing. A look that was not made counts as missing.",
			"With confidence 95 % the record claims at most 586.70 USD more than is there: 139.80 USD projected, 369.00 USD for what chance may hide, 77.90 USD for the errors found. 4 tools without a price are not in that figure; every one of them was to be looked for.",
			"A sample by money says nothing of the number of tools: at most 242 of 300 are missing, which is every one that was not seen.",
			"57 of 60 records were right in everything, 95.0 %; whatever the others are like at least 19 % of all 300 are.",
		}},
	}
	for _, tt := range tests {
		s := state(t, tt.tally)
		if s.AtMostMissing != tt.atMost {
			t.Errorf("%s: at most %d, want %d", tt.name, s.AtMostMissing, tt.atMost)
		}
		if got, want := strings.Join(s.Words, "\n"), strings.Join(tt.want, "\n"); got != want {
			t.Errorf("%s:\n%s\nwant\n%s", tt.name, got, want)
		}
	}
}

func TestWhatDoesNotAddUpIsNotSaid(t *testing.T) {
	good := Tally{Listed: 100, Looked: 45, Seen: 40, ByWord: 2, Right: 40, Confidence: .95}
	for name, change := range map[string]func(*Tally){
		"nothing listed":             func(t *Tally) { *t = Tally{Confidence: .95} },
		"nothing looked at":          func(t *Tally) { t.Looked, t.Seen, t.ByWord, t.Right = 0, 0, 0, 0 },
		"more looked at than listed": func(t *Tally) { t.Looked = 101 },
		"more seen than looked at":   func(t *Tally) { t.Seen = 44 },
		"more right than seen":       func(t *Tally) { t.Right = 43 },
		"below nothing":              func(t *Tally) { t.ByWord = -1 },
		"fewer than none moved":      func(t *Tally) { t.Moved = -1 },
		"more moved than looked at":  func(t *Tally) { t.Moved = 4 },
		"certain":                    func(t *Tally) { t.Confidence = 1 },
		"strata that are not the sum": func(t *Tally) {
			t.Strata = []Outcome{{Class: ClassA, Listed: 100, Looked: 45, Seen: 41, ByWord: 2, Right: 40}}
		},
		"a stratum below nothing": func(t *Tally) {
			t.Strata = []Outcome{{Listed: 50, Looked: 0, Seen: 1}, {Listed: 50, Looked: 45, Seen: 39, ByWord: 2, Right: 40}}
		},
	} {
		bad := good
		change(&bad)
		if s, err := State(bad); !fault.Is(err, fault.Invalid) || s.Words != nil {
			t.Errorf("%s: %v, %v", name, s, err)
		}
	}
	state(t, good)
}

// TestNothingIsOverstated: whatever was found, the bound holds all that was found
// missing, and what is written down as "at least" is no more than the figure.
func TestNothingIsOverstated(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var tally Tally
		tally.Listed = rapid.IntRange(1, 500).Draw(t, "listed")
		tally.Looked = rapid.IntRange(1, tally.Listed).Draw(t, "looked")
		tally.Seen = rapid.IntRange(0, tally.Looked).Draw(t, "seen")
		tally.ByWord = rapid.IntRange(0, tally.Looked-tally.Seen).Draw(t, "by word")
		tally.Moved = rapid.IntRange(0, tally.Looked-tally.Seen-tally.ByWord).Draw(t, "moved")
		tally.Right = rapid.IntRange(0, tally.Seen+tally.ByWord+tally.Moved).Draw(t, "right")
		tally.Confidence = rapid.SampledFrom(confidences[1:]).Draw(t, "confidence")
		plain, err := State(tally)
		if err != nil {
			t.Fatal(err)
		}
		tally.Strata = []Outcome{{Class: ClassB, Rule: Rule{Missing: 1, Confidence: .9}, Listed: tally.Listed, Looked: tally.Looked, Seen: tally.Seen, ByWord: tally.ByWord, Moved: tally.Moved, Right: tally.Right}}
		parted, err := State(tally)
		if err != nil {
			t.Fatal(err)
		}
		if parted.AtMostMissing != plain.AtMostMissing || parted.Accuracy.Low != plain.Accuracy.Low {
			t.Fatalf("one stratum says %+v, a plain sample %+v", parted, plain)
		}
		tally.Strata, tally.Money = nil, &ByMoney{}
		money, err := State(tally)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range []Statement{plain, money} {
			if s.Missing+s.Seen+s.ByWord+s.Moved != s.Looked || s.AtMostMissing < s.Missing || s.AtMostMissing > s.Listed {
				t.Fatalf("%+v", s)
			}
			// In whole tools: where 13 of 15 were right and one was not looked at, 13 of
			// 16 is ruled out at a confidence of 0.8, since 3 times in 16 it shows that.
			if most := math.Ceil(s.Accuracy.Share*float64(s.Listed)-1e-9) / float64(s.Listed); s.Accuracy.Low > most+1e-12 {
				t.Fatalf("accuracy at least %v of %v", s.Accuracy.Low, s.Accuracy.Share)
			}
		}
		if plain.AtMostMissing > money.AtMostMissing {
			t.Fatal("a plain sample says less than one by money")
		}
	})
}

func TestSharesInWords(t *testing.T) {
	for _, tt := range []struct {
		p                  float64
		atLeast, percentOf string
	}{
		{1, "100 %", "100.0 %"}, {.9999, "99.9 %", "99.9 %"}, {.875, "87.5 %", "87.5 %"}, {.95, "95 %", "95.0 %"},
		{.0001, "0 %", "0.1 %"}, {0, "0 %", "0.0 %"}, {.956852, "95.6 %", "95.7 %"}, {.29, "29 %", "29.0 %"},
	} {
		if a, b := atLeast(tt.p), percentOf(tt.p); a != tt.atLeast || b != tt.percentOf {
			t.Errorf("%v: at least %s, %s", tt.p, a, b)
		}
	}
	for p, want := range map[float64]string{.95: "95 %", .995: "99.5 %", .9: "90 %", .07: "7 %"} {
		if got := Percent(p); got != want {
			t.Errorf("%v: %s", p, got)
		}
	}
}
