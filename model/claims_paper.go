package model

import (
	"context"
	"io"

	"pawl/labels"
	"pawl/model/claims"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/internal/views"
)

// ClaimPaper writes the paper of a claim on a warranty. It is drawn from a statement, as
// every paper of a claim is.
func (s *Shop) ClaimPaper(ctx context.Context, by By, id string, w io.Writer) error {
	c, err := s.Claim(ctx, by, id)
	if err != nil {
		return err
	}
	if c.Claim.Kind != claims.Warranty {
		return fault.New(fault.Refused, "claim %s is one on %s: its papers are in its packet", c.ID, c.Claim.Kind).WithHint("build it: pawl packet %s", c.ID)
	}
	var st claims.Statement
	if err := s.db.Read(ctx, func(rx *store.Rx) error {
		facts, err := s.gatherPacket(rx, by, NewPacket{Claim: id})
		if err == nil {
			st, _, err = claims.Build(facts)
		}
		return err
	}); err != nil {
		return err
	}
	return labels.Warranty(w, st, func(f claims.File) ([]byte, error) { return s.views.Open(ctx, f.SHA256, views.Large) })
}
