package store

import (
	"errors"
	"fmt"
	"maps"
	"strings"
	"testing"

	"pawl/model/fault"
	"pawl/model/ledger"
	"pawl/model/people"
)

// One act with Put after Put: each record that changed leaves one line, at the
// revision that it then has.
func TestPutLeavesOneLineForEachRecordThatChanged(t *testing.T) {
	rename := func(to string) func(*Tx, string) error {
		return func(tx *Tx, id string) error { return change(id, func(p *people.Person) { p.Name = to })(tx) }
	}
	both := func(first, second func(*Tx, string) error) func(*Tx, string) error {
		return func(tx *Tx, id string) error { return errors.Join(first(tx, id), second(tx, id)) }
	}
	type acts []func(tx *Tx, id string) error
	cases := []struct {
		name  string
		acts  acts // after somebody was added as Tech A
		lines int64
		rev   int64
		want  string
	}{
		{"a new row is revision 1", nil, 1, 1, "Tech A"},
		{"a change is the next revision", acts{rename("Tech B")}, 2, 2, "Tech B"},
		{"a row put as it was loaded is left alone", acts{rename("Tech A")}, 1, 1, "Tech A"},
		{"there and back in two acts are two changes", acts{rename("Tech B"), rename("Tech A")}, 3, 3, "Tech A"},
		{"twice in one act is one change, the last word", acts{both(rename("Tech B"), rename("Tech C"))}, 2, 2, "Tech C"},
		{"new and changed in one act is one line", acts{both(
			func(tx *Tx, id string) error { return Put(tx, ptr(person(id+"x", "Tech X"))) },
			func(tx *Tx, id string) error { return rename("Tech Y")(tx, id+"x") })}, 2, 1, "Tech A"},
		{"an emptied value is a change too", acts{func(tx *Tx, id string) error {
			return change(id, func(p *people.Person) { p.Badge = "" })(tx)
		}}, 2, 2, "Tech A"},
	}
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		for i, c := range cases {
			t.Run(c.name, func(t *testing.T) {
				before, id := size(t, d), fmt.Sprintf("H-%d", i)
				do(t, d, func(tx *Tx) error {
					p := person(id, "Tech A")
					p.NameKey = id // unique in the store
					return Put(tx, &p)
				})
				for _, act := range c.acts {
					do(t, d, func(tx *Tx) error { return act(tx, id) })
				}
				var p people.Person
				if err := d.Read(ctx, func(rx *Rx) (err error) { p, _, err = rx.Person(id); return err }); err != nil {
					t.Fatal(err)
				}
				if n := size(t, d) - before; n != c.lines || p.Rev != c.rev || p.Name != c.want {
					t.Errorf("%d lines, revision %d, %q; want %d, %d, %q", n, p.Rev, p.Name, c.lines, c.rev, c.want)
				}
			})
		}
	})
}

// The image beside a line is the row as it stands: every column but id and
// revision, an empty one left out.
func TestTheImageIsTheRow(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		row := tool("T-1")
		do(t, d, put(row))
		var e []Entry
		if err := d.Read(ctx, func(rx *Rx) (err error) { e, err = rx.entries(0, 9); return err }); err != nil || len(e) != 1 {
			t.Fatal(e, err)
		}
		got, err := ledger.ParseImage(e[0].After)
		if err != nil {
			t.Fatal(err)
		}
		want := ledger.Image{"kind": "impact wrench", "maker": "Brindle", "maker_key": "BRINDLE", "model": "BW-2", "serial": "SNT-1",
			"serial_key": "SNT-1", "usage": "daily", "notes": "left drawer", "created": int64(1), "pieces": `[{"name":"case","count":1}]`,
			"bought": "2026-01-15", "price": int64(28900), "currency": "USD"}
		if !maps.Equal(got, want) {
			t.Errorf("image %v\nwant %v", got, want)
		}
		line, err := ledger.ParseLine(e[0].Raw)
		if err != nil || line.Digest != ledger.Digest(e[0].Salt, e[0].After) || line.Noun != "tool" || line.ID != "T-1" || line.Tools[0] != "T-1" || line.Rev != 1 {
			t.Errorf("line %+v, %v", line, err)
		}
	})
}

// What Put takes for a mistake of the program or of the caller.
func TestPutRefuses(t *testing.T) {
	cases := []struct {
		name string
		fn   func(*Tx) error
		kind fault.Kind
		says string // within the error or its cause
	}{
		{"a change that was not loaded for change", func(tx *Tx) error {
			p, _, err := tx.Person("H-1") // read, not loaded by Change
			p.Name = "Tech B"
			return orElse(err, Put(tx, &p))
		}, fault.Internal, "was not loaded for change"},
		{"a revision that is not the one kept", func(tx *Tx) error {
			p, _, err := Change[people.Person](tx, "H-1")
			p.Rev, p.Name = 5, "Tech B"
			return orElse(err, Put(tx, &p))
		}, fault.Stale, "changed since it was read"},
		{"text that no ledger holds", change("H-1", func(p *people.Person) { p.Name = "Tech\x00" }), fault.Invalid, "NUL"},
		{"a type that is not listed", func(tx *Tx) error { return Put(tx, &struct{ ID string }{"X"}) }, fault.Internal, ""},
	}
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		do(t, d, put(person("H-1", "Tech A")))
		before := tallies(t, at.raw(t))
		for _, c := range cases {
			t.Run(c.name, func(t *testing.T) {
				err := try(d, Act{Verb: "do", Actor: "shop via local"}, c.fn)
				f := fault.Of(err)
				if f == nil || f.Kind != c.kind {
					t.Fatalf("%v, want %s", err, c.kind)
				}
				cause := f.Message
				if f.Cause != nil {
					cause += ": " + f.Cause.Error()
				}
				if !strings.Contains(cause, c.says) {
					t.Errorf("%q does not say %q", cause, c.says)
				}
				if f.Kind == fault.Internal && strings.Contains(f.Error(), "store:") {
					t.Errorf("the message %q names the program's inside", f)
				}
			})
		}
		if after := tallies(t, at.raw(t)); !maps.Equal(before, after) {
			t.Errorf("rows before %v, after %v", before, after)
		}
	})
}
