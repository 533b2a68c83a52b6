package client

import (
	"context"
	"io"
	"net/http"
	"net/url"
	"strconv"

	"pawl/api/wire"
)

// Counts returns one page of counts, newest first; open leaves out those that are
// closed.
func (c *Client) Counts(ctx context.Context, open bool, limit int, cursor string) (wire.Counts, error) {
	query := pageOf(limit, cursor)
	if open {
		query.Set("open", "true")
	}
	page, _, err := get[wire.Counts](ctx, c, query, "counts")
	return page, err
}

// CountsAll gives every count to row, newest first. It stops with the first error that
// row returns.
func (c *Client) CountsAll(ctx context.Context, open bool, limit int, row func(wire.CountLine) error) error {
	return follow("", func(cursor string) ([]wire.CountLine, *string, error) {
		page, err := c.Counts(ctx, open, limit, cursor)
		return page.Counts, page.Next, err
	}, row)
}

// StartCount starts a count.
func (c *Client) StartCount(ctx context.Context, in wire.StartCount, opts ...Option) (wire.Count, error) {
	return post[wire.Count](ctx, c, in, opts, "counts")
}

// Count returns one count with its numbers as they are now.
func (c *Client) Count(ctx context.Context, id string) (wire.Count, error) {
	v, _, err := get[wire.Count](ctx, c, nil, "counts", id)
	return v, err
}

// CountTools gives every tool of one list of a count to row, by place and number.
func (c *Client) CountTools(ctx context.Context, id, which string, row func(wire.CountTool) error) error {
	return follow("", func(cursor string) ([]wire.CountTool, *string, error) {
		query := pageOf(pageSize, cursor)
		if which != "" {
			query.Set("which", which)
		}
		page, _, err := get[wire.CountTools](ctx, c, query, "counts", id, "tools")
		return page.Tools, page.Next, err
	}, row)
}

// CountReport writes the report of a count to w, as csv or pdf.
func (c *Client) CountReport(ctx context.Context, id, format string, w io.Writer) error {
	return c.do(ctx, request{method: http.MethodGet, path: []string{"counts", id, "report"}, query: url.Values{"format": {format}}}, copied(w))
}

// CountPlan returns what is to be looked at today so that every tool is seen within so
// many days; 0 is as the server likes.
func (c *Client) CountPlan(ctx context.Context, within int) (wire.CountPlan, error) {
	query := url.Values{}
	if within > 0 {
		query.Set("within", strconv.Itoa(within))
	}
	v, _, err := get[wire.CountPlan](ctx, c, query, "counts", "plan")
	return v, err
}

// ScanCount records one look in a count.
func (c *Client) ScanCount(ctx context.Context, id string, in wire.ScanCount, opts ...Option) (wire.Counted, error) {
	return post[wire.Counted](ctx, c, in, opts, "counts", id, "scan")
}

// ConfirmCount records the word of whoever has a tool.
func (c *Client) ConfirmCount(ctx context.Context, id string, in wire.ConfirmCount, opts ...Option) (wire.Counted, error) {
	return post[wire.Counted](ctx, c, in, opts, "counts", id, "confirm")
}

// SettleDifference settles one difference of a count.
func (c *Client) SettleDifference(ctx context.Context, id string, in wire.SettleDifference, opts ...Option) (wire.CountTool, error) {
	return post[wire.CountTool](ctx, c, in, opts, "counts", id, "settle")
}

// PauseCount stops the scanning for a while.
func (c *Client) PauseCount(ctx context.Context, id string, opts ...Option) (wire.Count, error) {
	return post[wire.Count](ctx, c, struct{}{}, opts, "counts", id, "pause")
}

// ResumeCount goes on with a count that was paused.
func (c *Client) ResumeCount(ctx context.Context, id string, opts ...Option) (wire.Count, error) {
	return post[wire.Count](ctx, c, struct{}{}, opts, "counts", id, "resume")
}

// CloseCount ends a count and returns what it shows.
func (c *Client) CloseCount(ctx context.Context, id string, opts ...Option) (wire.Count, error) {
	return post[wire.Count](ctx, c, struct{}{}, opts, "counts", id, "close")
}

// MissingTools gives every tool that counts left missing to row, newest first.
func (c *Client) MissingTools(ctx context.Context, row func(wire.MissingTool) error) error {
	return follow("", func(cursor string) ([]wire.MissingTool, *string, error) {
		page, _, err := get[wire.MissingTools](ctx, c, pageOf(pageSize, cursor), "counts", "missing")
		return page.Tools, page.Next, err
	}, row)
}
