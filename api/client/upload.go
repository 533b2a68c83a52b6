package client

import (
	"fmt"
	"io"
	"net/http"
	"os"
	"sync"
	"time"
)

// upload is the body of a request on its way: the client's body is copied into a
// pipe, which the handler reads. It never holds more than one read.
type upload struct {
	size   int64 // in bytes; -1 unknown
	from   io.ReadCloser
	pr     *io.PipeReader
	pw     *io.PipeWriter
	failed chan struct{} // closed when the client's body failed
	shut   func()        // closes the client's body, once

	mu    sync.Mutex
	err   error // why the client's body failed
	over  bool  // nobody needs the body any more
	clock deadline
}

func newUpload(req *http.Request) *upload {
	u := &upload{size: req.ContentLength, from: req.Body, failed: make(chan struct{})}
	switch {
	case req.Body == nil || req.Body == http.NoBody:
		u.size, u.from = 0, http.NoBody
	case req.ContentLength == 0: // net/http: a body of which no length is known
		u.size = -1
	}
	u.pr, u.pw = io.Pipe()
	u.shut = sync.OnceFunc(func() { u.from.Close() })
	return u
}

// send copies the client's body until its end, its failure, or until nobody
// reads any more.
func (u *upload) send() {
	defer u.shut()
	from := &source{r: u.from}
	limited := io.Reader(from)
	if u.size >= 0 {
		limited = io.LimitReader(from, u.size)
	}
	n, err := io.Copy(u.pw, limited)
	switch {
	case from.err != nil:
		u.fail(from.err)
	case err != nil: // the handler has done with it
	case u.size >= 0 && n < u.size:
		u.fail(fmt.Errorf("the body of the request has %d bytes, not the %d announced", n, u.size))
	default:
		u.pw.Close()
	}
}

// fail notes why the body failed before the handler can see that it did, so that
// the client hears the reason rather than what the handler made of it.
func (u *upload) fail(err error) {
	u.mu.Lock()
	defer u.mu.Unlock()
	if u.over { // stop has closed it under the read
		return
	}
	u.err = err
	close(u.failed)
	u.pw.CloseWithError(io.ErrUnexpectedEOF)
}

func (u *upload) failure() error {
	u.mu.Lock()
	defer u.mu.Unlock()
	return u.err
}

// stop ends the copying; the handler reads err from now on. The client's body is
// closed even where a read of it still waits.
func (u *upload) stop(err error) {
	u.mu.Lock()
	u.over = true
	u.mu.Unlock()
	u.clock.stop()
	u.pw.CloseWithError(err)
	u.shut()
}

// Read gives the handler the body.
func (u *upload) Read(p []byte) (int, error) { return u.pr.Read(p) }

// Close is the handler's: it wants no more of the body.
func (u *upload) Close() error {
	return u.pw.CloseWithError(http.ErrBodyReadAfterClose)
}

// deadline ends one direction at a time.
type deadline struct {
	mu    sync.Mutex
	timer *time.Timer
}

// set has expired called at t with os.ErrDeadlineExceeded; the zero time takes
// the deadline away.
func (d *deadline) set(t time.Time, expired func(error)) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.timer != nil {
		d.timer.Stop()
		d.timer = nil
	}
	if !t.IsZero() {
		d.timer = time.AfterFunc(time.Until(t), func() { expired(os.ErrDeadlineExceeded) })
	}
}

func (d *deadline) stop() { d.set(time.Time{}, nil) }
