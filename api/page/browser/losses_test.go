package browser

import (
	"strings"
	"testing"

	"pawl/model"
	"pawl/model/register"
)

// lossOf is a page of the demo's loss. CLAIM stands for the claim on it, TOOL for the first
// of its tools, LATE for the last.
func lossOf(name, who, path string) sight {
	return sight{name: name, who: who, path: func(t *testing.T, y *yard) string {
		t.Helper()
		all, _, err := y.shop.Losses(t.Context(), computer, model.LossQuery{})
		if err != nil || len(all) == 0 || len(all[0].Lines) == 0 {
			t.Fatalf("the demo has no loss for %q: %v", name, err)
		}
		made, _, err := y.shop.Claims(t.Context(), computer, model.ClaimQuery{})
		if err != nil || len(made) == 0 {
			t.Fatalf("the demo has no claim for %q: %v", name, err)
		}
		lines := all[0].Lines
		return strings.NewReplacer("ID", all[0].ID, "CLAIM", made[0].ID, "TOOL", string(lines[0].Number), "LATE", string(lines[len(lines)-1].Number)).Replace(path)
	}}
}

// builtPacket is the page of a packet that is built for it.
func builtPacket(name string) sight {
	return sight{name: name, who: boss, path: func(t *testing.T, y *yard) string {
		t.Helper()
		drill := "drill"
		done, err := y.shop.Register(t.Context(), computer, register.New{Change: register.Change{Kind: &drill}}) // of the shop: of another's only they build one
		if err != nil {
			t.Fatal(err)
		}
		v, err := y.shop.BuildPacket(t.Context(), computer, model.NewPacket{Ownership: string(done.Number)})
		if err != nil {
			t.Fatal(err)
		}
		return "/packets/" + v.ID
	}}
}

// faulty is the page of a claim on a warranty, which is opened for it.
func faulty(name string) sight {
	return sight{name: name, who: boss, path: func(t *testing.T, y *yard) string {
		t.Helper()
		rows, _, err := y.shop.Find(t.Context(), computer, model.FindQuery{Text: "heat gun"})
		if err != nil || len(rows) == 0 {
			t.Fatal(err)
		}
		v, err := y.shop.OpenClaim(t.Context(), computer, model.NewClaim{Kind: "warranty", Number: string(rows[0].Number), Fault: "no heat on the second step"})
		if err != nil {
			t.Fatal(err)
		}
		return "/claims/" + v.ID
	}}
}
