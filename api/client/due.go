package client

import (
	"context"
	"io"
	"net/http"
	"net/url"
	"strconv"

	"pawl/api/wire"
)

// Inspect records an inspection of a tool, what the shop decides on a check, or both.
func (c *Client) Inspect(ctx context.Context, number string, in wire.Inspect, opts ...Option) (wire.Inspected, error) {
	return post[wire.Inspected](ctx, c, in, opts, "tools", number, "inspect")
}

// Inspections returns how a tool stands by its checks.
func (c *Client) Inspections(ctx context.Context, number string) (wire.Inspections, error) {
	all, _, err := get[wire.Inspections](ctx, c, nil, "tools", number, "inspections")
	return all, err
}

// DueQuery says what of all that is due is wanted; empty is everything.
type DueQuery struct {
	Sort, Person, Place string
	Within              *int // days; nil: the lead time of each sort
	Tasks               bool // of a calendar: to-dos in place of events
	Limit               int
	Cursor              string
}

func (q DueQuery) values() url.Values {
	out := pageOf(q.Limit, q.Cursor)
	for name, value := range map[string]string{"sort": q.Sort, "person": q.Person, "place": q.Place} {
		if value != "" {
			out.Set(name, value)
		}
	}
	if q.Within != nil {
		out.Set("within", strconv.Itoa(*q.Within))
	}
	return out
}

// Due returns a page of what is due, the longest overdue first.
func (c *Client) Due(ctx context.Context, q DueQuery) (wire.Dues, error) {
	page, _, err := get[wire.Dues](ctx, c, q.values(), "due")
	return page, err
}

// DueAll calls each with everything that is due, page after page, and page with each
// page before its rows.
func (c *Client) DueAll(ctx context.Context, q DueQuery, page func(wire.Dues), each func(wire.Due) error) error {
	q.Limit = pageSize
	return follow(q.Cursor, func(cursor string) ([]wire.Due, *string, error) {
		q.Cursor = cursor
		got, err := c.Due(ctx, q)
		if err == nil {
			page(got)
		}
		return got.Due, got.Next, err
	}, each)
}

// Calendar writes what is due to w, as an iCalendar.
func (c *Client) Calendar(ctx context.Context, q DueQuery, w io.Writer) error {
	query := q.values()
	if query.Set("format", "ics"); q.Tasks {
		query.Set("format", "tasks")
	}
	return c.do(ctx, request{method: http.MethodGet, path: []string{"due"}, query: query}, copied(w))
}

// Feeds returns the addresses of the calendar, revoked ones too.
func (c *Client) Feeds(ctx context.Context) (wire.Feeds, error) {
	all, err := gathered(func(cursor string) ([]wire.Feed, *string, error) {
		page, _, err := get[wire.Feeds](ctx, c, pageOf(0, cursor), "feeds")
		return page.Feeds, page.Next, err
	})
	return wire.Feeds{Feeds: all}, err
}

// AddFeed makes an address of the calendar. It is in this answer and in no other.
func (c *Client) AddFeed(ctx context.Context, in wire.NewFeed, opts ...Option) (wire.Feed, error) {
	return post[wire.Feed](ctx, c, in, opts, "feeds")
}

// RevokeFeed ends an address of the calendar, by id.
func (c *Client) RevokeFeed(ctx context.Context, id string, opts ...Option) (wire.Feed, error) {
	return post[wire.Feed](ctx, c, nil, opts, "feeds", id, "revoke")
}
