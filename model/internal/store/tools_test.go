package store

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/numbers"
	"pawl/model/register"
	"pawl/model/serials"
)

// What a text fits is found whether few tools have its words, many have, or none: the same
// that looking at each tool gives, in the order of the numbers, gone ones counted apart.
func TestToolsByText(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		all := manyTools(t, d, fewTools+300)
		texts := rapid.SliceOfN(rapid.SampledFrom([]string{
			"ratchet", "rat", "hexagon", "left", "odd", "seldom", "nothing", "KD00", "D0042", "KD0O42", "OO4", "!", "é",
		}), 1, 3)
		checks(t, pawlSize(25, 100, 500))
		rapid.Check(t, func(rt *rapid.T) {
			q := ToolQuery{Text: strings.Join(texts.Draw(rt, "text"), " "), Limit: rapid.SampledFrom([]int{1, 7, 0}).Draw(rt, "limit"),
				Gone: rapid.Bool().Draw(rt, "gone"), After: all[rapid.IntRange(0, len(all)-1).Draw(rt, "after")].Number}
			if rapid.IntRange(0, 3).Draw(rt, "number") == 0 {
				q.Number = all[rapid.IntRange(0, len(all)-1).Draw(rt, "which")].Number
			}
			var want, gone []string
			for _, x := range all {
				switch {
				case x.Number <= q.After || !fits(q, x):
				case x.Gone == 0 || q.Gone || x.Number == q.Number:
					want = append(want, x.ID)
				}
				if x.Number > q.After && x.Gone != 0 && fits(q, x) {
					gone = append(gone, x.ID)
				}
			}
			if q.Limit > 0 && len(want) > q.Limit {
				want = want[:q.Limit]
			}
			err := d.Read(ctx, func(rx *Rx) error {
				rows, err := rx.Tools(q)
				if err != nil {
					return err
				}
				var got []string
				for _, r := range rows {
					got = append(got, r.ID)
				}
				if !slices.Equal(got, want) {
					rt.Fatalf("%+v gives %d tools %.20v, want %d %.20v", q, len(got), got, len(want), want)
				}
				n, err := rx.GoneTools(q)
				if n != len(gone) {
					rt.Fatalf("%+v counts %d gone tools, want %d", q, n, len(gone))
				}
				return err
			})
			if err != nil {
				rt.Fatal(err)
			}
		})
	})
}

// manyTools are so many with a word that all have, words that some have, and one for ten.
func manyTools(t *testing.T, d *DB, many int) []register.Tool {
	t.Helper()
	all, given := make([]register.Tool, many), make([]register.NumberRow, many)
	for i := range all {
		n, err := numbers.FromCounter(int64(1000 + i))
		if err != nil {
			t.Fatal(err)
		}
		serial := fmt.Sprintf("KD%04d", i)
		x := register.Tool{ID: fmt.Sprintf("T-%05d", i), Number: n, Kind: "ratchet", Serial: serial, SerialKey: serials.Key(serial)}
		switch {
		case i%(many/10) == 3:
			x.Model = "seldom"
		case i%2 == 0:
			x.Model = "hexagon left"
		default:
			x.Model = "odd"
		}
		if i%9 == 0 {
			x.Gone, x.GoneWhy = 1, "sold"
		}
		all[i], given[i] = x, register.NumberRow{ID: string(n), State: register.Assigned, Tool: x.ID}
	}
	do(t, d, func(tx *Tx) error {
		rows, numbers := slices.Clone(all), slices.Clone(given)
		for i := range rows {
			rows[i].Created, numbers[i].Since = tx.Now(), tx.Now()
		}
		if err := PutNew(tx, rows); err != nil {
			return err
		}
		return PutNew(tx, numbers)
	})
	return all
}

// fits looks at a tool: it has the number, all the words, or the serial holds the text.
func fits(q ToolQuery, x register.Tool) bool {
	if x.Number == q.Number {
		return true
	}
	asked, have := serials.Words(q.Text), serials.Words(x.Kind+" "+x.Model+" "+x.Serial)
	worded := len(asked) > 0
	for _, w := range asked {
		worded = worded && slices.ContainsFunc(have, func(h string) bool { return strings.HasPrefix(h, w) })
	}
	part := serials.Fold(serials.Key(q.Text))
	return worded || len([]rune(part)) >= minSerialPart && strings.Contains(serials.Fold(x.SerialKey), part)
}
