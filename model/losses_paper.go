package model

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"slices"

	"pawl/labels"
	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
)

// PoliceSheet draws what the police are told of a loss, as it is on record now: from the
// first minute on, with a line for the number of their report until it is known. Its lines
// are those of every later paper. What it says is kept, so that the same sheet is drawn
// again until something is recorded otherwise, and later papers can be held against it. That
// it was handed over is for GiveLossList to record.
func (s *Shop) PoliceSheet(ctx context.Context, by By, id string, w io.Writer) error {
	st, err := s.listOfLoss(ctx, by, id)
	if err != nil {
		return err
	}
	var sheet bytes.Buffer
	if err := labels.Police(&sheet, st); err != nil { // what cannot be drawn is not kept as drawn
		return err
	}
	kept, err := s.keptSheet(ctx, by, st)
	if err != nil {
		return err
	}
	if kept.Created != st.Created {
		return labels.Police(w, kept)
	}
	_, err = sheet.WriteTo(w)
	return err
}

// keptSheet is the newest sheet that the asker had drawn where it says the same, and else
// keeps this one.
func (s *Shop) keptSheet(ctx context.Context, by By, now claims.Statement) (claims.Statement, error) {
	var newest *claims.Packet
	if err := s.db.Read(ctx, func(rx *store.Rx) error {
		all, err := rx.SheetsOfLoss(now.Loss.ID)
		for i := range all {
			if all[i].Person == by.Person {
				newest = &all[i]
			}
		}
		return err
	}); err != nil {
		return now, err
	}
	raw, err := now.Bytes()
	if err != nil {
		return now, err
	}
	if newest != nil {
		was, kept, err := s.statement(*newest)
		if err != nil {
			return now, err
		}
		same := now
		same.Created, same.Size = was.Created, was.Size
		if again, err := same.Bytes(); err != nil || bytes.Equal(again, kept) {
			return was, err
		}
	}
	return now, s.keepSheet(ctx, by, now, raw)
}

// keepSheet records a sheet with the bytes of its statement.
func (s *Shop) keepSheet(ctx context.Context, by By, st claims.Statement, raw []byte) error {
	sum := sha256.Sum256(raw)
	row := claims.Packet{Loss: st.Loss.ID, Supplement: st.Supplement, Lines: st.Size, Statement: hex.EncodeToString(sum[:]), Created: st.Created, Person: by.Person}
	if err := s.keepStatement(ctx, row, raw); err != nil {
		return err
	}
	_, err := act(ctx, s, by, "police sheet", row.Statement, func(tx *store.Tx) (id string, err error) {
		p := row
		if p.ID, err = tx.NewID('S'); err != nil {
			return "", err
		}
		if err := s.holdStatement(tx, p); err != nil {
			return "", err
		}
		return p.ID, store.Put(tx, &p)
	})
	return err
}

// SheetSince is what is recorded otherwise since the police sheet of a loss was drawn.
type SheetSince struct {
	Drawn   dates.Instant
	Changed []string
}

// sinceSheet holds the police sheet of a loss that was handed over, or the asker's newest
// where that is not on record, against its list by now; nil where there is none, or it is not
// the asker's to settle. Of a sheet that somebody else had drawn only the wording is compared:
// what else it shows is as that person may see it.
func (s *Shop) sinceSheet(rx *store.Rx, by By, loss string) (*SheetSince, error) {
	facts, err := s.gatherPacket(rx, by, NewPacket{Loss: loss})
	if fault.Is(err, fault.Forbidden) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	sheet, found, err := givenSheet(rx, facts.Loss)
	if err == nil && !found {
		sheet, found, err = sheetOf(rx, by, loss)
	}
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
	switch {
	case fault.Is(err, fault.Refused):
		out.Changed, err = []string{"nothing is on the list any more"}, nil
	case err == nil && sheet.Person == by.Person:
		out.Changed = claims.Changed(was, now)
	case err == nil:
		out.Changed = claims.Reworded(was, now)
	}
	return out, err
}

// sheetOf is the newest police sheet of a loss that the asker had drawn, or else the newest.
func sheetOf(rx *store.Rx, by By, loss string) (sheet claims.Packet, found bool, err error) {
	all, err := rx.SheetsOfLoss(loss)
	for i := range all {
		if own := all[i].Person == by.Person; own || !found || sheet.Person != by.Person {
			sheet, found = all[i], true
		}
	}
	return sheet, found, err
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
	v, err := s.Loss(ctx, by, id)
	if err != nil {
		return st, err
	}
	var facts claims.Facts
	var before []claims.Packet
	if err := s.db.Read(ctx, func(rx *store.Rx) error {
		if facts, err = s.gatherPacket(rx, by, NewPacket{Loss: v.ID}); err != nil {
			return err
		}
		before, err = papersOfLoss(rx, facts.Loss)
		return err
	}); err != nil {
		return st, err
	}
	if st, _, err = claims.Build(facts); err != nil {
		return st, err
	}
	given, err := s.givenOut(before)
	st.MarkReworded(given)
	return st, err
}
