package client

import (
	"context"
	"io"
	"net/http"
	"net/url"

	"pawl/api/wire"
)

// View writes a smaller, upright copy of an original to w; size is small or
// large. Where it fails, w must not be trusted.
func (c *Client) View(ctx context.Context, sha, size string, w io.Writer) error {
	r := request{method: http.MethodGet, path: []string{"evidence", sha}, query: url.Values{"view": {size}}}
	return c.do(ctx, r, copied(w))
}

// Codes reads the labels in a photo that was uploaded.
func (c *Client) Codes(ctx context.Context, sha string) (wire.Codes, error) {
	codes, _, err := get[wire.Codes](ctx, c, nil, "evidence", sha, "codes")
	return codes, err
}

// FilePhotos files uploaded photos under the tool of a label, or as unsorted.
func (c *Client) FilePhotos(ctx context.Context, in wire.Photos, opts ...Option) (wire.PhotosFiled, error) {
	return post[wire.PhotosFiled](ctx, c, in, opts, "photos")
}

// UnsortedAll gives every photo that belongs to no tool yet to photo. It stops
// with the first error that photo returns.
func (c *Client) UnsortedAll(ctx context.Context, photo func(wire.UnsortedPhoto) error) error {
	return follow("", func(cursor string) ([]wire.UnsortedPhoto, *string, error) {
		page, _, err := get[wire.Unsorted](ctx, c, pageOf(pageSize, cursor), "unsorted")
		return page.Unsorted, page.Next, err
	}, photo)
}

// FileUnsorted files one unsorted photo under a tool.
func (c *Client) FileUnsorted(ctx context.Context, id string, in wire.FileUnder, opts ...Option) (wire.Done, error) {
	return post[wire.Done](ctx, c, in, opts, "unsorted", id, "file")
}

// Description says what is known of a tool without a label.
type Description struct{ Words, Kind, Maker, Place string }

// WhichAll gives every tool that fits a description to tool. It stops with the
// first error that tool returns.
func (c *Client) WhichAll(ctx context.Context, d Description, tool func(wire.WhichRow) error) error {
	return follow("", func(cursor string) ([]wire.WhichRow, *string, error) {
		page, err := c.which(ctx, d, cursor)
		return page.Tools, page.Next, err
	}, tool)
}

// Which gives the first page of the tools that fit a description.
func (c *Client) Which(ctx context.Context, d Description) (wire.Which, error) {
	return c.which(ctx, d, "")
}

func (c *Client) which(ctx context.Context, d Description, cursor string) (wire.Which, error) {
	v := pageOf(pageSize, cursor)
	for name, value := range map[string]string{"words": d.Words, "kind": d.Kind, "maker": d.Maker, "place": d.Place} {
		if value != "" {
			v.Set(name, value)
		}
	}
	page, _, err := get[wire.Which](ctx, c, v, "which")
	return page, err
}
