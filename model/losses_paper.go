package model

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"slices"

	"pawl/labels"
	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/internal/store"
)

// PoliceSheet draws what the police are told of a loss, as it is on record now: from the
// first minute on, with a line for the number of their report until it is known. Its lines
// are those of every later paper. It records nothing: that a sheet was handed over is for
// GiveLossList, which keeps what it says. The one that was handed over is drawn again, the
// same, until something is recorded otherwise.
func (s *Shop) PoliceSheet(ctx context.Context, by By, id string, w io.Writer) error {
	st, err := s.listOfLoss(ctx, by, id)
	if err != nil {
		return err
	}
	given, err := s.sheetHandedOver(ctx, st.Loss.ID)
	if err != nil {
		return err
	}
	if given != nil && given.SameList(st) {
		st = *given
	}
	return labels.Police(w, st)
}

// sheetHandedOver is the sheet of a loss that was handed over last, as it was then; nil where
// none was, or its bytes are not as they were kept, which verify tells.
func (s *Shop) sheetHandedOver(ctx context.Context, id string) (st *claims.Statement, err error) {
	var row claims.Packet
	found := false
	if err := s.db.Read(ctx, func(rx *store.Rx) error {
		l, _, err := rx.Loss(id)
		if err == nil {
			row, found, err = givenSheet(rx, &l)
		}
		return err
	}); err != nil || !found {
		return nil, err
	}
	if was, _, err := s.statement(row); err == nil {
		st = &was
	}
	return st, nil
}

// errMoved says that a list was changed between the drawing of its sheet and the act that
// gives it out.
var errMoved = fault.New(fault.Conflict, "the list is being changed just now").WithHint("try again")

// mostDrawn is how often a sheet is drawn anew because of that.
const mostDrawn = 5

// GiveLossList records that the list as it is now was handed to the police or the insurer,
// and keeps the sheet that says so: what is found later goes into the next supplement, so
// that no list that somebody holds is added to, and later papers are held against it. A list
// that was given out and says the same still is a Conflict.
func (s *Shop) GiveLossList(ctx context.Context, by By, loss string) (v LossView, err error) {
	for range mostDrawn {
		sheet, failed := s.sheetToGive(ctx, by, loss)
		if v, err = s.giveSheet(ctx, by, loss, sheet, failed); !errors.Is(err, errMoved) {
			return v, err
		}
	}
	return v, err
}

// drawnSheet is a sheet with its bytes, which are among the originals already.
type drawnSheet struct {
	claims.Statement
	row    claims.Packet
	before store.Removal     // of the bytes of its statement, from before they were kept
	whyNot map[string]string // why its pictures cannot be drawn, by id of evidence
}

func (s *Shop) sheetToGive(ctx context.Context, by By, loss string) (d drawnSheet, err error) {
	d.whyNot = map[string]string{}
	if d.Statement, err = s.listShown(ctx, by, loss, func(e evidence.Record) (string, error) {
		why, err := s.whyNotShown(e)
		d.whyNot[e.ID] = why
		return why, err
	}); err != nil || len(d.Lines)+len(d.Off) == 0 {
		return d, err
	}
	raw, err := d.Bytes()
	if err != nil {
		return d, err
	}
	if err := labels.Police(io.Discard, d.Statement); err != nil { // what cannot be drawn is not kept as drawn
		return d, err
	}
	sum := sha256.Sum256(raw)
	d.row = claims.Packet{Loss: d.Loss.ID, Supplement: d.Supplement, Lines: d.Size, Statement: hex.EncodeToString(sum[:]), Created: d.Created, Person: by.Person}
	d.before, err = s.keepStatement(ctx, d.row, raw)
	return d, err
}

// giveSheet records the sheet with the act that gives it, unless something was recorded since
// it was drawn. What failed in drawing it is told only to whoever may give it.
func (s *Shop) giveSheet(ctx context.Context, by By, loss string, sheet drawnSheet, failed error) (LossView, error) {
	return s.onLoss(ctx, by, "loss given", loss, nil, func(a *lossAct) error {
		if err := a.settles(); err != nil {
			return err
		}
		if len(a.lines) == 0 {
			return fault.New(fault.Conflict, "nothing is on the list of loss %s", a.loss.ID).WithHint("put the tools on it first: pawl loss add %s NUMBER", a.loss.ID)
		}
		if failed != nil {
			return failed
		}
		if err := s.sameStill(a, sheet); err != nil {
			return err
		}
		newest := slices.MaxFunc(a.lines, func(x, y claims.LossLine) int { return cmp.Compare(x.Supplement, y.Supplement) }).Supplement
		if err := s.givenAlready(a, newest, sheet.Statement); err != nil {
			return err
		}
		if err := sameRemoval(a.tx, sheet.row.Statement, sheet.before); err != nil {
			return err
		}
		p := sheet.row
		var err error
		if p.ID, err = a.tx.NewID('S'); err != nil {
			return err
		}
		a.loss.Given, a.loss.GivenSheet = newest, p.ID
		return store.Put(a.tx, &p)
	})
}

