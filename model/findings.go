package model

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"pawl/model/custody"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/jobs"
	"pawl/model/names"
	"pawl/model/numbers"
	"pawl/model/register"
)

// findings gives what does not add up on a job: what is on record, and what follows
// from tools that are out and from things that are held. Open ones come first.
func (d *directory) findings(j jobs.Job, tools []TakenTool, held []jobs.Held) (out []FindingView, err error) {
	rows, err := d.FindingsOn(j.ID)
	if err != nil {
		return nil, err
	}
	recorded, ofLoan := map[string]bool{}, map[string]bool{}
	for _, f := range rows {
		recorded[f.ID], ofLoan[f.Loan] = true, true
	}
	for _, t := range tools {
		f, follows := t.finding()
		if follows && !recorded[f.ID] && !(f.Sort == jobs.PieceMissing && ofLoan[f.Loan]) {
			f.Job = j.ID
			rows = append(rows, f)
		}
	}
	for _, h := range held {
		if f := findingOfHeld(h); h.GivenAt == 0 && !recorded[f.ID] {
			rows = append(rows, f)
		}
	}
	for _, f := range rows {
		v, err := d.findingView(f)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	slices.SortStableFunc(out, func(a, b FindingView) int {
		if a.Open() != b.Open() {
			if a.Open() {
				return -1
			}
			return 1
		}
		return int(min(max(a.At-b.At, -1), 1))
	})
	return out, nil
}

// finding is what a tool that was taken leaves open by itself.
func (t TakenTool) finding() (f jobs.Finding, follows bool) {
	f = jobs.Finding{ID: jobs.FindingID(t.loan.ID), Tool: t.ID, Loan: t.loan.ID, Sort: jobs.ToolMissing, Count: 1, At: t.loan.Since}
	if t.missingNow() {
		return f, true
	}
	// Pieces that did not come back before findings were kept.
	if len(t.lost) > 0 {
		f.Sort, f.What, f.At = jobs.PieceMissing, pieceWords(t.lost), t.loan.Ended
		return f, true
	}
	return f, false
}

func findingOfHeld(h jobs.Held) jobs.Finding {
	return jobs.Finding{ID: jobs.FindingID(h.ID), Job: h.Job, Held: h.ID, Sort: jobs.StillHeld, What: h.What, Count: 1, At: h.At, Person: h.Person}
}

func pieceWords(all register.Pieces) string {
	var out []string
	for _, p := range all {
		if p.Count > 1 {
			out = append(out, fmt.Sprintf("%s (%d)", p.Name, p.Count))
			continue
		}
		out = append(out, p.Name)
	}
	return strings.Join(out, ", ")
}

// findingView puts a finding into names.
func (d *directory) findingView(f jobs.Finding) (v FindingView, err error) {
	v = FindingView{Finding: f, AnsweredByPerson: d.personOr(f.AnsweredBy)}
	if f.Rev > 0 { // else nobody found it: it follows from the record
		v.By = d.personOr(f.Person)
	}
	if v.JobNumber, err = d.job(f.Job); err != nil {
		return v, err
	}
	tool, gone := "", ""
	if f.Tool != "" {
		t, _, err := d.Tool(f.Tool)
		if err != nil {
			return v, err
		}
		gone = t.GoneWhy
		v.Number, v.Kind = t.Number, t.Kind
		tool = strings.TrimSpace(t.Number.String() + " " + t.Kind)
	}
	switch f.Sort {
	case jobs.ToolMissing:
		v.Words, v.Holder, err = d.missingWords(f, tool, gone)
	case jobs.PieceMissing:
		v.Words = pieceWords(register.Pieces{{Name: f.What, Count: int(f.Count)}}) + " did not come back with " + tool
	case jobs.FragmentMissing:
		v.Words = "a fragment of " + f.What + " that broke on " + tool + " is missing"
	case jobs.Extra:
		v.Words = tool + " came back from the job, and was never taken to it"
	case jobs.StillHeld:
		v.Words = f.What + " is still held for the customer"
	}
	return v, err
}

// missingWords says of a tool that did not come back who has it by the record.
func (d *directory) missingWords(f jobs.Finding, tool, gone string) (text, holder string, err error) {
	l, found, err := d.Loan(f.Loan)
	switch {
	case err != nil || !found:
		return tool + " did not come back", "", err
	case l.Open():
		holder = d.holder(l).Name
		return tool + " is still out to " + holder, holder, nil
	case l.EndedHow == custody.WentForGood:
		return tool + " is gone: lost", "", nil
	case gone != "" && l.EndedHow != custody.Returned: // it was handed on or sent away first
		return tool + " is gone: " + gone, "", nil
	}
	return tool + " did not come back in time", "", nil
}

// AnswerFinding is what somebody says of a finding, as typed.
type AnswerFinding struct {
	Answer, Where, Who string
	Told               string // how the vehicle's owner was told
}

// AnswerFinding answers for a finding of a job. A finding that only follows from the
// record is written down with its answer.
func (s *Shop) AnswerFinding(ctx context.Context, by By, id string, in AnswerFinding) (FindingView, error) {
	return act(ctx, s, by, "finding answer", []any{id, in}, func(tx *store.Tx) (FindingView, error) {
		r, err := in.checked()
		if err != nil {
			return FindingView{}, err
		}
		d, err := readNames(&tx.Rx)
		if err != nil {
			return FindingView{}, err
		}
		f, err := d.findingForChange(tx, id)
		if err != nil {
			return FindingView{}, err
		}
		if err := f.Take(r, by.Person, tx.Now()); err != nil {
			return FindingView{}, err
		}
		if err := store.Put(tx, &f); err != nil {
			return FindingView{}, err
		}
		return d.findingView(f)
	})
}

func (in AnswerFinding) checked() (r jobs.Reply, err error) {
	var bad fault.Problems
	if strings.TrimSpace(in.Answer) != "" {
		r.Answer, err = jobs.ParseAnswer(in.Answer)
		bad.Keep("#/answer", err)
	}
	r.Spot, err = names.Note(in.Where)
	bad.Keep("#/where", err)
	r.Whom, err = names.Line(in.Who)
	bad.Keep("#/who", err)
	r.Told, err = names.Note(in.Told)
	bad.Keep("#/told", err)
	return r, bad.Err()
}

// findingForChange finds a finding on record, or the one that follows from what is out
// or held.
func (d *directory) findingForChange(tx *store.Tx, typed string) (f jobs.Finding, err error) {
	id, err := numbers.ParseID('Z', typed)
	none := fault.New(fault.NotFound, "there is no finding %.40q", typed).WithHint("see what is open with: pawl allback JOB")
	if err != nil {
		return f, none
	}
	f, found, err := store.Change[jobs.Finding](tx, id)
	if err != nil || found {
		return f, err
	}
	l, found, err := d.Loan(jobs.SourceID('O', id))
	if err != nil {
		return f, err
	}
	if found && l.Job != "" {
		j, _, err := d.Rx.Job(l.Job)
		if err != nil {
			return f, err
		}
		return d.following(j, id, none)
	}
	h, found, err := d.HeldThing(jobs.SourceID('Y', id))
	if err != nil || !found || h.GivenAt != 0 {
		return f, orElse(err, none)
	}
	return findingOfHeld(h), nil
}

// following gives the finding of that id that follows from what is on record of a job.
func (d *directory) following(j jobs.Job, id string, none *fault.Error) (jobs.Finding, error) {
	tools, err := d.taken(j, nil)
	if err != nil {
		return jobs.Finding{}, err
	}
	all, err := d.findings(j, tools, nil)
	i := slices.IndexFunc(all, func(f FindingView) bool { return f.ID == id })
	if err != nil || i < 0 {
		return jobs.Finding{}, orElse(err, none)
	}
	return all[i].Finding, nil
}

// UnsettledFindings gives the findings of all jobs that nobody answered for, and those
// of which the vehicle's owner is still to be told, oldest first, so many at most.
func (s *Shop) UnsettledFindings(ctx context.Context, by By, limit int) (out []FindingView, err error) {
	err = s.read(ctx, func(d *directory) error {
		out, err = d.unsettledFindings(limit)
		return err
	})
	return out, err
}

func (d *directory) unsettledFindings(limit int) (out []FindingView, err error) {
	rows, err := d.Rx.UnsettledFindings(limit)
	if err != nil {
		return nil, err
	}
	for _, f := range rows {
		v, err := d.findingView(f)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, nil
}

// Tell says what the vehicle's owner must know, in sentences; they stay true for ever.
func (v AllBackView) Tell() (out []string) {
	for _, f := range v.Findings {
		if !f.Flags() {
			continue
		}
		text := "SEARCHED AND NOT FOUND: " + f.Words
		if f.Answer == jobs.NotFound {
			text += "; searched by " + f.Whom + ": " + f.Spot
		} else {
			text += "; since then " + f.Says()
		}
		if f.ToldAt == 0 {
			text += ". Tell the vehicle's owner"
		} else {
			text += ". The vehicle's owner was told: " + f.ToldHow
		}
		out = append(out, text)
	}
	return out
}
