package model

import (
	"context"
	"fmt"
	"strings"

	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/jobs"
	"pawl/model/names"
	"pawl/model/people"
)

// CloseJob is what somebody says who closes a job. An override is a manager's reason
// to close it over what is open.
type CloseJob struct{ Override string }

// CloseJob closes a job. While something is out, missing, held or not looked at it is
// Refused and says what; only answers help, or a manager's override, which stays on
// record. What was done without a confirmed tool no override lets pass.
func (s *Shop) CloseJob(ctx context.Context, by By, number string, in CloseJob) (AllBackView, error) {
	return act(ctx, s, by, "job close", []any{number, in}, func(tx *store.Tx) (AllBackView, error) {
		j, err := jobForChange(tx, number)
		if err != nil {
			return AllBackView{}, err
		}
		d, err := readNames(&tx.Rx)
		if err != nil {
			return AllBackView{}, err
		}
		if j.Closed != 0 {
			return AllBackView{}, fault.New(fault.Conflict, "job %s is closed already, by %s", j.Number, d.personOr(j.ClosedBy)).
				WithFact("since", j.Closed.String()).WithFact("by", d.personOr(j.ClosedBy)).WithHint("nothing to close; reopen it with: pawl job reopen %s --why …", j.Number)
		}
		v, err := d.allBack(j)
		if err != nil {
			return v, err
		}
		why, err := names.Note(in.Override)
		if err != nil {
			return v, fault.At("#/override", "%s", fault.Of(err).Error())
		}
		if err := v.mayClose(by, why); err != nil {
			return v, err
		}
		if why != "" {
			if err := keepOpen(tx, v); err != nil {
				return v, err
			}
			j.OverrideWhy, j.OverrideBy, j.OverrideAt = why, by.Person, tx.Now()
		}
		j.Closed, j.ClosedBy = tx.Now(), by.Person
		if err := store.Put(tx, &j); err != nil {
			return v, err
		}
		return d.allBack(j)
	})
}

// mayClose refuses while something is open.
func (v AllBackView) mayClose(by By, override string) error {
	open := v.open()
	switch {
	case len(v.Holds) > 0:
		return v.refused(append(v.heldOpen(), open...), "what was done without a confirmed tool is done again, or signed for where that settles it: pawl job uses "+v.Job.Number)
	case len(open) == 0 && override != "":
		return fault.At("#/override", "nothing is open on job %s: there is nothing to override", v.Job.Number).WithHint("close it without")
	case len(open) == 0:
		return nil
	case override == "":
		return v.refused(open, "answer for each: pawl job answer FINDING --answer found --where … ; look at sets with: pawl allback "+v.Job.Number+" --set NUMBER")
	}
	return allowed(by, people.Override, people.Object{})
}

// refused says what is open, each in one sentence.
func (v AllBackView) refused(open []fault.Field, hint string) error {
	what := open[0].Pointer[strings.LastIndexByte(open[0].Pointer, '/')+1:] + ", " + open[0].Detail
	if len(open) > 1 {
		what = fmt.Sprintf("%d things are open", len(open))
	}
	f := fault.New(fault.Refused, "job %s stays open: %s", v.Job.Number, what).WithHint("%s", hint).
		WithFact("open", fmt.Sprint(len(open))).WithFact("since", v.Job.Opened.String())
	f.Fields = open
	return f
}

// open lists what is not answered for: findings, and sets that nobody looked at.
func (v AllBackView) open() (out []fault.Field) {
	for _, f := range v.Unanswered() {
		out = append(out, fault.Field{Pointer: "#/findings/" + f.ID, Detail: f.Words})
	}
	for _, t := range v.Unlooked() {
		out = append(out, fault.Field{Pointer: "#/sets/" + t.Number.String(), Detail: "nobody looked at the pieces of " + t.Number.String() + " " + t.Kind})
	}
	return out
}

func (v AllBackView) heldOpen() (out []fault.Field) {
	for _, u := range v.Holds {
		out = append(out, fault.Field{Pointer: "#/uses/" + u.ID, Detail: u.Name + ", " + u.Target.Words() + " with " + u.Number + " holds it open: " + u.Settle})
	}
	return out
}

// keepOpen writes down what is open and was not yet on record, so that it stays to be
// settled although the job is closed.
func keepOpen(tx *store.Tx, v AllBackView) error {
	for _, f := range v.Unanswered() {
		if f.Rev > 0 {
			continue
		}
		row := f.Finding
		if err := store.Put(tx, &row); err != nil {
			return err
		}
	}
	return nil
}

// ReopenJob opens a closed job again, with a reason.
func (s *Shop) ReopenJob(ctx context.Context, by By, number, why string) (AllBackView, error) {
	return act(ctx, s, by, "job reopen", []any{number, why}, func(tx *store.Tx) (AllBackView, error) {
		j, err := jobForChange(tx, number)
		if err != nil {
			return AllBackView{}, err
		}
		clean, err := names.Note(why)
		if err != nil || clean == "" {
			return AllBackView{}, fault.At("#/why", "say why it is opened again")
		}
		d, err := readNames(&tx.Rx)
		if err != nil {
			return AllBackView{}, err
		}
		if j.Closed == 0 {
			return AllBackView{}, d.openAlready(j)
		}
		j.Closed, j.ClosedBy = 0, ""
		j.ReopenedAt, j.ReopenedBy, j.ReopenedWhy = tx.Now(), by.Person, clean
		if err := store.Put(tx, &j); err != nil {
			return AllBackView{}, err
		}
		return d.allBack(j)
	})
}

// openAlready tells of an open job since when it is, and who reopened it last.
func (d *directory) openAlready(j jobs.Job) error {
	if j.ReopenedAt == 0 {
		return fault.New(fault.Conflict, "job %s is open", j.Number).WithFact("since", j.Opened.String()).WithHint("nothing to reopen")
	}
	who := d.personOr(j.ReopenedBy)
	return fault.New(fault.Conflict, "job %s is open again already, by %s: %s", j.Number, who, j.ReopenedWhy).
		WithFact("since", j.ReopenedAt.String()).WithFact("by", who).WithHint("nothing to reopen")
}
