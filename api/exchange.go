package api

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"runtime/debug"
	"time"

	"pawl/model/fault"
)

// exchange is one request with its answer, for the log and for problems.
type exchange struct {
	id     string // a UUID, version 4
	trace  string // that others know it by (W3C Trace Context); empty: none
	route  string // as the router has it; empty: no route
	status int    // as answered; 0: not yet
	err    error  // why it failed

	replayed bool // the answer is the one kept under the replay key
}

type exchangeKey struct{}

// exchangeOf gives the exchange of a request that came through watch.
func exchangeOf(r *http.Request) *exchange {
	return r.Context().Value(exchangeKey{}).(*exchange)
}

// watch gives each request its id, and logs it in one line when it is answered.
// The line holds nothing that the asker wrote but the method.
func (s *service) watch(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		start := time.Now()
		x := &exchange{id: s.newID(), trace: traceOf(r.Header)}
		w.Header().Set("X-Request-Id", x.id)
		s.metrics.begin()
		defer func() { s.logged(r, x, time.Since(start)) }()
		next.ServeHTTP(&recorder{w, x}, r.WithContext(context.WithValue(r.Context(), exchangeKey{}, x)))
	})
}

// newID draws a UUID (RFC 9562 section 5.4).
func (s *service) newID() string {
	var b [16]byte
	s.drawing.Lock()
	_, err := io.ReadFull(s.chance, b[:])
	s.drawing.Unlock()
	if err != nil {
		s.log.Error("no chance to draw the id of a request from", "error", err)
	}
	b[6], b[8] = b[6]&0x0f|0x40, b[8]&0x3f|0x80
	h := hex.EncodeToString(b[:])
	return h[:8] + "-" + h[8:12] + "-" + h[12:16] + "-" + h[16:20] + "-" + h[20:]
}

func (s *service) logged(r *http.Request, x *exchange, took time.Duration) {
	s.metrics.seen(methodOf(r), x.route, x.status, took)
	level := slog.LevelInfo
	line := []any{"method", methodOf(r), "route", x.route, "status", x.status, "took", took, "request", x.id}
	if x.trace != "" {
		line = append(line, "trace", x.trace)
	}
	if x.err != nil && (fault.Is(x.err, fault.Unavailable) || fault.Of(x.err).Kind == fault.Internal) {
		level = slog.LevelError
		line = append(line, "error", inFull(x.err))
	}
	s.log.Log(context.Background(), level, "request", line...)
}

// methodOf keeps what is no method of ours out of the log.
func methodOf(r *http.Request) string {
	switch r.Method {
	case http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete, http.MethodOptions:
		return r.Method
	}
	return "other"
}

// inFull is an error with the causes that a fault keeps for the log.
func inFull(err error) string {
	text := err.Error()
	for cause := errors.Unwrap(err); cause != nil; cause = errors.Unwrap(cause) {
		text += ": " + cause.Error()
	}
	return text
}

// recorder notes the status of an answer.
type recorder struct {
	http.ResponseWriter
	x *exchange
}

func (r *recorder) WriteHeader(status int) {
	if r.x.status == 0 && status >= 200 {
		r.x.status = status
	}
	r.ResponseWriter.WriteHeader(status)
}

func (r *recorder) Write(p []byte) (int, error) {
	if r.x.status == 0 {
		r.x.status = http.StatusOK
	}
	return r.ResponseWriter.Write(p)
}

// Unwrap is for http.ResponseController.
func (r *recorder) Unwrap() http.ResponseWriter { return r.ResponseWriter }

// recover turns a panic into an internal problem. Where a part of the answer is
// out already the connection is cut, so that nobody takes it for whole.
func (s *service) recover(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			what := recover()
			if what == nil {
				return
			}
			if what == http.ErrAbortHandler {
				panic(what)
			}
			x := exchangeOf(r)
			s.log.Error("panic", "request", x.id, "trace", x.trace, "panic", fmt.Sprint(what), "stack", string(debug.Stack()))
			if x.status != 0 {
				panic(http.ErrAbortHandler)
			}
			x.fail(w, errors.New("panic: see the line before"))
		}()
		next.ServeHTTP(w, r)
	})
}

// policy lets a browser do nothing at all with an answer of this service.
const policy = "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// secure sets the headers of every answer; those of pages are wider where a
// browser must do something with them. HSTS is for HTTPS alone, where RFC 6797
// section 7.2 wants it, and lasts a year.
func (s *service) secure(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=()")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		if s.door.HTTPS(r) {
			h.Set("Strict-Transport-Security", "max-age=31536000; includeSubDomains")
		}
		next.ServeHTTP(w, r)
	})
}

// crossOrigin refuses what a page of another origin has a browser send.
func (s *service) crossOrigin(next http.Handler) http.Handler {
	guard := http.NewCrossOriginProtection()
	guard.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.turnAway(w, r, fault.New(fault.Forbidden, "a page of another origin asks for a change").
			WithHint("ask from the shop's own pages, or from a program"))
	}))
	return guard.Handler(next)
}
