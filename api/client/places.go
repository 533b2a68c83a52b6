package client

import (
	"context"

	"pawl/api/wire"
)

// Places returns every place, parents first.
func (c *Client) Places(ctx context.Context) (wire.Places, error) {
	all, err := gathered(func(cursor string) ([]wire.Place, *string, error) {
		page, _, err := get[wire.Places](ctx, c, pageOf(0, cursor), "places")
		return page.Places, page.Next, err
	})
	return wire.Places{Places: all}, err
}

// AddPlace adds a place by its path, with any parents missing.
func (c *Client) AddPlace(ctx context.Context, in wire.NewPlace, opts ...Option) (wire.Place, error) {
	return post[wire.Place](ctx, c, in, opts, "places")
}
