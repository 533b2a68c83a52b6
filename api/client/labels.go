package client

import (
	"context"
	"io"
	"maps"
	"net/http"
	"net/url"

	"pawl/api/wire"
)

// Label writes the label of a tool to w. Settings are the query of the route:
// format, dpi, dots, level.
func (c *Client) Label(ctx context.Context, number string, settings url.Values, w io.Writer) error {
	return c.do(ctx, request{method: http.MethodGet, path: []string{"labels", number}, query: settings}, copied(w))
}

// LabelSheet writes sheets of labels to w as a PDF. Settings are the query of
// the route besides the numbers: sheet, start, dx, dy.
func (c *Client) LabelSheet(ctx context.Context, numbers []string, settings url.Values, w io.Writer) error {
	query := url.Values{}
	maps.Copy(query, settings)
	query["number"] = numbers
	return c.do(ctx, request{method: http.MethodGet, path: []string{"labels"}, query: query}, copied(w))
}

// Print writes what is not a tool's label to w: a badge, the label of a place,
// a job's key tag, a do-not-use tag, cards, a sign-out sheet, or a test page.
// Settings are the query of the route: name, format, dpi, sheet and so on.
func (c *Client) Print(ctx context.Context, what string, settings url.Values, w io.Writer) error {
	return c.do(ctx, request{method: http.MethodGet, path: []string{"prints", what}, query: settings}, copied(w))
}

// FreeNumbers returns every number that is issued and free, in order.
func (c *Client) FreeNumbers(ctx context.Context) ([]string, error) {
	return gathered(func(cursor string) ([]string, *string, error) {
		page, _, err := get[wire.Numbers](ctx, c, pageOf(pageSize, cursor), "numbers")
		return page.Numbers, page.Next, err
	})
}

// LabelAgain records that the label of a tool is printed once more.
func (c *Client) LabelAgain(ctx context.Context, number string, in wire.LabelAgain, opts ...Option) (wire.Done, error) {
	return c.act(ctx, number, "label", in, opts)
}

// Join gives a tool a fresh label that was printed first.
func (c *Client) Join(ctx context.Context, number string, in wire.Join, opts ...Option) (wire.Done, error) {
	return c.act(ctx, number, "join", in, opts)
}
