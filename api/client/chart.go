package client

import (
	"context"
	"io"
	"net/http"
	"net/url"
)

// Chart writes the chart of a calibration of a tool to w, as SVG; of the newest with
// readings where id is empty.
func (c *Client) Chart(ctx context.Context, number, id string, w io.Writer) error {
	query := url.Values{}
	if id != "" {
		query.Set("calibration", id)
	}
	return c.do(ctx, request{method: http.MethodGet, path: []string{"tools", number, "chart"}, query: query}, copied(w))
}
