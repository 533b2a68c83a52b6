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
	"pawl/model/people"
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
	if len(t.Missing) > 0 {
		f.Sort, f.What, f.At = jobs.PieceMissing, pieceWords(t.Missing), t.loan.Ended
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
	tool := ""
	if f.Tool != "" {
		t, _, err := d.Tool(f.Tool)
		if err != nil {
			return v, err
		}
		v.Number, v.Kind = t.Number, t.Kind
		tool = strings.TrimSpace(t.Number.String() + " " + t.Kind)
	}
	switch f.Sort {
	case jobs.ToolMissing:
		v.Words, v.Holder, err = d.missingWords(f, tool)
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
func (d *directory) missingWords(f jobs.Finding, tool string) (text, holder string, err error) {
	l, found, err := d.Loan(f.Loan)
	switch {
	case err != nil || !found:
		return tool + " did not come back", "", err
	case l.Open():
		holder = d.holder(l).Name
		return tool + " is still out to " + holder, holder, nil
	case l.EndedHow == custody.WentForGood:
		return tool + " is gone: lost", "", nil
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
		if j.Closed == 0 {
			return AllBackView{}, fault.New(fault.Conflict, "job %s is open", j.Number).WithFact("since", j.Opened.String()).WithHint("nothing to reopen")
		}
		j.Closed, j.ClosedBy = 0, ""
		j.ReopenedAt, j.ReopenedBy, j.ReopenedWhy = tx.Now(), by.Person, clean
		if err := store.Put(tx, &j); err != nil {
			return AllBackView{}, err
		}
		d, err := readNames(&tx.Rx)
		if err != nil {
			return AllBackView{}, err
		}
		return d.allBack(j)
	})
}

// Hold keeps a thing of the customer's on an open job.
func (s *Shop) Hold(ctx context.Context, by By, number, what string) (HeldView, error) {
	return act(ctx, s, by, "job hold", []any{number, what}, func(tx *store.Tx) (HeldView, error) {
		clean, err := names.Line(what)
		if err == nil && clean == "" {
			err = fault.New(fault.Invalid, "say what is held")
		}
		if err != nil {
			return HeldView{}, fault.At("#/what", "%s", fault.Of(err).Error())
		}
		j, err := jobForChange(tx, number)
		if err != nil {
			return HeldView{}, err
		}
		if j.Closed != 0 {
			return HeldView{}, fault.New(fault.Conflict, "job %s is closed", j.Number).WithHint("reopen it: pawl job reopen %s --why …", j.Number).WithFact("since", j.Closed.String())
		}
		h := jobs.Held{Job: j.ID, What: clean, At: tx.Now(), Person: by.Person}
		if h.ID, err = tx.NewID('Y'); err != nil {
			return HeldView{}, err
		}
		d, err := readNames(&tx.Rx)
		if err != nil {
			return HeldView{}, err
		}
		return HeldView{Held: h, By: d.personOr(h.Person)}, store.Put(tx, &h)
	})
}

// GiveHeld gives a held thing, named by its id or its words, back to somebody.
func (s *Shop) GiveHeld(ctx context.Context, by By, number, thing, to string) (HeldView, error) {
	return act(ctx, s, by, "job give", []any{number, thing, to}, func(tx *store.Tx) (HeldView, error) {
		whom, err := names.Check(to)
		if err != nil {
			return HeldView{}, fault.At("#/to", "%s", fault.Of(err).Error())
		}
		j, err := jobForChange(tx, number)
		if err != nil {
			return HeldView{}, err
		}
		d, err := readNames(&tx.Rx)
		if err != nil {
			return HeldView{}, err
		}
		h, err := d.heldNamed(j, thing)
		if err != nil {
			return HeldView{}, err
		}
		if h, err = load[jobs.Held](tx, h.ID, "held thing "+h.ID); err != nil {
			return HeldView{}, err
		}
		if h.GivenAt != 0 {
			return HeldView{}, fault.New(fault.Conflict, "%s is given back already, to %s", h.What, h.GivenTo).WithFact("since", h.GivenAt.String()).WithHint("nothing to give")
		}
		h.GivenAt, h.GivenTo, h.GivenBy = tx.Now(), whom, by.Person
		if err := store.Put(tx, &h); err != nil {
			return HeldView{}, err
		}
		return HeldView{Held: h, By: d.personOr(h.Person), GivenByPerson: d.personOr(h.GivenBy)}, givenBack(tx, h, by)
	})
}

// heldNamed finds one thing of a job: by its id, or by its words, of which those that
// are still held come first.
func (d *directory) heldNamed(j jobs.Job, thing string) (jobs.Held, error) {
	all, err := d.HeldOn(j.ID)
	if err != nil {
		return jobs.Held{}, err
	}
	var here, given []jobs.Held
	var words []string
	for _, h := range all {
		if strings.EqualFold(h.ID, strings.TrimSpace(thing)) {
			return h, nil
		}
		if h.GivenAt == 0 {
			words = append(words, h.What)
		}
		switch same := names.Key(h.What) == names.Key(thing); {
		case same && h.GivenAt == 0:
			here = append(here, h)
		case same:
			given = append(given, h)
		}
	}
	switch {
	case len(here) > 1:
		return jobs.Held{}, fault.New(fault.Invalid, "%d things held on job %s are called %q", len(here), j.Number, thing).WithHint("name it by its id, such as %s", here[0].ID)
	case len(here) == 1:
		return here[0], nil
	case len(given) > 0:
		return given[0], nil
	}
	f := fault.New(fault.NotFound, "no %.40q is held on job %s", thing, j.Number)
	if len(words) > 0 {
		f = f.WithHint("held are: %s", strings.Join(words, ", "))
	}
	return jobs.Held{}, f
}

// givenBack answers what was said of a thing while it was held: it is given back.
func givenBack(tx *store.Tx, h jobs.Held, by By) error {
	f, found, err := store.Change[jobs.Finding](tx, jobs.FindingID(h.ID))
	if err != nil || !found || f.Answer == jobs.Found {
		return err
	}
	if err := f.Take(jobs.Reply{Answer: jobs.Found, Spot: "given to " + h.GivenTo}, by.Person, tx.Now()); err != nil {
		return err
	}
	return store.Put(tx, &f)
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
