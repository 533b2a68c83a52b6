package page_test

import (
	"testing"

	"pawl/model"
	"pawl/model/register"
)

// A place has no part in what a worn serial may be of, and the page says so to
// somebody who chose one.
func TestAWornSerialIsOfAnyPlace(t *testing.T) {
	b := openBay(t)
	kind, serial := "impact wrench", "KD408B217"
	if _, err := b.shop.Register(t.Context(), model.By{Actor: computer}, register.New{SerialAgain: serial, Change: register.Change{Kind: &kind, Serial: &serial}}); err != nil {
		t.Fatal(err)
	}
	b.techA.open("/find?reading=KD4%3F8B217&place=Bay+2").with(200).says("Tools of all places were looked at, not only of Bay 2", "KD408B217")
	b.techA.open("/find?reading=KD4%3F8B217").with(200).says("KD408B217").without("Tools of all places")
}
