package model

import (
	"context"
	"slices"

	"pawl/model/custody"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/jobs"
	"pawl/model/names"
	"pawl/model/register"
)

// LookedAtJob is one look at what was on a job, as typed: labels as they were scanned,
// sets that were looked at piece by piece, and the moment at which all of it was asked.
type LookedAtJob struct {
	Before  string
	Scanned []string
	Sets    []LookedAtSet
}

// LookedAtSet is a set as somebody looked at it; no missing pieces: all are there.
type LookedAtSet struct {
	Number  string
	Missing []string
}

// maxScanned is the most labels of one look.
const maxScanned = 500

// LookAtJob records a look. Each scanned tool that is out on the job is put back; one
// that was never taken to it is a finding, and no bonus. A label that says nothing
// changes nothing, and is told.
func (s *Shop) LookAtJob(ctx context.Context, by By, number string, in LookedAtJob) (AllBackView, error) {
	v, err := act(ctx, s, by, "all back", []any{number, in}, func(tx *store.Tx) (AllBackView, error) {
		before, err := jobs.ParseMoment(in.Before)
		switch {
		case err != nil:
			return AllBackView{}, fault.At("#/before", "%s", fault.Of(err).Error())
		case len(in.Scanned) > maxScanned || len(in.Sets) > maxScanned:
			return AllBackView{}, fault.At("#/scanned", "more than %d at once", maxScanned)
		case before == "" && len(in.Scanned)+len(in.Sets) == 0:
			return AllBackView{}, fault.At("#/scanned", "nothing was looked at").WithHint("scan what came back, name a set that was looked at, or say before what it is asked: engine or handover")
		}
		// It is not held for change: whoever takes a tool holds the tool first, then the job.
		_, key, err := jobs.CheckNumber(number)
		if err != nil {
			return AllBackView{}, noJob(number)
		}
		j, found, err := tx.JobNumbered(key)
		if err != nil || !found {
			return AllBackView{}, orElse(err, noJob(number))
		}
		l := lookOver{tx: tx, by: by, job: j}
		return l.all(s, in, before)
	})
	return v, err
}

// lookOver is one look at a job in progress.
type lookOver struct {
	tx      *store.Tx
	by      By
	job     jobs.Job
	scanned []Scanned
}

func (l *lookOver) all(s *Shop, in LookedAtJob, before jobs.Moment) (v AllBackView, err error) {
	seen := map[string]bool{}
	for _, text := range in.Scanned {
		if seen[text] {
			continue
		}
		seen[text] = true
		one, err := l.scan(s, text)
		if err != nil {
			return v, err
		}
		l.scanned = append(l.scanned, one)
	}
	for _, set := range in.Sets {
		if err := l.set(s, set); err != nil {
			return v, err
		}
	}
	d, err := readNames(&l.tx.Rx)
	if err != nil {
		return v, err
	}
	if v, err = d.allBack(l.job); err != nil || before == "" {
		v.Scanned = l.scanned
		return v, err
	}
	look := jobs.Look{Job: l.job.ID, Sort: jobs.LookAsked, Before: before, At: l.tx.Now(), Person: l.by.Person, Result: "not back", Words: v.Words}
	switch {
	case v.Tally.Unknown():
		look.Result = "nothing recorded"
	case v.Tally.AllBack():
		look.Result = "back"
	}
	if err := putLook(l.tx, look); err != nil {
		return v, err
	}
	v.Looks = append(v.Looks, LookView{Look: look, By: d.personOr(look.Person)})
	v.Scanned = l.scanned
	return v, nil
}

// scan takes one label as seen back.
func (l *lookOver) scan(s *Shop, text string) (out Scanned, err error) {
	out.Text, err = names.Line(text)
	if err != nil {
		return Scanned{Problem: plain(err)}, nil
	}
	set, err := l.tx.Settings()
	if err != nil {
		return out, err
	}
	n, err := readScanned(set, text)
	if err == nil {
		_, err = resolve(&l.tx.Rx, string(n))
	}
	if err != nil {
		if k := fault.Of(err).Kind; k == fault.Internal || k == fault.Unavailable {
			return out, err
		}
		out.Problem = plain(err)
		return out, nil
	}
	h, err := s.handFor(l.tx, l.by, string(n))
	if fault.Is(err, fault.Conflict) { // it is gone, and here
		out.Problem = plain(err)
		return out, nil
	}
	if err != nil {
		return out, err
	}
	out.Number, out.Kind, out.Holder = h.tool.Number, h.tool.Kind, ""
	was, err := l.wasHere(h.tool.ID)
	switch {
	case err != nil:
		return out, err
	case h.last.Open() && h.last.Job == l.job.ID:
		out.Done = "returned"
		return out, h.putBack(gaveBack{})
	case !was:
		out.Done = "extra"
		out.Finding, err = l.extra(h)
		return out, err
	case h.last.Open():
		out.Done, out.Holder = "still out", h.holder(h.last).Name
	default:
		out.Done = "seen"
	}
	return out, putLook(l.tx, jobs.Look{Job: l.job.ID, Tool: h.tool.ID, Sort: jobs.LookSeen, At: l.tx.Now(), Person: l.by.Person})
}

