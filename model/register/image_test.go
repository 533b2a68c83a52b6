package register

import (
	"testing"
	"unicode/utf8"

	"pawl/model/ledger"
)

// What an image of elsewhere says is entered here like anything that is typed.
func TestFromImage(t *testing.T) {
	image := ledger.Image{"kind": "drill", "serial": "=A1", "pieces": `[{"name":"case","count":2}]`, "price": int64(28950), "currency": "JPY", "warranty_months": int64(24),
		"owner": "H-1", "place": "P-1", "gone": int64(5)}
	c, err := FromImage(image)
	if err != nil {
		t.Fatal(err)
	}
	got, err := c.Apply(Tool{Purchase: Purchase{Currency: "JPY"}}, today, "USD")
	if err != nil || got.Kind != "drill" || got.Serial != "=A1" || *got.Price != 28950 || got.Currency != "JPY" || got.WarrantyMonths != 24 ||
		len(got.Pieces) != 1 || got.Pieces[0].Count != 2 || got.Owner != "" || got.Place != "" || got.Gone != 0 {
		t.Errorf("%+v, %v", got, err)
	}
	for name, image := range map[string]ledger.Image{"no pieces": {"kind": "drill", "pieces": "x"}, "no kind": {}, "a bad day": {"kind": "drill", "bought": "2026-02-30"},
		"a piece without name": {"kind": "drill", "pieces": `[{"name":"","count":1}]`}} {
		c, err := FromImage(image)
		if err == nil {
			_, err = c.Apply(Tool{}, today, "USD")
		}
		if err == nil {
			t.Errorf("%s was taken", name)
		}
	}
}

// FuzzFromImage: an image of elsewhere is refused, or gives a tool that is
// acceptable once more.
func FuzzFromImage(f *testing.F) {
	for _, s := range []string{`{}`, `{"kind":"drill","price":28950,"currency":"USD"}`, `{"kind":"drill","pieces":"[{\"name\":\"case\",\"count\":2}]"}`, `{"currency":"XXX","kind":"a","price":-1}`,
		`{"earlier_numbers":"[\"000-01Y\"]","kind":"drill"}`, `{"kind":true,"warranty_months":9999}`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		image, err := ledger.ParseImage(raw)
		if err != nil {
			return
		}
		if n := EarlierNumbers(image); len(n) > 100 {
			t.Fatalf("%d earlier numbers", len(n))
		}
		c, err := FromImage(image)
		if err != nil {
			return
		}
		var before Tool
		before.Currency, _ = image["currency"].(string)
		got, err := c.Apply(before, today, "USD")
		if err != nil {
			return
		}
		for _, s := range []string{got.Kind, got.Maker, got.Model, got.Serial, got.Lot, got.Notes, got.Seller, got.OwedTo} {
			if !utf8.ValidString(s) {
				t.Fatalf("%q was taken from %s", s, raw)
			}
		}
		if again, err := (Change{}).Apply(got, today, "USD"); err != nil || again.Kind != got.Kind || again.Serial != got.Serial {
			t.Fatalf("%+v is not acceptable: %v", got, err)
		}
	})
}
