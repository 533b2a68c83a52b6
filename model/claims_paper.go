package model

import (
	"context"
	"io"

	"pawl/model/claims"
	"pawl/model/fault"
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
	return s.warrantyPaper(ctx, by, c, w)
}

// warrantyPaper draws it: this is the one place that knows how.
func (s *Shop) warrantyPaper(_ context.Context, _ By, c ClaimView, _ io.Writer) error {
	return fault.New(fault.Unavailable, "this program draws no paper of claim %s", c.ID).WithHint("the claim is recorded: see it with pawl claim show %s", c.ID)
}
