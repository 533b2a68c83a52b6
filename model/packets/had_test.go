package packets

import (
	"crypto/sha256"
	"encoding/hex"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// What was named is found, in any order and however often; what was not, is not.
func TestHad(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		named := map[string]bool{}
		var h Had
		sum := rapid.Custom(func(t *rapid.T) string {
			raw := sha256.Sum256([]byte{rapid.Byte().Draw(t, "of")})
			return hex.EncodeToString(raw[:])
		})
		for _, one := range rapid.SliceOf(sum).Draw(t, "named") {
			if err := h.Add(one); err != nil {
				t.Fatal(err)
			}
			named[one] = true
			other := sum.Draw(t, "asked between")
			if h.Has(other) != named[other] {
				t.Fatalf("%s: %v", other, h.Has(other))
			}
		}
		for _, one := range rapid.SliceOf(sum).Draw(t, "asked") {
			if h.Has(one) != named[one] {
				t.Fatalf("%s: %v", one, h.Has(one))
			}
		}
	})
	var h Had
	for _, bad := range []string{"", "ab", strings.Repeat("g", 64), strings.Repeat("A", 64), strings.Repeat("a", 66)} {
		if h.Add(bad) == nil {
			t.Errorf("%q is taken", bad)
		}
		if h.Has(bad) {
			t.Errorf("%q is there", bad)
		}
	}
}
