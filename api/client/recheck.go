package client

import (
	"context"
	"io"
	"net/http"
	"net/url"

	"pawl/api/wire"
)

// Recheck returns the work put in doubt by what was found of a tool.
func (c *Client) Recheck(ctx context.Context, number string) (wire.Recheck, error) {
	v, _, err := get[wire.Recheck](ctx, c, nil, "tools", number, "recheck")
	return v, err
}

// RecheckFile writes that list to w, as pdf or csv.
func (c *Client) RecheckFile(ctx context.Context, number, format string, w io.Writer) error {
	return c.do(ctx, request{method: http.MethodGet, path: []string{"tools", number, "recheck"}, query: url.Values{"format": {format}}}, copied(w))
}

// SettleRecheck settles one line.
func (c *Client) SettleRecheck(ctx context.Context, line string, in wire.SettleRecheck, opts ...Option) (wire.RecheckSettled, error) {
	return post[wire.RecheckSettled](ctx, c, in, opts, "rechecks", line, "settle")
}

// UnsettledRechecks returns the tools with work in doubt that nobody has settled.
func (c *Client) UnsettledRechecks(ctx context.Context) (wire.UnsettledRechecks, error) {
	all, _, err := get[wire.UnsettledRechecks](ctx, c, nil, "rechecks")
	return all, err
}
