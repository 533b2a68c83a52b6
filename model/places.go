package model

import (
	"context"
	"sort"

	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/people"
	"pawl/model/register"
)

// Places gives the tree as paths, parents first.
func (s *Shop) Places(ctx context.Context, by By) (out []PlaceView, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		tree, err := rx.Places()
		for id, p := range tree {
			out = append(out, PlaceView{Place: p, Path: tree.Path(id)})
		}
		return err
	})
	sort.Slice(out, func(i, j int) bool { return out[i].Path < out[j].Path })
	return out, err
}

// PlaceOfCode gives the path of the place whose printed code was scanned.
func (s *Shop) PlaceOfCode(ctx context.Context, by By, code string) (path string, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		tree, err := rx.Places()
		for id, p := range tree {
			if p.Code == code {
				path = tree.Path(id)
			}
		}
		if err == nil && path == "" {
			err = fault.New(fault.NotFound, "no place here has the code %s", code).WithHint("scan the label again, or find the place by its name")
		}
		return err
	})
	return path, err
}

// AddPlace adds a place by its path, with any parents missing. One that is
// there already is a Conflict.
func (s *Shop) AddPlace(ctx context.Context, by By, path string) (PlaceView, error) {
	return act(ctx, s, by, "places add", path, func(tx *store.Tx) (v PlaceView, err error) {
		if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
			return v, err
		}
		levels, err := register.SplitPath(path)
		if err != nil {
			return v, fault.At("#/path", "%s", fault.Of(err).Error())
		}
		if err := tx.Lock("places"); err != nil {
			return v, err
		}
		tree, err := tx.Places()
		if err != nil {
			return v, err
		}
		var at register.Place
		added := false
		for _, name := range levels {
			next, found := tree.Child(at.ID, name)
			if !found {
				if next, err = newPlace(tx, at.ID, name); err != nil {
					return v, err
				}
				tree[next.ID], added = next, true
			}
			at = next
		}
		if !added {
			return v, fault.New(fault.Conflict, "there is a place %q already", tree.Path(at.ID)).WithFact("id", at.ID)
		}
		return PlaceView{Place: at, Path: tree.Path(at.ID)}, nil
	})
}

func newPlace(tx *store.Tx, parent, name string) (p register.Place, err error) {
	p = register.Place{Parent: parent, Name: name, NameKey: names.Key(name)}
	if p.ID, err = tx.NewID('G'); err != nil {
		return p, err
	}
	if p.Code, err = newCode(tx, 'P'); err != nil {
		return p, err
	}
	return p, store.Put(tx, &p)
}