// plain is a fault without what led to it, as it can be kept.
func plain(err error) *fault.Error {
	f := *fault.Of(err)
	f.Cause = nil
	return &f
}

// wasHere says whether a tool was ever taken to the job.
func (l *lookOver) wasHere(tool string) (bool, error) {
	loans, err := l.tx.LoansOn(l.job.ID)
	return slices.ContainsFunc(loans, func(o custody.Loan) bool { return o.Tool == tool }), err
}

// extra opens a finding about a tool that was never taken to the job, once.
func (l *lookOver) extra(h *hand) (id string, err error) {
	all, err := l.tx.FindingsOn(l.job.ID)
	for _, f := range all {
		if f.Sort == jobs.Extra && f.Tool == h.tool.ID && f.Open() {
			return f.ID, nil
		}
	}
	if err != nil {
		return "", err
	}
	f := jobs.Finding{Job: l.job.ID, Tool: h.tool.ID, Sort: jobs.Extra, Count: 1, Person: l.by.Person}
	if f.ID, err = l.tx.NewID('Z'); err != nil {
		return "", err
	}
	return f.ID, putFinding(l.tx, f)
}

// set records how a set was found: what is missing of it opens findings, and what was
// missing of it and is there again answers them.
func (l *lookOver) set(s *Shop, in LookedAtSet) error {
	h, err := s.handFor(l.tx, l.by, in.Number)
	if err != nil {
		if fault.Is(err, fault.Internal) || fault.Is(err, fault.Unavailable) {
			return err
		}
		return fault.At("#/sets", "%s", fault.Of(err).Error())
	}
	was, err := l.wasHere(h.tool.ID)
	switch {
	case err != nil:
		return err
	case !was:
		return fault.At("#/sets", "tool %s was not taken to job %s", h.tool.Number, l.job.Number).WithHint("scan it, if it came back with the others")
	case len(h.tool.Pieces) == 0:
		return fault.At("#/sets", "tool %s is not recorded as a set", h.tool.Number)
	}
	missing, err := missingOf(h.tool, in.Missing)
	if err != nil {
		return fault.At("#/sets", "%s", fault.Of(err).Error())
	}
	loan, err := l.latest(h.tool.ID)
	if err != nil {
		return err
	}
	text, err := piecesText(missing)
	if err != nil {
		return err
	}
	if err := putLook(l.tx, jobs.Look{Job: l.job.ID, Tool: h.tool.ID, Sort: jobs.LookSet, At: l.tx.Now(), Person: l.by.Person, Missing: text}); err != nil {
		return err
	}
	if err := l.pieces(h, loan, missing, text); err != nil {
		return err
	}
	return openPieces(l.tx, l.by, loan, missing)
}

// latest is the last stretch of a tool on this job.
func (l *lookOver) latest(tool string) (last custody.Loan, err error) {
	loans, err := l.tx.LoansOn(l.job.ID)
	for _, o := range loans {
		if o.Tool == tool {
			last = o
		}
	}
	return last, err
}

// pieces has the set itself say what it lacks now, where it is back, and answers what
// was missing and is there again.
func (l *lookOver) pieces(h *hand, loan custody.Loan, missing register.Pieces, text string) error {
	if loan.Ended != 0 && loan.ID == h.last.ID {
		now, err := load[custody.Loan](l.tx, loan.ID, "loan "+loan.ID)
		if err != nil {
			return err
		}
		now.Missing = text
		if err := store.Put(l.tx, &now); err != nil {
			return err
		}
	}
	all, err := l.tx.FindingsOf(loan.ID)
	if err != nil {
		return err
	}
	for _, f := range all {
		if _, still := missing.Find(f.What); f.Sort != jobs.PieceMissing || f.Answer == jobs.Found || still {
			continue
		}
		if f, err = load[jobs.Finding](l.tx, f.ID, "finding "+f.ID); err != nil {
			return err
		}
		if err := f.Take(jobs.Reply{Answer: jobs.Found, Spot: "in the set, when it was looked at again"}, l.by.Person, l.tx.Now()); err != nil {
			return err
		}
		if err := store.Put(l.tx, &f); err != nil {
			return err
		}
	}
	return nil
}
