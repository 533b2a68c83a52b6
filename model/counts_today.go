package model

import (
	"context"
	"time"

	"pawl/model/counts"
)

// How many tools of the plan the page of today shows, and how long it waits for them
// where the plan is yet to be made, which is once after a start and in a shop of a
// million tools takes seconds.
const (
	planToday     = 5
	planTodayWait = time.Second
)

// PlanToday gives today's share of the rotating plan for the page of today: how many
// tools are to be looked at, and the first of them. found is false while the plan is
// being made.
func (s *Shop) PlanToday(ctx context.Context, by By) (v CountPlanView, found bool, err error) {
	v.Within = PlanWithin
	found, err = s.rotas.ask(ctx, s, planTodayWait, func(d *directory, r *counts.Rota) error {
		return s.rotas.share(d, by, r, planToday, &v)
	})
	return v, found, err
}
