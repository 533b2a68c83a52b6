package api

import (
	"io"
	"net/http"
	"time"
)

// pace is how slowly bodies may flow: at least quota bytes within each window of
// waiting for the other side. One that ends earlier need not reach the quota.
type pace struct {
	window time.Duration
	quota  int
}

// flow is one direction of one exchange. Only the time in which this side waits
// for the other counts.
type flow struct {
	pace
	crowd *crowd                // in which it does not count while it waits
	set   func(time.Time) error // the deadline of the connection
	left  time.Duration         // of the window
	moved int                   // bytes in it
}

func newFlow(p pace, all *crowd, set func(time.Time) error) *flow {
	return &flow{pace: p, crowd: all, set: set, left: p.window}
}

// wait does one read or write under the deadline. A connection without deadlines
// is left as it is.
func (f *flow) wait(do func() (int, error)) (int, error) {
	start := time.Now()
	_ = f.set(start.Add(f.left))
	n, err := f.crowd.wait(do)
	f.left -= time.Since(start)
	if f.moved += n; f.moved >= f.quota {
		f.moved, f.left = 0, f.window
	}
	return n, err
}

// paced holds the bodies of every exchange to the pace. Between and after the
// reads of a body a deadline stays set until its end has come, as net/http may
// read what the handler left; from then on none is, as net/http then listens for
// the other side going away.
func paced(next http.Handler, p pace, all *crowd) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		all := all
		if r.Context().Value(turnedAwayKey{}) != nil {
			all = nil
		}
		control := http.NewResponseController(w)
		out := &pacedWriter{w, newFlow(p, all, control.SetWriteDeadline)}
		_ = out.flow.set(time.Now().Add(p.window)) // for "100 Continue"
		if r.Body == nil || r.Body == http.NoBody {
			_ = control.SetReadDeadline(time.Time{})
		} else {
			in := &pacedBody{ReadCloser: r.Body, flow: newFlow(p, all, control.SetReadDeadline)}
			_ = in.flow.set(time.Now().Add(p.window))
			defer in.rest()
			r.Body = in
		}
		defer func() { _ = out.flow.set(time.Now().Add(p.window)) }() // for what is still buffered
		next.ServeHTTP(out, r)
	})
}

type pacedBody struct {
	io.ReadCloser
	flow *flow
	over bool // it ended, or failed, and is waited for no more
}

func (b *pacedBody) Read(p []byte) (int, error) {
	n, err := b.flow.wait(func() (int, error) { return b.ReadCloser.Read(p) })
	if err == nil || b.over {
		return n, err
	}
	b.over = true
	if err == io.EOF {
		_ = b.flow.set(time.Time{})
	} else {
		_ = b.flow.set(time.Now()) // net/http is not to wait for more either
	}
	return n, err
}

// rest gives one window to what the handler did not read.
func (b *pacedBody) rest() {
	if !b.over {
		_ = b.flow.set(time.Now().Add(b.flow.window))
	}
}

type pacedWriter struct {
	http.ResponseWriter
	flow *flow
}

// Write sends in pieces of a quota, so that the pace is seen within a large one.
func (w *pacedWriter) Write(p []byte) (n int, err error) {
	for len(p) > 0 && err == nil {
		piece := p[:min(len(p), w.flow.quota)]
		var sent int
		sent, err = w.flow.wait(func() (int, error) { return w.ResponseWriter.Write(piece) })
		n, p = n+sent, p[sent:]
	}
	return n, err
}

// Unwrap is for http.ResponseController.
func (w *pacedWriter) Unwrap() http.ResponseWriter { return w.ResponseWriter }
