package client

import (
	"context"
	"io"
	"net/http"
	"net/url"

	"pawl/api/wire"
)

// Leave marks somebody as left.
func (c *Client) Leave(ctx context.Context, id string, in wire.Leave, opts ...Option) (wire.Left, error) {
	return post[wire.Left](ctx, c, in, opts, "people", id, "leave")
}

// CopyOwn writes a copy of somebody's own tools to w, a ZIP. It must not be
// trusted unless the error is nil.
func (c *Client) CopyOwn(ctx context.Context, id string, w io.Writer) error {
	return c.do(ctx, request{method: http.MethodPost, path: []string{"people", id, "copy"}, long: true}, copied(w))
}

// ImportCopy registers the tools of a copy. Settings are the query of the route:
// owner, key, against. Open is called for each try.
func (c *Client) ImportCopy(ctx context.Context, settings url.Values, size int64, open func() (io.ReadCloser, error), opts ...Option) (out wire.ImportedCopy, err error) {
	call, err := callOf(opts)
	if err != nil {
		return out, err
	}
	r := request{method: http.MethodPost, path: []string{"imports", "copy"}, query: settings, header: asJSON(), body: open, size: size, long: true}
	r.header.Set("Idempotency-Key", `"`+call.Key+`"`)
	r.header.Set("Content-Type", "application/zip")
	err = c.do(ctx, r, func(answer *http.Response) error { return c.decode(answer, &out) })
	return out, err
}
