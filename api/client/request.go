package client

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/url"
	"strings"
	"time"
	"unicode"

	"pawl/model/fault"
)

// tries is how often a request is sent before it is given up.
const tries = 3

// request is what one method asks. Body opens what is sent anew for each try.
type request struct {
	method string
	path   []string // below the prefix
	prefix string   // empty: /api/v1
	query  url.Values
	header http.Header
	body   func() (io.ReadCloser, error)
	size   int64 // of the body; -1 unknown
	whole  bool  // the answer is small and read at once, within Timeout
	long   bool  // no time limit but the caller's
}

// lost is a connection that failed before the answer was complete. It is final
// when a part of the answer was handed on already.
type lost struct {
	cause error
	final bool
}

func (l lost) Error() string { return l.cause.Error() }

// unopened is a body that could not be opened.
type unopened struct{ error }

// do sends a request until there is an answer, and has read take a good one.
// A fault that the server made is not asked again.
func (c *Client) do(ctx context.Context, r request, read func(*http.Response) error) error {
	address, err := c.address(r)
	if err != nil {
		return err
	}
	var gone lost
	for n := 1; ; n++ {
		err := c.once(ctx, r, address, read)
		var shut unopened
		switch {
		case errors.As(err, &shut) && n > 1: // it was there to be read once
			return c.unreachable(ctx, gone.cause)
		case errors.As(err, &shut):
			return shut.error
		case !errors.As(err, &gone):
			return err
		}
		if gone.final || r.method == http.MethodPatch || n == tries || !pause(ctx, time.Duration(n)*c.Pause) {
			return c.unreachable(ctx, gone.cause)
		}
	}
}

// address puts together where a request goes.
func (c *Client) address(r request) (string, error) {
	prefix := r.prefix
	if prefix == "" {
		prefix = "/api/v1"
	}
	var b strings.Builder
	b.WriteString(c.base + prefix)
	for _, part := range r.path {
		if part == "" || part == "." || part == ".." {
			return "", fault.New(fault.Malformed, "%q names nothing", part).WithHint("say which one is meant")
		}
		b.WriteString("/" + url.PathEscape(part))
	}
	if len(r.query) > 0 {
		b.WriteString("?" + r.query.Encode())
	}
	return b.String(), nil
}

// once is one try.
func (c *Client) once(ctx context.Context, r request, address string, read func(*http.Response) error) error {
	ctx, clock := newWatch(ctx, c.Timeout, r)
	defer clock.stop()
	req, err := c.build(ctx, r, address, clock)
	if err != nil {
		return err
	}
	answer, err := c.http.Do(req)
	if err != nil {
		if unread := clock.unread(err); unread != nil {
			return unread
		}
		return clock.lost(lost{cause: bare(err)})
	}
	defer answer.Body.Close()
	answer.Body = receiving{answer.Body, clock}
	if answer.StatusCode/100 != 2 {
		read = c.failure
	}
	err = read(answer)
	var gone lost
	if errors.As(err, &gone) {
		return clock.lost(gone)
	}
	return err
}

// build makes the HTTP request of one try.
func (c *Client) build(ctx context.Context, r request, address string, clock *watch) (*http.Request, error) {
	req, err := http.NewRequestWithContext(ctx, r.method, address, nil)
	if err != nil || req.URL.Host == "" || req.URL.Scheme != "http" && req.URL.Scheme != "https" {
		return nil, fault.New(fault.Malformed, "%q is no address of a server", c.base).
			WithHint("write it as https://HOST").WithCause(err)
	}
	for name, values := range r.header {
		req.Header[name] = values
	}
	if c.token != "" {
		req.Header.Set("Authorization", "Bearer "+c.token)
	}
	for name, values := range req.Header {
		if strings.ContainsFunc(values[0], unicode.IsControl) {
			return nil, fault.New(fault.Malformed, "what was given for %s holds a control character", name)
		}
	}
	if r.body == nil {
		return req, nil
	}
	req.GetBody = func() (io.ReadCloser, error) {
		body, err := r.body()
		if err != nil {
			return nil, unopened{err}
		}
		return &sending{body, clock, r.size}, nil
	}
	req.ContentLength = r.size
	req.Body, err = req.GetBody()
	return req, err
}

