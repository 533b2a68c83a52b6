package client

import (
	"context"
	"io"
	"net/http"

	"pawl/api/wire"
)

// Whoami says whom the server takes the caller for.
func (c *Client) Whoami(ctx context.Context) (wire.Who, error) {
	who, _, err := get[wire.Who](ctx, c, nil, "whoami")
	return who, err
}

// WhoseBadge says whom a badge names, for a board: a Forbidden badge is nobody's.
func (c *Client) WhoseBadge(ctx context.Context, badge string) (who wire.Who, err error) {
	r := request{method: http.MethodGet, path: []string{"whoami"}, header: asJSON(), whole: true}
	r.header.Set(badgeHeader, badge)
	return who, c.do(ctx, r, func(answer *http.Response) error { return c.decode(answer, &who) })
}

// DatedCheckpoint signs the ledger as it stands, and has the shop's time-stamp authority
// date that, where it has one.
func (c *Client) DatedCheckpoint(ctx context.Context, opts ...Option) (wire.Checkpoint, error) {
	return post[wire.Checkpoint](ctx, c, wire.NewCheckpoint{TimeStamp: true}, opts, "checkpoints")
}

// Verify has the whole store checked. That takes as long as it takes: only ctx
// bounds it.
func (c *Client) Verify(ctx context.Context, in wire.Verify, opts ...Option) (wire.Verified, error) {
	r := request{method: http.MethodPost, path: []string{"verify"}, header: asJSON(), long: true}
	return send[wire.Verified](ctx, c, r, in, "application/json", opts)
}

// Clock returns the state of the shop's clock.
func (c *Client) Clock(ctx context.Context) (wire.Clock, error) {
	clock, _, err := get[wire.Clock](ctx, c, nil, "clock")
	return clock, err
}

// ConfirmClock says that the clock is right although it was in doubt.
func (c *Client) ConfirmClock(ctx context.Context, opts ...Option) (wire.Clock, error) {
	return post[wire.Clock](ctx, c, nil, opts, "clock", "confirm")
}

// Chores does what falls due by itself.
func (c *Client) Chores(ctx context.Context, opts ...Option) (wire.Chores, error) {
	return post[wire.Chores](ctx, c, nil, opts, "chores")
}

// Ready returns nil when the server can serve, else why not.
func (c *Client) Ready(ctx context.Context) error {
	r := request{method: http.MethodGet, prefix: "/readyz", whole: true}
	return c.do(ctx, r, copied(io.Discard))
}
