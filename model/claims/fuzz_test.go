package claims

import (
	"testing"

	"pawl/model/fault"
)

// FuzzParseSize: a size is within its bounds, or refused in words.
func FuzzParseSize(f *testing.F) {
	for _, s := range []string{"10MB", "500 kB", "200000", "2GB", "-1B", "9223372036854775807GB", "+5MB", "1e6", "B"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		n, err := ParseSize(text)
		switch {
		case err != nil && (!fault.Is(err, fault.Malformed) || n != 0):
			t.Fatalf("%q: %d, %v", text, n, err)
		case err == nil && (n < 1 || n > MostPart):
			t.Fatalf("%q is taken for %d", text, n)
		}
	})
}

// FuzzReadFact: a fact that is taken is of a day until today and says something.
func FuzzReadFact(f *testing.F) {
	f.Add("2026-11-20", "first payment", "actual cash")
	f.Add("2027-01-01", "", "")
	f.Add("2026-02-30", "\x00", "rest")
	f.Fuzz(func(t *testing.T, on, what, payment string) {
		fact, err := ReadFact(on, what, payment, "2026-11-25")
		switch {
		case err != nil && !fault.Is(err, fault.Invalid):
			t.Fatalf("%q, %q: %v", on, what, err)
		case err == nil && (fact.On == "" || fact.On.After("2026-11-25") || fact.What == ""):
			t.Fatalf("%q, %q is taken as %+v", on, what, fact)
		}
	})
}
