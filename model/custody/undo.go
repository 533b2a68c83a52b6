package custody

import "pawl/model/fault"

// UndoLimit is how long after a take or return it can be undone, in microseconds:
// ten minutes. What is older is put right by the act itself, in its own time.
const UndoLimit = 10 * 60 * 1_000_000

// MayUndo asks whether the last change of custody can be undone by an act at that
// time: only a take or a return can, and only soon after. Before is the loan that
// ended when the last one began, if there is one: a tool that was handed on was
// not taken. The answer is a Conflict.
func MayUndo(last, before Loan, at int64) error {
	f := fault.New(fault.Conflict, "the last that happened to it was neither a take nor a return")
	took := last.Open() && last.State == Out && before.ID == ""
	switch returned := !last.Open() && last.EndedHow == Returned && last.Changed() == last.Ended; {
	case !took && !returned:
	case at-int64(last.Changed()) > UndoLimit:
		f = fault.New(fault.Conflict, "that was more than 10 minutes ago").WithHint("take or return it as usual")
	default:
		return nil
	}
	if c := last.Changed(); c != 0 {
		f = f.WithFact("since", c.String())
	}
	return f
}
