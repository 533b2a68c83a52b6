package model

import (
	"context"
	"io"
	"slices"
	"strings"

	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/people"
	"pawl/model/worth"
)

// IndexReport is what an import of index values did, or would do.
type IndexReport struct {
	DryRun                          bool
	Rows, Added, Changed, Unchanged int
}

// PriceIndex gives the values of the price index that the shop goes by, by month.
func (s *Shop) PriceIndex(ctx context.Context, by By) (out []worth.IndexPoint, err error) {
	err = s.read(ctx, func(d *directory) error {
		out, err = d.IndexPoints()
		slices.SortStableFunc(out, func(a, b worth.IndexPoint) int {
			return strings.Compare(a.Month, b.Month)
		})
		return err
	})
	return out, err
}

// ImportIndex records values of a price index, from a CSV with the columns series,
// area, base, month and value: all rows or none. The shop goes by one index; a value
// that was revised is entered again.
func (s *Shop) ImportIndex(ctx context.Context, by By, file io.Reader, dryRun bool) (IndexReport, error) {
	rows, print, err := readRows(file)
	if err != nil {
		return IndexReport{}, err
	}
	if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
		return IndexReport{}, err
	}
	read := func(rx *store.Rx) (d *directory, known, typed []worth.IndexPoint, err error) {
		if d, err = readNames(rx); err != nil {
			return nil, nil, nil, err
		}
		loc, err := d.settings.Location()
		if err != nil {
			return nil, nil, nil, err
		}
		typed, bad := worth.ReadPoints(rows, d.Now().Day(loc))
		if err := rowsFault(bad, max(0, len(rows)-1)); err != nil {
			return nil, nil, nil, err
		}
		if known, err = d.IndexPoints(); err != nil {
			return nil, nil, nil, err
		}
		return d, known, typed, sameIndex(known, typed)
	}
	if dryRun {
		r := IndexReport{DryRun: true}
		err := s.db.Read(ctx, func(rx *store.Rx) error {
			_, known, typed, err := read(rx)
			for _, p := range typed {
				r.count(known, p)
			}
			return err
		})
		return r, err
	}
	return act(ctx, s, by, "worth index", print, func(tx *store.Tx) (r IndexReport, err error) {
		if err := tx.Lock("index"); err != nil {
			return r, err
		}
		_, known, typed, err := read(&tx.Rx)
		if err != nil {
			return r, err
		}
		for _, p := range typed {
			if err := r.put(tx, by, known, p); err != nil {
				return r, err
			}
		}
		return r, nil
	})
}

// sameIndex refuses values of another index than the one in use: figures moved by
// two are not to be compared.
func sameIndex(known, typed []worth.IndexPoint) error {
	if len(known) == 0 || len(typed) == 0 || known[0].SameSeries(typed[0]) {
		return nil
	}
	return fault.New(fault.Conflict, "the shop goes by another index: %s", known[0].Of()).WithFact("since", known[0].Entered.String()).
		WithHint("end it first: pawl worth index end")
}

// count says what a value would do, and gives the one of its month that is known.
func (r *IndexReport) count(known []worth.IndexPoint, p worth.IndexPoint) (was *worth.IndexPoint, same bool) {
	r.Rows++
	at := slices.IndexFunc(known, func(o worth.IndexPoint) bool { return o.Month == p.Month })
	switch {
	case at < 0:
		r.Added++
		return nil, false
	case known[at].Value == p.Value:
		r.Unchanged++
		return &known[at], true
	}
	r.Changed++
	return &known[at], false
}

func (r *IndexReport) put(tx *store.Tx, by By, known []worth.IndexPoint, p worth.IndexPoint) (err error) {
	was, same := r.count(known, p)
	switch {
	case same:
		return nil
	case was != nil:
		before, err := load[worth.IndexPoint](tx, was.ID, "value "+was.ID)
		if err != nil {
			return err
		}
		p.ID, p.Rev = before.ID, before.Rev
	default:
		if p.ID, err = tx.NewID('X'); err != nil {
			return err
		}
	}
	p.Entered, p.Person = tx.Now(), by.Person
	return store.Put(tx, &p)
}

// EndIndex says that the shop no longer goes by its index; its values stay on record.
func (s *Shop) EndIndex(ctx context.Context, by By) (IndexReport, error) {
	return act(ctx, s, by, "worth index end", nil, func(tx *store.Tx) (r IndexReport, err error) {
		if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
			return r, err
		}
		if err := tx.Lock("index"); err != nil {
			return r, err
		}
		all, err := tx.IndexPoints()
		if err == nil && len(all) == 0 {
			err = fault.New(fault.Conflict, "the shop goes by no index")
		}
		if err != nil {
			return r, err
		}
		for _, p := range all {
			if p, err = load[worth.IndexPoint](tx, p.ID, "value "+p.ID); err != nil {
				return r, err
			}
			if p.Ended != 0 {
				continue
			}
			p.Ended = tx.Now()
			if err := store.Put(tx, &p); err != nil {
				return r, err
			}
			r.Rows, r.Changed = r.Rows+1, r.Changed+1
		}
		return r, nil
	})
}
