package model

import (
	"context"

	"pawl/model/counts"
	"pawl/model/dates"
	"pawl/model/internal/store"
	"pawl/model/numbers"
	"pawl/model/people"
)

// PlanWithin is in how many days a rotating plan has every tool seen, where nobody says
// otherwise. It is our choice.
const PlanWithin = 90

// CountPlanView is the share of today in a rotating plan.
type CountPlanView struct {
	Within              int // days
	Usual, Late, Behind int // see counts.DayShare
	Tools               []PlannedTool
}

// PlannedTool is a tool that is to be looked at today.
type PlannedTool struct {
	Number numbers.Number
	Kind   string
	Place  string     // path of where it belongs
	Holder string     // who has it now
	Seen   dates.Date // empty: never
}

// CountPlan gives the tools to look at today so that every one is seen within so many
// days, dear ones more often. What the asker may not know the price of is not taken for
// cheap.
func (s *Shop) CountPlan(ctx context.Context, by By, within int) (v CountPlanView, err error) {
	v.Within = within
	err = s.read(ctx, func(d *directory) error {
		list, err := d.ToList(counts.Count{Sort: counts.Everything}, nil)
		if err != nil {
			return err
		}
		last, err := d.LastSeenOfAll()
		if err != nil {
			return err
		}
		loc, err := d.settings.Location()
		if err != nil {
			return err
		}
		classes := counts.Classes(d.worths(by, list))
		all, at := make([]counts.Standing, len(list)), map[string]int{}
		for i, t := range list {
			all[i] = counts.Standing{Tool: t.Tool, Path: d.places.Path(t.Place), Class: classes[i], Since: t.Created.Day(loc)}
			if seen, was := last[t.Tool]; was {
				all[i].Seen = seen.At.Day(loc)
			}
			at[t.Tool] = i
		}
		share, err := counts.ShareOn(d.Now().Day(loc), all, within)
		if err != nil {
			return err
		}
		v.Usual, v.Late, v.Behind = share.Usual, share.Late, share.Behind
		v.Tools, err = d.planned(share.Tools, list, at)
		return err
	})
	return v, err
}

// worths gives what listed tools are worth, as far as the asker may know it.
func (d *directory) worths(by By, list []store.Listed) []counts.Worth {
	out := make([]counts.Worth, len(list))
	for i, t := range list {
		seen := people.May(by.Actor, people.SeeMoney, people.Object{Owner: t.Owner, OwnerShares: d.byID[t.Owner].Shares})
		if seen && !t.Outsider && t.Price != nil && t.Currency == d.settings.Currency {
			out[i] = counts.Worth{Minor: *t.Price, Known: true}
		}
	}
	return out
}

func (d *directory) planned(share []counts.Standing, list []store.Listed, at map[string]int) (out []PlannedTool, err error) {
	var ids []string
	for _, s := range share {
		ids = append(ids, s.Tool)
	}
	tools, err := d.ToolsByID(ids)
	for _, s := range share {
		_, holder := d.expected(list[at[s.Tool]].Entry)
		t := tools[s.Tool]
		out = append(out, PlannedTool{Number: t.Number, Kind: t.Kind, Place: s.Path, Holder: holder, Seen: s.Seen})
	}
	return out, err
}
