package client

import (
	"context"
	"strconv"

	"pawl/api/wire"
)

// JobQuery says which jobs to list.
type JobQuery struct {
	Open   *bool // nil: open and closed
	Limit  int   // rows a page, 1 to 200; 0: as the server likes
	Cursor string
}

// Jobs returns one page of jobs, newest first.
func (c *Client) Jobs(ctx context.Context, q JobQuery) (wire.Jobs, error) {
	query := pageOf(q.Limit, q.Cursor)
	if q.Open != nil {
		query.Set("open", strconv.FormatBool(*q.Open))
	}
	page, _, err := get[wire.Jobs](ctx, c, query, "jobs")
	return page, err
}

// JobsAll gives every job of the query to row. It stops with the first error
// that row returns.
func (c *Client) JobsAll(ctx context.Context, q JobQuery, row func(wire.Job) error) error {
	if q.Limit == 0 {
		q.Limit = pageSize
	}
	return follow(q.Cursor, func(cursor string) ([]wire.Job, *string, error) {
		q.Cursor = cursor
		page, err := c.Jobs(ctx, q)
		return page.Jobs, page.Next, err
	}, row)
}

// Job returns a job by its number.
func (c *Client) Job(ctx context.Context, number string) (wire.Job, error) {
	job, _, err := get[wire.Job](ctx, c, nil, "jobs", number)
	return job, err
}

// OpenJob opens a job, or says more about one that a first mention opened.
func (c *Client) OpenJob(ctx context.Context, in wire.NewJob, opts ...Option) (wire.Job, error) {
	return post[wire.Job](ctx, c, in, opts, "jobs")
}
