package cli

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"testing"

	"pawl/model/fault"
)

// TestExitCodes is the table of interfaces 1.1 and DETAILS "Custody".
func TestExitCodes(t *testing.T) {
	for kind, want := range map[fault.Kind]int{
		fault.Malformed: 2, fault.NotAllowed: 2, fault.NotAcceptable: 2, fault.Precondition: 2,
		fault.NotFound: 4, fault.Unauthenticated: 5, fault.Forbidden: 5,
		fault.Conflict: 6, fault.Refused: 6, fault.Stale: 6,
		fault.Invalid: 7, fault.TooLarge: 7, fault.Media: 7,
		fault.Throttled: 8, fault.Unavailable: 8, fault.Internal: 1,
		interrupted: 130, "a kind of tomorrow": 1,
	} {
		if got := exitCode(fmt.Errorf("around: %w", fault.New(kind, "x"))); got != want {
			t.Errorf("%s: exit %d, want %d", kind, got, want)
		}
	}
	for err, want := range map[error]int{nil: 0, told{exitFailed}: 1, errors.New("any other"): 1} {
		if got := exitCode(err); got != want {
			t.Errorf("%v: exit %d, want %d", err, got, want)
		}
	}
}

// TestReport shows a failure as people and as programs see it.
func TestReport(t *testing.T) {
	taken := fault.New(fault.Conflict, "already out to %s", "Tech\x1b[2JB").WithHint("ask them").
		WithFact("holder", "Tech B").WithFact("since", "2026-11-25T16:30:00Z")
	var people, programs bytes.Buffer
	if code := report(&people, taken, false); code != 6 {
		t.Errorf("exit %d, want 6", code)
	}
	if want := "pawl: already out to Tech [2JB\n  ask them\n"; people.String() != want {
		t.Errorf("got %q, want %q: nothing from outside may steer a terminal", people.String(), want)
	}
	report(&programs, taken, true)
	var got struct {
		Error struct {
			Kind, Message, Hint string
			Facts               map[string]string
			Errors              []fault.Field
		}
		Exit int
	}
	if err := json.Unmarshal(programs.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	if got.Exit != 6 || got.Error.Kind != "conflict" || got.Error.Hint != "ask them" || got.Error.Facts["holder"] != "Tech B" || got.Error.Errors == nil {
		t.Errorf("got %s", programs.String())
	}
}

// TestReportInternal says nothing of the inside.
func TestReportInternal(t *testing.T) {
	var out bytes.Buffer
	if code := report(&out, errors.New("UNIQUE constraint failed: tools.id"), false); code != 1 {
		t.Errorf("exit %d, want 1", code)
	}
	if bytes.Contains(out.Bytes(), []byte("UNIQUE")) || out.Len() == 0 {
		t.Errorf("got %q", out.String())
	}
}
