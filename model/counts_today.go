package model

import "context"

// plannedAtOnce is up to how many tools a shop may have for its share of the plan to be
// worked out whenever somebody looks at what is to be done today. All of them are
// weighed for it; in a larger shop it is worked out where it is asked for.
const plannedAtOnce = 5000

// PlanToday gives today's share of the rotating plan for the page of today. found is
// false in a shop of more tools than are weighed at once.
func (s *Shop) PlanToday(ctx context.Context, by By) (v CountPlanView, found bool, err error) {
	many := false
	if err := s.read(ctx, func(d *directory) (err error) {
		many, err = d.MoreToolsThan(plannedAtOnce)
		return err
	}); err != nil || many {
		return v, false, err
	}
	v, err = s.CountPlan(ctx, by, PlanWithin)
	return v, true, err
}
