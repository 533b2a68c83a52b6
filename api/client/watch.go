package client

import (
	"context"
	"errors"
	"io"
	"sync"
	"time"

	"pawl/model/fault"
)

// errSlow is the cause of a try that the time limit ended.
var errSlow = errors.New("too slow")

// watch ends a try that takes too long. For a call that answers in JSON that is
// the whole of it; where bytes of any number flow, it is one wait for the other
// side.
type watch struct {
	ctx    context.Context
	cancel context.CancelCauseFunc

	mu     sync.Mutex
	limit  time.Duration // of one wait; 0: none
	timer  *time.Timer
	broken error // why the body that was to be sent could not be read
}

func newWatch(ctx context.Context, limit time.Duration, r request) (context.Context, *watch) {
	ctx, cancel := context.WithCancelCause(ctx)
	w := &watch{ctx: ctx, cancel: cancel}
	if limit > 0 && !r.long {
		w.timer = time.AfterFunc(limit, func() { cancel(errSlow) })
		if !r.whole {
			w.limit = limit
		}
	}
	return ctx, w
}

func (w *watch) stop() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.limit = 0
	if w.timer != nil {
		w.timer.Stop()
	}
	w.cancel(nil)
}

// lost looks whether it was the time limit that ended a try. Then another would
// only take as long again.
func (w *watch) lost(l lost) lost {
	if errors.Is(context.Cause(w.ctx), errSlow) {
		return lost{cause: errSlow, final: true}
	}
	return l
}

// moved starts the wait anew; at rest while this side is at work.
func (w *watch) moved(waiting bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.limit == 0 {
		return
	}
	w.timer.Stop()
	if waiting {
		w.timer.Reset(w.limit)
	}
}

// breaks notes why the body that was to be sent could not be read.
func (w *watch) breaks(err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.broken = err
}

// unread is the fault of a try that failed on this side of the connection: what
// was to be sent could not be read. Nil for any other failure.
func (w *watch) unread(err error) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.broken == nil || !errors.Is(err, w.broken) {
		return nil
	}
	return fault.New(fault.Invalid, "cannot read what is to be sent: %s", w.broken).WithCause(w.broken)
}

// sending is a body on its way to the server. The time that it takes to read it
// is not the server's; each wait between reads is, and that after the last.
type sending struct {
	io.ReadCloser
	clock *watch
	rest  int64 // bytes to come, as announced; below 0: unknown
}

func (b *sending) Read(p []byte) (int, error) {
	b.clock.moved(false)
	n, err := b.ReadCloser.Read(p)
	b.clock.moved(true)
	switch known := b.rest >= 0; {
	case known && int64(n) > b.rest, known && err == io.EOF && int64(n) < b.rest:
		err = errors.New("its size is not what it was")
	case known:
		b.rest -= int64(n)
	}
	if err != nil && err != io.EOF {
		b.clock.breaks(err)
	}
	return n, err
}

// receiving is an answer on its way here. Each read waits for the server; what
// is done between reads takes its own time.
type receiving struct {
	io.ReadCloser
	clock *watch
}

func (b receiving) Read(p []byte) (int, error) {
	b.clock.moved(true)
	n, err := b.ReadCloser.Read(p)
	b.clock.moved(false)
	return n, err
}

// source remembers the error of the reader, to tell it from that of a writer.
type source struct {
	r   io.Reader
	err error
}

func (s *source) Read(p []byte) (int, error) {
	n, err := s.r.Read(p)
	if err != nil && err != io.EOF {
		s.err = err
	}
	return n, err
}
