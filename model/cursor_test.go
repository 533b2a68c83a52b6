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
