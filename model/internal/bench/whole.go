package main

import (
	"context"
	"crypto/rand"
	"fmt"
	"path/filepath"
	"time"

	"pawl/model"
	"pawl/model/internal/store"
)

// verifyRow is the check of all lines beside reading and decoding them.
func verifyRow(ctx context.Context, _ string, p *place) ([]measured, error) {
	db, err := store.Open(ctx, store.Config{Dir: p.dir, Existing: true, Program: "bench", Clock: now, Chance: rand.Reader})
	if err != nil {
		return nil, err
	}
	defer db.Close()
	read := int64(0)
	limit, err := took(func() error {
		return db.Read(ctx, func(rx *store.Rx) error {
			const each = 10_000
			for {
				lines, err := rx.LinesFrom(read, each)
				if err != nil {
					return err
				}
				if read += int64(len(lines)); len(lines) < each {
					return nil
				}
			}
		})
	})
	if err != nil {
		return nil, err
	}
	var v model.Verified
	ours, err := took(func() error {
		v, err = p.shop.Verify(ctx, atComputer, model.VerifyQuery{})
		return err
	})
	if err == nil && (v.Lines != read || len(v.Problems) > 0) {
		err = fmt.Errorf("%d lines were read, %d verified, with %q", read, v.Lines, v.Problems)
	}
	return []measured{{what: "verify", more: fmt.Sprintf(" of %d lines", read), limit: "reading and decoding the lines", ours: ours, least: limit, goal: 2.5}}, err
}

// longestHold is how long a writer may wait for a backup.
const longestHold = 250 * time.Millisecond

// backupRow is a backup while others write, beside copying the file. A backup verifies
// what it copied, so it stands beside both as well.
func backupRow(ctx context.Context, work string, p *place) ([]measured, error) {
	limit, err := took(func() error { return copyFile(shopFile(p.dir), filepath.Join(work, "copied.db")) })
	if err != nil {
		return nil, err
	}
	checked, err := took(func() error {
		_, err := p.shop.Verify(ctx, atComputer, model.VerifyQuery{})
		return err
	})
	if err != nil {
		return nil, err
	}
	stop, longest := make(chan bool), make(chan held)
	go func() { longest <- keepWriting(ctx, p, stop) }()
	ours, err := took(func() error {
		_, err := p.shop.Backup(ctx, filepath.Join(work, "backup"), "")
		return err
	})
	close(stop)
	wrote := <-longest
	if err == nil {
		err = wrote.err
	}
	return []measured{
		{what: "backup while others write", limit: "copying the file", ours: ours, least: limit, goal: 4},
		{what: "the same", limit: "copying the file, and verifying it", ours: ours, least: limit + checked, goal: 4},
		{what: "the longest that a writer waited", more: fmt.Sprintf(" of %d", wrote.acts), limit: "a quarter of a second", ours: wrote.longest, least: longestHold, goal: 1},
	}, err
}

// held is how a writer fared.
type held struct {
	acts    int
	longest time.Duration
	err     error
}

// keepWriting takes and returns a tool until it is told to stop.
func keepWriting(ctx context.Context, p *place, stop chan bool) (out held) {
	person, err := p.shop.AddPerson(ctx, atComputer, model.NewPerson{Name: "Tech " + now().Format("150405.000000"), Role: "technician"})
	by, number := atComputer, string(p.tools[0])
	if by.Person, by.Name, out.err = person.ID, person.Name, err; err != nil {
		return out
	}
	for {
		select {
		case <-stop:
			if out.acts%2 == 0 { // it is back where it was
				return out
			}
		default:
		}
		d, err := took(func() error {
			if out.acts%2 == 0 {
				_, err := p.shop.Take(ctx, by, number, model.Take{})
				return err
			}
			_, err := p.shop.Return(ctx, by, number, model.Return{})
			return err
		})
		if out.acts++; err != nil {
			out.err = err
			return out
		}
		out.longest = max(out.longest, d)
	}
}
