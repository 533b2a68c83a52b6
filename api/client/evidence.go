package client

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"net/http"
	"strings"

	"pawl/api/wire"
	"pawl/model/fault"
)

// Upload stores the bytes of a photo or paper under their SHA-256. Name and
// mediaType are what they are said to be; either may be empty. Size is in bytes,
// -1 when unknown. Open is called for each try.
func (c *Client) Upload(ctx context.Context, sha256, name, mediaType string, size int64, open func() (io.ReadCloser, error)) (out wire.Original, err error) {
	r := request{method: http.MethodPut, path: []string{"evidence", sha256}, header: asJSON(), body: open, size: size}
	if mediaType == "" {
		mediaType = "application/octet-stream"
	}
	r.header.Set("Content-Type", mediaType)
	if name != "" {
		r.header.Set("Content-Disposition", "attachment; filename*=UTF-8''"+extended(name))
	}
	err = c.do(ctx, r, func(answer *http.Response) error { return c.decode(answer, &out) })
	return out, err
}

// Original writes the bytes of a photo or paper to w. When they are not those
// that the hash names it says so after it has written them: w must not be
// trusted unless the error is nil.
func (c *Client) Original(ctx context.Context, sha string, w io.Writer) error {
	hash := sha256.New()
	r := request{method: http.MethodGet, path: []string{"evidence", sha}}
	if err := c.do(ctx, r, copied(io.MultiWriter(w, hash))); err != nil {
		return err
	}
	if got := hex.EncodeToString(hash.Sum(nil)); got != strings.ToLower(sha) {
		return fault.New(fault.Internal, "what came has the SHA-256 %s, not %s", got, sha).
			WithHint("do not use it; run verify on the server")
	}
	return nil
}

// Attach ties uploaded photos and papers to a tool.
func (c *Client) Attach(ctx context.Context, number string, evidence []wire.Attach, opts ...Option) (wire.Done, error) {
	return c.act(ctx, number, "evidence", struct {
		Evidence []wire.Attach `json:"evidence"`
	}{evidence}, opts)
}

// extended writes text in the value-chars of RFC 8187 section 3.2.1.
func extended(text string) string {
	var b strings.Builder
	for i := range len(text) {
		ch := text[i]
		switch {
		case 'a' <= ch && ch <= 'z', 'A' <= ch && ch <= 'Z', '0' <= ch && ch <= '9', strings.IndexByte("!#$&+-.^_`|~", ch) >= 0:
			b.WriteByte(ch)
		default:
			fmt.Fprintf(&b, "%%%02X", ch)
		}
	}
	return b.String()
}
