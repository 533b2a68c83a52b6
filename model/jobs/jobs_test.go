package jobs

import (
	"strings"
	"testing"

	"pawl/model/fault"
)

// Only a plain no is not safety-critical: unknown counts as yes.
func TestCritical(t *testing.T) {
	for safety, want := range map[Safety]bool{Yes: true, Unknown: true, "": true, No: false} {
		if got := safety.Critical(); got != want {
			t.Errorf("%q: %v, want %v", safety, got, want)
		}
	}
	if _, err := ParseSafety("maybe"); !fault.Is(err, fault.Invalid) {
		t.Errorf("maybe is taken: %v", err)
	}
}

func TestCheckNumber(t *testing.T) {
	if number, key, err := CheckNumber(" ro-1042/b "); err != nil || number != "ro-1042/b" || key != "RO-1042/B" {
		t.Errorf("%q, %q, %v", number, key, err)
	}
	for _, bad := range []string{"", "  ", "10 42", "a\nb", strings.Repeat("1", MaxNumber+1), "<1>"} {
		if _, _, err := CheckNumber(bad); !fault.Is(err, fault.Invalid) {
			t.Errorf("%q is taken: %v", bad, err)
		}
	}
}
