package client

import (
	"context"
	"net/url"

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

// Place returns a place at a glance, by path, name, id or symbol.
func (c *Client) Place(ctx context.Context, place string) (wire.PlaceShown, error) {
	shown, _, err := get[wire.PlaceShown](ctx, c, nil, "places", place)
	return shown, err
}

// placeAct does something with one place.
func (c *Client) placeAct(ctx context.Context, place, verb string, in any, opts []Option) (wire.Place, error) {
	return post[wire.Place](ctx, c, in, opts, "places", place, verb)
}

// RenamePlace gives a place another name.
func (c *Client) RenamePlace(ctx context.Context, place string, in wire.PlaceName, opts ...Option) (wire.Place, error) {
	return c.placeAct(ctx, place, "rename", in, opts)
}

// MovePlace puts a place, with all that is in it, into another.
func (c *Client) MovePlace(ctx context.Context, place string, in wire.PlaceMove, opts ...Option) (wire.Place, error) {
	return c.placeAct(ctx, place, "move", in, opts)
}

// GivePlace says whose a place is.
func (c *Client) GivePlace(ctx context.Context, place string, in wire.PlacePerson, opts ...Option) (wire.Place, error) {
	return c.placeAct(ctx, place, "whose", in, opts)
}

// PhotographPlace joins an uploaded photo of the full drawer to a place.
func (c *Client) PhotographPlace(ctx context.Context, place string, in wire.PlacePhoto, opts ...Option) (wire.Place, error) {
	return c.placeAct(ctx, place, "photo", in, opts)
}

// ClosePlace closes a place that nothing belongs in.
func (c *Client) ClosePlace(ctx context.Context, place string, opts ...Option) (wire.Place, error) {
	return c.placeAct(ctx, place, "close", nil, opts)
}

// OutQuery says which list of tools that somebody should look after is wanted:
// overdue, long out, left or do not use, or several with commas between.
type OutQuery struct {
	Which, Place, Person, Owner string
	Limit                       int
	Cursor                      string
}

func (q OutQuery) values() url.Values {
	v := pageOf(q.Limit, q.Cursor)
	for name, value := range map[string]string{"which": q.Which, "place": q.Place, "person": q.Person, "owner": q.Owner} {
		if value != "" {
			v.Set(name, value)
		}
	}
	return v
}

// Outs returns one page of such a list, the longest first.
func (c *Client) Outs(ctx context.Context, q OutQuery) (wire.Outs, error) {
	page, _, err := get[wire.Outs](ctx, c, q.values(), "custody")
	return page, err
}

// OutsAll gives every tool of such a list to row, from its cursor to the end.
func (c *Client) OutsAll(ctx context.Context, q OutQuery, row func(wire.OutRow) error) error {
	if q.Limit == 0 {
		q.Limit = pageSize
	}
	return follow(q.Cursor, func(cursor string) ([]wire.OutRow, *string, error) {
		q.Cursor = cursor
		page, err := c.Outs(ctx, q)
		return page.Tools, page.Next, err
	}, row)
}
