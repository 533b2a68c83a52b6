package register

import (
	"testing"

	"pgregory.net/rapid"

	"pawl/model/fault"
	"pawl/model/units"
)

func TestParseWith(t *testing.T) {
	for text, want := range map[string]With{
		"battery:KD2":       {"battery", "KD2", ""},
		"battery:KD2:49.00": {"battery", "KD2", "49.00"},
		"case":              {"case", "", ""},
		"case::12":          {"case", "", "12"},
		"battery: -0012 ":   {"battery", "-0012", ""},
	} {
		if got, err := ParseWith(text); err != nil || got != want {
			t.Errorf("%q: %+v, %v, want %+v", text, got, err, want)
		}
	}
	for _, text := range []string{"", ":KD2", " :KD2:1", "a:b:c:d"} {
		if got, err := ParseWith(text); !fault.Is(err, fault.Malformed) {
			t.Errorf("%q: %+v, %v", text, got, err)
		}
	}
}

// Whatever the parts cost, all together cost what the receipt says, or it is
// refused because they cost more.
func TestPriceSplit(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		whole := rapid.Int64Range(0, 100_000).Draw(rt, "whole")
		tool := Tool{ID: "T-1", Kind: "drill"}
		tool.Price, tool.Currency = &whole, "USD"
		parts := rapid.SliceOfN(rapid.Int64Range(-1, 40_000), 0, MaxWith).Draw(rt, "parts")
		in, sum := []With{}, int64(0)
		for _, p := range parts {
			w := With{Kind: "battery"}
			if p >= 0 {
				w.Price = units.Money{Minor: p, Currency: "USD"}.Decimal()
				sum += p
			}
			in = append(in, w)
		}
		out, err := Parts(&tool, in, "EUR")
		if sum > whole {
			if !fault.Is(err, fault.Invalid) {
				rt.Fatalf("%d of %d: %v", sum, whole, err)
			}
			return
		}
		if err != nil {
			rt.Fatal(err)
		}
		total := *tool.Price
		for i, p := range out {
			if (p.Price == nil) != (parts[i] < 0) || p.CameWith != "T-1" {
				rt.Fatalf("part %d: %+v", i, p)
			}
			if p.Price != nil {
				total += *p.Price
			}
		}
		if total != whole {
			rt.Fatalf("%d together, %d on the receipt", total, whole)
		}
	})
}

func TestOutside(t *testing.T) {
	text := func(s string) *string { return &s }
	kind := text("jack")
	for name, c := range map[string]struct {
		change Change
		wrong  bool
		from   string
	}{
		"theirs":           {Change{Kind: kind, OwnerOutside: text("Neighbor Bay"), Deposit: text("50.00")}, false, "Neighbor Bay"},
		"nobody's deposit": {Change{Kind: kind, Deposit: text("50.00")}, true, ""},
		"two owners":       {Change{Kind: kind, OwnerOutside: text("Neighbor Bay"), Owner: text("Tech A")}, true, ""},
		"ours":             {Change{Kind: kind, OwnerOutside: text("")}, false, ""},
	} {
		got, err := c.change.Apply(Tool{}, "2026-11-25", "USD")
		if (err != nil) != c.wrong || err == nil && got.Outsider != c.from {
			t.Errorf("%s: %+v, %v", name, got.Outside, err)
		}
	}
	minor := int64(5000)
	bought, err := Change{Owner: text("Tech A")}.Apply(Tool{Kind: "jack", Outside: Outside{"Neighbor Bay", &minor, "USD", "2026-12-01"}}, "2026-11-25", "USD")
	if err != nil || bought.Outside != (Outside{}) {
		t.Errorf("bought by somebody here: %+v, %v", bought.Outside, err)
	}
}
