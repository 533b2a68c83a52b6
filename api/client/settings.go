package client

import (
	"context"

	"pawl/api/wire"
)

// Settings returns the shop's settings, and the ETag that a change needs.
func (c *Client) Settings(ctx context.Context) (settings wire.Settings, etag string, err error) {
	return get[wire.Settings](ctx, c, nil, "settings")
}

// ChangeSettings changes the settings that were read with that ETag.
func (c *Client) ChangeSettings(ctx context.Context, etag string, changes map[string]any, opts ...Option) (wire.Settings, error) {
	return patch[wire.Settings](ctx, c, etag, changes, opts, "settings")
}
