package model

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"pawl/model/custody"
	"pawl/model/dates"
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
		if f.Answer == jobs.Found {
			var missing register.Pieces
			missing, err = d.lacks(f.Tool)
			_, v.NotInSet = missing.Find(f.What)
		}
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
	InSet              bool   // they saw the piece in its set again
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
		if !in.InSet || f.Answer != jobs.Found || r != (jobs.Reply{}) { // else it was found before, and is put back now
			if err := f.Take(r, by.Person, tx.Now()); err != nil {
				return FindingView{}, err
			}
			if err := store.Put(tx, &f); err != nil {
				return FindingView{}, err
			}
		}
		if in.InSet {
			if err := pieceBack(tx, by, f); err != nil {
				return FindingView{}, err
			}
		}
		return d.findingView(f)
	})
}

// pieceBack has a set say that it has a piece again, because somebody says that they saw
// it there: that is a look, with who and when, in the same act as the answer. A set with
// a piece missing is a missing tool (essay on COMNAVAIRFORINST 4790.2B, second hand), so
// that a piece was found somewhere makes none complete.
func pieceBack(tx *store.Tx, by By, f jobs.Finding) error {
	if f.Sort != jobs.PieceMissing || f.Answer != jobs.Found {
		return fault.At("#/in_set", "a piece that was found goes back into its set, and nothing else").WithHint("say where it was found, with the answer found")
	}
	last, err := tx.LastEnded(f.Tool)
	if err != nil {
		return err
	}
	missing, err := last.Lost()
	if err != nil {
		return err
	}
	left, was := leftOf(missing, f)
	if !was {
		return fault.New(fault.Conflict, "%s is in its set by the record already", f.What).WithHint("nothing to do")
	}
	if last, err = load[custody.Loan](tx, last.ID, "loan "+last.ID); err != nil {
		return err
	}
	if last.Missing, err = piecesText(left); err != nil {
		return err
	}
	if err := store.Put(tx, &last); err != nil {
		return err
	}
	return putLook(tx, jobs.Look{Job: f.Job, Tool: f.Tool, Sort: jobs.LookSet, At: tx.Now(), Person: by.Person, Missing: last.Missing})
}

// leftOf gives the pieces that are missing still when what a finding is about is there. A
// finding that was never written down as one of a piece is about all of them.
func leftOf(missing register.Pieces, f jobs.Finding) (left register.Pieces, was bool) {
	for _, p := range missing {
		switch {
		case strings.EqualFold(p.Name, f.What):
			p.Count, was = p.Count-min(p.Count, int(f.Count)), true
		case f.ID == jobs.FindingID(f.Loan):
			p.Count, was = 0, true
		}
		if p.Count > 0 {
			left = append(left, p)
		}
	}
	return left, was
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

// FindingQuery asks for a page of findings.
type FindingQuery struct {
	Limit  int // 0: 50; at most 200
	Cursor string
}

// UnsettledFindings gives the findings of all jobs that nobody answered for, and those
// of which the vehicle's owner is still to be told, oldest first, with the cursor of the
// next page.
func (s *Shop) UnsettledFindings(ctx context.Context, by By, q FindingQuery) (out []FindingView, next string, err error) {
	limit, err := pageLimit(q.Limit)
	if err != nil {
		return nil, "", err
	}
	c, err := parseCursor("findings", q.Cursor)
	if err != nil {
		return nil, "", err
	}
	var after int64
	if c.Key != "" {
		if after, err = strconv.ParseInt(c.Key, 10, 64); err != nil || c.ID == "" {
			return nil, "", badCursor()
		}
	}
	err = s.read(ctx, func(d *directory) error {
		out, err = d.unsettledFindings(dates.Instant(after), c.ID, limit+1)
		return err
	})
	if len(out) > limit {
		out = out[:limit]
		last := out[limit-1]
		next = cursor{List: c.List, Key: strconv.FormatInt(int64(last.At), 10), ID: last.ID}.String()
	}
	return out, next, err
}

func (d *directory) unsettledFindings(after dates.Instant, id string, limit int) (out []FindingView, err error) {
	rows, err := d.Rx.UnsettledFindings(after, id, limit)
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
