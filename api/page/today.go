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
	Round  model.RoundToday
	Rounds bool             // the round is still being reckoned
	Losses []model.LossView // of which something is missing and not confirmed, or not reported

	Elsewhere *model.ElsewhereState // the copy kept elsewhere, where it is to be made anew
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
	if d.Elsewhere, err = p.elsewhereOld(a); err != nil {
		return Reply{}, err
	}
	if d.Losses, err = p.lossesToday(a); err != nil {
		return Reply{}, err
	}
	round, known, err := p.shop.RoundToday(a.R.Context(), a.By)
	if err != nil {
		return Reply{}, err
	}
	d.Round, d.Rounds = round, !known
	plan, found, err := p.shop.PlanToday(a.R.Context(), a.By)
	d.Look, d.Plan, d.Making = plan.Look, plan.Tools, !found
	return Show("today", d), err
}

// lossesToday gives the newest losses of which something is to be settled.
func (p *Pages) lossesToday(a *Ask) (out []model.LossView, err error) {
	all, _, err := p.shop.Losses(a.R.Context(), a.By, model.LossQuery{Limit: 20})
	for _, l := range all {
		open := l.Unconfirmed() > 0 || len(l.Lines) == 0 || l.Agency == "" && l.Settles && l.Left() > 0
		if open && len(out) < countsToday {
			out = append(out, l)
		}
	}
	return out, err
}
