package model

import (
	"slices"
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/inspections"
	"pawl/model/internal/store"
	"pawl/model/names"
)

// InspectionPlan is what a shop decides on one check of one tool, as typed; nil
// leaves what is on record.
type InspectionPlan struct {
	Months, Days                  *int
	Whose, Source, FirstIssued    *string
	NeedsPaper, Strict, NotIssued *bool
	TwelveYear, Dropped           *bool // Dropped: not held on this tool
	Why                           *string
	Again                         *string // what happened, after which it is asked for now; "" takes that back
}

// fits refuses a check of the trade that is not made on tools of this kind. One that
// got on record before, under another kind, may still be let go.
func (i *inspecting) fits(p *InspectionPlan) error {
	r, known := inspections.Named(i.row.Name)
	if !known || r.Fits(i.tool.Kind) || p != nil && p.Dropped != nil && *p.Dropped {
		return nil
	}
	if i.tool.Kind == "" {
		return fault.At("#/check", "what tool %s is has not been typed yet, so no check of the trade can be held on it", i.tool.Number).
			WithHint("say its kind first: pawl edit %s --kind …", i.tool.Number)
	}
	const own = "; a check of the shop's own, with how often, fits any kind"
	if all := inspections.Fitting(i.tool.Kind); len(all) > 0 {
		return fault.At("#/check", "%s is not made on a %s", r.Name, i.tool.Kind).WithHint("what fits: %s%s", strings.Join(all, ", "), own)
	}
	return fault.At("#/check", "%s is not made on a %s, and no check of the trade is", r.Name, i.tool.Kind).WithHint("look at the number and at the kind%s", own)
}

// plan records what the shop decides on the check.
func (i *inspecting) plan(typed Inspect) error {
	in := typed.Plan
	if in == nil {
		return nil
	}
	if in.Again != nil && *in.Again != "" && typed.Result != "" {
		return fault.At("#/plan/again", "an inspection that is asked for again is not the one that is entered with it").WithHint("give one, then the other")
	}
	all, err := i.tx.Plans(i.tool.ID)
	if err != nil {
		return err
	}
	p := inspections.Plan{Tool: i.tool.ID, Name: i.row.Name, NameKey: i.row.NameKey, Since: i.tx.Now()}
	if at := slices.IndexFunc(all, func(p inspections.Plan) bool { return p.NameKey == i.row.NameKey }); at >= 0 {
		if p, err = load[inspections.Plan](i.tx, all[at].ID, "plan"); err != nil {
			return err
		}
	} else if p.ID, err = i.tx.NewID('Y'); err != nil {
		return err
	}
	loc, err := i.settings.Location()
	if err != nil {
		return err
	}
	if err := in.over(&p, i.tx.Now().Day(loc)); err != nil {
		return err
	}
	if in.Again != nil {
		p.AgainAt, p.AgainDay = 0, ""
		if p.Again != "" {
			p.AgainAt, p.AgainDay = i.tx.Now(), i.tx.Now().Day(loc)
		}
	}
	return store.Put(i.tx, &p)
}

// over puts what was typed over a plan; nothing was first issued after today.
func (in *InspectionPlan) over(p *inspections.Plan, today dates.Date) (err error) {
	var bad fault.Problems
	set(&p.Months, in.Months)
	set(&p.Days, in.Days)
	set(&p.NeedsPaper, in.NeedsPaper)
	set(&p.Strict, in.Strict)
	set(&p.NotIssued, in.NotIssued)
	set(&p.TwelveYear, in.TwelveYear)
	set(&p.Dropped, in.Dropped)
	if in.Months != nil && *in.Months > 0 && in.Days == nil {
		p.Days = 0
	}
	if in.Days != nil && *in.Days > 0 && in.Months == nil {
		p.Months = 0
	}
	if in.Whose != nil {
		p.Whose, err = inspections.ParseWhose(*in.Whose)
		bad.Keep("#/plan/whose", err)
	}
	if in.FirstIssued != nil {
		if p.FirstIssued = ""; *in.FirstIssued != "" {
			p.FirstIssued, err = dates.ParseDate(*in.FirstIssued)
			bad.Keep("#/plan/first_issued", err)
			if err == nil && p.FirstIssued.After(today) {
				bad.Add("#/plan/first_issued", "%s is in the future; today is %s: gloves that are still in store are entered as not issued", p.FirstIssued, today)
			}
		}
		if in.NotIssued == nil && p.FirstIssued != "" {
			p.NotIssued = false
		}
	}
	if in.NotIssued != nil && *in.NotIssued && in.FirstIssued == nil {
		p.FirstIssued = ""
	}
	if in.Source != nil {
		p.Source, err = names.Line(*in.Source)
		bad.Keep("#/plan/source", err)
	}
	if in.Why != nil {
		p.Why, err = names.Line(*in.Why)
		bad.Keep("#/plan/why", err)
	}
	if in.Again != nil {
		p.Again, err = names.Line(*in.Again)
		bad.Keep("#/plan/again", err)
	}
	if err := bad.Err(); err != nil {
		return err
	}
	return inspections.CheckPlan(*p)
}

func set[T any](out *T, in *T) {
	if in != nil {
		*out = *in
	}
}
