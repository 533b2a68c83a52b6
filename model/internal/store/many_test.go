package store

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"testing"

	"pawl/model/register"
)

// Many new rows at once leave what they would leave one by one: the same rows,
// the same lines to the byte, the same hashes and search tables.
func TestPutNewIsPutOfEach(t *testing.T) {
	const rows = 2*batchRows + 7
	onBoth(t, func(t *testing.T, at *site) {
		other := newSite(t, at.engine)
		one, many := at.open(t), other.open(t)
		made := func() (all []register.Tool) {
			for i := range rows {
				all = append(all, tool(fmt.Sprintf("T-%04d", i)))
			}
			return all
		}
		do(t, one, func(tx *Tx) error {
			var failed error
			for _, row := range made() {
				failed = errors.Join(failed, Put(tx, &row))
			}
			return failed
		})
		do(t, many, func(tx *Tx) error { return PutNew(tx, made()) })
		if a, b := tallies(t, at.raw(t)), tallies(t, other.raw(t)); !maps.Equal(a, b) || a["tools"] != rows || a["lines"] != rows {
			t.Errorf("one by one %v\nat once    %v", a, b)
		}
		for _, query := range []string{"SELECT line FROM lines", "SELECT after FROM lines", "SELECT hash FROM hashes", "SELECT word || tool FROM words", "SELECT tool || folded FROM serial_keys"} {
			if !slices.Equal(at.strings(t, query), other.strings(t, query)) {
				t.Errorf("%s differs", query)
			}
		}
	})
}

func TestPutNewTakesNewRowsOnly(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		old := tool("T-1")
		do(t, d, put(old))
		old.Rev = 1
		for name, rows := range map[string][]register.Tool{"a row that is there": {old}, "twice": {tool("T-2"), tool("T-2")}} {
			if err := try(d, Act{Verb: "do", Actor: "shop via local"}, func(tx *Tx) error { return PutNew(tx, rows) }); err == nil {
				t.Errorf("%s was taken", name)
			}
		}
		if size(t, d) != 1 {
			t.Errorf("%d lines", size(t, d))
		}
	})
}

// Serials are found by maker and key, as the one question finds them.
func TestToolsWithSerialsFindsWhatOneFinds(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		nameless := tool("T-3")
		nameless.Maker, nameless.MakerKey = "", ""
		do(t, d, func(tx *Tx) error { return PutNew(tx, []register.Tool{tool("T-1"), tool("T-2"), nameless}) })
		wanted := []SerialOf{{"BRINDLE", "SNT-1"}, {"BRINDLE", "SNT-3"}, {"", "SNT-3"}, {"OTHER", "SNT-1"}, {"BRINDLE", "NONE"}}
		for i := range lookRows {
			wanted = append(wanted, SerialOf{"BRINDLE", fmt.Sprint("X", i)})
		}
		wanted = append(wanted, SerialOf{"BRINDLE", "SNT-2"})
		err := d.Read(ctx, func(rx *Rx) error {
			got, err := rx.ToolsWithSerials(wanted)
			for _, w := range wanted {
				one, found, err := rx.ToolWithSerial(w.Maker, w.Serial)
				if err != nil || found != (got[w] != "") || one.ID != got[w] {
					t.Errorf("%v: %q, and alone %q %v", w, got[w], one.ID, err)
				}
			}
			if len(got) != 3 {
				t.Errorf("found %v", got)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	})
}

// A reader that has seen the lines up to one asks whether a record that it
// builds on changed since.
func TestChangedSince(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		do(t, d, put(tool("T-1")))
		seen := size(t, d)
		do(t, d, put(person("H-1", "Tech A")))
		for _, c := range []struct {
			seq   int64
			nouns []string
			want  bool
		}{{0, []string{"tool"}, true}, {seen, []string{"tool"}, false}, {seen, []string{"tool", "number", "person"}, true}, {seen + 1, []string{"person"}, false}} {
			var got bool
			if err := d.Read(ctx, func(rx *Rx) (err error) { got, err = rx.ChangedSince(c.seq, c.nouns...); return err }); err != nil || got != c.want {
				t.Errorf("%v from line %d: %v, %v", c.nouns, c.seq, got, err)
			}
		}
	})
}
