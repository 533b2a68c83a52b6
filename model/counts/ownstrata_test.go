package counts

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"pawl/model/fault"
)

// The worked example of a published plan by value, from the reference's 4.4: 120 tools as
// A 12 (all), B 38 (3 missing, 0.95: 24 looks), C 70 (7 missing, 0.90: 19 looks), 55 looks
// in all; by exact whole numbers, and no figures of ours.
func TestOwnStrataAreSizedByTheirRules(t *testing.T) {
	own, err := ParseStrata([]string{"from=0, missing-at-least=7, confidence=0.90", "unpriced,all", "from=100,missing-at-least=3", "from=1000,all"}, "USD")
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(StrataTexts(own, "USD"), " "); got != "from=1000.00,all from=100.00,missing-at-least=3,confidence=0.95 from=0.00,missing-at-least=7,confidence=0.9 unpriced,all" {
		t.Error(got)
	}
	again, err := (Count{Strata: strings.Join(StrataTexts(own, "USD"), "\n"), Currency: "USD"}).OwnStrata()
	if err != nil || !reflect.DeepEqual(own, again) {
		t.Errorf("%+v, %v", again, err)
	}
	var worths []Worth
	for i := range 122 {
		switch {
		case i < 12:
			worths = append(worths, Worth{100_000, true})
		case i < 50:
			worths = append(worths, Worth{99_999, true})
		case i < 120:
			worths = append(worths, Worth{0, true})
		default:
			worths = append(worths, Worth{})
		}
	}
	strata, err := StrataBy(worths, own)
	if err != nil {
		t.Fatal(err)
	}
	var looks, listed []int
	for _, s := range strata {
		looks, listed = append(looks, s.Looks), append(listed, len(s.Members))
	}
	if !slices.Equal(looks, []int{12, 24, 19, 2}) || !slices.Equal(listed, []int{12, 38, 70, 2}) || strata[0].Class != ClassA || strata[3].Class != Unpriced {
		t.Errorf("%v looks of %v", looks, listed)
	}
	if says := ChosenRules(own, "USD"); !strings.Contains(says, "class B from 100.00 USD on: 3 or more missing not to be overlooked, with confidence 95 %; class C") {
		t.Error(says)
	}
	// More than are there are not to be overlooked: all are looked for.
	few, _ := ParseStrata([]string{"from=0,missing-at-least=500"}, "USD")
	if strata, err := StrataBy(worths[:3], few); err != nil || strata[0].Looks != 3 {
		t.Errorf("%+v, %v", strata, err)
	}
	if !slices.Equal(ClassesOf(nil), []string{ClassA, ClassB, ClassC, Unpriced}) || ChosenRules(nil, "USD") != "" {
		t.Error(ClassesOf(nil))
	}
}

func TestStrataThatAreRefused(t *testing.T) {
	for text, says := range map[string]string{
		"from=5,all":   "cheapest tools are in no stratum",
		"unpriced,all": "cheapest tools are in no stratum",
		"from=0,all|from=0.00,missing-at-least=1":  "two strata are from=0.00",
		"from=0,all|unpriced,all|unpriced,all":     "two strata are unpriced",
		"from=0":                                   "say all, or how many",
		"all":                                      "from which worth on",
		"from=0,unpriced,all":                      "from which worth on",
		"from=0,all,missing-at-least=2":            "say all, or how many",
		"from=0,all,confidence=0.9":                "no confidence",
		"from=0,missing-at-least=1,confidence=1":   "not over 0 and under 1",
		"from=0,missing-at-least=1,confidence=NaN": "not over 0 and under 1",
		"from=0,missing-at-least=1.5":              "not a number of tools",
		"from=0,missing-at-least=0":                "not a number of tools",
		"from=-1,all":                              "no amount in USD",
		"from=0.001,all":                           "no amount in USD",
		"from=,all":                                "no amount in USD",
		"from=0,all,all":                           "said twice",
		"from=0,dear":                              `"dear" says nothing`,
		"":                                         "says nothing",
		"from=0,all" + strings.Repeat("|from=1,all", 1) + "|from=2,all|from=3,all|from=4,all|from=5,all|from=6,all|from=7,all|from=8,all": "8 are the most",
	} {
		_, err := ParseStrata(strings.Split(text, "|"), "USD")
		if !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v, want %q", text, err, says)
		}
	}
}

// FuzzParseStrata: whatever is taken is written as it is read.
func FuzzParseStrata(f *testing.F) {
	for _, seed := range []string{"from=0,all", "from=1000,all|from=0,missing-at-least=3,confidence=0.99|unpriced,all", "from=,", "unpriced"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		own, err := ParseStrata(strings.Split(text, "|"), "USD")
		if err != nil {
			return
		}
		again, err := ParseStrata(StrataTexts(own, "USD"), "USD")
		if err != nil || !reflect.DeepEqual(own, again) {
			t.Fatalf("%q is written as %q: %+v, %v", text, StrataTexts(own, "USD"), again, err)
		}
	})
}
