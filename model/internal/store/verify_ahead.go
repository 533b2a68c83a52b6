package store

import "sync"

// ahead reads the next batch while its caller goes through the last one. Batches of one
// view share its connection, which answers one question at a time: turn.
type ahead[T any] struct {
	read func() (batch T, more bool, err error)
	turn *sync.Mutex
	next chan reading[T] // nil when nothing is read
}

// reading is what came of one read; panicked is what it panicked with.
type reading[T any] struct {
	batch    T
	more     bool
	err      error
	panicked any
}

// readAhead begins to read. Whoever calls it must call end.
func readAhead[T any](turn *sync.Mutex, read func() (batch T, more bool, err error)) *ahead[T] {
	a := &ahead[T]{read: read, turn: turn}
	a.begin()
	return a
}

func (a *ahead[T]) begin() {
	next := make(chan reading[T], 1)
	a.next = next
	go func() {
		var r reading[T]
		defer func() {
			r.panicked = recover()
			next <- r
		}()
		a.turn.Lock()
		defer a.turn.Unlock()
		r.batch, r.more, r.err = a.read()
	}()
}

// take gives the next batch; the one after the last is the zero T. A panic of the read is
// one of the caller, as if it had read itself.
func (a *ahead[T]) take() (batch T, err error) {
	if a.next == nil {
		return batch, nil
	}
	r := <-a.next
	a.next = nil
	if r.panicked != nil {
		panic(r.panicked)
	}
	if r.err == nil && r.more {
		a.begin()
	}
	return r.batch, r.err
}

// end waits for what is being read.
func (a *ahead[T]) end() {
	if a.next != nil {
		<-a.next
		a.next = nil
	}
}
