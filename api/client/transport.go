package client

import (
	"context"
	"errors"
	"io"
	"net/http"
	"net/url"
	"sync/atomic"

	"pawl/api/wire"
	"pawl/model/people"
)

// InProcess is an http.RoundTripper that answers with a handler in this process,
// as an http.Server and its client would over a connection: bodies flow both
// ways through pipes, an answer comes back as soon as the server would send its
// first byte (a flush, 2,048 bytes, or the end of the handler), cancelling is
// felt on the other side. Trailers, upgrades and informational answers are not
// carried. A handler that panics before it wrote anything answers 500.
//
// Actor, unless it is the zero one, is whoever acts: it goes into the context of
// each request, where ActorFrom finds it.
type InProcess struct {
	Handler http.Handler
	Actor   people.Actor
}

// RoundTrip implements http.RoundTripper.
func (t InProcess) RoundTrip(req *http.Request) (*http.Response, error) {
	if err := req.Context().Err(); err != nil {
		closeBody(req)
		return nil, context.Cause(req.Context())
	}
	x, err := t.newExchange(req)
	if err != nil {
		closeBody(req)
		return nil, err
	}
	go x.body.send()
	go x.serve(t.Handler)
	select {
	case <-x.answer.begun:
	case <-x.body.failed:
	case <-req.Context().Done():
	}
	return x.begin()
}

func closeBody(req *http.Request) {
	if req.Body != nil {
		req.Body.Close()
	}
}

// exchange is one request and its answer.
type exchange struct {
	client  *http.Request // as the client made it
	request *http.Request // as the handler sees it
	body    *upload
	answer  *answer
	cancel  context.CancelFunc // of the handler's context
	forget  func() bool        // stops listening for the client's cancel
}

// newExchange makes the handler's request anew: nothing of the client's context
// but its end is seen on the other side, as over a connection.
func (t InProcess) newExchange(req *http.Request) (*exchange, error) {
	address, err := url.ParseRequestURI(req.URL.RequestURI())
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithCancel(context.Background())
	if t.Actor != (people.Actor{}) {
		ctx = WithActor(ctx, t.Actor)
	}
	x := &exchange{client: req, body: newUpload(req), cancel: cancel}
	x.request = (&http.Request{
		Method: req.Method, URL: address, RequestURI: req.URL.RequestURI(),
		Proto: "HTTP/1.1", ProtoMajor: 1, ProtoMinor: 1,
		Header: req.Header.Clone(), Host: req.Host,
		Body: x.body, ContentLength: x.body.size,
		RemoteAddr: "@", // as that of a peer on a nameless Unix socket
	}).WithContext(ctx)
	if x.request.Method == "" {
		x.request.Method = http.MethodGet
	}
	if x.request.Host == "" {
		x.request.Host = req.URL.Host
	}
	if x.request.Header == nil {
		x.request.Header = http.Header{}
	}
	x.answer = newAnswer(x.request.Method, x.body)
	x.forget = context.AfterFunc(req.Context(), func() { x.stop(context.Cause(req.Context())) })
	return x, nil
}

// stop ends both directions: the client went away.
func (x *exchange) stop(err error) {
	x.answer.cut(err)
	x.body.stop(err)
	x.cancel()
}

// serve runs the handler. When it has returned its context and the request are
// at an end; the answer is when the client has read it.
func (x *exchange) serve(h http.Handler) {
	defer x.forget()
	defer x.answer.clock.stop()
	defer x.end()
	defer x.body.stop(http.ErrBodyReadAfterClose)
	defer x.cancel()
	h.ServeHTTP(x.answer, x.request)
}

// end closes the answer. A panic is told as 500 where nothing was written, and
// cuts the answer off where something was.
func (x *exchange) end() {
	switch v := recover(); {
	case v == nil:
	case v == http.ErrAbortHandler || x.answer.touched():
		x.answer.cut(io.ErrUnexpectedEOF)
		return
	default:
		x.answer.header = http.Header{}
		wire.WriteProblem(x.answer, errPanic, "")
	}
	x.answer.finish()
}

// errPanic becomes an internal fault that tells nothing.
var errPanic = errors.New("a handler panicked")

// begin is what RoundTrip returns once something has happened.
func (x *exchange) begin() (*http.Response, error) {
	if err := x.body.failure(); err != nil {
		x.stop(err)
		return nil, err
	}
	if x.client.Context().Err() != nil {
		return nil, context.Cause(x.client.Context())
	}
	<-x.answer.begun
	if x.answer.response == nil {
		return nil, x.answer.broken
	}
	r := x.answer.response
	r.Request = x.client
	if r.Body != http.NoBody {
		r.Body = &download{ReadCloser: r.Body, rest: r.ContentLength, leave: x.stop}
	}
	return r, nil
}

// download is the body of an answer. It ends with the last byte announced,
// though the handler may still be at work. Closing it before its end tells the
// handler that nobody listens any more.
type download struct {
	io.ReadCloser
	rest  int64 // bytes to come; -1 unknown
	ended atomic.Bool
	leave func(error)
}

func (d *download) Read(p []byte) (int, error) {
	if d.rest == 0 {
		return 0, io.EOF
	}
	n, err := d.ReadCloser.Read(p)
	if d.rest > 0 {
		d.rest -= int64(n)
	}
	if err == io.EOF || d.rest == 0 {
		d.ended.Store(true)
	}
	return n, err
}

func (d *download) Close() error {
	if !d.ended.Load() {
		d.leave(io.ErrClosedPipe)
	}
	return d.ReadCloser.Close()
}
