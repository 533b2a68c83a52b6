package api

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"sync"
	"time"

	"pawl/model/fault"
)

// ServeOptions says how a server treats its connections. The zero value is for
// use; tests shorten the times.
type ServeOptions struct {
	Log    *slog.Logger  // nil: nothing is logged
	Window time.Duration // in which a body must move Window·Rate; 0: 30 s
	Rate   int           // bytes a second; 0: 8,000
	Most   int           // requests at work at once; 0: 256
	Grace  time.Duration // for running requests when the server stops; 0: 10 s
}

func (o ServeOptions) filled() ServeOptions {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Window == 0 {
		o.Window = 30 * time.Second
	}
	if o.Rate == 0 {
		o.Rate = 8000
	}
	if o.Most == 0 {
		o.Most = 256
	}
	if o.Grace == 0 {
		o.Grace = 10 * time.Second
	}
	return o
}

func (o ServeOptions) pace() pace {
	return pace{o.Window, max(1, int(o.Window.Seconds()*float64(o.Rate)))}
}

// Serve answers the connections of a listener until ctx ends, then stops: new
// requests are sent elsewhere at once, running ones get Grace. More than Most at a time
// are turned away with a word on when to ask again. It returns nil
// when it stopped because ctx ended. Nothing in ctx reaches a request.
func Serve(ctx context.Context, listener net.Listener, h http.Handler, o ServeOptions) error {
	o = o.filled()
	all := &crowd{most: int64(o.Most)}
	g := &gate{next: paced(h, o.pace(), all), crowd: all, idle: make(chan struct{})}
	server := &http.Server{
		Handler:           g,
		ReadHeaderTimeout: 10 * time.Second,
		IdleTimeout:       120 * time.Second,
		MaxHeaderBytes:    64 << 10,
		ErrorLog:          slog.NewLogLogger(o.Log.Handler(), slog.LevelWarn),
	}
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(listener) }()
	select {
	case err := <-failed:
		server.Close()
		return fault.New(fault.Unavailable, "cannot go on answering at %s", listener.Addr()).WithCause(err)
	case <-ctx.Done():
	}
	return stop(server, g, o)
}

// stop lets running requests end, or cuts them off when their time is over.
func stop(server *http.Server, g *gate, o ServeOptions) error {
	limit, cancel := context.WithTimeout(context.Background(), o.Grace)
	defer cancel()
	g.stop()
	select {
	case <-g.idle:
	case <-limit.Done():
	}
	err := server.Shutdown(limit)
	if errors.Is(err, context.DeadlineExceeded) {
		o.Log.Warn("requests were cut off: they took too long to end", "limit", o.Grace)
		err = server.Close()
	}
	if err != nil {
		return fault.New(fault.Unavailable, "cannot stop answering").WithCause(err)
	}
	return nil
}

// gate counts the requests that run and tells those that come while it stops.
type gate struct {
	next     http.Handler
	crowd    *crowd
	mu       sync.Mutex
	running  int
	stopping bool
	idle     chan struct{} // closed when it stops and nothing runs
}

func (g *gate) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if !g.enter() {
		w.Header().Set("Connection", "close")
		g.turnAway(w, r, stopping)
		return
	}
	defer g.leave()
	if !g.crowd.enter() {
		g.turnAway(w, r, crowded)
		return
	}
	defer g.crowd.leave()
	g.next.ServeHTTP(w, r)
}

func (g *gate) turnAway(w http.ResponseWriter, r *http.Request, why string) {
	g.next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), turnedAwayKey{}, why)))
}

func (g *gate) enter() bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.stopping {
		return false
	}
	g.running++
	return true
}

func (g *gate) leave() {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.running--
	g.settle()
}

func (g *gate) stop() {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.stopping = true
	g.settle()
}

// settle is called with the lock held; only once does it find both true.
func (g *gate) settle() {
	if g.stopping && g.running == 0 {
		close(g.idle)
	}
}
