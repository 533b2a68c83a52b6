package client

import (
	"context"
	"io"
	"net/http"
	"net/url"

	"pawl/api/wire"
)

// The media types of tools as a spreadsheet, or as an export in JSON.
const (
	TypeCSV  = "text/csv"
	TypeJSON = "application/json"
	TypeXLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
)

// Import registers the tools of a spreadsheet. Settings are the query of the
// route; size is in bytes, -1 when unknown; open is called for each try.
func (c *Client) Import(ctx context.Context, settings url.Values, mediaType string, size int64, open func() (io.ReadCloser, error), opts ...Option) (out wire.SheetReport, err error) {
	call, err := callOf(opts)
	if err != nil {
		return out, err
	}
	r := request{method: http.MethodPost, path: []string{"imports"}, query: settings, header: asJSON(), body: open, size: size}
	r.header.Set("Content-Type", mediaType)
	r.header.Set("Idempotency-Key", `"`+call.Key+`"`)
	err = c.do(ctx, r, func(answer *http.Response) error { return c.decode(answer, &out) })
	return out, err
}

// Export writes every tool to w, as csv, xlsx or json. Settings are the query of
// the route besides the format.
func (c *Client) Export(ctx context.Context, format string, settings url.Values, w io.Writer) error {
	query := url.Values{"format": {format}}
	for name, values := range settings {
		query[name] = values
	}
	return c.do(ctx, request{method: http.MethodGet, path: []string{"tools", "export"}, query: query}, copied(w))
}

// JoinSerial joins a printed label to the tool with a serial number.
func (c *Client) JoinSerial(ctx context.Context, label string, in wire.JoinSerial, opts ...Option) (wire.Done, error) {
	return post[wire.Done](ctx, c, in, opts, "numbers", label, "join")
}
