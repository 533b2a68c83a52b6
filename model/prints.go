package model

import (
	"cmp"
	"context"
	"sort"
	"strings"

	"pawl/labels"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/jobs"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
)

// read runs fn over the names of today.
func (s *Shop) read(ctx context.Context, fn func(*directory) error) error {
	return s.db.Read(ctx, func(rx *store.Rx) error {
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		d.broken = s.views.Broken
		return fn(d)
	})
}

// Badge gives the badge of the one person here of that name: to themselves and to
// managers.
func (s *Shop) Badge(ctx context.Context, by By, name string) (out labels.Badge, err error) {
	err = s.read(ctx, func(d *directory) error {
		p, err := people.Match(d.people, name)
		if err == nil && !people.May(by.Actor, people.SeeBadge, people.Object{Owner: p.ID}) {
			return fault.New(fault.Forbidden, "the badge of %s is for them and for managers", p.Name).WithHint("they print it themselves, or ask a manager")
		}
		out = labels.Badge{Symbol: "B/" + p.Badge, Name: p.Name, Role: string(p.Role), Shop: d.settings.Name}
		return err
	})
	return out, err
}

// PlaceLabel gives the label of a place.
func (s *Shop) PlaceLabel(ctx context.Context, by By, path string) (out labels.PlaceLabel, err error) {
	err = s.read(ctx, func(d *directory) error {
		p, err := d.places.Resolve(path)
		out = labels.PlaceLabel{Symbol: "P/" + p.Code, Path: d.places.Path(p.ID), Shop: d.settings.Name}
		return err
	})
	return out, err
}

// JobTag gives the key tag of a job.
func (s *Shop) JobTag(ctx context.Context, by By, number string) (out labels.JobTag, err error) {
	_, key, err := jobs.CheckNumber(number)
	if err != nil {
		return out, err
	}
	err = s.read(ctx, func(d *directory) error {
		j, found, err := d.JobNumbered(key)
		if err == nil && !found {
			err = fault.New(fault.NotFound, "there is no job %s", number).WithHint("open it: pawl job open %s", number)
		}
		out = labels.JobTag{Symbol: "JOB:" + j.NumberKey, Number: j.Number, Vehicle: j.Vehicle, Shop: d.settings.Name}
		return err
	})
	if err != nil {
		return out, err
	}
	if read, err := numbers.ParseSymbol(out.Symbol); err != nil || read.Code != key {
		return out, fault.New(fault.Invalid, "job number %q cannot be put into a symbol that scanners read", out.Number).
			WithHint("letters A to Z, digits and - . / can")
	}
	return out, nil
}

// DoNotUseTag gives the do-not-use tag of a tool. One that is not out of use has
// none: Conflict.
func (s *Shop) DoNotUseTag(ctx context.Context, by By, number string) (out labels.DoNotUseTag, err error) {
	err = s.read(ctx, func(d *directory) error {
		t, err := resolve(d.Rx, number)
		if err != nil {
			return err
		}
		open, err := d.OpenWrongs(t.ID)
		if err != nil {
			return err
		}
		w, unfit := custody.DoNotUse(open)
		if !unfit {
			return fault.New(fault.Conflict, "nothing is wrong with tool %s", t.Number).
				WithHint("say what is first: pawl wrong %s --what dropped", t.Number)
		}
		since, err := d.clockTime(w.At)
		out = labels.DoNotUseTag{Symbol: t.Number.Symbol(d.settings.Address), Number: t.Number.String(), What: inWords(t),
			Reason: string(w.What), Note: w.Note, Since: since, By: d.person(w.By), Cautions: register.Cautions(t.Kind)}
		return err
	})
	return out, err
}

// BoardCards gives the TAKE, RETURN and UNDO cards of the board.
func (s *Shop) BoardCards(ctx context.Context, by By) ([]labels.Card, error) {
	now, err := s.Settings(ctx)
	return labels.BoardCards(now.Name), err
}

// SignOut gives the sign-out sheet of a place: the tools that belong in it or
// below it, and what stands in the way of taking each.
func (s *Shop) SignOut(ctx context.Context, by By, place string) (out labels.SignOut, err error) {
	err = s.read(ctx, func(d *directory) error {
		p, err := d.places.Resolve(place)
		if err != nil {
			return err
		}
		out = labels.SignOut{Symbol: "P/" + p.Code, Place: d.places.Path(p.ID), Shop: d.settings.Name, Paper: string(d.settings.Paper)}
		if out.As, err = d.clockTime(dates.InstantOf(s.clock())); err != nil {
			return err
		}
		tools, err := d.Tools(store.ToolQuery{Places: d.places.Under(p.ID)})
		if err != nil {
			return err
		}
		rows, err := d.rows(tools)
		if err != nil {
			return err
		}
		missing, err := d.MissingIn(d.places.Under(p.ID))
		for _, r := range rows {
			out.Rows = append(out.Rows, signOutRow(r, missing[r.ID].Count))
		}
		return err
	})
	// By path; within a place the order of the numbers stays.
	sort.SliceStable(out.Rows, func(i, j int) bool { return out.Rows[i].Where < out.Rows[j].Where })
	return out, err
}

func signOutRow(r ToolRow, missing string) labels.SignOutRow {
	row := labels.SignOutRow{Number: r.Number.String(), What: strings.TrimSpace(r.Maker + " " + r.Model), Kind: r.Kind, Where: r.Place}
	if row.What == "" {
		row.What, row.Kind = r.Kind, ""
	}
	switch {
	case r.DoNotUse != "":
		row.Now, row.MustNotMove = "DO NOT USE: "+r.DoNotUse, true
	case r.State != custody.InPlace:
		row.Now = string(r.State) + ": " + r.Person
	}
	if missing != "" {
		now := cmp.Or(row.Now, string(custody.InPlace))
		row.Now = missingWords(missing, now)
	}
	return row
}

// inWords says what a tool is.
func inWords(t register.Tool) string {
	named := strings.TrimSpace(t.Maker + " " + t.Model)
	if named == "" {
		return t.Kind
	}
	if t.Kind == "" {
		return named
	}
	return named + ", " + t.Kind
}

// clockTime writes an instant on the shop's clock, for paper.
func (d *directory) clockTime(at dates.Instant) (string, error) {
	loc, err := d.settings.Location()
	if err != nil {
		return "", err
	}
	return at.Time().In(loc).Format("2006-01-02 15:04"), nil
}
