package model

import (
	"context"

	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/people"
)

// NewPerson is somebody to be added.
type NewPerson struct{ Name, Role string }

// PersonChange holds new values; nil leaves one as it is.
type PersonChange struct {
	Name, Role *string
	Shares     *bool
}

// People gives everybody who has not left, by name.
func (s *Shop) People(ctx context.Context, by By) (out []people.Person, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		all, err := rx.People()
		for _, p := range all {
			if p.Left == 0 {
				out = append(out, p)
			}
		}
		return err
	})
	return out, err
}

// Person gives one by id.
func (s *Shop) Person(ctx context.Context, by By, id string) (p people.Person, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		var found bool
		if p, found, err = rx.Person(id); err == nil && !found {
			err = fault.New(fault.NotFound, "there is no person %q", id)
		}
		return err
	})
	return p, err
}

// AddPerson adds somebody with a badge of their own. A name that somebody here
// has already is a Conflict.
func (s *Shop) AddPerson(ctx context.Context, by By, in NewPerson) (people.Person, error) {
	return act(ctx, s, by, "people add", in, func(tx *store.Tx) (p people.Person, err error) {
		if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
			return p, err
		}
		var bad fault.Problems
		p.Name, err = names.Check(in.Name)
		bad.Keep("#/name", err)
		p.Role, err = people.ParseRole(in.Role)
		bad.Keep("#/role", err)
		p.NameKey = names.Key(p.Name)
		if err := bad.Err(); err != nil {
			return p, err
		}
		if err := nameIsFree(tx, p); err != nil {
			return p, err
		}
		if p.ID, err = tx.NewID('H'); err != nil {
			return p, err
		}
		if p.Badge, err = newCode(tx, 'B'); err != nil {
			return p, err
		}
		return p, store.Put(tx, &p)
	})
}

// ChangePerson applies a change to the revision that was read.
func (s *Shop) ChangePerson(ctx context.Context, by By, id string, rev int64, in PersonChange) (people.Person, error) {
	return act(ctx, s, by, "people edit", []any{id, rev, in}, func(tx *store.Tx) (people.Person, error) {
		p, err := load[people.Person](tx, id, "person "+id)
		if err != nil {
			return p, err
		}
		// Sharing is the person's own to decide; the rest is a manager's.
		if in.Shares == nil || in.Name != nil || in.Role != nil || by.Person != id {
			if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
				return p, err
			}
		}
		if in.Shares != nil && by.Person != id && !by.AtComputer() {
			return p, fault.New(fault.Forbidden, "only %s decides who sees their prices and papers", p.Name)
		}
		if err := checkRev("person", rev, p.Rev); err != nil {
			return p, err
		}
		if err := in.apply(&p); err != nil {
			return p, err
		}
		if err := nameIsFree(tx, p); err != nil {
			return p, err
		}
		return p, store.Put(tx, &p)
	})
}

func (in PersonChange) apply(p *people.Person) (err error) {
	var bad fault.Problems
	if in.Name != nil {
		p.Name, err = names.Check(*in.Name)
		bad.Keep("#/name", err)
		p.NameKey = names.Key(p.Name)
	}
	if in.Role != nil {
		p.Role, err = people.ParseRole(*in.Role)
		bad.Keep("#/role", err)
	}
	if in.Shares != nil {
		p.Shares = *in.Shares
	}
	return bad.Err()
}

func nameIsFree(tx *store.Tx, p people.Person) error {
	all, err := tx.People()
	for _, other := range all {
		if other.Left == 0 && other.ID != p.ID && other.NameKey == p.NameKey {
			return fault.New(fault.Conflict, "there is a %s here already", other.Name).
				WithHint("tell them apart by another name").WithFact("id", other.ID)
		}
	}
	return err
}

// newCode draws what a printed code carries: the eight characters of an id.
func newCode(tx *store.Tx, letter byte) (string, error) {
	id, err := tx.NewID(letter)
	if err != nil {
		return "", err
	}
	return id[2:], nil
}

// ActorNamed gives the actor who sits at this computer under that name.
func (s *Shop) ActorNamed(ctx context.Context, name string) (a Actor, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		all, err := rx.People()
		if err != nil {
			return err
		}
		p, err := people.Match(all, name)
		a = Actor{Person: p.ID, Name: p.Name, Role: p.Role, Via: people.ViaLocal}
		return err
	})
	return a, err
}
