package serials

import (
	"strings"
	"testing"
)

// What a spreadsheet makes of a serial number is said, and what is none; what may be one
// is not.
func TestDamaged(t *testing.T) {
	for _, c := range []struct{ cell, says string }{
		{"4.5E+10", "shortened"}, {"1e12", "shortened"}, {"3-Dec", "made of a code"}, {"1234567890123450", "15 digits"},
		{"12000000000", "with an E"}, {"10000000", "with an E"}, {"1200000", ""}, {"12340000000", ""},
		{`="00123"`, "formula for text"}, {` ="KD408" `, "formula for text"},
		{"N/A", "word for no serial"}, {"n.a.", "word for no serial"}, {"None", "word for no serial"}, {"unknown", "word for no serial"}, {"#N/A", "word for no serial"}, {"TBD", "word for no serial"},
		{"KD408B217", ""}, {"00123", ""}, {"NA", "word for no serial"}, {"NA408", ""}, {"NONE-12", ""}, {"=", ""}, {"E10", ""}, {"", ""},
	} {
		if got := Damaged(c.cell); (got == "") != (c.says == "") || !strings.Contains(got, c.says) {
			t.Errorf("%q: %q, want %q", c.cell, got, c.says)
		}
	}
}
