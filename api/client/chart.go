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

// Drift writes the chart of what a tool showed over time to w, as SVG.
func (c *Client) Drift(ctx context.Context, number string, w io.Writer) error {
	return c.do(ctx, request{method: http.MethodGet, path: []string{"tools", number, "drift"}}, copied(w))
}

// Adapter writes the drawing of an offset adapter on a tool to w, as SVG.
func (c *Client) Adapter(ctx context.Context, number, target, length, angle string, w io.Writer) error {
	query := url.Values{"target": {target}, "crowfoot": {length}, "angle": {angle}}
	return c.do(ctx, request{method: http.MethodGet, path: []string{"tools", number, "adapter"}, query: query}, copied(w))
}
