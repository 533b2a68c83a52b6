package custody

import (
	"testing"

	"pawl/model/dates"
	"pawl/model/fault"
)

// Only a take or a return is undone, and only for ten minutes.
func TestMayUndo(t *testing.T) {
	const now = dates.Instant(10_000_000_000)
	const soon, late = now - UndoLimit, now - UndoLimit - 1
	out := Loan{ID: "O-1", State: Out, Person: "H-A", Since: soon}
	returned := Loan{ID: "O-1", State: Out, Person: "H-A", Since: 1, Ended: soon, EndedHow: Returned}
	with := func(l Loan, change func(*Loan)) Loan { change(&l); return l }
	for name, c := range map[string]struct {
		last, before Loan
		may          bool
	}{
		"taken":                  {out, Loan{}, true},
		"taken too long ago":     {with(out, func(l *Loan) { l.Since = late }), Loan{}, false},
		"handed on":              {out, Loan{ID: "O-0"}, false},
		"returned":               {returned, Loan{}, true},
		"returned too long ago":  {with(returned, func(l *Loan) { l.Ended = late }), Loan{}, false},
		"back from outside":      {with(returned, func(l *Loan) { l.EndedHow = CameBack }), Loan{}, false},
		"sent away":              {with(out, func(l *Loan) { l.State = Away }), Loan{}, false},
		"gone":                   {with(returned, func(l *Loan) { l.EndedHow = WentForGood }), Loan{}, false},
		"never anything at all":  {Loan{}, Loan{}, false},
		"ended by handing it on": {with(returned, func(l *Loan) { l.EndedHow = HandedOver }), Loan{}, false},
	} {
		err := MayUndo(c.last, c.before, int64(now))
		if (err == nil) != c.may || err != nil && !fault.Is(err, fault.Conflict) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