// unreachable is the fault of a request that found no answer.
func (c *Client) unreachable(ctx context.Context, err error) error {
	switch {
	case ctx.Err() != nil:
		return fault.New(fault.Unavailable, "stopped before the server had answered").
			WithHint("it may have been done; ask before you do it again").WithCause(ctx.Err())
	case errors.Is(err, errSlow):
		return fault.New(fault.Unavailable, "the server at %s did not answer within %s", c.base, c.Timeout).
			WithHint("try again; nothing is done twice").WithCause(err)
	}
	return fault.New(fault.Unavailable, "cannot reach the server at %s: %s", c.base, err).
		WithHint("see that it runs and try again; nothing is done twice").WithCause(err)
}

// bare takes off what http.Client says around an error: method and address.
func bare(err error) error {
	var around *url.Error
	if errors.As(err, &around) {
		return around.Err
	}
	return err
}

// pause waits, and says whether the caller still does.
func pause(ctx context.Context, d time.Duration) bool {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-timer.C:
		return ctx.Err() == nil
	}
}

// get asks for one thing, with its ETag.
func get[T any](ctx context.Context, c *Client, query url.Values, path ...string) (out T, etag string, err error) {
	err = c.do(ctx, request{method: http.MethodGet, path: path, query: query, header: asJSON(), whole: true}, func(answer *http.Response) error {
		etag = answer.Header.Get("ETag")
		return c.decode(answer, &out)
	})
	return out, etag, err
}

// post does an act; in may be nil.
func post[T any](ctx context.Context, c *Client, in any, opts []Option, path ...string) (out T, err error) {
	return send[T](ctx, c, request{method: http.MethodPost, path: path, header: asJSON()}, in, "application/json", opts)
}

// patch changes the record that was read with that ETag; RFC 7396.
func patch[T any](ctx context.Context, c *Client, etag string, in any, opts []Option, path ...string) (out T, err error) {
	r := request{method: http.MethodPatch, path: path, header: asJSON()}
	if etag != "" {
		r.header.Set("If-Match", etag)
	}
	return send[T](ctx, c, r, in, "application/merge-patch+json", opts)
}

// send sends JSON under a replay key.
func send[T any](ctx context.Context, c *Client, r request, in any, mediaType string, opts []Option) (out T, err error) {
	call, err := callOf(opts)
	if err != nil {
		return out, err
	}
	r.header.Set("Idempotency-Key", `"`+call.Key+`"`)
	if call.Badge != "" {
		r.header.Set(badgeHeader, call.Badge)
	}
	r.whole = true
	if in != nil {
		sent, err := json.Marshal(in)
		if err != nil {
			return out, fault.New(fault.Malformed, "cannot be written as JSON: %s", err).WithCause(err)
		}
		r.header.Set("Content-Type", mediaType)
		r.size = int64(len(sent))
		r.body = func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(sent)), nil }
	}
	err = c.do(ctx, r, func(answer *http.Response) error { return c.decode(answer, &out) })
	return out, err
}

func asJSON() http.Header {
	return http.Header{"Accept": {"application/json, application/problem+json"}}
}

// badgeHeader holds the badge of whoever acts at a board.
const badgeHeader = "Pawl-Badge"

// callOf is what the caller stated, under a new replay key of 128 bits or more where
// they stated none.
func callOf(opts []Option) (Call, error) {
	call := Call{Key: rand.Text()}
	for _, o := range opts {
		o(&call)
	}
	bad := func(r rune) bool { return r <= ' ' || r > '~' || r == '"' || r == '\\' }
	if call.Key == "" || len(call.Key) > 255 || strings.ContainsFunc(call.Key, bad) {
		return call, fault.New(fault.Invalid, "%q is no replay key", call.Key).
			WithHint("use 1 to 255 visible ASCII characters other than quote and backslash")
	}
	return call, nil
}
