package model

import (
	"context"
	"sort"
	"strings"

	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
)

// Places gives the tree as paths, parents first, without what was closed.
func (s *Shop) Places(ctx context.Context, by By) (out []PlaceView, err error) {
	err = s.read(ctx, func(d *directory) error {
		for _, p := range d.places {
			if p.Withdrawn == 0 {
				out = append(out, d.placeView(p))
			}
		}
		return nil
	})
	sort.Slice(out, func(i, j int) bool { return out[i].Path < out[j].Path })
	return out, err
}

func (d *directory) placeView(p register.Place) PlaceView {
	return PlaceView{Place: p, Path: d.places.Path(p.ID), Whose: d.person(p.Person)}
}

// placeCalled finds a place by its path, by a name that only one has, by its id, or by
// what its printed code holds, P/CODE. A closed one is NotFound, and says so where it
// was asked for by what is printed.
func (d *directory) placeCalled(text string) (register.Place, error) {
	p, err := d.places.Resolve(text)
	if err == nil {
		return p, nil
	}
	if p, found := d.places[text]; found {
		return p, closed(p)
	}
	if sym, bad := numbers.ParseSymbol(text); bad == nil && sym.Kind == numbers.Place {
		return d.placeCoded(sym.Code)
	}
	return p, err
}

// placeCoded finds a place by its printed code.
func (d *directory) placeCoded(code string) (register.Place, error) {
	for _, p := range d.places {
		if p.Code == code {
			return p, closed(p)
		}
	}
	return register.Place{}, fault.New(fault.NotFound, "no place here has the code %s", code).WithHint("scan the label again, or find the place by its name")
}

func closed(p register.Place) error {
	if p.Withdrawn == 0 {
		return nil
	}
	return fault.New(fault.NotFound, "place %q was closed", p.Name).WithHint("take its label off").WithFact("since", p.Withdrawn.String())
}

// PlaceOfCode gives the path of the place whose printed code was scanned.
func (s *Shop) PlaceOfCode(ctx context.Context, by By, code string) (path string, err error) {
	err = s.read(ctx, func(d *directory) error {
		p, err := d.placeCoded(code)
		path = d.places.Path(p.ID)
		return err
	})
	return path, err
}

// AddPlace is AddPlaceOf for a place of everybody's.
func (s *Shop) AddPlace(ctx context.Context, by By, path string) (PlaceView, error) {
	return s.AddPlaceOf(ctx, by, path, "")
}

// AddPlaceOf adds a place by its path, with any parents missing, and says whose it is:
// the van of a person. One that is there already is a Conflict.
func (s *Shop) AddPlaceOf(ctx context.Context, by By, path, person string) (PlaceView, error) {
	var asked any = path
	if person = strings.TrimSpace(person); person != "" {
		asked = []any{path, person}
	}
	return act(ctx, s, by, "places add", asked, func(tx *store.Tx) (v PlaceView, err error) {
		if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
			return v, err
		}
		whose, err := personOf(tx, person)
		if err != nil {
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
		for i, name := range levels {
			next, found := tree.Child(at.ID, name)
			if !found {
				of := ""
				if i == len(levels)-1 {
					of = whose.ID
				}
				if next, err = newPlace(tx, at.ID, name, of); err != nil {
					return v, err
				}
				tree[next.ID], added = next, true
			}
			at = next
		}
		if !added {
			return v, fault.New(fault.Conflict, "there is a place %q already", tree.Path(at.ID)).WithFact("id", at.ID)
		}
		return PlaceView{Place: at, Path: tree.Path(at.ID), Whose: whose.Name}, nil
	})
}

// personOf is whose a new place is, by name; no name is nobody.
func personOf(tx *store.Tx, name string) (p people.Person, err error) {
	if name == "" {
		return p, nil
	}
	d, err := readNames(&tx.Rx)
	if err != nil {
		return p, err
	}
	if p, err = people.Match(d.people, name); err != nil {
		err = fault.At("#/person", "%s", fault.Of(err).Error())
	}
	return p, err
}

// placeAct runs one act on a place that managers do, while nobody else changes the
// tree. fn gives the place as it is to be; it leaves one line, and none of the tools.
func (s *Shop) placeAct(ctx context.Context, by By, verb, place string, asked any, fn func(*store.Tx, *directory, register.Place) (register.Place, error)) (PlaceView, error) {
	return act(ctx, s, by, verb, []any{place, asked}, func(tx *store.Tx) (v PlaceView, err error) {
		if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
			return v, err
		}
		if err := tx.Lock("places"); err != nil {
			return v, err
		}
		d, err := readNames(&tx.Rx)
		if err != nil {
			return v, err
		}
		p, err := d.placeCalled(place)
		if err != nil {
			return v, err
		}
		if p, err = load[register.Place](tx, p.ID, "place "+place); err != nil {
			return v, err
		}
		if p, err = fn(tx, d, p); err != nil {
			return v, err
		}
		if err := store.Put(tx, &p); err != nil {
			return v, err
		}
		d.places[p.ID] = p
		return d.placeView(p), nil
	})
}

