package page

import (
	"net/url"

	"pawl/model/fault"
	"pawl/model/register"
)

func (p *Pages) partsRoutes() []Route {
	return []Route{get("/parts", p.partsPage)}
}

// partsPage shows every part once, for those who change the pages.
func (p *Pages) partsPage(a *Ask) (Reply, error) {
	r := Show("parts", map[string]any{
		"Marks":    []Mark{InOrder, DoNotUse, NotChecked},
		"Reasons":  p.Options(a.language(), "parts.reason.", "dropped", "damaged"),
		"Cautions": register.Cautions("torque wrench"),
	})
	r.form = formOf(url.Values{"sample-wrong": {"12/13"}}, fault.At("#/sample-wrong", "12/13 is not a day"))
	return r, nil
}
