package store

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"pawl/model/fault"
	"pawl/model/ledger"
	"pawl/model/people"
	"pawl/model/settings"
)

// The lines of one act stand together, in the order they were put, each with
// the seq of the first; the next act begins after them.
func TestLinesOfOneActStandTogether(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		do(t, d, func(tx *Tx) error {
			return errors.Join(put(person("H-1", "Tech A"))(tx), put(tool("T-1"))(tx), put(person("H-2", "Tech B"))(tx))
		})
		do(t, d, put(person("H-3", "Tech C")))
		do(t, d, func(tx *Tx) error { return errors.Join(put(person("H-4", "Tech D"))(tx), put(tool("T-2"))(tx)) })
		var got []string
		for _, l := range allLines(t, d) {
			got = append(got, fmt.Sprintf("%d %d %s %s %d %s %s", l.Seq, l.Act, l.Noun, l.ID, l.Rev, l.Actor, l.Verb))
		}
		want := []string{
			"0 0 person H-1 1 shop via local do", "1 0 tool T-1 1 shop via local do", "2 0 person H-2 1 shop via local do",
			"3 3 person H-3 1 shop via local do",
			"4 4 person H-4 1 shop via local do", "5 4 tool T-2 1 shop via local do"}
		if strings.Join(got, "\n") != strings.Join(want, "\n") {
			t.Errorf("lines\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
		}
	})
}

func allLines(t testing.TB, d *DB) (out []ledger.Line) {
	t.Helper()
	err := d.Read(ctx, func(rx *Rx) error {
		all, err := rx.entries(0, 1_000_000)
		for _, e := range all {
			l, err := ledger.ParseLine(e.Raw)
			if err != nil {
				return err
			}
			out = append(out, l)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// An act that fails leaves nothing: no row, no line, nothing derived, no
// answer under its key.
func TestAFailedActLeavesNothing(t *testing.T) {
	refused := fault.New(fault.Refused, "a rule says no").WithFact("since", "today")
	cases := []struct {
		name string
		end  func(*Tx) error
		kind fault.Kind
	}{
		{"refused by a rule", func(*Tx) error { return refused }, fault.Refused},
		{"an error of the driver", func(tx *Tx) error { _, err := tx.exec("INSERT INTO nowhere VALUES (1)"); return err }, fault.Internal},
		{"an error that nobody classified", func(*Tx) error { return errors.New("open /var/secret: denied") }, fault.Internal},
		{"a panic", func(*Tx) error { panic("index 7 of /var/secret") }, fault.Internal},
	}
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		do(t, d, put(person("H-1", "Tech A")))
		raw := at.raw(t)
		before := tallies(t, raw)
		for _, c := range cases {
			t.Run(c.name, func(t *testing.T) {
				act := Act{Verb: "do", Actor: "shop via local", Key: "key 1", Print: []byte("p")}
				err := try(d, act, func(tx *Tx) error {
					return errors.Join(put(tool("T-1"))(tx), tx.KeepUpload(Upload{SHA256: "aa", Who: "x"}), c.end(tx))
				})
				f := fault.Of(err)
				if f == nil || f.Kind != c.kind {
					t.Fatalf("%v, want %s", err, c.kind)
				}
				if strings.Contains(f.Error(), "secret") || strings.Contains(f.Error(), "nowhere") || strings.Contains(f.Error(), ".go") {
					t.Errorf("the message %q names the program's inside", f)
				}
				if after := tallies(t, raw); !maps.Equal(before, after) {
					t.Errorf("rows before %v\nafter %v", before, after)
				}
			})
		}
		do(t, d, put(tool("T-1"))) // and the store goes on
	})
}

// The caller's context counts until the act begins, and not after.
func TestTheCallersContextEndsAtTheDoor(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		t.Run("gone before the start: never begun", func(t *testing.T) {
			gone, cancel := context.WithCancel(ctx)
			cancel()
			ran := false
			_, err := Write(gone, d, Act{Verb: "do", Actor: "a"}, func(*Tx) (int, error) { ran = true; return 0, nil })
			if !fault.Is(err, fault.Unavailable) || !errors.Is(err, context.Canceled) || ran || size(t, d) != 0 {
				t.Errorf("%v, ran %v, %d lines", err, ran, size(t, d))
			}
		})
		t.Run("gone after the start: finished all the same", func(t *testing.T) {
			going, cancel := context.WithCancel(ctx)
			answer, err := Write(going, d, Act{Verb: "do", Actor: "a"}, func(tx *Tx) (string, error) {
				cancel()
				return "kept", Put(tx, ptr(person("H-1", "Tech A")))
			})
			if err != nil || answer != "kept" || size(t, d) != 1 {
				t.Errorf("%q, %v, %d lines", answer, err, size(t, d))
			}
		})
		t.Run("a view is not begun either", func(t *testing.T) {
			gone, cancel := context.WithCancel(ctx)
			cancel()
			if err := d.Read(gone, func(*Rx) error { t.Error("it was"); return nil }); !fault.Is(err, fault.Unavailable) {
				t.Error(err)
			}
		})
	})
}

func ptr[T any](v T) *T { return &v }

