package markings

import (
	"slices"
	"strings"
	"testing"
)

func TestAdvise(t *testing.T) {
	at := func(grade int64, ago int) Forecast { return candidate("x", grade, ago, 0).Forecast }
	engraved := printed(look(today, 4))
	engraved.Method = "engraved"
	for name, c := range map[string]struct {
		kept Kept
		want string
	}{
		"crisp, nothing done":        {Kept{Method: "printed", TakesLabel: true, Forecast: at(4, 0)}, "photograph now, photograph first, clear tape"},
		"crisp, photographed, taped": {Kept{Method: "printed", Protection: "clear tape", TakesLabel: true, PlatePhoto: true, Forecast: at(4, 0)}, "photograph first"},
		"engraved by its maker":      {Kept{Method: "engraved", TakesLabel: true, PlatePhoto: true, Forecast: engraved.Forecast(AssumedPrior(), today)}, ""},
		"one grade left":             {Kept{Method: "printed", Protection: "none", TakesLabel: true, PlatePhoto: true, Forecast: at(2, 0)}, "photograph first, clear tape, owner's number, never engrave, never recut, photograph both"},
		"the same, with a number":    {Kept{Method: "printed", Protection: "lacquer", TakesLabel: true, PlatePhoto: true, OwnersNumber: true, Forecast: at(2, 0)}, "photograph first, never recut, photograph both"},
		"not seen for long":          {Kept{Method: "printed", Protection: "clear tape", TakesLabel: true, PlatePhoto: true, Forecast: at(4, 90)}, "look now, photograph first, owner's number, never engrave, never recut, photograph both"},
		"never seen":                 {Kept{Method: "sticker", Protection: "clear tape", TakesLabel: true, Forecast: printed().Forecast(AssumedPrior(), today)}, "look now, photograph now, photograph first"},
		"lost":                       {Kept{Method: "printed", Protection: "none", TakesLabel: true, Forecast: at(1, 5)}, "photograph first, match, owner's number, never engrave, never recut, photograph both"},
		"gloves":                     {Kept{Method: "printed", Protection: "none", Forecast: at(2, 0)}, "photograph now, photograph first, never mark this kind, never recut"},
		"in doubt":                   {Kept{Method: "printed", Protection: "clear tape", TakesLabel: true, PlatePhoto: true, Forecast: printed(look(today.AddDays(-9), 0), look(today.AddDays(-5), 0), look(today.AddDays(-4), 0), look(today, 4)).Forecast(AssumedPrior(), today)}, "look again, photograph first, owner's number, never engrave, never recut, photograph both"},
		"a grade that rose":          {Kept{Method: "printed", Protection: "clear tape", TakesLabel: true, PlatePhoto: true, Forecast: printed(look(today.AddDays(-9), 3), look(today, 4)).Forecast(AssumedPrior(), today)}, "look again, photograph first"},
	} {
		var got []string
		for _, a := range Advise(c.kept) {
			got = append(got, string(a))
		}
		if all := strings.Join(got, ", "); all != c.want {
			t.Errorf("%s: %s, want %s", name, all, c.want)
		}
	}
}

// Whoever is told to add a number is told what never to do, and nobody is told to mark
// or tape what takes neither.
func TestAdviceIsSafe(t *testing.T) {
	for grade := Unreadable; grade <= Crisp; grade++ {
		for _, ago := range []int{0, 30, 400} {
			for _, method := range Methods {
				for i := range 8 {
					h := printed(look(today.AddDays(-ago), grade))
					h.Method = method
					k := Kept{Method: method, Protection: "none", TakesLabel: i&1 > 0, PlatePhoto: i&2 > 0, OwnersNumber: i&4 > 0, Forecast: h.Forecast(AssumedPrior(), today)}
					all := Advise(k)
					has := func(a Advice) bool { return slices.Contains(all, a) }
					if has(AdviceOwnersNumber) && !(has(AdviceNeverEngrave) && has(AdviceNeverRecut) && has(AdvicePhotographBoth)) {
						t.Errorf("%+v: a number without its cautions: %v", k, all)
					}
					if !k.TakesLabel && (has(AdviceTape) || has(AdviceOwnersNumber)) {
						t.Errorf("%+v: %v", k, all)
					}
					if i := slices.Index(all, AdviceTape); i >= 0 && !slices.Contains(all[:i], AdvicePhotoFirst) {
						t.Errorf("tape before the photo: %v", all)
					}
				}
			}
		}
	}
}
