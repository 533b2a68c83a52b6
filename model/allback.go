package model

import (
	"context"
	"encoding/json"
	"slices"
	"strings"

	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/jobs"
	"pawl/model/numbers"
	"pawl/model/register"
)

// Where a tool is that was taken to a job.
const (
	TakenBack     = "back"      // in place again
	TakenOut      = "out"       // still out on this job
	TakenHandedOn = "handed on" // to another job, or to somebody without one
	TakenAway     = "away"      // sent to a lab or a repairer, or lent
	TakenGone     = "gone"      // it left for good
	TakenLost     = "lost"      // it is gone because it was lost or stolen: it may be in the vehicle
)

// AllBackView is what is on record of a job: what was taken to it and where that is,
// what does not add up, what is held for the customer, and who looked.
type AllBackView struct {
	Job        jobs.Job
	Tools      []TakenTool
	Findings   []FindingView // open ones first, then by time
	Held       []HeldView
	Looks      []LookView // oldest first
	Holds      []UseView  // tightenings and measurements that hold it open
	Tally      jobs.Tally
	Words      string
	Scanned    []Scanned // of the look that this answers
	Shop       string
	ClosedBy   string
	OverrideBy string
	ReopenedBy string
}

// TakenTool is one tool that was taken to a job.
type TakenTool struct {
	ToolRow
	Where     string // one of the words above
	Holder    string // who has it, or where it is away
	OnJob     string // the other job that it was handed on to
	Since     dates.Instant
	Takes     int
	Pieces    register.Pieces // of a set
	LookedAt  dates.Instant   // of a set: since it came back, or since it was taken; 0: not
	Condition string          // as it came back
	Broken    string
	Fragment  bool // not all of what broke came back
	Missing   register.Pieces
	loan      custody.Loan    // the latest on this job
	lost      register.Pieces // of those missing: not missing before, and not broken
}

// Set says whether the tool is a set, whose pieces are to be looked at.
func (t TakenTool) Set() bool { return len(t.Pieces) > 0 }

// FindingView is a finding in names. One that follows from what is out or held has no
// row until it is answered for.
type FindingView struct {
	jobs.Finding
	JobNumber            string
	Number               numbers.Number // of the tool; empty: none
	Kind                 string
	Holder               string // who has the tool that is out
	By, AnsweredByPerson string
	Words                string // what is open, in one sentence
	NotInSet             bool   // a piece that was found, and that its set lacks by the record
}

// HeldView is a thing of the customer's in names.
type HeldView struct {
	jobs.Held
	By, GivenByPerson string
}

// LookView is a look in names.
type LookView struct {
	jobs.Look
	By     string
	Number numbers.Number
	Kind   string
}

// Scanned is what came of one label that was scanned.
type Scanned struct {
	Text    string // as it was scanned
	Number  numbers.Number
	Kind    string
	Done    string // returned, seen, extra, still out; empty: nothing
	Holder  string
	Finding string // id of the finding that it opened
	Problem *fault.Error
}

// AllBack gives what is on record of a job. It writes nothing.
func (s *Shop) AllBack(ctx context.Context, by By, number string) (v AllBackView, err error) {
	j, err := s.Job(ctx, by, number)
	if err != nil {
		return v, err
	}
	err = s.read(ctx, func(d *directory) error {
		if j, _, err = d.Rx.Job(j.ID); err != nil {
			return err
		}
		v, err = d.allBack(j)
		return err
	})
	return v, err
}

// allBack reads what was taken to a job and where it is, what does not add up, what
// is held and who looked.
func (d *directory) allBack(j jobs.Job) (v AllBackView, err error) {
	v = AllBackView{Job: j, Shop: d.settings.Name, ClosedBy: d.personOr(j.ClosedBy), OverrideBy: d.personOr(j.OverrideBy), ReopenedBy: d.personOr(j.ReopenedBy)}
	looks, err := d.LooksOn(j.ID)
	if err != nil {
		return v, err
	}
	if v.Tools, err = d.taken(j, looks); err != nil {
		return v, err
	}
	held, err := d.HeldOn(j.ID)
	if err != nil {
		return v, err
	}
	for _, h := range held {
		v.Held = append(v.Held, HeldView{Held: h, By: d.personOr(h.Person), GivenByPerson: d.personOr(h.GivenBy)})
	}
	if v.Findings, err = d.findings(j, v.Tools, held); err != nil {
		return v, err
	}
	if v.Looks, err = d.looks(looks); err != nil {
		return v, err
	}
	if v.Holds, err = d.holding(j); err != nil {
		return v, err
	}
	v.count()
	return v, nil
}

