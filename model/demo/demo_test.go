package demo

import (
	"testing"

	"pawl/model"
	"pawl/model/people"
)

// The same seed gives the same shop: equal ledgers, byte for byte, under
// different signing keys. Everything in it can be verified.
func TestSameSeedSameShop(t *testing.T) {
	var roots []string
	for range 2 {
		clock := NewClock()
		s, err := model.Open(t.Context(), model.Options{Dir: t.TempDir(), Clock: clock.Now, Chance: NewChance("demo")})
		if err != nil {
			t.Fatal(err)
		}
		built, err := Build(t.Context(), s, clock)
		if err != nil {
			t.Fatal(err)
		}
		by := model.By{Actor: model.Actor{Role: people.Manager, Via: people.ViaLocal}}
		v, err := s.Verify(t.Context(), by, model.VerifyQuery{})
		if err != nil || len(v.Problems) > 0 {
			t.Fatalf("verify: %v %v", v.Problems, err)
		}
		wrench, err := s.Tool(t.Context(), by, built.Wrench)
		if err != nil {
			t.Fatal(err)
		}
		if wrench.Tool.Serial != "KD408B217" || wrench.Custody.State != "in place" || len(wrench.Evidence) != 3 {
			t.Errorf("the wrench of the errand is %s, %s, with %d photos and papers; want KD408B217, in place, 3",
				wrench.Tool.Serial, wrench.Custody.State, len(wrench.Evidence))
		}
		roots = append(roots, v.Root)
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
	if roots[0] != roots[1] {
		t.Errorf("the same seed gave two ledgers: %s and %s", roots[0], roots[1])
	}
}
