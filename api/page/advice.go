package page

import (
	"html/template"
	"strconv"
	"strings"

	"pawl/model"
	"pawl/model/calibration/intervals"
	"pawl/model/fault"
	"pawl/model/people"
)

func (p *Pages) adviceRoutes() []Route {
	return []Route{get("/t/:number/advice", p.intervalAdvice), post("/t/:number/advice", p.takeAdvice)}
}

// adviceData is what the page on a tool's interval shows.
type adviceData struct {
	model.ToolView
	Advice model.IntervalView
	None   bool          // nothing is recorded of what it must hold
	Chart  template.HTML // empty: nothing to draw
	Edits  bool
}

func (p *Pages) intervalAdvice(a *Ask) (Reply, error) {
	d, err := p.adviceData(a)
	if strange(err) && d.Tool.ID == "" {
		return p.strangeNumber(a)
	}
	return Show("advice", d), err
}

func (p *Pages) adviceData(a *Ask) (d adviceData, err error) {
	if d.ToolView, err = p.shop.Tool(a.R.Context(), a.By, a.Param("number")); err != nil {
		return d, err
	}
	d.Edits = people.May(a.Me(), people.EditTool, objectOf(d.ToolView)) && d.Tool.Gone == 0
	d.Advice, err = p.shop.IntervalAdvice(a.R.Context(), a.By, a.Param("number"))
	if fault.Is(err, fault.Conflict) {
		d.None = true
		return d, nil
	}
	if err != nil {
		return d, err
	}
	chart, err := d.Advice.Chart()
	if fault.Is(err, fault.NotFound) {
		return d, nil
	}
	if err != nil {
		return d, err
	}
	var b strings.Builder
	err = chart.SVG(&b)
	d.Chart = template.HTML(b.String()) // drawn here; the texts in it are escaped
	return d, err
}

// takeAdvice puts the interval in force that somebody read as advice, with that as its
// reason. Where the advice is another by now, it is shown instead.
func (p *Pages) takeAdvice(a *Ask) (Reply, error) {
	d, err := p.adviceData(a)
	if err != nil {
		return Reply{}, err
	}
	typed := a.Value("months")
	months, err := strconv.Atoi(typed)
	if err != nil {
		return Reply{}, fault.New(fault.Malformed, "%q is not a number of months", typed)
	}
	taken := Go(toolPath(d.Tool.Number, "advice"), p.say(a, "advice.taken", months))
	switch v := d.Advice; {
	case v.Interval.Months != nil && *v.Interval.Months == months:
		return taken, nil // sent twice
	case v.Accept == nil || *v.Months != months:
		return a.Again("advice", d, fault.New(fault.Conflict, "%s", p.say(a, "advice.changed"))), nil
	}
	_, err = p.shop.Calibrate(a.R.Context(), a.By, a.Param("number"), model.Calibrate{Requirement: &model.Requirement{
		Months: &months, IntervalFrom: "shop rule: advice of " + string(d.Advice.On)}})
	if err != nil {
		return a.Again("advice", d, err), nil
	}
	return taken, nil
}

// PointName names a point of the drift.
func (adviceData) PointName(p intervals.Drift) string {
	return strings.TrimSpace(p.Set.Words() + " " + p.Direction.Words())
}

// Percent writes a figure with two decimals; "" is none.
func (adviceData) Percent(f *float64) string { return decimals(f, 2) }

// Count writes a whole number; "" is none.
func (adviceData) Count(n *int) string {
	if n == nil {
		return ""
	}
	return strconv.Itoa(*n)
}

// Cycles writes a count of cycles; "" is none.
func (adviceData) Cycles(n *int64) string {
	if n == nil {
		return ""
	}
	return strconv.FormatInt(*n, 10)
}

// Months writes a figure in months.
func (adviceData) Months(f *float64) string { return decimals(f, 1) }

// Share writes a share as percents, rounded down: it is never shown as more than it is.
func (adviceData) Share(f *float64) string {
	if f == nil {
		return ""
	}
	return strconv.Itoa(int(100 * *f))
}

func decimals(f *float64, n int) string {
	if f == nil {
		return ""
	}
	return strings.Replace(strconv.FormatFloat(*f, 'f', n, 64), "-", "−", 1)
}

// Target is the reliability aimed at.
func (d adviceData) Target() *float64 { return &d.Advice.TargetReliability }

// SharePercent is a share of 1 in percent, rounded.
func (adviceData) SharePercent(share float64) string {
	return strconv.FormatFloat(100*share, 'f', 1, 64)
}

// MethodKey is the key of a way to look at it.
func (adviceData) MethodKey(method string) string {
	return "advice.method." + strings.ReplaceAll(method, " ", "-")
}
