package evidence

import (
	"slices"
	"testing"
)

// Every kind has its place: photos have none to fight over, papers one each.
func TestByWeight(t *testing.T) {
	var all []Record
	for _, k := range Kinds() {
		if (k.Weight() < 0) != k.Photo() {
			t.Errorf("%s: weight %d, photo %v", k, k.Weight(), k.Photo())
		}
		all = append(all, Record{Kind: k})
	}
	slices.Reverse(all)
	ByWeight(all)
	var got []Kind
	for _, r := range all {
		got = append(got, r.Kind)
	}
	want := []Kind{Damage, Drawer, Label, Whole, Plate, Receipt, Account, Card, Registration, Warranty, Slip, Certificate, Police, Statement, Other}
	if !slices.Equal(got, want) {
		t.Errorf("in the order %v, want %v", got, want)
	}
	for _, k := range Kinds() {
		if k.Shared() && k.Photo() {
			t.Errorf("%s is a photo of one tool, and shared", k)
		}
	}
}
