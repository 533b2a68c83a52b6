package store

import (
	"bytes"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/transparency-dev/merkle/compact"
	"github.com/transparency-dev/merkle/rfc6962"
	"pgregory.net/rapid"

	"pawl/model/fault"
	"pawl/model/ledger"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/serials"
)

// What is kept in the derived tables is what would be made anew, after any
// edits; and edits that were refused left nothing there.
func TestDerivedTablesAreWhatWouldBeMadeAnew(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		raw := at.raw(t)
		tools := 0
		checks(t, pawlSize(15, 60, 200))
		rapid.Check(t, func(rt *rapid.T) {
			for range rapid.IntRange(1, 4).Draw(rt, "acts") {
				tools = randomEdit(rt, d, tools)
			}
			kept := dump(t, raw, derived)
			if tools > 0 && len(kept) == 0 {
				rt.Fatal("nothing is derived")
			}
			do(t, d, (*Tx).RebuildDerived)
			if made := dump(t, raw, derived); kept != made {
				rt.Fatalf("kept\n%s\nmade anew\n%s", kept, made)
			}
		})
	})
}

// randomEdit adds a tool or changes one, in acts of one or two records, some of
// them refused. It gives the number of tools there are then.
func randomEdit(rt *rapid.T, d *DB, tools int) int {
	word := rapid.SampledFrom([]string{"", "impact wrench", "Kärcheß torque", "SN-0O1I", "½ inch", "a b c", "ﬀ"})
	text, lot := word.Draw(rt, "text"), word.Draw(rt, "lot")
	which := rapid.IntRange(0, tools).Draw(rt, "which") // the last is a new one
	serial, refused := rapid.Bool().Draw(rt, "serial"), rapid.IntRange(0, 3).Draw(rt, "refused") == 0
	id := fmt.Sprintf("T-%05d", which)
	err := try(d, Act{Verb: "do", Actor: "a"}, func(tx *Tx) error {
		var err error
		if which == tools {
			t := tool(id)
			t.Notes = text
			err = errors.Join(Put(tx, &t), put(person("H"+id, id))(tx))
		} else {
			err = change(id, func(t *register.Tool) {
				t.Model, t.Lot, t.Serial, t.SerialKey = text, lot, "", ""
				if serial {
					t.SerialKey = serials.Key("ZO" + t.ID)
				}
			})(tx)
		}
		if refused {
			return errRefused
		}
		return err
	})
	if err == nil && which == tools {
		tools++
	}
	if err != nil && !errors.Is(err, errRefused) {
		rt.Fatal(err)
	}
	return tools
}

var errRefused error = fault.New(fault.Refused, "changed one's mind")

// dump gives every row of the tables as text.
func dump(t testing.TB, db *sql.DB, tables []string) string {
	t.Helper()
	var out strings.Builder
	for _, table := range tables {
		rows, err := db.Query("SELECT * FROM " + quote(table) + " ORDER BY 1, 2")
		if err != nil {
			t.Fatal(err)
		}
		columns, err := rows.Columns()
		if err != nil {
			t.Fatal(err)
		}
		for rows.Next() {
			values, into := make([]any, len(columns)), make([]any, len(columns))
			for i := range values {
				into[i] = &values[i]
			}
			if err := rows.Scan(into...); err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(&out, "%s %q\n", table, values)
		}
		if err := errors.Join(rows.Err(), rows.Close()); err != nil {
			t.Fatal(err)
		}
	}
	return out.String()
}

// The root that the store gives, at every size, is that of RFC 6962 over the
// bytes it keeps, computed by transparency-dev/merkle.
func TestTheRootIsThatOfTheKeptLines(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		const lines = 40
		for i := range lines / 2 {
			do(t, d, func(tx *Tx) error {
				return errors.Join(put(person(fmt.Sprint("H-", i), fmt.Sprint(i)))(tx), put(tool(fmt.Sprint("T-", i)))(tx))
			})
		}
		err := d.Read(ctx, func(rx *Rx) error {
			all, err := rx.entries(0, 2*lines)
			if err != nil || len(all) != lines {
				return fmt.Errorf("%d lines, %w", len(all), err)
			}
			factory := compact.RangeFactory{Hash: rfc6962.DefaultHasher.HashChildren}
			tree := factory.NewEmptyRange(0)
			for i, e := range all {
				if err := tree.Append(rfc6962.DefaultHasher.HashLeaf(e.Raw), nil); err != nil {
					return err
				}
				want, err := tree.GetRootHash(nil)
				if err != nil {
					return err
				}
				got, err := rx.Root(int64(i + 1))
				if err != nil || !bytes.Equal(got[:], want) {
					t.Errorf("root of %d lines %x, %v; want %x", i+1, got, err, want)
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	})
}

// History gives the lines about one tool, oldest first, whatever they are
// lines of, page after page.
func TestHistoryIsByTool(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		do(t, d, func(tx *Tx) error {
			return errors.Join(put(tool("T-1"))(tx), put(tool("T-2"))(tx), put(person("H-1", "Tech A"))(tx),
				put(register.NumberRow{ID: "00EKM5", State: register.Assigned, Tool: "T-1"})(tx))
		})
		do(t, d, change("H-1", func(p *people.Person) { p.Name = "Tech B" }))
		do(t, d, change("T-1", func(t *register.Tool) { t.Notes = "lent" }))
		var got []string
		err := d.Read(ctx, func(rx *Rx) error {
			for from := int64(0); ; {
				page, err := rx.History("T-1", from, 2)
				if err != nil || len(page) == 0 {
					return err
				}
				for _, e := range page {
					l, err := ledger.ParseLine(e.Raw)
					if err != nil {
						return err
					}
					got = append(got, fmt.Sprintf("%d %s %s %d", l.Seq, l.Noun, l.ID, l.Rev))
					from = l.Seq + 1
				}
			}
		})
		want := "0 tool T-1 1, 3 number 00EKM5 1, 5 tool T-1 2"
		if err != nil || strings.Join(got, ", ") != want {
			t.Errorf("%v, %v; want %s", got, err, want)
		}
	})
}
