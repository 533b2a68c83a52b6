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
	Plan   []model.PlannedTool // those to look at that wait longest, in walking order
	Look   int                 // how many are to be looked at in all
	Making bool                // the plan is still being made
}

// countsToday is how many open counts the page shows.
const countsToday = 5

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
	plan, found, err := p.shop.PlanToday(a.R.Context(), a.By)
	d.Look, d.Plan, d.Making = plan.Look, plan.Tools, !found
	return Show("today", d), err
}
