package client

import (
	"bufio"
	"fmt"
	"io"
	"net/http"
	"os"
	"strconv"
	"sync"
	"sync/atomic"
	"time"
)

// held is how many bytes of an answer an http.Server holds back to learn its
// length and media type: net/http, bufferBeforeChunkingSize.
const held = 2048

// answer is the http.ResponseWriter of an exchange. It is used by the handler's
// goroutine alone, except for cut, begun and what begun guards.
type answer struct {
	method  string
	request *upload
	header  http.Header // the handler's
	frozen  http.Header // as it was at WriteHeader
	status  int         // 0 before WriteHeader
	length  int64       // announced by the handler; -1 not
	offered int64       // bytes that the handler wrote
	taken   int64       // of these, bytes that were not refused
	done    bool        // the handler has returned
	buf     *bufio.Writer
	pr      *io.PipeReader
	pw      *io.PipeWriter
	clock   deadline
	late    atomic.Bool // the deadline has passed

	begun    chan struct{} // closed when one of the next two is known
	once     sync.Once
	response *http.Response
	broken   error
}

func newAnswer(method string, request *upload) *answer {
	a := &answer{method: method, request: request, header: http.Header{}, length: -1, begun: make(chan struct{})}
	a.pr, a.pw = io.Pipe()
	a.buf = bufio.NewWriterSize(outlet{a}, held)
	return a
}

// Header implements http.ResponseWriter.
func (a *answer) Header() http.Header { return a.header }

// WriteHeader implements http.ResponseWriter; informational statuses and any but
// the first are passed over, as an http.Server does.
func (a *answer) WriteHeader(code int) {
	if code < 100 || code > 999 {
		panic(fmt.Sprintf("invalid WriteHeader code %v", code))
	}
	if a.status != 0 || code < 200 && code != http.StatusSwitchingProtocols {
		return
	}
	a.status, a.frozen = code, a.header.Clone()
	stated := a.frozen.Get("Content-Length")
	if n, err := strconv.ParseInt(stated, 10, 64); err == nil && n >= 0 {
		a.length = n
	} else {
		a.frozen.Del("Content-Length")
	}
}

// Write implements http.ResponseWriter.
func (a *answer) Write(p []byte) (int, error) {
	if a.status == 0 {
		a.WriteHeader(http.StatusOK)
	}
	if len(p) == 0 {
		return 0, nil
	}
	if !a.bodyAllowed() {
		return 0, http.ErrBodyNotAllowed
	}
	a.offered += int64(len(p))
	if a.length != -1 && a.offered > a.length {
		return 0, http.ErrContentLength
	}
	n, err := a.buf.Write(p)
	a.taken += int64(n)
	return n, err
}

// FlushError sends what was written; http.ResponseController looks for it.
func (a *answer) FlushError() error {
	if a.status == 0 {
		a.WriteHeader(http.StatusOK)
	}
	err := a.buf.Flush()
	a.begin(nil)
	return err
}

// Flush implements http.Flusher.
func (a *answer) Flush() { _ = a.FlushError() }

// EnableFullDuplex is granted: the two directions never wait for one another.
func (a *answer) EnableFullDuplex() error { return nil }

// SetReadDeadline ends the reading of the request at t.
func (a *answer) SetReadDeadline(t time.Time) error {
	a.request.clock.set(t, func(err error) { a.request.pw.CloseWithError(err) })
	return nil
}

// SetWriteDeadline ends the writing of the answer at t.
func (a *answer) SetWriteDeadline(t time.Time) error {
	a.clock.set(t, func(err error) {
		a.late.Store(true)
		a.cut(io.ErrUnexpectedEOF)
	})
	return nil
}

func (a *answer) bodyAllowed() bool {
	return a.status >= 200 && a.status != http.StatusNoContent && a.status != http.StatusNotModified
}

// touched says whether the handler has written anything.
func (a *answer) touched() bool { return a.status != 0 }

// outlet sends on what the buffer held back.
type outlet struct{ a *answer }

func (o outlet) Write(p []byte) (int, error) {
	o.a.begin(p)
	if o.a.method == http.MethodHead {
		return len(p), nil
	}
	n, err := o.a.pw.Write(p)
	if err != nil && o.a.late.Load() {
		err = os.ErrDeadlineExceeded
	}
	return n, err
}

// begin hands the answer to the client, with first the bytes that start it.
func (a *answer) begin(first []byte) {
	a.once.Do(func() {
		a.response = a.made(first)
		close(a.begun)
	})
}

// made is the answer as the client sees it.
func (a *answer) made(first []byte) *http.Response {
	h := a.frozen
	a.complete(h, first)
	r := &http.Response{
		Status:     fmt.Sprintf("%03d %s", a.status, http.StatusText(a.status)),
		StatusCode: a.status, Proto: "HTTP/1.1", ProtoMajor: 1, ProtoMinor: 1,
		Header: h, Body: a.pr, ContentLength: a.length,
	}
	h.Del("Transfer-Encoding")
	h.Del("Connection")
	switch {
	case a.method == http.MethodHead || a.length == 0:
		r.Body = http.NoBody
	case !a.bodyAllowed():
		r.Body, r.ContentLength = http.NoBody, 0
	case a.length < 0:
		r.TransferEncoding = []string{"chunked"}
	}
	return r
}

// complete adds and takes away what an http.Server does of its own accord:
// net/http, chunkWriter.writeHeader.
func (a *answer) complete(h http.Header, first []byte) {
	if !a.bodyAllowed() {
		h.Del("Content-Length")
		a.length = -1
		if a.status == http.StatusNotModified {
			h.Del("Content-Type")
		}
	} else {
		if a.done && a.length < 0 && (a.method != http.MethodHead || len(first) > 0) {
			a.length = int64(len(first))
			h.Set("Content-Length", strconv.Itoa(len(first)))
		}
		_, typed := h["Content-Type"]
		if !typed && len(first) > 0 && h.Get("Content-Encoding") == "" {
			h.Set("Content-Type", http.DetectContentType(first))
		}
	}
	if _, dated := h["Date"]; !dated {
		h.Set("Date", time.Now().UTC().Format(http.TimeFormat))
	}
}

// finish ends the answer when the handler has returned. One shorter than
// announced ends in an error.
func (a *answer) finish() {
	a.done = true
	if a.status == 0 {
		a.WriteHeader(http.StatusOK)
	}
	_ = a.buf.Flush() // the client may be gone
	a.begin(nil)
	if a.length > a.taken && a.method != http.MethodHead && a.bodyAllowed() {
		a.pw.CloseWithError(io.ErrUnexpectedEOF)
		return
	}
	a.pw.Close()
}

// cut breaks the answer off: the client reads err where it has not read the end,
// or has it from RoundTrip where nothing came yet.
func (a *answer) cut(err error) {
	a.once.Do(func() {
		a.broken = err
		close(a.begun)
	})
	a.pw.CloseWithError(err)
}
