package model

import (
	"context"
	"slices"

	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/serials"
)

// Swap says what was given for a tool; texts are as typed. Evidence of the kind
// slip is joined to both tools, all other to the new one.
type Swap struct {
	Serial      string            `json:"serial"`
	SerialAgain string            `json:"serial_again"`
	Model       string            `json:"model,omitempty"`  // empty: as the old one
	Number      string            `json:"number,omitempty"` // an issued number to claim
	Note        string            `json:"note,omitempty"`
	On          string            `json:"on,omitempty"` // the day of the exchange; empty: today
	Evidence    []register.Attach `json:"evidence,omitempty"`
}

// Swapped is what an exchange left behind.
type Swapped struct{ Old, New Done }

// Swap exchanges a tool for another of its kind: the old one is gone, the new
// one has its own number and serial and takes over kind, maker, model, place,
// owner, purchase with its papers, and the day the warranty runs from. What was
// found out about the old one says nothing about the new: no calibration,
// cycles, checks, marking or report comes along.
func (s *Shop) Swap(ctx context.Context, by By, number string, in Swap) (out Swapped, err error) {
	return act(ctx, s, by, "swap", []any{number, in}, func(tx *store.Tx) (Swapped, error) {
		h, err := s.handFor(tx, by, number)
		if err != nil {
			return Swapped{}, err
		}
		if err := allowed(by, people.EndTool, h.object(h.tool)); err != nil {
			return Swapped{}, err
		}
		on, err := h.day("#/on", in.On)
		if err != nil {
			return Swapped{}, err
		}
		note, err := names.Note(in.Note)
		if err != nil {
			return Swapped{}, fault.At("#/note", "%s", fault.Of(err).Error())
		}
		next, err := h.successor(in)
		if err != nil {
			return Swapped{}, err
		}
		h.tool.ExchangedFor = next.ID
		if err := h.gone(register.Exchanged, note, on); err != nil {
			return Swapped{}, err
		}
		return s.swapped(h, next, in)
	})
}

// successor makes the tool that takes the place of the hand's.
func (h *hand) successor(in Swap) (t register.Tool, err error) {
	if serials.Key(in.Serial) == "" {
		return t, fault.At("#/serial", "the new tool needs its own serial number").WithHint("read it from the new tool, twice")
	}
	if err := register.CheckSerialTwice(in.Serial, in.SerialAgain); err != nil {
		return t, err
	}
	old := h.tool
	t = register.Tool{Kind: old.Kind, Maker: old.Maker, MakerKey: old.MakerKey, Model: old.Model, Owner: old.Owner, Place: old.Place,
		Purchase: old.Purchase, Outside: old.Outside, Created: h.tx.Now()}
	if old.WarrantyMonths > 0 {
		t.WarrantyFrom = old.WarrantyStart()
	}
	t.CameWith, t.ExchangedFrom = old.CameWith, old.ID
	if t.ID, err = h.tx.NewID('T'); err != nil {
		return t, err
	}
	c := register.Change{Serial: &in.Serial}
	if in.Model != "" {
		c.Model = &in.Model
	}
	if err := change(h.directory, &t, c, h.tx.Now()); err != nil {
		return t, err
	}
	if err := serialIsFree(&h.tx.Rx, t); err != nil {
		return t, err
	}
	t.Number, err = numberFor(h.tx, in.Number, t.ID)
	return t, err
}

// swapped keeps the new tool and joins the papers.
func (s *Shop) swapped(h *hand, next register.Tool, in Swap) (out Swapped, err error) {
	if err := store.Put(h.tx, &next); err != nil {
		return out, err
	}
	if err := swapClaimed(h.tx, h.tool, next); err != nil {
		return out, err
	}
	slips := slices.DeleteFunc(slices.Clone(in.Evidence), func(a register.Attach) bool { return a.Kind != string(evidence.Slip) })
	if _, err := s.attach(h.tx, h.by, h.directory, h.tool, slips); err != nil {
		return out, err
	}
	all, err := h.tx.Evidence(h.tool.ID)
	if err != nil {
		return out, err
	}
	if err := h.share(all, next); err != nil {
		return out, err
	}
	if _, err := s.attach(h.tx, h.by, h.directory, next, in.Evidence); err != nil {
		return out, err
	}
	if out.Old, err = h.done(h.tool, "swap"); err != nil {
		return out, err
	}
	out.Old.GoneWhy = h.tool.GoneWhy
	out.New, err = h.done(next, "swap")
	return out, err
}

// share joins the papers of a purchase to another tool that it covers: the same
// originals, as evidence records of its own.
func (h *hand) share(all []evidence.Record, with register.Tool) (err error) {
	for _, e := range all {
		if !e.Kind.Shared() || e.Withdrawn != 0 {
			continue
		}
		e.Rev, e.Tool = 0, with.ID
		if e.ID, err = h.tx.NewID('E'); err != nil {
			return err
		}
		if err := store.Put(h.tx, &e); err != nil {
			return err
		}
	}
	return nil
}
