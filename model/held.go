package model

import (
	"context"
	"strings"

	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/jobs"
	"pawl/model/names"
)

// Hold keeps a thing of the customer's on an open job.
func (s *Shop) Hold(ctx context.Context, by By, number, what string) (HeldView, error) {
	return act(ctx, s, by, "job hold", []any{number, what}, func(tx *store.Tx) (HeldView, error) {
		clean, err := names.Line(what)
		if err == nil && clean == "" {
			err = fault.New(fault.Invalid, "say what is held")
		}
		if err != nil {
			return HeldView{}, fault.At("#/what", "%s", fault.Of(err).Error())
		}
		j, err := jobForChange(tx, number)
		if err != nil {
			return HeldView{}, err
		}
		d, err := readNames(&tx.Rx)
		if err != nil {
			return HeldView{}, err
		}
		if j.Closed != 0 {
			return HeldView{}, fault.New(fault.Conflict, "job %s is closed, by %s", j.Number, d.personOr(j.ClosedBy)).WithHint("reopen it: pawl job reopen %s --why …", j.Number).
				WithFact("since", j.Closed.String()).WithFact("by", d.personOr(j.ClosedBy))
		}
		h := jobs.Held{Job: j.ID, What: clean, At: tx.Now(), Person: by.Person}
		if h.ID, err = tx.NewID('Y'); err != nil {
			return HeldView{}, err
		}
		return HeldView{Held: h, By: d.personOr(h.Person)}, store.Put(tx, &h)
	})
}

// GiveHeld gives a held thing, named by its id or its words, back to somebody.
func (s *Shop) GiveHeld(ctx context.Context, by By, number, thing, to string) (HeldView, error) {
	return act(ctx, s, by, "job give", []any{number, thing, to}, func(tx *store.Tx) (HeldView, error) {
		whom, err := names.Check(to)
		if err != nil {
			return HeldView{}, fault.At("#/to", "%s", fault.Of(err).Error())
		}
		j, err := jobForChange(tx, number)
		if err != nil {
			return HeldView{}, err
		}
		d, err := readNames(&tx.Rx)
		if err != nil {
			return HeldView{}, err
		}
		h, err := d.heldNamed(j, thing)
		if err != nil {
			return HeldView{}, err
		}
		if h, err = load[jobs.Held](tx, h.ID, "held thing "+h.ID); err != nil {
			return HeldView{}, err
		}
		if h.GivenAt != 0 {
			return HeldView{}, fault.New(fault.Conflict, "%s is given back already, to %s", h.What, h.GivenTo).WithFact("since", h.GivenAt.String()).WithFact("by", d.personOr(h.GivenBy)).WithHint("nothing to give")
		}
		h.GivenAt, h.GivenTo, h.GivenBy = tx.Now(), whom, by.Person
		if err := store.Put(tx, &h); err != nil {
			return HeldView{}, err
		}
		return HeldView{Held: h, By: d.personOr(h.Person), GivenByPerson: d.personOr(h.GivenBy)}, givenBack(tx, h, by)
	})
}

// heldNamed finds one thing of a job: by its id, or by its words, of which those that
// are still held come first.
func (d *directory) heldNamed(j jobs.Job, thing string) (jobs.Held, error) {
	all, err := d.HeldOn(j.ID)
	if err != nil {
		return jobs.Held{}, err
	}
	var here, given []jobs.Held
	var words []string
	for _, h := range all {
		if strings.EqualFold(h.ID, strings.TrimSpace(thing)) {
			return h, nil
		}
		if h.GivenAt == 0 {
			words = append(words, h.What)
		}
		switch same := names.Key(h.What) == names.Key(thing); {
		case same && h.GivenAt == 0:
			here = append(here, h)
		case same:
			given = append(given, h)
		}
	}
	switch {
	case len(here) > 1:
		return jobs.Held{}, fault.New(fault.Invalid, "%d things held on job %s are called %q", len(here), j.Number, thing).WithHint("name it by its id, such as %s", here[0].ID)
	case len(here) == 1:
		return here[0], nil
	case len(given) > 0:
		return given[0], nil
	}
	f := fault.New(fault.NotFound, "no %.40q is held on job %s", thing, j.Number)
	if len(words) > 0 {
		f = f.WithHint("held are: %s", strings.Join(words, ", "))
	}
	return jobs.Held{}, f
}

// givenBack answers what was said of a thing while it was held: it is given back.
func givenBack(tx *store.Tx, h jobs.Held, by By) error {
	f, found, err := store.Change[jobs.Finding](tx, jobs.FindingID(h.ID))
	if err != nil || !found || f.Answer == jobs.Found {
		return err
	}
	if err := f.Take(jobs.Reply{Answer: jobs.Found, Spot: "given to " + h.GivenTo}, by.Person, tx.Now()); err != nil {
		return err
	}
	return store.Put(tx, &f)
}
