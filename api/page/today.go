package page

func (p *Pages) todayRoutes() []Route {
	return []Route{
		get("/", func(a *Ask) (Reply, error) { return Go(home(a.Me().Role)), nil }),
		get("/today", p.todayPage),
	}
}

// todayPage shows what wants attention now, and leads to what is done less often.
func (p *Pages) todayPage(a *Ask) (Reply, error) {
	v, err := p.shop.Today(a.R.Context(), a.By)
	return Show("today", v), err
}