// sameStill sees within an act that the list is as it was drawn. Its pictures were looked at
// before: views may have to be made.
func (s *Shop) sameStill(a *lossAct, sheet drawnSheet) error {
	if size, err := a.tx.Size(); err != nil || size == sheet.Size {
		return err
	}
	facts, err := s.gatherPacket(&a.tx.Rx, a.by, NewPacket{Loss: a.loss.ID})
	if err != nil {
		return err
	}
	facts.WhyNot = func(e evidence.Record) (string, error) {
		why, looked := sheet.whyNot[e.ID]
		if !looked {
			return "", errMoved
		}
		return why, nil
	}
	now, _, err := claims.Build(facts)
	if err == nil && !now.SameList(sheet.Statement) {
		return errMoved
	}
	return err
}

// givenAlready refuses to give out once more what was given out and reads the same.
func (s *Shop) givenAlready(a *lossAct, newest int64, now claims.Statement) error {
	row, found, err := givenSheet(&a.tx.Rx, &a.loss)
	if err != nil || !found || a.loss.Given < newest {
		return err
	}
	was, _, err := s.statement(row)
	if err == nil && was.SameList(now) {
		err = fault.New(fault.Conflict, "the list of loss %s was given out already, with supplement %d", a.loss.ID, a.loss.Given).WithHint("nothing to do")
	}
	return err
}

// SheetSince is what is recorded otherwise since the police sheet of a loss was handed over.
type SheetSince struct {
	Drawn   dates.Instant
	Changed []string
}

// sinceSheet holds the police sheet of a loss that was handed over against its list by now;
// nil where none was, or it is not the asker's to settle. Of a sheet that somebody else gave
// only the wording is compared: what else it shows is as that person may see it.
func (s *Shop) sinceSheet(rx *store.Rx, by By, loss string, read *gathered) (*SheetSince, error) {
	facts, err := s.gatherWith(rx, by, NewPacket{Loss: loss}, read)
	if fault.Is(err, fault.Forbidden) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	sheet, found, err := givenSheet(rx, facts.Loss)
	if err != nil || !found {
		return nil, err
	}
	was, _, err := s.statement(sheet)
	if err != nil {
		return nil, err
	}
	facts.WhyNot = nil // whether a picture can be drawn is no change
	out := &SheetSince{Drawn: was.Created}
	now, _, err := claims.Build(facts)
	if sheet.Person == by.Person {
		out.Changed = claims.Changed(was, now)
	} else {
		out.Changed = claims.Reworded(was, now)
	}
	return out, err
}

// givenSheet is the police sheet of a loss that was handed over, if that is on record.
func givenSheet(rx *store.Rx, loss *claims.Loss) (sheet claims.Packet, found bool, err error) {
	if loss == nil || loss.GivenSheet == "" {
		return sheet, false, nil
	}
	all, err := rx.SheetsOfLoss(loss.ID)
	at := slices.IndexFunc(all, func(p claims.Packet) bool { return p.ID == loss.GivenSheet })
	if at < 0 {
		return sheet, false, err
	}
	return all[at], true, err
}

// listOfLoss is what the police sheet says.
func (s *Shop) listOfLoss(ctx context.Context, by By, id string) (st claims.Statement, err error) {
	return s.listShown(ctx, by, id, s.whyNotShown)
}

func (s *Shop) listShown(ctx context.Context, by By, id string, whyNot func(evidence.Record) (string, error)) (st claims.Statement, err error) {
	v, err := s.Loss(ctx, by, id)
	if err != nil {
		return st, err
	}
	var facts claims.Facts
	if err := s.db.Read(ctx, func(rx *store.Rx) error {
		facts, err = s.gatherPacket(rx, by, NewPacket{Loss: v.ID})
		return err
	}); err != nil {
		return st, err
	}
	facts.WhyNot = whyNot
	if st, _, err = claims.Build(facts); err != nil {
		return st, err
	}
	given, err := s.givenOut(facts.Papers)
	st.MarkReworded(given)
	return st, err
}
