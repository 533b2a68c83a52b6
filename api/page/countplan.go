package page

import (
	"net/url"
	"strconv"

	"pawl/model"
	"pawl/model/counts"
	"pawl/model/fault"
)

// countPlanPage shows the share of today in the rotating plan.
func (p *Pages) countPlanPage(a *Ask) (Reply, error) {
	within, wrong := model.PlanWithin, error(nil)
	if text := a.Query("within"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 || n > counts.LongestRound {
			wrong = fault.At("#/within", "%q is not a number of days from 1 to %d", text, counts.LongestRound)
		} else {
			within = n
		}
	}
	v, err := p.shop.CountPlan(a.R.Context(), a.By, within)
	if err == nil {
		err = wrong
	}
	r := Show("countplan", v)
	r.form, r.err = formOf(url.Values{"within": {strconv.Itoa(within)}}, wrong), err
	return r, nil
}
