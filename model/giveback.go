package model

import (
	"cmp"
	"encoding/json"
	"slices"
	"strings"

	"pawl/model/custody"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/jobs"
	"pawl/model/names"
	"pawl/model/register"
)

// gaveBack is what somebody says of a tool that comes back; texts are checked.
type gaveBack struct {
	missing   register.Pieces
	condition string
	looked    bool // every piece of the set was looked at
	broken    string
	fragment  bool // not all of what broke came back
}

// cameBack checks what was typed of a tool that comes back.
func (h *hand) cameBack(in Return) (b gaveBack, err error) {
	if b.missing, err = missingOf(h.tool, in.Missing); err != nil {
		return b, err
	}
	var bad fault.Problems
	b.condition, err = names.Note(in.Condition)
	bad.Keep("#/condition", err)
	b.broken, err = names.Line(in.Broken)
	bad.Keep("#/broken", err)
	b.fragment, b.looked = in.FragmentMissing, in.AllThere || len(b.missing) > 0
	if b.fragment && b.broken == "" && err == nil {
		bad.Add("#/broken", "say what broke, and that a fragment of it is missing")
	}
	if in.AllThere && len(b.missing) > 0 {
		bad.Add("#/all_there", "%s is missing: not all are there", b.missing[0].Name)
	}
	if in.AllThere && len(h.tool.Pieces) == 0 {
		bad.Add("#/all_there", "tool %s is not recorded as a set: nothing of it can be counted", h.tool.Number)
	}
	return b, bad.Err()
}

// putBack ends the loan, and opens what does not add up on its job.
func (h *hand) putBack(b gaveBack) error {
	missing, err := piecesText(h.without(b.missing, b.broken))
	if err != nil {
		return err
	}
	loan := h.last
	h.broken, h.fragment, h.looked = b.broken, b.fragment, b.looked
	if err := h.end(custody.Returned, missing, b.condition); err != nil {
		return err
	}
	if err := h.broke(loan, b); err != nil || loan.Job == "" {
		return err
	}
	if err := h.turnedUp(loan); err != nil {
		return err
	}
	return h.onJob(loan, b)
}

// lacks gives the pieces that are not in a set, by whoever looked at it last.
func (d *directory) lacks(tool string) (register.Pieces, error) {
	last, err := d.LastEnded(tool)
	if err != nil {
		return nil, err
	}
	return last.Lost()
}

// carried is what was missing of the set before it was taken, as a loan keeps it, and
// what broke of it since.
func (h *hand) carried() (string, error) {
	missing, err := h.lacks(h.tool.ID)
	if err != nil {
		return "", err
	}
	return piecesText(h.without(missing, h.broken))
}

// without adds to what is missing of a set the piece of it that broke: it is no longer
// one of the set.
func (h *hand) without(missing register.Pieces, broken string) register.Pieces {
	own, piece := h.tool.Pieces.Find(broken)
	if _, known := missing.Find(own.Name); !piece || known {
		return missing
	}
	return append(slices.Clone(missing), register.Piece{Name: own.Name, Count: 1})
}

// broke puts a tool out of use on which something broke. Where it is one piece of a
// set, the set goes on without it, unless a fragment is missing and no job is held open
// by it.
func (h *hand) broke(loan custody.Loan, b gaveBack) error {
	if b.broken == "" {
		return nil
	}
	note := "broken: " + b.broken
	if b.fragment {
		note += "; a fragment of it is missing"
		h.say("A FRAGMENT IS MISSING: " + b.broken + ". Nothing that it may have fallen into is to be started or closed before it is found" + holdsOpen(loan))
	}
	if _, piece := h.tool.Pieces.Find(b.broken); piece && (!b.fragment || loan.Job != "") {
		return nil
	}
	w := custody.Wrong{Tool: h.tool.ID, What: "damaged", Note: note, At: h.at, By: h.by.Person}
	var err error
	if w.ID, err = h.tx.NewID('W'); err != nil {
		return err
	}
	return store.Put(h.tx, &w)
}

func holdsOpen(loan custody.Loan) string {
	if loan.Job == "" {
		return ". It was on no job: think of each vehicle that it was used on."
	}
	return "; it holds its job open."
}

// turnedUp answers a finding that the tool itself was missing: it came back.
func (h *hand) turnedUp(loan custody.Loan) error {
	all, err := h.tx.FindingsOf(loan.ID)
	for _, f := range all {
		if f.Sort != jobs.ToolMissing || f.Answer == jobs.Found {
			continue
		}
		if f, err = load[jobs.Finding](h.tx, f.ID, "finding "+f.ID); err != nil {
			return err
		}
		if err = f.Take(jobs.Reply{Answer: jobs.Found, Spot: "it was put back"}, h.by.Person, h.tx.Now()); err != nil {
			return err
		}
		if err = store.Put(h.tx, &f); err != nil {
			return err
		}
	}
	return err
}

