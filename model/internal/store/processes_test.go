package store

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"pawl/model/fault"
)

// Two processes on one store, the one with many writers: none fails, none is
// told of a lock, and the one with a single writer comes through while the
// other goes on.
func TestTwoProcessesWriteAtOnce(t *testing.T) {
	fromNothing(t, func(t *testing.T, at *site) {
		acts := pawlSize(500, 2_000, 10_000)
		if at.engine == "postgres" {
			acts /= 10
		}
		d := at.open(t)
		other := startHelper(t, at, fmt.Sprint("write ", acts))
		var over atomic.Bool
		var here atomic.Int64
		var all sync.WaitGroup
		for w := range 64 {
			all.Go(func() {
				for i := 0; !over.Load(); i++ {
					id := fmt.Sprintf("H-%d-%d", w, i)
					if err := try(d, Act{Verb: "do", Actor: "a"}, put(person(id, id))); err != nil {
						t.Errorf("writer %d, act %d: %v", w, i, err)
						return
					}
					here.Add(1)
				}
			})
		}
		other.wants(t, "done")
		during := here.Load()
		over.Store(true)
		all.Wait()
		other.end(t)
		// Turn by turn each gets about every second commit; a tenth is far from it.
		if at.engine == "sqlite" && during < int64(acts)/10 {
			t.Errorf("%d acts of this process while the other did %d", during, acts)
		}
		if n := size(t, d); n != int64(acts)+here.Load() {
			t.Errorf("%d lines, want %d and %d", n, acts, here.Load())
		}
	})
}

// An act waits for another process up to the limit, then says so; and it waits
// in such a way that it never lets go of a lock that a later act holds.
func TestAWaitThatIsGivenUp(t *testing.T) {
	at := emptySite(t, "sqlite")
	d := at.open(t)
	locks := d.engine.(*sqliteEngine).locks
	for _, name := range []string{"write.lock", "turn.lock"} {
		t.Run(name, func(t *testing.T) {
			locks.limit = 20 * time.Millisecond
			other, err := os.OpenFile(filepath.Join(at.Dir, name), os.O_RDWR, 0)
			if err != nil {
				t.Fatal(err)
			}
			defer other.Close()
			hold(t, other)
			for range 3 {
				err := try(d, Act{Verb: "do", Actor: "a"}, put(person("H-0", "Tech A")))
				if f := fault.Of(err); f == nil || f.Kind != fault.Unavailable || !strings.Contains(f.Message, "another process") {
					t.Fatalf("%v, want Unavailable", err)
				}
			}
			locks.limit = TurnLimit
			if err := syscall.Flock(int(other.Fd()), syscall.LOCK_UN); err != nil {
				t.Fatal(err)
			}
			for i := range 20 { // while the waits that were given up come to their end
				do(t, d, func(tx *Tx) error {
					probe, err := os.OpenFile(filepath.Join(at.Dir, "write.lock"), os.O_RDWR, 0)
					if err != nil {
						return err
					}
					defer probe.Close()
					if err := syscall.Flock(int(probe.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err == nil {
						t.Error("an act runs, and another process may begin one")
					}
					return put(person(fmt.Sprint("H-", name, i), fmt.Sprint(name, i)))(tx)
				})
			}
		})
	}
}

// Two views show the same, whatever is written while they begin; and where another process
// writes on and on, one view is to do for both.
func TestTwoViewsOfOneMoment(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		var over atomic.Bool
		var writers sync.WaitGroup
		for w := range 4 {
			writers.Go(func() {
				for i := 0; !over.Load(); i++ {
					if err := try(d, Act{Verb: "do", Actor: "a"}, put(person(fmt.Sprint("H-", w, "-", i), fmt.Sprint(w, i)))); err != nil {
						t.Error(err)
						return
					}
				}
			})
		}
		grew, last := 0, int64(0)
		for grew < 20 && !t.Failed() {
			err := d.ReadTwice(ctx, func(one, other *Rx) error {
				a, err := one.Size()
				b, otherErr := other.Size()
				if a != b || one == other {
					t.Errorf("one view of %d lines, the other of %d", a, b)
				}
				if a > last {
					grew, last = grew+1, a
				}
				return errors.Join(err, otherErr)
			})
			if err != nil {
				t.Fatal(err)
			}
		}
		over.Store(true)
		writers.Wait()
		if at.engine == "postgres" {
			return
		}
		d.engine.(*sqliteEngine).locks.limit = 20 * time.Millisecond
		other, err := os.OpenFile(filepath.Join(at.Dir, "write.lock"), os.O_RDWR, 0)
		if err != nil {
			t.Fatal(err)
		}
		hold(t, other)
		if r := verify(t, d); r.Lines < last || len(r.Problems) > 0 {
			t.Errorf("while another process writes: %+v", r)
		}
		if err := other.Close(); err != nil {
			t.Fatal(err)
		}
	})
}

func hold(t *testing.T, f *os.File) {
	t.Helper()
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX); err != nil {
		t.Fatal(err)
	}
}

// Work under a name is done by one process at a time, and by none twice at once.
func TestOneRunnerUnderAName(t *testing.T) {
	fromNothing(t, func(t *testing.T, at *site) {
		first, second := at.open(t), at.open(t)
		ran, err := first.Alone(ctx, "chores", func() error {
			for name, d := range map[string]*DB{"another process": second, "the same process": first} {
				if ran, err := d.Alone(ctx, "chores", func() error { t.Errorf("%s ran it as well", name); return nil }); ran || err != nil {
					t.Errorf("%s: %v, %v", name, ran, err)
				}
			}
			if ran, err := second.Alone(ctx, "other", func() error { return nil }); !ran || err != nil {
				t.Errorf("another name: %v, %v", ran, err)
			}
			return nil
		})
		if !ran || err != nil {
			t.Fatal(ran, err)
		}
		if ran, err := second.Alone(ctx, "chores", func() error { return nil }); !ran || err != nil {
			t.Errorf("afterwards: %v, %v", ran, err)
		}
		if ran, err := first.Alone(ctx, "chores", func() error { return fault.New(fault.Refused, "no") }); !ran || !fault.Is(err, fault.Refused) {
			t.Errorf("a failure: %v, %v", ran, err)
		}
	})
}
