package client

import (
	"context"
	"io"
	"net/http"
	"net/url"

	"pawl/api/wire"
)

// Mark records a look at a marking of a tool, how it is protected, or another marking.
func (c *Client) Mark(ctx context.Context, number string, in wire.Mark, opts ...Option) (wire.Marked, error) {
	return post[wire.Marked](ctx, c, in, opts, "tools", number, "marking")
}

// WithdrawMarking takes back a look or a term that was entered by mistake.
func (c *Client) WithdrawMarking(ctx context.Context, number string, in wire.WithdrawMarking, opts ...Option) (wire.Marked, error) {
	return post[wire.Marked](ctx, c, in, opts, "tools", number, "marking", "withdraw")
}

// Markings returns a tool's markings with what is on record of each.
func (c *Client) Markings(ctx context.Context, number string) (wire.ToolMarkings, error) {
	v, _, err := get[wire.ToolMarkings](ctx, c, nil, "tools", number, "marking")
	return v, err
}

// MarkingForecast returns how long a marking will be readable; without an id the one
// that shows the maker's serial.
func (c *Client) MarkingForecast(ctx context.Context, number, marking string) (wire.MarkingForecast, error) {
	query := url.Values{}
	if marking != "" {
		query.Set("marking", marking)
	}
	v, _, err := get[wire.MarkingForecast](ctx, c, query, "tools", number, "marking", "forecast")
	return v, err
}

// MarkingRoundAll returns the whole round.
func (c *Client) MarkingRoundAll(ctx context.Context) (wire.MarkingRound, error) {
	return unbounded[wire.MarkingRound](ctx, c, url.Values{"all": {"true"}}, "markings", "round")
}

// MarkingRoundFile writes the round to w, a PDF.
func (c *Client) MarkingRoundFile(ctx context.Context, w io.Writer) error {
	return c.do(ctx, request{method: http.MethodGet, path: []string{"markings", "round"}, query: url.Values{"format": {"pdf"}}, long: true}, copied(w))
}
