package model

import (
	"context"

	"pawl/model/custody"
	"pawl/model/fault"
)

// Undo takes back the take or return that happened at Since. Happened is when it
// was taken back, where that is entered late.
type Undo struct{ Since, Happened string }

// Undo takes back the last take or return of a tool by a new act: a tool that was
// taken is in its place again, one that was put back is again with whoever had it,
// on the job that it was on. It is a Conflict if custody changed since, if the last
// was anything else, or if it was more than ten minutes ago.
//
// Whoever may return a tool may undo: it restores what was so.
func (s *Shop) Undo(ctx context.Context, by By, number string, in Undo) (Done, error) {
	m := moment{in.Happened, in.Since}
	in.Happened = ""
	return s.custodyAct(ctx, by, "undo", number, m, in, func(h *hand) error {
		if in.Since == "" {
			return fault.At("#/since", "say since when custody is as you saw it")
		}
		before, err := h.tx.LoanEndedAt(h.last)
		if err != nil {
			return err
		}
		if err := custody.MayUndo(h.last, before, int64(h.at)); err != nil {
			if who := h.holder(h.last).Name; who != "" {
				err = fault.Of(err).WithFact("holder", who)
			}
			return err
		}
		if h.last.Open() {
			return h.end(custody.Returned, "", "")
		}
		return h.again()
	})
}

// again gives the tool back to whoever had it last.
func (h *hand) again() error {
	p, found := h.byID[h.last.Person]
	if !found || p.Left != 0 {
		return fault.New(fault.Conflict, "whoever had it has left").WithHint("somebody else takes it")
	}
	if err := h.mayUse(); err != nil {
		return err
	}
	job, err := h.job(h.last.Job)
	if err != nil {
		return err
	}
	if _, err := h.jobID(job); err != nil {
		return err
	}
	return h.begin(custody.Loan{State: custody.Out, Person: h.last.Person, Job: h.last.Job, Due: h.last.Due})
}
