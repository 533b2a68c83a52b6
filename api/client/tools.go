package client

import (
	"context"
	"net/url"
	"strconv"

	"pawl/api/wire"
	"pawl/model/register"
)

// pageSize is how many rows are asked for at once where all are wanted; the
// server gives no more.
const pageSize = 200

// Query says which tools to find. The zero value finds all that are not gone.
type Query struct {
	Text, Kind, Place, Owner string
	State, Person            string // in place, out, away; who has it
	Gone                     bool   // gone tools too
	Unfinished               bool   // only those photographed and not yet typed, dearest first
	Limit                    int    // rows a page, 1 to 200; 0: as the server likes
	Cursor                   string // where the page before ended
}

func (q Query) values() url.Values {
	v := pageOf(q.Limit, q.Cursor)
	for name, value := range map[string]string{
		"text": q.Text, "kind": q.Kind, "place": q.Place, "owner": q.Owner, "state": q.State, "person": q.Person,
	} {
		if value != "" {
			v.Set(name, value)
		}
	}
	if q.Gone {
		v.Set("gone", "true")
	}
	if q.Unfinished {
		v.Set("unfinished", "true")
	}
	return v
}

// Register registers a tool.
func (c *Client) Register(ctx context.Context, in register.New, opts ...Option) (wire.Registered, error) {
	return post[wire.Registered](ctx, c, in, opts, "tools")
}

// Tool returns a tool by any of its numbers, and the ETag that a change needs.
func (c *Client) Tool(ctx context.Context, number string) (tool wire.Tool, etag string, err error) {
	return get[wire.Tool](ctx, c, nil, "tools", number)
}

// ChangeTool changes the tool that was read with that ETag. The members of
// changes are those of register.Change; null takes a value away.
func (c *Client) ChangeTool(ctx context.Context, number, etag string, changes map[string]any, opts ...Option) (wire.Tool, error) {
	return patch[wire.Tool](ctx, c, etag, changes, opts, "tools", number)
}

// Find returns one page of tools.
func (c *Client) Find(ctx context.Context, q Query) (wire.Tools, error) {
	page, _, err := get[wire.Tools](ctx, c, q.values(), "tools")
	return page, err
}

// FindAll gives every tool of the query to row, from its cursor to the end. It
// stops with the first error that row returns.
func (c *Client) FindAll(ctx context.Context, q Query, row func(wire.ToolRow) error) error {
	if q.Limit == 0 {
		q.Limit = pageSize
	}
	return follow(q.Cursor, func(cursor string) ([]wire.ToolRow, *string, error) {
		q.Cursor = cursor
		page, err := c.Find(ctx, q)
		return page.Tools, page.Next, err
	}, row)
}

// History returns one page of a tool's history, oldest first; limit 0 is as the
// server likes.
func (c *Client) History(ctx context.Context, number string, limit int, cursor string) (wire.History, error) {
	page, _, err := get[wire.History](ctx, c, pageOf(limit, cursor), "tools", number, "history")
	return page, err
}

// HistoryAll gives every line of a tool's history to line, oldest first. It
// stops with the first error that line returns.
func (c *Client) HistoryAll(ctx context.Context, number string, line func(wire.Line) error) error {
	return follow("", func(cursor string) ([]wire.Line, *string, error) {
		page, err := c.History(ctx, number, pageSize, cursor)
		return page.History, page.Next, err
	}, line)
}

// Issue reserves 1 or more numbers for a sheet of labels.
func (c *Client) Issue(ctx context.Context, count int, opts ...Option) (wire.Issued, error) {
	return post[wire.Issued](ctx, c, wire.Issue{Count: count}, opts, "numbers")
}

func pageOf(limit int, cursor string) url.Values {
	v := url.Values{}
	if limit != 0 {
		v.Set("limit", strconv.Itoa(limit))
	}
	if cursor != "" {
		v.Set("cursor", cursor)
	}
	return v
}
