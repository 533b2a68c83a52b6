package client

import (
	"context"

	"pawl/api/wire"
)

// Tokens returns every token, without its secret.
func (c *Client) Tokens(ctx context.Context) (wire.Tokens, error) {
	all, err := gathered(func(cursor string) ([]wire.Token, *string, error) {
		page, _, err := get[wire.Tokens](ctx, c, pageOf(0, cursor), "tokens")
		return page.Tokens, page.Next, err
	})
	return wire.Tokens{Tokens: all}, err
}

// AddToken makes a token. Its secret is in this answer and in no other.
func (c *Client) AddToken(ctx context.Context, in wire.NewToken, opts ...Option) (wire.Token, error) {
	return post[wire.Token](ctx, c, in, opts, "tokens")
}

// RevokeToken ends a token, by id.
func (c *Client) RevokeToken(ctx context.Context, id string, opts ...Option) (wire.Token, error) {
	return post[wire.Token](ctx, c, nil, opts, "tokens", id, "revoke")
}
