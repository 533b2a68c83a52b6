package model

import (
	"context"
	"slices"

	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/people"
	"pawl/model/worth"
)

// LifeView is a life that holds, with who set it; of one that is assumed, none.
type LifeView struct {
	worth.Life
	ID     string // empty: assumed
	Sort   string // worth.OfClass, worth.OfKind
	Person string
	Since  string
}

// Lives gives the lives by class, and those that the shop set for kinds.
func (s *Shop) Lives(ctx context.Context, by By) (out []LifeView, err error) {
	err = s.read(ctx, func(d *directory) error {
		set, err := d.Lives()
		if err != nil {
			return err
		}
		for _, l := range worth.Classes {
			v := LifeView{Life: l, Sort: worth.OfClass}
			if at := slices.IndexFunc(set, func(r worth.LifeRow) bool { return r.Sort == worth.OfClass && r.Name == l.Class }); at >= 0 {
				v = d.life(set[at])
			}
			out = append(out, v)
		}
		for _, r := range set {
			if r.Sort == worth.OfKind {
				out = append(out, d.life(r))
			}
		}
		return nil
	})
	return out, err
}

func (d *directory) life(r worth.LifeRow) LifeView {
	return LifeView{Life: worth.Life{Class: r.Name, Months: r.Months, Floor: r.Floor, Set: true}, ID: r.ID, Sort: r.Sort, Person: d.person(r.Person), Since: r.Since.String()}
}

// SetLife records for how long the shop takes a class or a kind of tool to be of
// use, in place of what is assumed or was set before.
func (s *Shop) SetLife(ctx context.Context, by By, in worth.NewLife) (LifeView, error) {
	return act(ctx, s, by, "worth life set", in, func(tx *store.Tx) (v LifeView, err error) {
		if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
			return v, err
		}
		r, err := in.Read()
		if err != nil {
			return v, err
		}
		d, before, err := livesForChange(tx)
		if err != nil {
			return v, err
		}
		if at := slices.IndexFunc(before, func(o worth.LifeRow) bool { return o.Sort == r.Sort && o.NameKey == r.NameKey }); at >= 0 {
			if before[at].Months == r.Months && before[at].Floor == r.Floor {
				return d.life(before[at]), nil
			}
			r.ID = before[at].ID
			if before[at], err = load[worth.LifeRow](tx, r.ID, "life "+r.ID); err != nil {
				return v, err
			}
			r.Rev = before[at].Rev
		} else if r.ID, err = tx.NewID('X'); err != nil {
			return v, err
		}
		r.Since, r.Person = tx.Now(), by.Person
		return d.life(r), store.Put(tx, &r)
	})
}

func livesForChange(tx *store.Tx) (*directory, []worth.LifeRow, error) {
	if err := tx.Lock("lives"); err != nil {
		return nil, nil, err
	}
	d, err := readNames(&tx.Rx)
	if err != nil {
		return nil, nil, err
	}
	all, err := tx.Lives()
	return d, all, err
}

// EndLife goes back to what is assumed.
func (s *Shop) EndLife(ctx context.Context, by By, id string) (LifeView, error) {
	return act(ctx, s, by, "worth life end", id, func(tx *store.Tx) (v LifeView, err error) {
		if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
			return v, err
		}
		d, err := readNames(&tx.Rx)
		if err != nil {
			return v, err
		}
		r, err := load[worth.LifeRow](tx, id, "life "+fault.Clip(id))
		if err != nil {
			return v, err
		}
		if r.Ended != 0 {
			return v, fault.New(fault.Conflict, "that life of %s ended %s", r.Name, r.Ended).WithFact("since", r.Ended.String())
		}
		r.Ended = tx.Now()
		return d.life(r), store.Put(tx, &r)
	})
}

// Judge records what the condition of a tool takes off its value, with the reason;
// one without a share ends what was judged before.
func (s *Shop) Judge(ctx context.Context, by By, number string, in worth.NewCondition) (WorthTool, error) {
	return act(ctx, s, by, "worth condition", []any{number, in}, func(tx *store.Tx) (w WorthTool, err error) {
		h, err := s.handToPrice(tx, by, number)
		if err != nil {
			return w, err
		}
		if err := h.mayPrice(); err != nil {
			return w, err
		}
		before, err := tx.Conditions([]string{h.tool.ID})
		if err != nil {
			return w, err
		}
		was, judged := before[h.tool.ID]
		if in == (worth.NewCondition{}) {
			if !judged {
				return w, fault.New(fault.Conflict, "nothing is taken off %s for its condition", h.tool.Number)
			}
			if err := endCondition(tx, was.ID); err != nil {
				return w, err
			}
			return h.worthNow()
		}
		c, err := in.Read()
		if err != nil {
			return w, err
		}
		if judged && was.Share == c.Share && was.Reason == c.Reason {
			return h.worthNow()
		}
		if judged {
			if err := endCondition(tx, was.ID); err != nil {
				return w, err
			}
		}
		c.Tool, c.Since, c.Person = h.tool.ID, tx.Now(), by.Person
		if c.ID, err = tx.NewID('X'); err != nil {
			return w, err
		}
		if err := store.Put(tx, &c); err != nil {
			return w, err
		}
		return h.worthNow()
	})
}

func endCondition(tx *store.Tx, id string) error {
	was, err := load[worth.Condition](tx, id, "condition "+id)
	if err != nil {
		return err
	}
	was.Ended = tx.Now()
	return store.Put(tx, &was)
}
