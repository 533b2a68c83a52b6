package client

import (
	"context"
	"io"
	"net/http"
	"net/url"
	"strconv"

	"pawl/api/wire"
)

// MatchQuery is what is left of a serial, and what else is known of the tool; empty
// members do not narrow.
type MatchQuery struct {
	Reading, Maker, Kind, Found string
	Limit                       int
}

// Match tells which tool a worn serial may be of.
func (c *Client) Match(ctx context.Context, q MatchQuery) (wire.Match, error) {
	v := url.Values{"reading": {q.Reading}}
	for name, value := range map[string]string{"maker": q.Maker, "kind": q.Kind, "found": q.Found} {
		if value != "" {
			v.Set(name, value)
		}
	}
	if q.Limit > 0 {
		v.Set("limit", strconv.Itoa(q.Limit))
	}
	m, _, err := get[wire.Match](ctx, c, v, "match")
	return m, err
}

// MatchList does so for a CSV of readings, which open gives once for each try.
func (c *Client) MatchList(ctx context.Context, found string, size int64, open func() (io.ReadCloser, error)) (out wire.MatchList, err error) {
	r := request{method: http.MethodPost, path: []string{"match"}, header: asJSON(), body: open, size: size}
	if found != "" {
		r.query = url.Values{"found": {found}}
	}
	r.header.Set("Content-Type", "text/csv")
	err = c.do(ctx, r, func(answer *http.Response) error { return c.decode(answer, &out) })
	return out, err
}
