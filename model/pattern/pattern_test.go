package pattern

import "testing"

// TestLate gives one expression however often it is asked for.
func TestLate(t *testing.T) {
	hours := Late(`^([0-9]+) h$`)
	if m := hours().FindStringSubmatch("12 h"); len(m) != 2 || m[1] != "12" {
		t.Errorf("of 12 h comes %q", m)
	}
	if first, again := hours(), hours(); first != again {
		t.Error("it is compiled anew")
	}
}

// TestLateRefuses is about a mistake in the program: it shows at the first use, not before.
func TestLateRefuses(t *testing.T) {
	broken := Late(`(`)
	defer func() {
		if recover() == nil {
			t.Error("an expression that is none is taken")
		}
	}()
	broken()
}
