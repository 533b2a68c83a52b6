package client

import (
	"context"
	"io"
	"net/http"
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

// JobTagged is Job with the ETag that a change needs.
func (c *Client) JobTagged(ctx context.Context, number string) (job wire.Job, etag string, err error) {
	return get[wire.Job](ctx, c, nil, "jobs", number)
}

// ChangeJob changes a job that was read with that ETag.
func (c *Client) ChangeJob(ctx context.Context, number, etag string, in wire.JobChange, opts ...Option) (wire.Job, error) {
	return patch[wire.Job](ctx, c, etag, in, opts, "jobs", number)
}

// CloseJob closes a job.
func (c *Client) CloseJob(ctx context.Context, number string, in wire.CloseJob, opts ...Option) (wire.AllBack, error) {
	return post[wire.AllBack](ctx, c, in, opts, "jobs", number, "close")
}

// ReopenJob opens a closed job again.
func (c *Client) ReopenJob(ctx context.Context, number string, in wire.ReopenJob, opts ...Option) (wire.AllBack, error) {
	return post[wire.AllBack](ctx, c, in, opts, "jobs", number, "reopen")
}

// AllBack says whether what was taken to a job is back.
func (c *Client) AllBack(ctx context.Context, number string) (wire.AllBack, error) {
	v, _, err := get[wire.AllBack](ctx, c, nil, "jobs", number, "allback")
	return v, err
}

// LookAtJob records a look at what was on a job.
func (c *Client) LookAtJob(ctx context.Context, number string, in wire.LookAtJob, opts ...Option) (wire.AllBack, error) {
	return post[wire.AllBack](ctx, c, in, opts, "jobs", number, "allback")
}

// Hold keeps a thing of the customer's on a job.
func (c *Client) Hold(ctx context.Context, number string, in wire.Hold, opts ...Option) (wire.HeldThing, error) {
	return post[wire.HeldThing](ctx, c, in, opts, "jobs", number, "held")
}

// GiveHeld gives a held thing back.
func (c *Client) GiveHeld(ctx context.Context, number string, in wire.GiveHeld, opts ...Option) (wire.HeldThing, error) {
	return post[wire.HeldThing](ctx, c, in, opts, "jobs", number, "give")
}

// JobSheet writes the sheet of a job to w, as a PDF.
func (c *Client) JobSheet(ctx context.Context, number string, w io.Writer) error {
	return c.do(ctx, request{method: http.MethodGet, path: []string{"jobs", number, "sheet"}}, copied(w))
}

// Findings returns a page of the findings of all jobs that are not settled, oldest first.
func (c *Client) Findings(ctx context.Context, limit int, cursor string) (wire.Findings, error) {
	page, _, err := get[wire.Findings](ctx, c, pageOf(limit, cursor), "findings")
	return page, err
}

// FindingsAll gives every one of them to row.
func (c *Client) FindingsAll(ctx context.Context, row func(wire.Finding) error) error {
	return follow("", func(cursor string) ([]wire.Finding, *string, error) {
		page, err := c.Findings(ctx, pageSize, cursor)
		return page.Findings, page.Next, err
	}, row)
}

// AnswerFinding answers for a finding.
func (c *Client) AnswerFinding(ctx context.Context, id string, in wire.AnswerFinding, opts ...Option) (wire.Finding, error) {
	return post[wire.Finding](ctx, c, in, opts, "findings", id, "answer")
}