func TestAClosedStoreIsUnavailable(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		d, err := Open(ctx, at.Config)
		if err != nil {
			t.Fatal(err)
		}
		if err := d.Close(); err != nil {
			t.Fatal(err)
		}
		if err := try(d, Act{Verb: "do", Actor: "a"}, put(person("H-1", "Tech A"))); !fault.Is(err, fault.Unavailable) {
			t.Errorf("write: %v", err)
		}
		if err := d.Read(ctx, func(*Rx) error { return nil }); !fault.Is(err, fault.Unavailable) {
			t.Errorf("read: %v", err)
		}
		if err := d.Close(); err != nil {
			t.Errorf("closing twice: %v", err)
		}
	})
}

// Many callers with acts of many sorts on few records: each either stands or is
// told why not, and the ledger holds exactly what stands.
func TestManyCallers(t *testing.T) {
	callers, acts := 8, pawlSize(8, 60, 200)
	onBoth(t, func(t *testing.T, at *site) {
		for _, batch := range []int{1, 5} {
			t.Run(fmt.Sprintf("batch %d", batch), func(t *testing.T) {
				at := newSite(t, at.engine)
				at.Batch = batch
				d := at.open(t)
				first := settings.Default()
				do(t, d, func(tx *Tx) error {
					return errors.Join(Put(tx, &first), put(person("H-1", "Tech A"))(tx), put(person("H-2", "Tech B"))(tx))
				})
				var stood [8]int64
				var all sync.WaitGroup
				for c := range callers {
					all.Go(func() { stood[c] = mixedActs(t, d, c, acts) })
				}
				all.Wait()
				want := int64(3)
				for _, n := range stood {
					want += n
				}
				if n := size(t, d); n != want {
					t.Errorf("%d lines, want %d", n, want)
				}
			})
		}
	})
}

// mixedActs gives the number of lines that its acts left.
func mixedActs(t *testing.T, d *DB, caller, acts int) (lines int64) {
	for i := range acts {
		id := fmt.Sprintf("T-%d-%d", caller, i)
		var err error
		n := int64(0)
		switch i % 6 {
		case 0: // a tool of one's own
			n, err = 1, try(d, Act{Verb: "do", Actor: "a"}, put(tool(id)))
		case 1: // the one row that all want
			n, err = 1, try(d, Act{Verb: "do", Actor: "a"}, change(settings.ID, func(s *settings.Settings) { s.Name += "x" }))
		case 2: // two rows that all want, in the order of their ids
			n, err = 2, try(d, Act{Verb: "do", Actor: "a"}, func(tx *Tx) error {
				longer := func(p *people.Person) { p.Badge += "x" }
				return orElse(change("H-1", longer)(tx), change("H-2", longer)(tx))
			})
		case 3: // a name that only one can have, asked for first
			err = try(d, Act{Verb: "do", Actor: "a"}, func(tx *Tx) error {
				all, err := tx.People()
				for _, p := range all {
					if p.NameKey == fmt.Sprint("tech ", i) {
						return fault.New(fault.Conflict, "taken")
					}
				}
				return orElse(err, Put(tx, ptr(person(fmt.Sprintf("H-%d-%d", caller, i), fmt.Sprint("Tech ", i)))))
			})
			if err == nil {
				n = 1
			} else if fault.Is(err, fault.Conflict) {
				err = nil
			}
		case 4: // refused after writing
			err = try(d, Act{Verb: "do", Actor: "a"}, func(tx *Tx) error {
				return orElse(put(tool(id))(tx), fault.New(fault.Refused, "no"))
			})
			if fault.Is(err, fault.Refused) {
				err = nil
			}
		case 5: // the same key from all callers
			err = try(d, Act{Verb: "do", Actor: "a", Key: fmt.Sprint(i), Print: []byte("p")}, func(tx *Tx) error { return nil })
		}
		if err != nil {
			t.Errorf("caller %d, act %d: %v (cause %v)", caller, i, err, errors.Unwrap(err))
			continue
		}
		lines += n
	}
	return lines
}

// Two acts that take two rows in opposite order: PostgreSQL breaks the deadlock
// (deadlock_detected, 40P01) and the one that lost runs again. SQLite has one
// writer, so the second never meets the first.
func TestActsThatMeetRunAgain(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		do(t, d, func(tx *Tx) error {
			return orElse(put(person("H-1", "Tech A"))(tx), put(person("H-2", "Tech B"))(tx))
		})
		var runs atomic.Int32
		both := make(chan bool, 2) // each says that it holds its first row
		swap := func(a, b string) error {
			return try(d, Act{Verb: "do", Actor: "a"}, func(tx *Tx) error {
				longer := func(p *people.Person) { p.Badge += "x" }
				err := change(a, longer)(tx)
				if run := runs.Add(1); at.engine == "postgres" && run <= 2 {
					both <- true
					for len(both) < 2 {
						runtime.Gosched()
					}
				}
				return orElse(err, change(b, longer)(tx))
			})
		}
		first := make(chan error)
		go func() { first <- swap("H-1", "H-2") }()
		if err := orElse(swap("H-2", "H-1"), <-first); err != nil {
			t.Fatal(err)
		}
		least := map[string]int32{"sqlite": 2, "postgres": 3}[at.engine]
		if n := size(t, d); n != 6 || runs.Load() < least {
			t.Errorf("%d lines after %d runs; want 6 after %d or more", n, runs.Load(), least)
		}
	})
}