// personOr names a person; an act of nobody's was the shop's.
func (d *directory) personOr(id string) string {
	if id == "" {
		return d.settings.Name
	}
	return d.person(id)
}

// taken gives the tools that were taken to a job, in the order in which they first were.
func (d *directory) taken(j jobs.Job, looks []jobs.Look) (out []TakenTool, err error) {
	loans, err := d.LoansOn(j.ID)
	if err != nil || len(loans) == 0 {
		return nil, err
	}
	var ids []string
	at := map[string]int{}
	for _, l := range loans {
		i, seen := at[l.Tool]
		if !seen {
			i, at[l.Tool] = len(out), len(out)
			ids = append(ids, l.Tool)
			out = append(out, TakenTool{})
		}
		passedOn := out[i].loan.EndedHow == custody.HandedOver && out[i].loan.Ended == l.Since
		if !passedOn { // handing over on one job is no second take
			out[i].Takes++
		}
		if !seen || l.After(out[i].loan) {
			out[i].loan = l
		}
	}
	rows, err := d.rowsByID(ids)
	if err != nil {
		return nil, err
	}
	tools, err := d.ToolsByID(ids)
	if err != nil {
		return nil, err
	}
	open, err := d.OpenLoans(ids)
	if err != nil {
		return nil, err
	}
	for i, id := range ids {
		out[i].ToolRow, out[i].Pieces = rows[id], tools[id].Pieces
		if err := out[i].tell(d, j, tools[id], open, looks); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// tell says where the tool is now, and how it came back.
func (t *TakenTool) tell(d *directory, j jobs.Job, tool register.Tool, open []custody.Loan, looks []jobs.Look) (err error) {
	l := t.loan
	t.Where, t.Since, t.Condition, t.Broken, t.Fragment = TakenBack, l.Changed(), l.Condition, l.Broken, l.FragmentMissing
	if t.Missing, err = l.Lost(); err != nil {
		return err
	}
	if t.lost, err = d.lostOn(l, t.Missing); err != nil {
		return err
	}
	if l.Ended != 0 && len(t.lost) > 0 {
		t.LookedAt = l.Ended
	}
	for _, k := range looks {
		if k.Tool == tool.ID && k.Sort == jobs.LookSet && k.At >= l.Since && k.At >= l.Ended {
			t.LookedAt = k.At
		}
	}
	if i := slices.IndexFunc(open, func(o custody.Loan) bool { return o.Tool == tool.ID }); i >= 0 {
		now := open[i]
		t.Holder, t.Since = d.holder(now).Name, now.Since
		switch {
		case now.State == custody.Away:
			t.Where = TakenAway
		case now.Job == j.ID:
			t.Where = TakenOut
		default:
			t.Where = TakenHandedOn
			t.OnJob, err = d.job(now.Job)
		}
		if t.Where != TakenOut && l.EndedHow == custody.Returned { // it was back, and went out again since
			t.Where, t.Holder, t.OnJob, t.Since = TakenBack, "", "", l.Ended
		}
	}
	if err != nil || tool.Gone == 0 {
		return err
	}
	return t.leave(d, tool)
}

// lostOn gives those of the missing pieces that were not missing when the tool was
// taken, and that did not break.
func (d *directory) lostOn(l custody.Loan, missing register.Pieces) (out register.Pieces, err error) {
	if len(missing) == 0 {
		return nil, nil
	}
	before, err := d.EndedBefore(l)
	if err != nil {
		return nil, err
	}
	were, err := before.Lost()
	for _, p := range missing {
		if was, _ := were.Find(p.Name); p.Count > was.Count && !strings.EqualFold(p.Name, l.Broken) {
			out = append(out, p)
		}
	}
	return out, err
}

// leave tells of a tool that is gone and was not put back since this job had it,
// be it that it was handed on or sent away before it went.
func (t *TakenTool) leave(d *directory, tool register.Tool) error {
	was, err := d.WasBackSince(t.loan)
	if err != nil || was {
		return err
	}
	t.Where, t.Since = TakenGone, tool.Gone
	if tool.GoneWhy == "lost" || tool.GoneWhy == "stolen" { // nobody saw that it is not in the vehicle
		t.Where = TakenLost
	}
	return nil
}

// missingNow says whether the tool itself is not accounted for.
func (t TakenTool) missingNow() bool { return t.Where == TakenOut || t.Where == TakenLost }

// looks puts looks into names.
func (d *directory) looks(all []jobs.Look) (out []LookView, err error) {
	for _, l := range all {
		v := LookView{Look: l, By: d.personOr(l.Person)}
		if l.Tool != "" {
			t, _, err := d.Tool(l.Tool)
			if err != nil {
				return nil, err
			}
			v.Number, v.Kind = t.Number, t.Kind
		}
		out = append(out, v)
	}
	return out, nil
}

// holding gives what was done without a confirmed tool and holds a job open.
func (d *directory) holding(j jobs.Job) (out []UseView, err error) {
	rows, err := d.UsesOn(j.ID)
	if err != nil {
		return nil, err
	}
	for _, row := range rows {
		u, err := d.useView(row, j.Safety.Critical())
		if err != nil {
			return nil, err
		}
		if u.Holds {
			out = append(out, u)
		}
	}
	return out, nil
}

// count sums up what the view holds.
func (v *AllBackView) count() {
	for _, t := range v.Tools {
		v.Tally.Takes += t.Takes
		v.Tally.Back += t.Takes
		if t.Where != TakenBack {
			v.Tally.Back--
		}
		if t.Where != TakenBack && !t.missingNow() {
			v.Tally.Elsewhere++
		}
		if t.missingNow() {
			v.Tally.Out = append(v.Tally.Out, strings.TrimSpace(t.Number.String()+" "+t.Kind)+t.where())
		}
		if t.Set() && t.Where != TakenGone && t.Where != TakenLost {
			v.Tally.Sets++
			if t.LookedAt != 0 {
				v.Tally.Looked++
			}
		}
	}
	for _, f := range v.Findings {
		if f.Open() && f.Sort != jobs.ToolMissing && f.Sort != jobs.StillHeld {
			v.Tally.Open++
		}
		if f.Flags() && f.Answer != jobs.Found {
			v.Tally.Flagged++
		}
	}
	v.Words = v.Tally.Words()
}

func (t TakenTool) where() string {
	if t.Where == TakenLost {
		return " (lost)"
	}
	return " (" + t.Holder + ")"
}

// ClosedOver says whether the job is closed over what was open. An override of an
// earlier closing stays on record, and says nothing of the last.
func (v AllBackView) ClosedOver() bool {
	return v.Job.OverrideAt != 0 && v.Job.OverrideAt == v.Job.Closed
}

// Unlooked gives the sets whose pieces nobody looked at since they were last in use.
func (v AllBackView) Unlooked() (out []TakenTool) {
	for _, t := range v.Tools {
		if t.Set() && t.LookedAt == 0 && t.Where != TakenGone && t.Where != TakenLost {
			out = append(out, t)
		}
	}
	return out
}

// Unanswered gives the findings that nobody answered for.
func (v AllBackView) Unanswered() (out []FindingView) {
	for _, f := range v.Findings {
		if f.Open() {
			out = append(out, f)
		}
	}
	return out
}

// MissingPieces are the pieces that a look found missing.
func (l LookView) MissingPieces() (out register.Pieces) {
	if l.Missing == "" || json.Unmarshal([]byte(l.Missing), &out) != nil {
		return nil
	}
	return out
}
