package model

import (
	"context"
	"slices"

	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/people"
	"pawl/model/worth"
)

// NewPolicy is a policy as typed, with whose it is: empty, or "shop", is the shop's.
type NewPolicy struct {
	worth.NewPolicy
	Owner string
}

// AddPolicy records what a policy says. The shop's is a manager's to record, a
// person's own theirs. One of that name in force is a Conflict.
func (s *Shop) AddPolicy(ctx context.Context, by By, in NewPolicy) (PolicyView, error) {
	return act(ctx, s, by, "worth policy add", in, func(tx *store.Tx) (v PolicyView, err error) {
		d, err := readNames(&tx.Rx)
		if err != nil {
			return v, err
		}
		p, err := in.Read(d.settings.Currency)
		if err != nil {
			return v, err
		}
		if p.Owner, err = d.ownerID(in.Owner); err != nil {
			return v, fault.At("#/owner", "%s", fault.Of(err).Error())
		}
		if err := d.mayInsure(by, p); err != nil {
			return v, err
		}
		if p.Owner != "" && p.Employees {
			return v, fault.At("#/employees", "a person's own policy covers no employees' tools; it is theirs alone")
		}
		if err := freeName(tx, p); err != nil {
			return v, err
		}
		if p.ID, err = tx.NewID('P'); err != nil {
			return v, err
		}
		p.Since, p.Person = tx.Now(), by.Person
		if err := store.Put(tx, &p); err != nil {
			return v, err
		}
		return d.asRecorded(p)
	})
}

// Policies gives the policies in force that the asker may see, by name.
func (s *Shop) Policies(ctx context.Context, by By) (out []PolicyView, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		out, err = d.policies(by)
		return err
	})
	return out, err
}

// Warning says that the limit is too low for what it covers, or that it cannot be
// said; empty is neither.
func (p PolicyView) Warning() string {
	c := p.Covered
	switch {
	case p.Foreign:
		return "It is in another currency than the tools: whether its limit is enough cannot be said. End it, and record it in the currency of the shop."
	case p.Terms.Coinsurance == nil:
		return "Whether it asks coinsurance is not recorded."
	case p.Adequacy != nil && *p.Adequacy < 1:
		return "The limit is below what coinsurance asks: a part of every loss is not paid."
	case p.Terms.Coinsurance.Sign() > 0 && p.OtherCovered == nil:
		return "What else the limit covers is not recorded: the ratio is at best what is shown; unknown."
	case p.Terms.Coinsurance.Sign() > 0 && c.Unpriced+c.Hidden+c.Foreign > 0:
		return "Tools that it covers stand in no figure here: the ratio is at best what is shown; unknown."
	}
	return ""
}

// mayInsure says whether somebody may record or end a policy.
func (d *directory) mayInsure(by By, p worth.Policy) error {
	if p.Owner == "" {
		return allowed(by, people.ShopActs, people.Object{})
	}
	return allowed(by, people.SeeMoney, people.Object{Owner: p.Owner, OwnerShares: d.byID[p.Owner].Shares})
}

// asRecorded gives a policy as it was entered.
func (d *directory) asRecorded(p worth.Policy) (v PolicyView, err error) {
	v = PolicyView{Policy: p, OwnerName: d.owner(p.Owner), Foreign: p.Currency != d.settings.Currency}
	v.Terms, err = p.Terms()
	return v, err
}

// PolicyChange is what is to be changed of a policy, as typed; nil stays as it is.
type PolicyChange struct {
	Name, Limit, Deductible, Coinsurance, Basis, OtherCovered, Order, HoldbackDays *string

	Sublimits *[]string
	Employees *bool
}

// over lays the changes over a policy as it was typed.
func (c PolicyChange) over(n worth.NewPolicy) worth.NewPolicy {
	for _, each := range []struct {
		to *string
		is *string
	}{{&n.Name, c.Name}, {&n.Limit, c.Limit}, {&n.Deductible, c.Deductible}, {&n.Coinsurance, c.Coinsurance}, {&n.Basis, c.Basis},
		{&n.OtherCovered, c.OtherCovered}, {&n.Order, c.Order}, {&n.HoldbackDays, c.HoldbackDays}} {
		if each.is != nil {
			*each.to = *each.is
		}
	}
	if c.Sublimits != nil {
		n.Sublimits = *c.Sublimits
	}
	if c.Employees != nil {
		n.Employees = *c.Employees
	}
	return n
}

