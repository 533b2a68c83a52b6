package markings_test

import (
	"slices"
	"strings"
	"testing"

	"pawl/model/dates"
	"pawl/model/markings"
	"pawl/model/register"
)

// What is first said of the usage holds for the days before it; a later change does not.
func TestUsageSaidForTheFirstTime(t *testing.T) {
	m := markings.Marking{ID: "M-1", Protection: "none"}
	term := func(on dates.Date, usage register.Usage) markings.Term {
		return markings.Term{ID: string(on), Marking: "M-1", From: on, Usage: usage}
	}
	for _, c := range []struct {
		name  string
		terms []markings.Term
		want  []register.Usage
	}{
		{"never said", []markings.Term{term("2026-01-01", "")}, []register.Usage{""}},
		{"said later", []markings.Term{term("2026-01-01", ""), term("2026-07-02", register.Rare)}, []register.Usage{register.Rare, register.Rare}},
		{"changed", []markings.Term{term("2026-01-01", register.Daily), term("2026-07-02", register.Rare)}, []register.Usage{register.Daily, register.Rare}},
		{"said, then changed", []markings.Term{term("2026-01-01", ""), term("2026-03-01", register.Weekly), term("2026-07-02", register.Rare)}, []register.Usage{register.Weekly, register.Weekly, register.Rare}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var got []register.Usage
			for _, s := range markings.Stretches(m, "", "2026-01-01", c.terms) {
				got = append(got, s.Usage)
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("%q, want %q", got, c.want)
			}
		})
	}
}

// Terms stand in the order of their days, in whatever order they were entered; what is
// said without a day holds from the start, and unknown is not none.
func TestTermsStandInTheOrderOfTheirDays(t *testing.T) {
	m := markings.Marking{ID: "M-1", Protection: "lacquer"}
	term := func(on dates.Date, protection markings.Protection) markings.Term {
		return markings.Term{ID: string(on), Marking: "M-1", From: on, Protection: protection}
	}
	withdrawn := term("2026-05-01", "clear tape")
	withdrawn.Withdrawn = 1
	for _, c := range []struct {
		name  string
		terms []markings.Term
		want  string
	}{
		{"none", nil, "2026-03-01 lacquer"},
		{"from the start, then taped", []markings.Term{term("", "none"), term("2026-06-01", "clear tape")}, "2026-03-01 none; 2026-06-01 clear tape"},
		{"one before the first", []markings.Term{term("", "none"), term("2026-06-01", "lacquer"), term("2026-02-01", "clear tape")},
			"2026-02-01 clear tape; 2026-06-01 lacquer"},
		{"nobody knows before the first", []markings.Term{term("2026-06-01", "none")}, "2026-03-01 ; 2026-06-01 none"},
		{"taken back", []markings.Term{withdrawn, term("", "none")}, "2026-03-01 none"},
		{"of another marking", []markings.Term{{Marking: "M-2", Protection: "none"}}, "2026-03-01 lacquer"},
	} {
		var got []string
		for _, s := range markings.Stretches(m, "daily", "2026-03-01", c.terms) {
			if s.Usage != "daily" {
				t.Errorf("%s: used %q", c.name, s.Usage)
			}
			got = append(got, string(s.From)+" "+string(s.Protection))
		}
		if text := strings.Join(got, "; "); text != c.want {
			t.Errorf("%s: %s, want %s", c.name, text, c.want)
		}
	}
}

// That how a tool is marked was recorded otherwise makes no marking crisp: only one that
// somebody says was made on a day is new on it.
func TestWhatIsNewIsSaid(t *testing.T) {
	old, other := markings.Marking{ID: "M-1", Method: "printed", Ended: "2026-05-01"}, markings.Marking{ID: "M-2", Method: "engraved"}
	all := []markings.Marking{old, other}
	if got := markings.NewOn(old, all, "2026-01-15"); got != "2026-01-15" {
		t.Errorf("the first: %q", got)
	}
	if got := markings.NewOn(other, all, "2026-01-15"); got != "" {
		t.Errorf("recorded otherwise: %q", got)
	}
	other.Marked = "2026-05-01"
	if got := markings.NewOn(other, all, "2026-01-15"); got != "2026-05-01" {
		t.Errorf("marked anew: %q", got)
	}
}
