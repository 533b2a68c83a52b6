package client

import (
	"context"

	"pawl/api/wire"
)

// act does something with one tool.
func (c *Client) act(ctx context.Context, number, verb string, in any, opts []Option) (wire.Done, error) {
	return post[wire.Done](ctx, c, in, opts, "tools", number, verb)
}

// Take hands a tool to somebody in the shop. A tool that cannot be taken now is
// a Conflict, with the facts holder and since.
func (c *Client) Take(ctx context.Context, number string, in wire.Take, opts ...Option) (wire.Done, error) {
	return c.act(ctx, number, "take", in, opts)
}

// Return puts a tool back in its place.
func (c *Client) Return(ctx context.Context, number string, in wire.Return, opts ...Option) (wire.Done, error) {
	return c.act(ctx, number, "return", in, opts)
}

// Undo takes back the last take or return of a tool by a new act.
func (c *Client) Undo(ctx context.Context, number string, in wire.Undo, opts ...Option) (wire.Done, error) {
	return c.act(ctx, number, "undo", in, opts)
}

// Handover passes a tool from its holder to somebody else.
func (c *Client) Handover(ctx context.Context, number string, in wire.Handover, opts ...Option) (wire.Done, error) {
	return c.act(ctx, number, "handover", in, opts)
}

// Away sends a tool out of the shop.
func (c *Client) Away(ctx context.Context, number string, in wire.Away, opts ...Option) (wire.Done, error) {
	return c.act(ctx, number, "away", in, opts)
}

// Back receives a tool that was away.
func (c *Client) Back(ctx context.Context, number string, in wire.Back, opts ...Option) (wire.Done, error) {
	return c.act(ctx, number, "back", in, opts)
}

// Wrong reports that something is wrong with a tool.
func (c *Client) Wrong(ctx context.Context, number string, in wire.Wrong, opts ...Option) (wire.Done, error) {
	return c.act(ctx, number, "wrong", in, opts)
}

// Clear ends every open report on a tool.
func (c *Client) Clear(ctx context.Context, number string, in wire.Clear, opts ...Option) (wire.Done, error) {
	return c.act(ctx, number, "clear", in, opts)
}

// Gone says that a tool left for good.
func (c *Client) Gone(ctx context.Context, number string, in wire.Gone, opts ...Option) (wire.Done, error) {
	return c.act(ctx, number, "gone", in, opts)
}

// Swap exchanges a tool for another of its kind, and returns the new one.
func (c *Client) Swap(ctx context.Context, number string, in wire.Swap, opts ...Option) (wire.Swapped, error) {
	return post[wire.Swapped](ctx, c, in, opts, "tools", number, "swap")
}
