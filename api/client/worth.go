package client

import (
	"context"
	"io"
	"net/http"
	"net/url"
	"strconv"

	"pawl/api/wire"
)

// Worth returns what the tools are worth, with at most limit of them listed.
func (c *Client) Worth(ctx context.Context, limit int) (wire.Worth, error) {
	v, _, err := get[wire.Worth](ctx, c, url.Values{"limit": {strconv.Itoa(limit)}}, "worth")
	return v, err
}

// WorthCSV writes every tool with its figures to w.
func (c *Client) WorthCSV(ctx context.Context, w io.Writer) error {
	return c.do(ctx, request{method: http.MethodGet, path: []string{"worth"}, query: url.Values{"format": {"csv"}}}, copied(w))
}

// Quotes records what new tools cost, from a CSV; size is in bytes, open is called
// for each try.
func (c *Client) Quotes(ctx context.Context, dryRun bool, size int64, open func() (io.ReadCloser, error), opts ...Option) (out wire.QuotesReport, err error) {
	call, err := callOf(opts)
	if err != nil {
		return out, err
	}
	r := request{method: http.MethodPost, path: []string{"worth", "quotes"}, header: asJSON(), body: open, size: size}
	if dryRun {
		r.query = url.Values{"dry_run": {"true"}}
	}
	r.header.Set("Content-Type", TypeCSV)
	r.header.Set("Idempotency-Key", `"`+call.Key+`"`)
	err = c.do(ctx, r, func(answer *http.Response) error { return c.decode(answer, &out) })
	return out, err
}

// IfLost returns an estimate for what a query names: place, person or everything.
func (c *Client) IfLost(ctx context.Context, what url.Values) (wire.Lost, error) {
	v, _, err := get[wire.Lost](ctx, c, what, "worth", "if-lost")
	return v, err
}

// Gaps returns what could not be proven today, with at most limit tools listed.
func (c *Client) Gaps(ctx context.Context, limit int) (wire.Gaps, error) {
	v, _, err := get[wire.Gaps](ctx, c, url.Values{"limit": {strconv.Itoa(limit)}}, "gaps")
	return v, err
}

// Policies returns the policies in force.
func (c *Client) Policies(ctx context.Context) (wire.Policies, error) {
	v, _, err := get[wire.Policies](ctx, c, nil, "policies")
	return v, err
}

// AddPolicy records a policy.
func (c *Client) AddPolicy(ctx context.Context, in wire.NewPolicy, opts ...Option) (wire.Policy, error) {
	return post[wire.Policy](ctx, c, in, opts, "policies")
}

// EndPolicy says that a policy is no longer in force.
func (c *Client) EndPolicy(ctx context.Context, id string, opts ...Option) (wire.Policy, error) {
	return post[wire.Policy](ctx, c, struct{}{}, opts, "policies", id, "end")
}
