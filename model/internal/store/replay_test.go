package store

import (
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"pawl/model/fault"
	"pawl/model/register"
)

// answer is what the acts below give; it must come back whole.
type answer struct {
	ID    string
	Count int64
	When  time.Time
	List  []string
}

// A key makes a repeat give the first answer; whatever is not a repeat is done.
func TestReplayKeys(t *testing.T) {
	first := Act{Verb: "add", Actor: "H-1 via token", Key: "key 1", Print: []byte("print 1")}
	cases := []struct {
		name string
		edit func(*Act)
		wait time.Duration
		kind fault.Kind
		done bool // it is done anew
	}{
		{name: "the same again", edit: func(*Act) {}},
		{name: "the same, just before 30 days are over", edit: func(*Act) {}, wait: 30*24*time.Hour - 10*time.Second},
		{name: "the same after 30 days is new", edit: func(*Act) {}, wait: 30 * 24 * time.Hour, done: true},
		{name: "another request under the key is invalid (422)", edit: func(a *Act) { a.Print = []byte("print 2") }, kind: fault.Invalid},
		{name: "another actor's same key is new", edit: func(a *Act) { a.Actor = "H-2 via token" }, done: true},
		{name: "another key is new", edit: func(a *Act) { a.Key = "key 2" }, done: true},
		{name: "no key is new", edit: func(a *Act) { a.Key = "" }, done: true},
	}
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		for i, c := range cases {
			t.Run(c.name, func(t *testing.T) {
				runs, first := 0, first
				first.Actor = fmt.Sprintf("H-%d via local", i)
				add := func(act Act) (answer, error) {
					return Write(ctx, d, act, func(tx *Tx) (answer, error) {
						runs++
						id := fmt.Sprintf("H-%d-%d", i, runs)
						return answer{ID: id, Count: int64(runs), When: tx.Now().Time(), List: []string{"a", "b"}}, Put(tx, ptr(person(id, id)))
					})
				}
				a, err := add(first)
				if err != nil {
					t.Fatal(err)
				}
				at.clock.advance(c.wait)
				again := first
				c.edit(&again)
				b, err := add(again)
				switch {
				case c.kind != "":
					if !fault.Is(err, c.kind) || runs != 1 {
						t.Errorf("%v after %d runs, want %s", err, runs, c.kind)
					}
				case err != nil:
					t.Fatal(err)
				case c.done && (runs != 2 || b.ID == a.ID):
					t.Errorf("%d runs, %+v after %+v: want it done anew", runs, b, a)
				case !c.done && (runs != 1 || fmt.Sprint(a) != fmt.Sprint(b)):
					t.Errorf("%d runs, %+v after %+v: want the first answer", runs, b, a)
				}
			})
		}
	})
}

// Asked a second time while the first is still under way, an act is not refused for what
// it did itself: both are told the same. SQLite lets one act begin after the other.
func TestARepeatWhileTheFirstIsUnderWay(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		do(t, d, put(tool("T-1")))
		act := Act{Verb: "take", Actor: "a", Key: "key", Print: []byte("p")}
		var runs atomic.Int32
		second := make(chan bool, 10) // the second has asked for a kept answer, and found none
		take := func() (string, error) {
			return Write(ctx, d, act, func(tx *Tx) (string, error) {
				run := runs.Add(1)
				if run > 1 {
					second <- true
				}
				row, _, err := Change[register.Tool](tx, "T-1")
				if err != nil || row.Notes == "taken" {
					return "", orElse(err, fault.New(fault.Conflict, "it is taken"))
				}
				if run == 1 && at.engine == "postgres" {
					<-second
				}
				row.Notes = "taken"
				return fmt.Sprint("taken in run ", run), Put(tx, &row)
			})
		}
		var other string
		var err error
		var both sync.WaitGroup
		both.Go(func() { other, err = take() })
		for runs.Load() == 0 {
			runtime.Gosched()
		}
		first, mine := take()
		both.Wait()
		if err != nil || mine != nil || first != other || size(t, d) != 2 {
			t.Errorf("%q, %v and %q, %v with %d lines", first, mine, other, err, size(t, d))
		}
	})
}

// A refusal is not kept: asked again under the same key, it is decided afresh.
func TestARefusalIsDecidedAfresh(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		act := Act{Verb: "add", Actor: "a", Key: "key", Print: []byte("p")}
		if err := try(d, act, func(*Tx) error { return fault.New(fault.Conflict, "not now") }); !fault.Is(err, fault.Conflict) {
			t.Fatal(err)
		}
		if err := try(d, act, put(person("H-1", "Tech A"))); err != nil {
			t.Error(err)
		}
	})
}

// Of many who send the same act at once, all get the answer and one does it.
func TestRepeatsAtTheSameTime(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		errs := make(chan error)
		for i := range 10 {
			go func() {
				got, err := Write(ctx, d, Act{Verb: "add", Actor: "a", Key: "key", Print: []byte("p")}, func(tx *Tx) (string, error) {
					id, err := tx.NewID('H')
					return id, orElse(err, Put(tx, ptr(person(id, fmt.Sprint("Tech ", i)))))
				})
				if err == nil && len(got) != 10 {
					err = fmt.Errorf("answer %q", got)
				}
				errs <- err
			}()
		}
		for range 10 {
			if err := <-errs; err != nil {
				t.Error(err)
			}
		}
		if n := size(t, d); n != 1 {
			t.Errorf("%d lines, want 1", n)
		}
	})
}

func TestOldAnswersAreDropped(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		for i := range 3 {
			if err := try(d, Act{Verb: "add", Actor: "a", Key: fmt.Sprint(i), Print: []byte("p")}, put(person(fmt.Sprint("H-", i), fmt.Sprint(i)))); err != nil {
				t.Fatal(err)
			}
			at.clock.advance(15 * 24 * time.Hour)
		}
		var dropped int64
		do(t, d, func(tx *Tx) (err error) { dropped, err = tx.DropReplays(); return err })
		if left := tallies(t, at.raw(t))["replays"]; dropped != 2 || left != 1 {
			t.Errorf("%d dropped, %d left; want 2 and 1", dropped, left)
		}
	})
}
