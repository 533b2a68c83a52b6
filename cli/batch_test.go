package cli

import (
	"bytes"
	"context"
	"errors"
	"strings"
	"testing"

	"pawl/api/wire"
	"pawl/model/fault"
)

// bench is a session whose acts take every tool but those that Tech B has.
func bench(in string) (*session, *bytes.Buffer, *bytes.Buffer, doing) {
	var out, err bytes.Buffer
	s := &session{printer: printer{out: &out, err: &err, terminal: true}, in: strings.NewReader(in)}
	taker, job := "Tech A", "1042"
	act := func(_ context.Context, number string) (wire.Done, error) {
		if strings.HasPrefix(number, "B") {
			return wire.Done{}, fault.New(fault.Conflict, "already out to Tech B").WithHint("ask them").WithFact("holder", "Tech B")
		}
		if strings.HasPrefix(number, "X") {
			return wire.Done{}, fault.New(fault.Invalid, "%q is not a tool number", number)
		}
		return wire.Done{Number: number, Done: "take", Custody: wire.Custody{State: "out", Person: &taker, Job: &job}, Advice: []string{"wind it down"}}, nil
	}
	return s, &out, &err, act
}

// TestEachToPeople: every number has its sentence, and the first failure is the
// command's.
func TestEachToPeople(t *testing.T) {
	s, out, notes, act := bench("A2\r\n\r\nX1\n")
	err := s.each(context.Background(), []string{"A1", "B1", "-", "A3"}, act)
	want := `A1 taken: out to Tech A on job 1042
B1 NOT DONE: already out to Tech B
A2 taken: out to Tech A on job 1042
X1 NOT DONE: "X1" is not a tool number
A3 taken: out to Tech A on job 1042
`
	if out.String() != want {
		t.Errorf("got\n%swant\n%s", out, want)
	}
	f := fault.Of(err)
	if f.Kind != fault.Conflict || f.Message != "2 of 5 failed; the first, B1: already out to Tech B" || f.Facts["holder"] != "Tech B" {
		t.Errorf("got %v", err)
	}
	if got := strings.Count(notes.String(), "note: wind it down\n"); got != 3 {
		t.Errorf("the caution came %d times with 3 acts: %q", got, notes)
	}
}

// TestEachSingle: one number that fails fails the command, and prints nothing.
func TestEachSingle(t *testing.T) {
	for _, asJSON := range []bool{false, true} {
		s, out, _, act := bench("")
		s.json = asJSON
		if err := s.each(context.Background(), []string{"B1"}, act); !fault.Is(err, fault.Conflict) || out.Len() != 0 {
			t.Errorf("json %v: got %v, stdout %q", asJSON, err, out)
		}
	}
}

// TestEachStops when it is interrupted: what was not begun is not done.
func TestEachStops(t *testing.T) {
	s, out, _, act := bench("")
	ctx, cancel := context.WithCancel(context.Background())
	calls := 0
	err := s.each(ctx, []string{"A1", "A2", "A3"}, func(ctx context.Context, number string) (wire.Done, error) {
		calls++
		cancel()
		return act(ctx, number)
	})
	if !errors.Is(err, context.Canceled) || calls != 1 || !strings.HasPrefix(out.String(), "A1 taken") {
		t.Errorf("got %v after %d acts: %q", err, calls, out)
	}
}

// TestCustodyInWords covers each state.
func TestCustodyInWords(t *testing.T) {
	name, lab, why, lent := "Tech A", "Lab", "calibration", "lent"
	s := &session{}
	late := wire.Custody{State: "out", Person: &name}
	if err := late.Due.UnmarshalJSON([]byte(`"2026-12-20T23:59:59Z"`)); err != nil {
		t.Fatal(err)
	}
	for want, c := range map[string]wire.Custody{
		"in place":                                {State: "in place"},
		"out to Tech A":                           {State: "out", Person: &name},
		"away at Lab for calibration":             {State: "away", To: &lab, For: &why},
		"away at Lab, lent":                       {State: "away", To: &lab, For: &lent},
		"out to Tech A, due 2026-12-20T23:59:59Z": late,
	} {
		if got := s.custody(c); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}
