package client

import (
	"context"

	"pawl/api/wire"
)

// People returns everybody in the shop.
func (c *Client) People(ctx context.Context) (wire.People, error) {
	all, err := gathered(func(cursor string) ([]wire.Person, *string, error) {
		page, _, err := get[wire.People](ctx, c, pageOf(0, cursor), "people")
		return page.People, page.Next, err
	})
	return wire.People{People: all}, err
}

// Person returns somebody by id, and the ETag that a change needs.
func (c *Client) Person(ctx context.Context, id string) (person wire.Person, etag string, err error) {
	return get[wire.Person](ctx, c, nil, "people", id)
}

// AddPerson adds somebody.
func (c *Client) AddPerson(ctx context.Context, in wire.NewPerson, opts ...Option) (wire.Person, error) {
	return post[wire.Person](ctx, c, in, opts, "people")
}

// ChangePerson changes somebody who was read with that ETag.
func (c *Client) ChangePerson(ctx context.Context, id, etag string, in wire.PersonChange, opts ...Option) (wire.Person, error) {
	return patch[wire.Person](ctx, c, etag, in, opts, "people", id)
}
