package fault

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
)

func TestFaultIsFoundWithinWrappedErrors(t *testing.T) {
	busy := New(Conflict, "tool %s is out", "00E-KM5").WithHint("ask %s", "Tech A").WithFact("holder", "Tech A").WithCause(io.EOF)
	wrapped := fmt.Errorf("take: %w", busy)
	if Of(wrapped) != busy || !Is(wrapped, Conflict) {
		t.Fatalf("Of(%v) = %v, want the fault within", wrapped, Of(wrapped))
	}
	if Is(wrapped, Stale) || Is(nil, Conflict) || Is(io.EOF, Internal) {
		t.Error("Is finds a kind that is not there")
	}
	if got, want := busy.Error(), "tool 00E-KM5 is out (ask Tech A)"; got != want {
		t.Errorf("Error() = %q, want %q", got, want)
	}
	if busy.Facts["holder"] != "Tech A" || !errors.Is(wrapped, io.EOF) {
		t.Errorf("fact or cause lost: %v, %v", busy.Facts, busy.Cause)
	}
}

func TestOfHidesTheInsideOfUnclassifiedErrors(t *testing.T) {
	if Of(nil) != nil {
		t.Fatal("no error became a fault")
	}
	inner := errors.New("open secret.db: denied")
	got := Of(inner)
	if got.Kind != Internal || strings.Contains(got.Error(), "secret") {
		t.Errorf("Of(%v) = %s %q, want an internal fault that says nothing of it", inner, got.Kind, got)
	}
	if !errors.Is(got, inner) {
		t.Error("the log has lost the cause")
	}
}

func TestAtNamesTheValue(t *testing.T) {
	got := At("#/purchase/price", "price %s has three decimals", "289.005")
	want := Field{Pointer: "#/purchase/price", Detail: "price 289.005 has three decimals"}
	if got.Kind != Invalid || len(got.Fields) != 1 || got.Fields[0] != want || got.Error() != want.Detail {
		t.Errorf("At = %+v, want one field %+v", got, want)
	}
}

// What a message repeats is cut between characters, not in one.
func TestClip(t *testing.T) {
	for _, c := range []struct{ typed, want string }{
		{"", ""},
		{strings.Repeat("é", 60), strings.Repeat("é", 60)},
		{strings.Repeat("é", 61), strings.Repeat("é", 60) + "…"},
	} {
		if got := Clip(c.typed); got != c.want {
			t.Errorf("%q: %q", c.typed, got)
		}
	}
}
