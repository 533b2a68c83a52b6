package client

import (
	"context"
	"io"
	"maps"
	"net/http"
	"net/url"
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
