package model

import (
	"encoding/base64"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

// A cursor comes back as it was given out, to the list that gave it.
func TestACursorComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringN(0, 40, 60)
		c := cursor{List: rapid.SampledFrom([]string{"tools", "jobs", "history"}).Draw(t, "list"), Key: text.Draw(t, "key"), ID: text.Draw(t, "id")}
		if strings.ContainsRune(c.Key+c.ID, 0) || !utf8.ValidString(c.Key+c.ID) {
			t.Skip("no list has such a key")
		}
		got, err := parseCursor(c.List, c.String())
		if err != nil || got != c {
			t.Fatalf("%+v came back as %+v, %v", c, got, err)
		}
		if _, err := parseCursor(c.List+"x", c.String()); !fault.Is(err, fault.Malformed) {
			t.Fatalf("another list took it: %v", err)
		}
	})
}

// A cursor continues a list under the very filters that it was given out for.
func TestACursorKeepsToItsFilters(t *testing.T) {
	yes, no := true, false
	for name, lists := range map[string][]string{
		"tools": {FindQuery{}.list("tools"), FindQuery{Kind: "jack"}.list("tools"), FindQuery{Text: "jack"}.list("tools"), FindQuery{Gone: true}.list("tools")},
		"jobs":  {JobQuery{}.list(), JobQuery{Open: &yes}.list(), JobQuery{Open: &no}.list()},
		"which": {WhichQuery{}.list(), WhichQuery{Maker: "Brindle"}.list(), WhichQuery{Words: "Brindle"}.list()},
	} {
		for i, list := range lists {
			for j, other := range lists {
				_, err := parseCursor(other, cursor{List: list, Key: "1"}.String())
				if (i == j) != (err == nil) || err != nil && (!fault.Is(err, fault.Malformed) || !strings.Contains(err.Error(), "filters")) {
					t.Errorf("%s: a cursor of %s under %s: %v", name, list, other, err)
				}
			}
		}
	}
	if a, b := (FindQuery{Kind: "jack", Limit: 1, Cursor: "x"}).list("tools"), (FindQuery{Kind: "jack"}).list("tools"); a != b {
		t.Error("the size of a page or the place in the list is taken for a filter")
	}
}

func TestAnEmptyCursorIsTheBeginning(t *testing.T) {
	if c, err := parseCursor("tools", ""); err != nil || c != (cursor{List: "tools"}) {
		t.Errorf("%+v, %v", c, err)
	}
}

// FuzzCursor: nothing but the very text that String gives is taken, so each
// place in a list has one cursor. The oracle is the round trip.
func FuzzCursor(f *testing.F) {
	f.Add("tools", cursor{List: "tools", Key: "00EKM5"}.String())
	f.Add("jobs", cursor{List: "jobs", Key: "1793379600000000", ID: "J-0000000X"}.String())
	f.Add("jobs", base64.RawURLEncoding.EncodeToString([]byte(`{"l":"jobs", "k":""}`)))
	f.Add("jobs", base64.RawURLEncoding.EncodeToString([]byte(`{"l":"jobs","k":"","x":1}`)))
	f.Add("jobs", base64.RawURLEncoding.EncodeToString([]byte(`{"k":"","l":"jobs"}`)))
	f.Add("jobs", base64.RawURLEncoding.EncodeToString([]byte("{\"l\":\"jobs\",\"k\":\"\\u0000\"}")))
	f.Add("tools", "eyJsIjoidG9vbHMi=")
	f.Add("tools", strings.Repeat("A", 600))
	f.Fuzz(func(t *testing.T, list, text string) {
		c, err := parseCursor(list, text)
		switch {
		case err != nil && !fault.Is(err, fault.Malformed):
			t.Fatalf("%q: %v is not Malformed", text, err)
		case err != nil || text == "":
			return
		case c.String() != text:
			t.Fatalf("%q was taken for %+v, which is %q", text, c, c.String())
		case c.List != list:
			t.Fatalf("a cursor of %q was taken by %q", c.List, list)
		case len(text) > maxCursor:
			t.Fatalf("%d characters were taken", len(text))
		case strings.ContainsRune(c.Key+c.ID, 0):
			t.Fatalf("%q holds NUL, which no row has", text)
		}
	})
}

// FuzzParts: which part of the originals is read lies within them all.
func FuzzParts(f *testing.F) {
	for _, s := range []string{"", "3/10", "0/0", "11/10", "1/99999", "1/-1", "all"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		part, of, err := parsePart(text)
		if (err == nil) != (1 <= part && part <= of) || err != nil && !fault.Is(err, fault.Invalid) {
			t.Fatalf("%q: %d of %d, %v", text, part, of, err)
		}
		if _, err := parseRolls(text); err != nil && !fault.Is(err, fault.Invalid) {
			t.Fatalf("%q: %v", text, err)
		}
	})
}
