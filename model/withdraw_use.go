package model

import (
	"context"

	"pawl/model/calibration"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/jobs"
	"pawl/model/people"
)

// WithdrawTightening takes back a tightening that was entered by mistake. It stays on
// record with the reason, and counts nowhere; what it had done again is open again.
// Whoever entered it may, and whoever may edit the tool; one that holds its job open is
// taken back by a manager alone, as only a manager signs for it.
func (s *Shop) WithdrawTightening(ctx context.Context, by By, number, id, why string) (UseView, error) {
	return s.withdrawUse(ctx, by, "tighten withdraw", calibration.UsedToTighten, number, id, why)
}

// WithdrawMeasurement takes back a measurement, as WithdrawTightening does.
func (s *Shop) WithdrawMeasurement(ctx context.Context, by By, number, id, why string) (UseView, error) {
	return s.withdrawUse(ctx, by, "measure withdraw", calibration.UsedToMeasure, number, id, why)
}

func (s *Shop) withdrawUse(ctx context.Context, by By, verb string, what calibration.Sort, number, id, why string) (UseView, error) {
	return act(ctx, s, by, verb, []any{number, id, why}, func(tx *store.Tx) (UseView, error) {
		h, err := s.handFor(tx, by, number)
		if err != nil {
			return UseView{}, err
		}
		row, job, err := h.useToWithdraw(what, id)
		if err != nil {
			return UseView{}, err
		}
		if row.Why, err = whyWithdrawn(why); err != nil {
			return UseView{}, err
		}
		row.Withdrawn, row.WithdrawnBy = tx.Now(), by.Person
		if err := store.Put(tx, &row); err != nil {
			return UseView{}, err
		}
		open, err := h.openAgain(row)
		if err != nil {
			return UseView{}, err
		}
		v, err := h.useView(row, job.Safety != jobs.No)
		v.Words = open
		return v, err
	})
}

// useToWithdraw loads a use for change that may be taken back.
func (h *hand) useToWithdraw(what calibration.Sort, typed string) (row calibration.UseRow, job jobs.Job, err error) {
	id := entryID('V', typed)
	row, is, err := store.Change[calibration.UseRow](h.tx, id)
	if err != nil {
		return row, job, err
	}
	number := h.tool.Number
	switch {
	case !is || row.Tool != h.tool.ID:
		return row, job, fault.New(fault.NotFound, "%s has no %s %s", number, what, id).WithHint("see what is on record of a job: pawl job uses JOB")
	case row.What != what:
		verb := map[calibration.Sort]string{calibration.UsedToTighten: "tighten", calibration.UsedToMeasure: "measure"}[row.What]
		return row, job, fault.New(fault.NotFound, "%s has no %s %s: that is a %s", number, what, id, row.What).
			WithHint("take it back with: pawl %s withdraw %s %s --why …", verb, number, id)
	}
	if job, _, err = h.tx.Rx.Job(row.Job); err != nil {
		return row, job, err
	}
	if err := h.mayTakeBack(row.Person, false); err != nil {
		return row, job, err
	}
	if row.Withdrawn != 0 {
		return row, job, withdrawnAlready(string(what)+" "+id, row.Why, row.Withdrawn)
	}
	u, err := useOf(row)
	if err != nil {
		return row, job, err
	}
	if held, _ := u.On(job.Safety.Critical()).Holds(job.Safety.Critical()); held && !people.May(h.by.Actor, people.ShopActs, people.Object{}) {
		return row, job, fault.New(fault.Forbidden, "it holds job %s open, and only a manager takes such a %s back", job.Number, what).
			WithHint("do it again with a confirmed tool, and say so: --redoes %s; or ask a manager", id)
	}
	return row, job, nil
}

// takesBackUse says whether somebody may take a use back.
func (d *directory) takesBackUse(by By, row calibration.UseRow, held bool) (bool, error) {
	t, _, err := d.Tool(row.Tool)
	if err != nil || t.Gone != 0 || row.Withdrawn != 0 {
		return false, err
	}
	h := hand{directory: d, by: by, tool: t}
	return h.mayTakeBack(row.Person, false) == nil && (!held || people.May(by.Actor, people.ShopActs, people.Object{})), nil
}

// openAgain takes away that something was done again by what is withdrawn, and says so.
func (h *hand) openAgain(row calibration.UseRow) (said string, err error) {
	old, err := h.tx.RedoneBy(row)
	if err != nil {
		return "", err
	}
	for _, o := range old {
		if o, err = load[calibration.UseRow](h.tx, o.ID, string(o.What)+" "+o.ID); err != nil {
			return "", err
		}
		if o.RedoneBy = ""; said != "" {
			said += " "
		}
		said += "What it had done again, " + o.ID + ", is not done again any more."
		if err := store.Put(h.tx, &o); err != nil {
			return "", err
		}
	}
	return said, nil
}
