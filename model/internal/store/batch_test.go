package store

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"

	"pawl/model/fault"
)

// counting tells how many transactions were begun.
type counting struct {
	engine
	begun atomic.Int32
}

func (c *counting) turn() (func(), error) {
	c.begun.Add(1)
	return c.engine.turn()
}

// three are three acts that wait together, so that one commit takes them all.
type three struct {
	fn   [3]func(*Tx) error
	ctx  [3]context.Context
	long [3]bool
	errs [3]error
	runs [3]int // how often each was run
}

// run holds every writer of the store, lets the three wait behind, in order,
// and lets one writer go on. It gives the number of transactions that the three
// took. Before they begin, meanwhile is called.
func (w *three) run(t *testing.T, d *DB, meanwhile func()) (transactions int32) {
	t.Helper()
	c := &counting{engine: d.engine}
	d.engine = c
	defer func() { d.engine = c.engine }()
	var held, waiting sync.WaitGroup
	release := make([]chan struct{}, d.engine.writers())
	entered := make(chan struct{})
	for i := range release {
		release[i] = make(chan struct{})
		held.Go(func() {
			try(d, Act{Verb: "hold", Actor: "a"}, func(*Tx) error {
				entered <- struct{}{}
				<-release[i]
				return nil
			})
		})
		<-entered
	}
	before := c.begun.Load()
	for i := range w.fn {
		if w.ctx[i] == nil {
			w.ctx[i] = ctx
		}
		waiting.Go(func() {
			_, w.errs[i] = Write(w.ctx[i], d, Act{Verb: "do", Actor: "a", Long: w.long[i]}, func(tx *Tx) (int, error) {
				w.runs[i]++
				return 0, w.fn[i](tx)
			})
		})
		for len(d.queue) <= i { // until it waits behind those before it
			runtime.Gosched()
		}
	}
	if meanwhile != nil {
		meanwhile()
	}
	close(release[0])
	waiting.Wait()
	for _, r := range release[1:] {
		close(r)
	}
	held.Wait()
	return c.begun.Load() - before
}

// Three acts in one commit: what becomes of the others when the middle one is
// not to be.
func TestABatchOfThree(t *testing.T) {
	add := func(tx *Tx) error {
		id, err := tx.NewID('H')
		return orElse(err, Put(tx, ptr(person(id, id))))
	}
	broken := func(tx *Tx) error { _, err := tx.exec("INSERT INTO nowhere VALUES (1)"); return err }
	refused := func(tx *Tx) error { return orElse(add(tx), fault.New(fault.Refused, "no")) }
	panics := func(tx *Tx) error {
		if err := add(tx); err != nil {
			return err
		}
		panic("oh")
	}
	cases := []struct {
		name         string
		middle       func(*Tx) error
		gone         bool // the middle caller goes away while it waits
		long         bool // the middle act takes long
		kind         fault.Kind
		transactions int32
		runs         [3]int
		lines        int64
	}{
		{name: "all stand in one commit", middle: add, transactions: 1, runs: [3]int{1, 1, 1}, lines: 3},
		{name: "the middle caller is gone", middle: add, gone: true, kind: fault.Unavailable, transactions: 1, runs: [3]int{1, 0, 1}, lines: 2},
		{name: "the middle takes long", middle: add, long: true, transactions: 3, runs: [3]int{1, 1, 1}, lines: 3},
		{name: "the middle is refused by a rule", middle: refused, kind: fault.Refused, transactions: 1, runs: [3]int{1, 1, 1}, lines: 2},
		{name: "the middle panics", middle: panics, kind: fault.Internal, transactions: 1, runs: [3]int{1, 1, 1}, lines: 2},
		// The driver's failure may have cost the whole transaction, so each act runs
		// alone: the first a second time, the last for the first time.
		{name: "the middle fails in the driver", middle: broken, kind: fault.Internal, transactions: 4, runs: [3]int{2, 2, 1}, lines: 2},
	}
	onBoth(t, func(t *testing.T, at *site) {
		at.Batch = 3
		d := at.open(t)
		for _, c := range cases {
			t.Run(c.name, func(t *testing.T) {
				before := size(t, d)
				w := three{fn: [3]func(*Tx) error{add, c.middle, add}, long: [3]bool{1: c.long}}
				var meanwhile func()
				if c.gone {
					going, cancel := context.WithCancel(ctx)
					w.ctx[1], meanwhile = going, cancel
				}
				transactions := w.run(t, d, meanwhile)
				if w.errs[0] != nil || w.errs[2] != nil {
					t.Errorf("the others: %v, %v", fault.Of(w.errs[0]), w.errs[2])
				}
				if (c.kind == "" && w.errs[1] != nil) || (c.kind != "" && !fault.Is(w.errs[1], c.kind)) {
					t.Errorf("the middle: %v, want %q", w.errs[1], c.kind)
				}
				if c.gone && !errors.Is(w.errs[1], context.Canceled) {
					t.Errorf("the middle: %v, want its context's end as the cause", w.errs[1])
				}
				if lines := size(t, d) - before; transactions != c.transactions || w.runs != c.runs || lines != c.lines {
					t.Errorf("%d transactions, runs %v, %d lines; want %d, %v, %d", transactions, w.runs, lines, c.transactions, c.runs, c.lines)
				}
			})
		}
	})
}

// Each act of a batch is an act of its own in the ledger.
func TestActsOfABatchKeepTheirBoundaries(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		at.Batch = 3
		d := at.open(t)
		two := func(a, b string) func(*Tx) error {
			return func(tx *Tx) error { return orElse(put(person(a, a))(tx), put(person(b, b))(tx)) }
		}
		w := three{fn: [3]func(*Tx) error{two("H-1", "H-2"), put(person("H-3", "H-3")), two("H-4", "H-5")}}
		w.run(t, d, nil)
		var acts []int64
		for _, l := range allLines(t, d) {
			acts = append(acts, l.Act)
		}
		if fmt.Sprint(acts) != "[0 0 2 3 3]" {
			t.Errorf("acts %v, want [0 0 2 3 3]", acts)
		}
	})
}
