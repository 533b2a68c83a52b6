package client

import (
	"context"
	"io"
	"net/http"

	"pawl/api/wire"
)

// LossesAll gives every loss that may be seen to row, newest first. It stops with the
// first error that row returns.
func (c *Client) LossesAll(ctx context.Context, limit int, row func(wire.LossLine) error) error {
	return follow("", func(cursor string) ([]wire.LossLine, *string, error) {
		page, _, err := get[wire.Losses](ctx, c, pageOf(limit, cursor), "losses")
		return page.Losses, page.Next, err
	}, row)
}

// StartLoss reports a loss.
func (c *Client) StartLoss(ctx context.Context, in wire.StartLoss, opts ...Option) (wire.Loss, error) {
	return post[wire.Loss](ctx, c, in, opts, "losses")
}

// Loss returns one loss, with the ETag that a change needs.
func (c *Client) Loss(ctx context.Context, id string) (v wire.Loss, etag string, err error) {
	return get[wire.Loss](ctx, c, nil, "losses", id)
}

// ChangeLoss changes a loss that was read with that ETag.
func (c *Client) ChangeLoss(ctx context.Context, id, etag string, in wire.LossChange, opts ...Option) (wire.Loss, error) {
	return patch[wire.Loss](ctx, c, etag, in, opts, "losses", id)
}

// MissingFromCount puts on the list of a loss what its count did not see.
func (c *Client) MissingFromCount(ctx context.Context, id string, opts ...Option) (wire.Loss, error) {
	return post[wire.Loss](ctx, c, struct{}{}, opts, "losses", id, "missing")
}

// ConfirmLoss says that missing tools are stolen or lost; no numbers are all.
func (c *Client) ConfirmLoss(ctx context.Context, id string, in wire.LossTools, opts ...Option) (wire.Loss, error) {
	return post[wire.Loss](ctx, c, in, opts, "losses", id, "confirm")
}

// AddToLoss puts tools on the list of a loss.
func (c *Client) AddToLoss(ctx context.Context, id string, in wire.LossTools, opts ...Option) (wire.Loss, error) {
	return post[wire.Loss](ctx, c, in, opts, "losses", id, "add")
}

// WithdrawFromLoss says that a tool was not of a loss.
func (c *Client) WithdrawFromLoss(ctx context.Context, id string, in wire.WithdrawFromLoss, opts ...Option) (wire.Loss, error) {
	return post[wire.Loss](ctx, c, in, opts, "losses", id, "withdraw")
}

// ChangeLossLine says more of one tool of a loss.
func (c *Client) ChangeLossLine(ctx context.Context, id string, in wire.LossLineChange, opts ...Option) (wire.Loss, error) {
	return post[wire.Loss](ctx, c, in, opts, "losses", id, "line")
}

// ReportLoss records the report to the police.
func (c *Client) ReportLoss(ctx context.Context, id string, in wire.PoliceReport, opts ...Option) (wire.Loss, error) {
	return post[wire.Loss](ctx, c, in, opts, "losses", id, "police")
}

// GiveLossList records that the list was given out: later finds are a supplement.
func (c *Client) GiveLossList(ctx context.Context, id string, opts ...Option) (wire.Loss, error) {
	return post[wire.Loss](ctx, c, struct{}{}, opts, "losses", id, "given")
}

// AttachToLoss joins uploaded photos and papers to a loss as a whole.
func (c *Client) AttachToLoss(ctx context.Context, id string, in []wire.Attach, opts ...Option) (wire.Loss, error) {
	return post[wire.Loss](ctx, c, wire.LossEvidence{Evidence: in}, opts, "losses", id, "evidence")
}

// Recovered records that a tool of a loss came back.
func (c *Client) Recovered(ctx context.Context, in wire.Recovered, opts ...Option) (wire.Loss, error) {
	return post[wire.Loss](ctx, c, in, opts, "losses", "recovered")
}

// ClaimsAll gives every claim that may be seen to row, newest first. It stops with the
// first error that row returns.
func (c *Client) ClaimsAll(ctx context.Context, limit int, row func(wire.ClaimLine) error) error {
	return follow("", func(cursor string) ([]wire.ClaimLine, *string, error) {
		page, _, err := get[wire.Claims](ctx, c, pageOf(limit, cursor), "claims")
		return page.Claims, page.Next, err
	}, row)
}

// OpenClaim opens a claim.
func (c *Client) OpenClaim(ctx context.Context, in wire.NewClaim, opts ...Option) (wire.Claim, error) {
	return post[wire.Claim](ctx, c, in, opts, "claims")
}

// Claim returns one claim, with the ETag that a change needs.
func (c *Client) Claim(ctx context.Context, id string) (v wire.Claim, etag string, err error) {
	return get[wire.Claim](ctx, c, nil, "claims", id)
}

// ChangeClaim changes a claim that was read with that ETag.
func (c *Client) ChangeClaim(ctx context.Context, id, etag string, in wire.ClaimChange, opts ...Option) (wire.Claim, error) {
	return patch[wire.Claim](ctx, c, etag, in, opts, "claims", id)
}

// AddFact records a dated fact of a claim.
func (c *Client) AddFact(ctx context.Context, id string, in wire.NewFact, opts ...Option) (wire.Claim, error) {
	return post[wire.Claim](ctx, c, in, opts, "claims", id, "facts")
}

// WithdrawFact takes back a dated fact of a claim that was entered by mistake.
func (c *Client) WithdrawFact(ctx context.Context, id, fact string, in wire.WithdrawFact, opts ...Option) (wire.Claim, error) {
	return post[wire.Claim](ctx, c, in, opts, "claims", id, "facts", fact, "withdraw")
}

// SetAmounts records what is asked for tools of a claim.
func (c *Client) SetAmounts(ctx context.Context, id string, in []wire.ClaimAmount, opts ...Option) (wire.Claim, error) {
	return post[wire.Claim](ctx, c, wire.ClaimAmounts{Amounts: in}, opts, "claims", id, "amounts")
}

// ClaimPaper writes the paper of a claim on a warranty to w, a PDF.
func (c *Client) ClaimPaper(ctx context.Context, id string, w io.Writer) error {
	return c.do(ctx, request{method: http.MethodGet, path: []string{"claims", id, "paper"}}, copied(w))
}

// PoliceSheet writes the sheet for the police to w, a PDF.
func (c *Client) PoliceSheet(ctx context.Context, id string, w io.Writer) error {
	return c.do(ctx, request{method: http.MethodGet, path: []string{"losses", id, "sheet"}}, copied(w))
}
