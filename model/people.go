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

// shownTo leaves out a badge that is not for who asks.
func shownTo(by By, p people.Person) people.Person {
	if !people.May(by.Actor, people.SeeBadge, people.Object{Owner: p.ID}) {
		p.Badge = ""
	}
	return p
}

// People gives everybody who has not left, by name.
func (s *Shop) People(ctx context.Context, by By) (out []people.Person, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		all, err := rx.People()
		for _, p := range all {
			if p.Left == 0 {
				out = append(out, shownTo(by, p))
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
		p = shownTo(by, p)
		return err
	})
	return p, err
}

// AddPerson adds somebody with a badge of their own. A name that somebody here
// has already is a Conflict.
func (s *Shop) AddPerson(ctx context.Context, by By, in NewPerson) (people.Person, error) {
	return act(ctx, s, by, "people add", in, func(tx *store.Tx) (people.Person, error) {
		if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
			return people.Person{}, err
		}
		return addPerson(tx, in)
	})
}

func addPerson(tx *store.Tx, in NewPerson) (p people.Person, err error) {
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
}

// ChangePerson applies a change to the revision that was read. That the last
// manager in force be none any more is Refused, but at the computer.
func (s *Shop) ChangePerson(ctx context.Context, by By, id string, rev int64, in PersonChange) (people.Person, error) {
	return act(ctx, s, by, "people edit", []any{id, rev, in}, func(tx *store.Tx) (people.Person, error) {
		p, err := load[people.Person](tx, id, "person "+id)
		if err != nil {
			return p, err
		}
		// Sharing is the person's own to decide; the rest is a manager's, and a badge
		// decides nothing.
		if in.Shares == nil || in.Name != nil || in.Role != nil || by.Person != id || by.Role == people.ShopDevice {
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
		led := p.Role == people.Manager
		if err := in.apply(&p); err != nil {
			return p, err
		}
		if led && p.Role != people.Manager {
			if err := othersLead(tx, by, p); err != nil {
				return p, err
			}
		}
		if err := nameIsFree(tx, p); err != nil {
			return p, err
		}
		return p, store.Put(tx, &p)
	})
}

// othersLead refuses that somebody stops leading while no other manager is in
// force: nobody could let anybody in any more. Who sits at the computer can always
// make another, and is not held up.
func othersLead(tx *store.Tx, by By, p people.Person) error {
	if by.AtComputer() {
		return nil
	}
	// Two who stop at once are each the other's.
	if err := tx.Lock("managers"); err != nil {
		return err
	}
	d, err := readNames(&tx.Rx)
	if err != nil {
		return err
	}
	if asks, found := d.byID[by.Person]; found && asks.ID != p.ID && asks.Left == 0 && asks.Role == people.Manager {
		return nil
	}
	all, err := d.devices()
	for _, v := range all {
		if v.InForce && v.Kind == people.PersonDevice && v.Device.Person != p.ID && d.byID[v.Device.Person].Role == people.Manager {
			return nil
		}
	}
	return orElse(err, fault.New(fault.Refused, "%s is the only manager who is let in here", p.Name).
		WithHint("make somebody else a manager and let a phone of theirs in first, or do this at the shop's computer"))
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