// onJob opens what a return leaves open on the job, and keeps that the set was looked at.
func (h *hand) onJob(loan custody.Loan, b gaveBack) error {
	if b.looked {
		text, err := piecesText(h.without(b.missing, b.broken))
		if err != nil {
			return err
		}
		if err := putLook(h.tx, jobs.Look{Job: loan.Job, Tool: h.tool.ID, Sort: jobs.LookSet, At: h.at, Person: h.by.Person, Missing: text}); err != nil {
			return err
		}
	}
	if err := openPieces(h.tx, h.by, loan, b.missing); err != nil {
		return err
	}
	if b.fragment {
		return putFinding(h.tx, jobs.Finding{Job: loan.Job, Tool: h.tool.ID, Loan: loan.ID, Sort: jobs.FragmentMissing, What: b.broken, Count: 1, Person: h.by.Person})
	}
	return nil
}

// openPieces opens a finding for each sort of piece that is not there; one that is
// open already stays, with as many as are missing now. What was answered for answers
// for no more than it did: a second piece that is missing is open.
func openPieces(tx *store.Tx, by By, loan custody.Loan, missing register.Pieces) error {
	have, err := tx.FindingsOf(loan.ID)
	if err != nil {
		return err
	}
	slices.SortStableFunc(have, func(a, b jobs.Finding) int { return cmp.Compare(b.Answer, a.Answer) }) // open ones last
	for _, p := range missing {
		left := int64(p.Count)
		for _, f := range have {
			if f.Sort != jobs.PieceMissing || f.Answer == jobs.Found || !strings.EqualFold(f.What, p.Name) {
				continue
			}
			if left, err = shareOf(tx, by, f.ID, left); err != nil {
				return err
			}
		}
		if left == 0 {
			continue
		}
		f := jobs.Finding{Job: loan.Job, Tool: loan.Tool, Loan: loan.ID, Sort: jobs.PieceMissing, What: p.Name, Count: left, Person: by.Person}
		if err := putFinding(tx, f); err != nil {
			return err
		}
	}
	return nil
}

// shareOf sets how many of the pieces that are left to account for a finding is about:
// an open one all of them, an answered one as many as it was answered for. None: they
// are there again. It gives how many are left.
func shareOf(tx *store.Tx, by By, id string, left int64) (int64, error) {
	f, err := load[jobs.Finding](tx, id, "finding "+id)
	if err != nil {
		return left, err
	}
	count := left
	if !f.Open() {
		count = min(left, f.Count)
	}
	if count == 0 {
		err = f.Take(jobs.Reply{Answer: jobs.Found, Spot: "in the set, when it was looked at again"}, by.Person, tx.Now())
	} else {
		f.Count = count
	}
	if err != nil {
		return left, err
	}
	return left - count, store.Put(tx, &f)
}

// putFinding records a finding of now under an id of its own.
func putFinding(tx *store.Tx, f jobs.Finding) (err error) {
	if f.ID == "" {
		if f.ID, err = tx.NewID('Z'); err != nil {
			return err
		}
	}
	f.At = tx.Now()
	return store.Put(tx, &f)
}

// putLook records a look under an id of its own.
func putLook(tx *store.Tx, l jobs.Look) (err error) {
	if l.ID, err = tx.NewID('Y'); err != nil {
		return err
	}
	return store.Put(tx, &l)
}

// missingOf reads what did not come back; each must belong to the set.
func missingOf(t register.Tool, in []string) (lost register.Pieces, err error) {
	var bad fault.Problems
	for _, text := range in {
		p, err := register.ParsePiece(text)
		if err != nil {
			bad.Keep("#/missing", err)
			continue
		}
		own, found := t.Pieces.Find(p.Name)
		if !found || p.Count > own.Count {
			bad.Add("#/missing", "%q (%d) does not belong to tool %s: it has %d", p.Name, p.Count, t.Number, own.Count)
			continue
		}
		lost = append(lost, register.Piece{Name: own.Name, Count: p.Count})
	}
	return lost, bad.Err()
}

// piecesText is a list of pieces as a loan keeps it; empty for none.
func piecesText(all register.Pieces) (string, error) {
	if len(all) == 0 {
		return "", nil
	}
	text, err := json.Marshal(all)
	return string(text), err
}
