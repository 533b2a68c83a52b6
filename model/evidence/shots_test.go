package evidence

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// walk reads shots as "A" (the label A), "." (no code), "?" (a code that cannot
// be read), "A+B" (two labels), "!X" (a label of another shop), a second apart.
func walk(text string) (shots []Shot) {
	for i, word := range strings.Fields(text) {
		s := Shot{Name: fmt.Sprintf("%03d.jpg", i), ClaimedAt: fmt.Sprintf("2026-11-25T09:%02d:%02d", i/60, i%60)}
		switch word {
		case ".":
		case "?":
			s.Unreadable = true
		default:
			s.Numbers = strings.Split(word, "+")
		}
		shots = append(shots, s)
	}
	return shots
}

func ours(number string) bool { return !strings.HasPrefix(number, "!") }

// told writes groups as "A:label,whole,plate -:other".
func told(groups []Group) string {
	var all []string
	for _, g := range groups {
		var kinds []string
		for _, k := range g.Kinds {
			kinds = append(kinds, string(k))
		}
		number := g.Number
		if number == "" {
			number = "-"
		}
		all = append(all, number+":"+strings.Join(kinds, ","))
	}
	return strings.Join(all, " ")
}

func TestShotsAreSplitAtTheLabels(t *testing.T) {
	for _, c := range []struct{ shots, want string }{
		{"A . . B . .", "A:label,whole,plate B:label,whole,plate"},
		{"A . . . . B", "A:label,whole,plate,other,other B:label"},
		{"A B .", "A:label B:label,whole"},
		{". . A .", "-:other,other A:label,whole"},
		{"", ""},
		// The whole tool shows its label too, and perhaps too small to be read.
		{"A A . B ? . C", "A:label,whole,plate B:label,whole,plate C:label"},
		{"A ? ? . B", "A:label,whole,plate,other B:label"},
		// What may be the next label ends a group; nothing is filed under the tool before.
		{"A . . ? . . B . .", "A:label,whole,plate -:other,other,other B:label,whole,plate"},
		{"A . . !X . . B", "A:label,whole,plate -:other,other,other B:label"},
		{"!X . A", "-:other,other A:label"},
		// Several labels in one shot are a drawer, unless it is the one that was expected.
		{"A . . A+B . B .", "A:label,whole,plate -:other,other B:label,whole"},
		{"A A+B .", "A:label,whole,plate"},
		{"A . B+C .", "A:label,whole -:other,other"},
		// The same label again, later, is that tool again.
		{"A . . B . . A .", "A:label,whole,plate B:label,whole,plate A:label,whole"},
	} {
		if got := told(Groups(walk(c.shots), ours)); got != c.want {
			t.Errorf("%s\n got %s\nwant %s", c.shots, got, c.want)
		}
	}
}

func TestShotsAreOrderedByTheirOwnClockThenByName(t *testing.T) {
	groups := Groups([]Shot{
		{Name: "IMG_3.jpg", ClaimedAt: "2026-11-25T09:00:05"},
		{Name: "IMG_10.jpg", ClaimedAt: "2026-11-25T09:00:00-06:00", Numbers: []string{"A"}},
		{Name: "IMG_2.jpg", ClaimedAt: "2026-11-25T09:00:05"},
		{Name: "scan.jpg"},
	}, ours)
	var names []string
	for _, g := range groups {
		for _, s := range g.Shots {
			names = append(names, s.Name)
		}
	}
	if got := strings.Join(names, " "); got != "scan.jpg IMG_10.jpg IMG_2.jpg IMG_3.jpg" || told(groups) != "-:other A:label,whole,plate" {
		t.Errorf("%s in %s", got, told(groups))
	}
}

// Whatever comes in: every shot is in one group, the order in which they arrive
// does not matter, and no shot that shows another readable label is filed under a
// tool.
func TestNothingIsLostNorFiledUnderAnother(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		words := rapid.SliceOfN(rapid.SampledFrom([]string{".", ".", ".", "?", "A", "B", "C", "!X", "A+B"}), 0, 30).Draw(rt, "shots")
		shots := walk(strings.Join(words, " "))
		groups := Groups(shots, ours)
		if again := Groups(rapid.Permutation(shots).Draw(rt, "order"), ours); told(again) != told(groups) {
			rt.Fatalf("%s in another order: %s", told(groups), told(again))
		}
		n := 0
		for _, g := range groups {
			if len(g.Kinds) != len(g.Shots) || (g.Number == "") == (g.Why == "") {
				rt.Fatalf("group %+v", g)
			}
			n += len(g.Shots)
			for _, s := range g.Shots {
				if g.Number != "" && len(s.Numbers) == 1 && s.Numbers[0] != g.Number {
					rt.Fatalf("the label %s is filed under %s", s.Numbers[0], g.Number)
				}
			}
		}
		if n != len(shots) {
			rt.Fatalf("%d shots of %d", n, len(shots))
		}
	})
}
