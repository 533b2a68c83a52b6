package main

import (
	"context"
	"crypto/rand"
	"fmt"
	"slices"

	"pawl/model/custody"
	"pawl/model/internal/store"
	"pawl/model/numbers"
	"pawl/model/register"
	"pawl/model/serials"
)

// marks are the serials of invented makers, by a number below a million.
var marks = []struct {
	maker  string
	serial func(n int) string
}{
	{"Brindle", func(n int) string { return fmt.Sprintf("KD4%06d", n) }},
	{"Torvik", func(n int) string { return fmt.Sprintf("%08d", n*97) }},
	{"Ashdown", func(n int) string { return fmt.Sprintf("%c%06d%c", 'A'+n%23, n, 'A'+n%19) }},
	{"Quell", quell},
	{"Marrow", func(n int) string { return fmt.Sprintf("SN%07d", 2_000_000+n) }},
	{"Ostrow", func(n int) string { return fmt.Sprintf("20%02d%02d%06d", 19+n%6, 1+n%12, n) }},
}

// quell is ten letters and digits without a pattern that shows.
func quell(n int) string {
	const symbols = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	x, out := uint64(n)+1, make([]byte, 10)
	for i := range out {
		x = x*6364136223846793005 + 1442695040888963407
		out[i] = symbols[x>>33%uint64(len(symbols))]
	}
	return string(out)
}

// marked gives the maker and serial of the tool that is made as number i.
func marked(i int) (maker, serial string) {
	m := marks[i%len(marks)]
	return m.maker, m.serial(i / len(marks) * 7919 % 1_000_003)
}

// fill makes a folder with so many tools, each with its number, serial and past, and gives
// their numbers. It writes them through the store, many in one act, and begins where an
// earlier run in the same folder ended.
func fill(ctx context.Context, dir string, many int) ([]numbers.Number, error) {
	db, err := store.Open(ctx, store.Config{Dir: dir, Program: "bench", Clock: now, Chance: rand.Reader})
	if err != nil {
		return nil, err
	}
	defer db.Close()
	all, err := firstNumbers(many)
	if err != nil {
		return nil, err
	}
	const each = 5_000
	for first := 0; first < many; first += each {
		some := all[first:min(first+each, many)]
		if there, err := finished(ctx, db, first+len(some)-1); err != nil || there {
			if err != nil {
				return nil, err
			}
			continue
		}
		rows, given := make([]register.Tool, len(some)), make([]register.NumberRow, len(some))
		for i, n := range some {
			maker, serial := marked(first + i)
			rows[i] = register.Tool{ID: toolID(first + i), Number: n, Kind: "ratchet", Maker: maker, MakerKey: serials.MakerKey(maker), Serial: serial, SerialKey: serial}
			given[i] = register.NumberRow{ID: string(n), State: register.Assigned, Tool: rows[i].ID}
		}
		if err := registered(ctx, db, rows, given); err != nil {
			return nil, err
		}
		for k := range stretches {
			if err := outAndBack(ctx, db, rows, k); err != nil {
				return nil, err
			}
		}
	}
	return all, nil
}

func toolID(i int) string { return fmt.Sprintf("T-%08d", i) }

func loanID(tool string, k int) string { return fmt.Sprintf("L-%s-%d", tool, k) }

// firstNumbers are the first that a shop gives out.
func firstNumbers(many int) (out []numbers.Number, err error) {
	for counter := int64(1); len(out) < many; counter++ {
		n, err := numbers.FromCounter(counter)
		if err != nil {
			return nil, err
		}
		if !n.Skipped() {
			out = append(out, n)
		}
	}
	return out, nil
}

// finished says whether the whole past of a tool is there. One that was broken off cannot
// be filled further: its folder is to be removed.
func finished(ctx context.Context, db *store.DB, tool int) (there bool, err error) {
	err = db.Read(ctx, func(rx *store.Rx) error {
		l, found, err := rx.Loan(loanID(toolID(tool), stretches-1))
		there = found && l.Ended != 0
		return err
	})
	return there, err
}

var filling = store.Act{Verb: "bench", Actor: "shop via local"}

func registered(ctx context.Context, db *store.DB, rows []register.Tool, given []register.NumberRow) error {
	_, err := store.Write(ctx, db, filling, func(tx *store.Tx) (bool, error) {
		r, g := slices.Clone(rows), slices.Clone(given) // it may run again
		for i := range r {
			r[i].Created, g[i].Since = tx.Now(), tx.Now()
		}
		if err := store.PutNew(tx, r); err != nil {
			return false, err
		}
		return true, store.PutNew(tx, g)
	})
	return err
}

// stretches is how often each tool was in somebody's hands: with its tool and its number
// that makes ten lines a tool, as in ten million of a million tools.
const stretches = 4

// outAndBack takes tools and returns them, all in one act each.
func outAndBack(ctx context.Context, db *store.DB, tools []register.Tool, k int) error {
	loans := make([]custody.Loan, len(tools))
	_, err := store.Write(ctx, db, filling, func(tx *store.Tx) (bool, error) {
		for i, t := range tools {
			loans[i] = custody.Loan{ID: loanID(t.ID, k), Tool: t.ID, State: custody.Out, Person: "P-1", Since: tx.Now(), Entered: tx.Now()}
		}
		return true, store.PutNew(tx, slices.Clone(loans))
	})
	if err != nil {
		return err
	}
	_, err = store.Write(ctx, db, filling, func(tx *store.Tx) (bool, error) {
		for _, l := range loans {
			row, _, err := store.Change[custody.Loan](tx, l.ID)
			if err != nil {
				return false, err
			}
			row.Ended, row.EndedHow = tx.Now(), custody.Returned
			if err := store.Put(tx, &row); err != nil {
				return false, err
			}
		}
		return true, nil
	})
	return err
}
