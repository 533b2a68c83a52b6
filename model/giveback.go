package model

import (
	"encoding/json"
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
	missing, err := piecesText(b.missing)
	if err != nil {
		return err
	}
	loan := h.last
	h.broken, h.fragment = b.broken, b.fragment
	if err := h.end(custody.Returned, missing, b.condition); err != nil {
		return err
	}
	if err := h.broke(b); err != nil || loan.Job == "" {
		return err
	}
	if err := h.turnedUp(loan); err != nil {
		return err
	}
	return h.onJob(loan, b)
}

// broke puts a tool out of use on which something broke. Where it is one piece of a
// set, the set goes on without it.
func (h *hand) broke(b gaveBack) error {
	if b.broken == "" {
		return nil
	}
	if _, piece := h.tool.Pieces.Find(b.broken); piece {
		return nil
	}
	w := custody.Wrong{Tool: h.tool.ID, What: "damaged", Note: "broken: " + b.broken, At: h.at, By: h.by.Person}
	var err error
	if w.ID, err = h.tx.NewID('W'); err != nil {
		return err
	}
	return store.Put(h.tx, &w)
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
	if b.looked && len(b.missing) == 0 {
		if err := putLook(h.tx, jobs.Look{Job: loan.Job, Tool: h.tool.ID, Sort: jobs.LookSet, At: h.at, Person: h.by.Person}); err != nil {
			return err
		}
	}
	if err := openPieces(h.tx, h.by, loan, b.missing); err != nil {
		return err
	}
	if b.fragment {
		h.say("A FRAGMENT IS MISSING: " + b.broken + ". Nothing that it may have fallen into is to be started or closed before it is found; it holds its job open.")
		return putFinding(h.tx, jobs.Finding{Job: loan.Job, Tool: h.tool.ID, Loan: loan.ID, Sort: jobs.FragmentMissing, What: b.broken, Count: 1, Person: h.by.Person})
	}
	return nil
}

// openPieces opens a finding for each sort of piece that is not there; one that is
// open already stays, with as many as are missing now.
func openPieces(tx *store.Tx, by By, loan custody.Loan, missing register.Pieces) error {
	have, err := tx.FindingsOf(loan.ID)
	if err != nil {
		return err
	}
	for _, p := range missing {
		known := false
		for _, f := range have {
			if f.Sort != jobs.PieceMissing || f.Answer == jobs.Found || !strings.EqualFold(f.What, p.Name) {
				continue
			}
			known = true
			if f, err = load[jobs.Finding](tx, f.ID, "finding "+f.ID); err != nil {
				return err
			}
			f.Count = int64(p.Count)
			if err := store.Put(tx, &f); err != nil {
				return err
			}
		}
		if known {
			continue
		}
		f := jobs.Finding{Job: loan.Job, Tool: loan.Tool, Loan: loan.ID, Sort: jobs.PieceMissing, What: p.Name, Count: int64(p.Count), Person: by.Person}
		if err := putFinding(tx, f); err != nil {
			return err
		}
	}
	return nil
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
