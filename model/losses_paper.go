package model

import (
	"context"
	"io"

	"pawl/labels"
	"pawl/model/claims"
	"pawl/model/internal/store"
)

// PoliceSheet draws what the police are told of a loss, as it is on record now: from the
// first minute on, with a line for the number of their report until it is known. Its lines
// are those of every later paper. That it was handed over is for GiveLossList to record.
func (s *Shop) PoliceSheet(ctx context.Context, by By, id string, w io.Writer) error {
	st, err := s.listOfLoss(ctx, by, id)
	if err != nil {
		return err
	}
	return labels.Police(w, st)
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
		before, err = packetsOfLoss(rx, v.ID)
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