// RenamePlace gives a place another name. One that a place beside it has is a Conflict.
func (s *Shop) RenamePlace(ctx context.Context, by By, place, name string) (PlaceView, error) {
	return s.placeAct(ctx, by, "places rename", place, name, func(_ *store.Tx, d *directory, p register.Place) (register.Place, error) {
		return d.places.MayRename(p, name)
	})
}

// MovePlace puts a place with all that is in it into another; an empty one is the top.
// Into itself, or beside one of the same name, is a Conflict.
func (s *Shop) MovePlace(ctx context.Context, by By, place, to string) (PlaceView, error) {
	return s.placeAct(ctx, by, "places move", place, to, func(_ *store.Tx, d *directory, p register.Place) (register.Place, error) {
		var into register.Place
		if strings.TrimSpace(to) != "" {
			var err error
			if into, err = d.placeCalled(to); err != nil {
				return p, fault.At("#/to", "%s", fault.Of(err).Error())
			}
		}
		return d.places.MayMove(p, into)
	})
}

// ClosePlace ends a place that nothing belongs in. Its code is never given to another;
// its name is free again.
func (s *Shop) ClosePlace(ctx context.Context, by By, place string) (PlaceView, error) {
	return s.placeAct(ctx, by, "places close", place, "", func(tx *store.Tx, d *directory, p register.Place) (register.Place, error) {
		tools, err := tx.Belonging([]string{p.ID})
		if err != nil {
			return p, err
		}
		p.Withdrawn = tx.Now()
		return p, d.places.MayClose(p, tools[p.ID])
	})
}

// GivePlace says whose place it is, by name; empty is everybody's.
func (s *Shop) GivePlace(ctx context.Context, by By, place, person string) (PlaceView, error) {
	return s.placeAct(ctx, by, "places whose", place, person, func(_ *store.Tx, d *directory, p register.Place) (register.Place, error) {
		whose := people.Person{}
		if strings.TrimSpace(person) != "" {
			var err error
			if whose, err = people.Match(d.people, person); err != nil {
				return p, fault.At("#/person", "%s", fault.Of(err).Error())
			}
		}
		if p.Person == whose.ID {
			return p, fault.New(fault.Conflict, "place %q is so already", d.places.Path(p.ID)).WithHint("nothing to do")
		}
		p.Person = whose.ID
		return p, nil
	})
}

// PhotographPlace joins an uploaded photo of the full drawer to a place: by whoever may
// edit what is the shop's, and in a place of somebody's own by them.
func (s *Shop) PhotographPlace(ctx context.Context, by By, place string, in register.Attach) (PlaceView, error) {
	in.Kind = string(evidence.Drawer)
	return act(ctx, s, by, "places photo", []any{place, in}, func(tx *store.Tx) (v PlaceView, err error) {
		d, err := readNames(&tx.Rx)
		if err != nil {
			return v, err
		}
		p, err := d.placeCalled(place)
		if err != nil {
			return v, err
		}
		if err := allowed(by, people.EditTool, people.Object{Owner: p.Person}); err != nil {
			return v, err
		}
		if err := tx.Lock("originals"); err != nil { // until the record stands, nothing else keeps the bytes from being removed
			return v, err
		}
		have, err := tx.PhotosOfPlace(p.ID)
		if err != nil {
			return v, err
		}
		up, err := s.mayAttach(tx, by, d, in.SHA256)
		if err != nil {
			return v, err
		}
		switch {
		case len(have) > 0 && have[0].SHA256 == in.SHA256:
			return v, fault.New(fault.Conflict, "that is the photo of place %q already", d.places.Path(p.ID)).WithHint("nothing to do")
		case len(have) >= MaxAttach:
			return v, fault.New(fault.Conflict, "place %q has %d photos, which is the most", d.places.Path(p.ID), len(have))
		}
		e, err := newRecord(tx, by, evidence.Drawer, up, in)
		if err != nil {
			return v, err
		}
		e.Place = p.ID
		return d.placeView(p), store.Put(tx, &e)
	})
}

// newPlace adds a place to another; of is the id of whose it is, empty for everybody's.
func newPlace(tx *store.Tx, parent, name, of string) (p register.Place, err error) {
	p = register.Place{Parent: parent, Name: name, NameKey: names.Key(name), Person: of}
	if p.ID, err = tx.NewID('G'); err != nil {
		return p, err
	}
	if p.Code, err = newCode(tx, 'P'); err != nil {
		return p, err
	}
	return p, store.Put(tx, &p)
}

// holdPlaces keeps places that tools are put into from being closed until the act ends.
// One that was closed since it was looked up is a Conflict; no place is none.
func holdPlaces(tx *store.Tx, ids ...string) error {
	for _, id := range ids {
		if id == "" {
			continue
		}
		p, err := load[register.Place](tx, id, "place "+id)
		if err != nil {
			return err
		}
		if p.Withdrawn != 0 {
			return fault.New(fault.Conflict, "place %q was closed", p.Name).WithHint("give the tool another place").WithFact("since", p.Withdrawn.String())
		}
	}
	return nil
}