// Policy gives one policy in force, or one that ended, by id.
func (s *Shop) Policy(ctx context.Context, by By, id string) (v PolicyView, err error) {
	err = s.read(ctx, func(d *directory) error {
		p, found, err := d.Policy(id)
		if err == nil && (!found || !p.May(by.Actor, d.byID[p.Owner].Shares)) {
			err = fault.New(fault.NotFound, "there is no policy %s", fault.Clip(id)).WithHint("list them: pawl worth policy")
		}
		if err != nil {
			return err
		}
		v, err = d.asRecorded(p)
		return err
	})
	return v, err
}

// EditPolicy records what was read wrong, or what changed at a renewal. Whose it is
// stays: another's is another policy.
func (s *Shop) EditPolicy(ctx context.Context, by By, id string, rev int64, c PolicyChange) (PolicyView, error) {
	return act(ctx, s, by, "worth policy edit", []any{id, rev, c}, func(tx *store.Tx) (v PolicyView, err error) {
		d, p, err := policyForChange(tx, by, id)
		if err != nil {
			return v, err
		}
		if err := checkRev("policy", rev, p.Rev); err != nil {
			return v, err
		}
		was, err := p.AsTyped()
		if err != nil {
			return v, err
		}
		is, err := c.over(was).Read(p.Currency)
		if err != nil {
			return v, err
		}
		if p.Owner != "" && is.Employees {
			return v, fault.At("#/employees", "a person's own policy covers no employees' tools; it is theirs alone")
		}
		is.ID, is.Rev, is.Owner, is.Since, is.Person = p.ID, p.Rev, p.Owner, p.Since, p.Person
		if is.NameKey != p.NameKey {
			if err := freeName(tx, is); err != nil {
				return v, err
			}
		}
		if err := store.Put(tx, &is); err != nil {
			return v, err
		}
		return d.asRecorded(is)
	})
}

// freeName says that no other policy in force has the name.
func freeName(tx *store.Tx, p worth.Policy) error {
	if err := tx.Lock("policies"); err != nil {
		return err
	}
	all, err := tx.Policies()
	if err != nil {
		return err
	}
	if at := slices.IndexFunc(all, func(o worth.Policy) bool { return o.NameKey == p.NameKey && o.ID != p.ID }); at >= 0 {
		return fault.New(fault.Conflict, "there is a policy %q already, since %s", all[at].Name, all[at].Since).WithFact("id", all[at].ID).
			WithHint("end it first: pawl worth policy end %q", all[at].Name)
	}
	return nil
}

// policyForChange loads a policy in force that the asker may change.
func policyForChange(tx *store.Tx, by By, id string) (*directory, worth.Policy, error) {
	d, err := readNames(&tx.Rx)
	if err != nil {
		return nil, worth.Policy{}, err
	}
	p, err := load[worth.Policy](tx, id, "policy "+fault.Clip(id))
	if err != nil {
		return nil, p, err
	}
	if !p.May(by.Actor, d.byID[p.Owner].Shares) {
		return nil, p, fault.New(fault.NotFound, "there is no policy %s", fault.Clip(id))
	}
	if err := d.mayInsure(by, p); err != nil {
		return nil, p, err
	}
	if p.Ended != 0 {
		return nil, p, fault.New(fault.Conflict, "the policy %q ended %s", p.Name, p.Ended).WithFact("since", p.Ended.String())
	}
	return d, p, nil
}

// EndPolicy says that a policy is no longer in force; it stays on record.
func (s *Shop) EndPolicy(ctx context.Context, by By, id string) (PolicyView, error) {
	return act(ctx, s, by, "worth policy end", id, func(tx *store.Tx) (v PolicyView, err error) {
		d, p, err := policyForChange(tx, by, id)
		if err != nil {
			return v, err
		}
		p.Ended = tx.Now()
		if err := store.Put(tx, &p); err != nil {
			return v, err
		}
		return d.asRecorded(p)
	})
}
