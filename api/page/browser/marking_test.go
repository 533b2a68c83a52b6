package browser

import (
	"fmt"
	"strings"
	"testing"

	"pawl/model"
	"pawl/model/register"
)

// A round of three tools is walked with a phone in one hand: a photo, what can be read,
// one tap for the grade, and the next tool is there; at the end the round says so.
func TestRoundIsWalked(t *testing.T) {
	browser(t)
	y := openYard(t)
	kind, usage, place, bought := "impact wrench", "daily", "Bay 1/Cart", "2020-03-02"
	if _, err := y.shop.AddPlace(t.Context(), computer, place); err != nil {
		t.Fatal(err)
	}
	for i := range 3 {
		serial := fmt.Sprintf("KD40%dB217", i)
		if _, err := y.shop.Register(t.Context(), computer, register.New{SerialAgain: serial, Change: register.Change{Kind: &kind, Serial: &serial, Usage: &usage, Place: &place, Bought: &bought,
			Marking: &register.MarkingEntry{Method: "printed", Protection: "none"}}}); err != nil {
			t.Fatal(err)
		}
	}
	p := y.open(t, "Tech A", phone)
	p.visit("/markings")
	p.leaves(func() { p.tap("Walk the round") })
	met := map[string]bool{}
	for i, grade := range []string{"4", "2", "1"} {
		p.until("its place in the round", `(n) => document.body.innerText.includes("left to look at, with this one: " + n)`, 3-i)
		met[p.where()] = true
		p.choose("Take a photo", paper(p.T, fmt.Sprint("marking ", i)))
		p.write("#f-read", "KD40?B217")
		p.leaves(func() { p.tap(`main button[name="grade"][value="` + grade + `"]`) })
	}
	p.at("/markings")
	if said := p.text(); !strings.Contains(said, "That was the last of the round.") || len(met) != 3 {
		t.Errorf("after %d tools: %s", len(met), said)
	}
	rows, _, err := y.shop.Find(t.Context(), computer, model.FindQuery{Kind: kind})
	if err != nil {
		t.Fatal(err)
	}
	grades := map[int64]int{}
	for _, r := range rows {
		v, err := y.shop.Markings(t.Context(), computer, r.Number.String())
		if err != nil || len(v.Markings) != 1 || len(v.Markings[0].Checks) != 1 {
			t.Fatalf("%s: %+v, %v", r.Number, v.Markings, err)
		}
		c := v.Markings[0].Checks[0]
		if c.Grade == nil || c.Photo == nil || c.Read != "KD40?B217" || c.EnteredBy != "Tech A" {
			t.Fatalf("%s: %+v", r.Number, c)
		}
		grades[*c.Grade]++
	}
	if grades[4] != 1 || grades[2] != 1 || grades[1] != 1 {
		t.Errorf("grades %v", grades)
	}
}
