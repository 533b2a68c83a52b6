package page

import (
	"pawl/model"
)

func (p *Pages) todayRoutes() []Route {
	return []Route{
		get("/", func(a *Ask) (Reply, error) { return Go(home(a.Me().Role)), nil }),
		get("/today", p.todayPage),
	}
}

// todayData is what wants attention, with the counts that are under way.
type todayData struct {
	model.TodayView
	Counts []model.CountView
	Plan   []model.PlannedTool // the first to look at, in walking order
	Look   int                 // how many they are in all

	Elsewhere *model.ElsewhereState // the copy kept elsewhere, where it is to be made anew
}

// How many open counts the page shows, and of the tools to look at.
const (
	countsToday = 5
	planToday   = 5
)

// todayPage shows what wants attention now, and leads to what is done less often.
func (p *Pages) todayPage(a *Ask) (Reply, error) {
	v, err := p.shop.Today(a.R.Context(), a.By)
	if err != nil {
		return Reply{}, err
	}
	d := todayData{TodayView: v}
	d.Counts, _, err = p.shop.Counts(a.R.Context(), a.By, model.CountQuery{Open: true, Limit: countsToday})
	if err != nil {
		return Reply{}, err
	}
	if d.Elsewhere, err = p.elsewhereOld(a); err != nil {
		return Reply{}, err
	}
	plan, _, err := p.shop.PlanToday(a.R.Context(), a.By)
	d.Look, d.Plan = len(plan.Tools), plan.Tools[:min(len(plan.Tools), planToday)]
	return Show("today", d), err
}
