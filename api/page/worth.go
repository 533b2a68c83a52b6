package page

import (
	"bytes"
	"html/template"
	"strconv"
	"strings"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/units"
)

func (p *Pages) worthRoutes() []Route {
	return []Route{get("/worth", p.worthPage), get("/worth/lost", p.lostPage), get("/gaps", p.gapsPage)}
}

// barred draws bars with their table; empty where there is nothing to draw.
func barred(c model.Bars) (out pictured) {
	var drawn, table bytes.Buffer
	if len(c.Bars) == 0 || c.Table(&table) != nil {
		return out
	}
	out.Table = template.HTML(table.String())
	if c.SVG(&drawn) == nil {
		out.Chart = template.HTML(drawn.String())
	}
	return out
}

// mostTools is how many tools a page about money lists; mostBars how many bars are
// drawn.
const mostTools, mostBars = 20, 12

// worthData is what the page of what the tools are worth shows.
type worthData struct {
	model.WorthView
	Places, Owners pictured
	Rows           []worthRow
	CSV            string
	LeftOut        string
	Total          string
	ActualCash     string
	Policies       []policyRow
}

type worthRow struct {
	model.WorthTool
	Amount, Cash, Indexed string
}

// policyRow is a policy with its amounts as text.
type policyRow struct {
	model.PolicyView
	LimitText, CoveredText, GapText, AdequacyText, Left, Warn string
	Edits                                                     bool // the asker may change it
}

func (p *Pages) worthPage(a *Ask) (Reply, error) {
	v, err := p.shop.Worth(a.R.Context(), a.By, model.WorthQuery{Limit: mostTools, Cursor: a.Query("after")})
	money := amounts(v.Currency)
	d := worthData{WorthView: v, CSV: "/api/v1/worth?format=csv", Total: money(v.Total.Replacement), ActualCash: money(v.Total.ActualCash),
		LeftOut: p.leftOut(a, v.Total), Places: p.sums(a, "worth.by-place", v.Places, money), Owners: p.sums(a, "worth.by-owner", v.Owners, money)}
	for _, t := range v.Tools {
		r := worthRow{WorthTool: t}
		if t.Cost != nil {
			r.Amount, r.Cash = money(t.Cost.Amount), money(t.Value.ActualCash)
			if t.Moved != nil {
				r.Indexed = money(t.Moved.Amount)
			}
		}
		d.Rows = append(d.Rows, r)
	}
	for _, o := range v.Policies {
		r := policyRow{PolicyView: o, LimitText: amounts(o.Currency)(o.Terms.Limit), CoveredText: money(o.Covered.Replacement), GapText: money(o.Gap), Left: p.leftOut(a, o.Covered), Warn: o.Warning(),
			Edits: o.Owner != "" || a.leads()}
		if o.Foreign {
			r.GapText = p.say(a, "worth.adequacy-unknown")
		}
		if o.Adequacy != nil {
			r.AdequacyText = strconv.FormatFloat(*o.Adequacy, 'f', 2, 64)
		}
		d.Policies = append(d.Policies, r)
	}
	return Show("worth", d), err
}

// amounts writes minor units of a currency.
func amounts(currency string) func(int64) string {
	return func(minor int64) string { return units.Money{Minor: minor, Currency: currency}.String() }
}

// leftOut says what of a sum is in no amount; empty where all is.
func (p *Pages) leftOut(a *Ask, s model.WorthSum) string {
	var out []string
	for _, n := range []struct {
		n   int
		key string
	}{{s.Unpriced, "worth.unpriced"}, {s.Foreign, "worth.foreign"}, {s.Hidden, "worth.hidden"}} {
		if n.n > 0 {
			out = append(out, p.say(a, n.key, n.n))
		}
	}
	return strings.Join(out, "; ")
}

// sums draws the replacement cost of places or owners.
func (p *Pages) sums(a *Ask, title string, all []model.WorthSum, money func(int64) string) pictured {
	c := model.Bars{Title: p.say(a, title), Heads: [3]string{p.say(a, "worth.of"), p.say(a, "worth.replacement"), p.say(a, "worth.not-in-it")}}
	for _, s := range all[:min(mostBars, len(all))] {
		name := s.Name
		if name == "" {
			name = p.say(a, "worth.no-place")
		}
		c.Bars = append(c.Bars, model.Bar{Label: name, Size: float64(s.Replacement), Words: p.known(a, s, money), More: p.leftOut(a, s)})
	}
	return barred(c)
}

// known is what is known of a sum, with how many tools are not in it: a sum of none
// is unknown and not nothing.
func (p *Pages) known(a *Ask, s model.WorthSum, money func(int64) string) string {
	not := s.Unpriced + s.Foreign + s.Hidden
	switch {
	case not == 0:
		return money(s.Replacement)
	case not == s.Tools:
		return p.say(a, "lost.unknown")
	}
	return p.say(a, "worth.and-not", money(s.Replacement), not)
}

// lostData is what the page of an estimate shows.
type lostData struct {
	Asked    bool
	View     model.LostView
	Bars     pictured
	Paid     string
	Unpaid   string
	Lost     string
	Policies []lostPolicy
	Places   []Option
	People   []Option
}

type lostPolicy struct {
	Name, Paid, First, Held string
	Lines                   []lostLine
	Said                    []string
}

type lostLine struct{ Words, Amount string }

// lostPage asks what is supposed to be lost, and gives the estimate.
func (p *Pages) lostPage(a *Ask) (Reply, error) {
	q := a.R.URL.Query()
	d := lostData{}
	if err := p.lostChoices(a, &d); err != nil {
		return Reply{}, err
	}
	in := model.IfLost{Place: a.Query("place"), Person: a.Query("person"), Everything: a.Query("everything") != ""}
	r := Reply{page: "lost"}
	if d.Asked = in != (model.IfLost{}); d.Asked {
		var err error
		if d.View, err = p.shop.IfLost(a.R.Context(), a.By, in); err != nil {
			d.Asked, r.err = false, err
		} else {
			p.estimate(a, &d)
		}
	}
	r.data, r.form = d, formOf(q, nil)
	return r, nil
}

func (p *Pages) lostChoices(a *Ask, d *lostData) error {
	places, err := p.shop.Places(a.R.Context(), a.By)
	if err != nil {
		return err
	}
	for _, pl := range places {
		d.Places = append(d.Places, Option{Value: pl.Path, Label: pl.Path})
	}
	everybody, err := p.shop.People(a.R.Context(), a.By)
	for _, one := range everybody {
		d.People = append(d.People, Option{Value: one.Name, Label: one.Name})
	}
	return err
}

// estimate puts the figures into words.
func (p *Pages) estimate(a *Ask, d *lostData) {
	money := amounts(d.View.Currency)
	d.Lost, d.Paid, d.Unpaid = money(d.View.Lost.Replacement), p.between(a, d.View.PaidLow, &d.View.PaidHigh, money), p.between(a, &d.View.UnpaidLow, d.View.UnpaidHigh, money)
	d.Bars = barred(model.Bars{Title: p.say(a, "lost.bars"), Heads: [3]string{p.say(a, "worth.of"), p.say(a, "worth.amount"), p.say(a, "worth.not-in-it")}, Bars: []model.Bar{
		{Label: p.say(a, "lost.lost"), Size: float64(d.View.Lost.Replacement), Words: d.Lost, More: p.leftOut(a, d.View.Lost)},
		{Label: p.say(a, "lost.paid-most"), Size: float64(d.View.PaidHigh), Words: money(d.View.PaidHigh)},
		{Label: p.say(a, "lost.unpaid-least"), Size: float64(d.View.UnpaidLow), Words: money(d.View.UnpaidLow)},
	}})
	for _, o := range d.View.Policies {
		l := lostPolicy{Name: o.Policy.Name, Paid: p.between(a, o.Low, &o.High, money), Said: o.Said}
		if o.First != nil {
			l.First, l.Held = p.between(a, o.First.Low, &o.First.High, money), p.say(a, "lost.held-unknown", money(*o.Holdback))
			if days := o.Policy.HoldbackDays; days != nil {
				l.Held = p.say(a, "lost.held-days", money(*o.Holdback), *days)
			}
		}
		for _, line := range o.Lines {
			l.Lines = append(l.Lines, lostLine{line.Words, money(line.Amount)})
		}
		d.Policies = append(d.Policies, l)
	}
}

// between writes a range; what cannot be said is unknown.
func (p *Pages) between(a *Ask, low, high *int64, money func(int64) string) string {
	or := func(n *int64) string {
		if n == nil {
			return p.say(a, "lost.unknown")
		}
		return money(*n)
	}
	if or(low) == or(high) {
		return or(low)
	}
	return words.Say(a.language(), "lost.between", or(low), or(high))
}

// gapsData is what the page of what could not be proven shows.
type gapsData struct {
	model.GapsView
	AtStakeText string
	Open        int
	Bars        pictured
	Listed      []gapRow
}

type gapRow struct {
	model.GapRow
	Amount string
}

func (p *Pages) gapsPage(a *Ask) (Reply, error) {
	v, err := p.shop.Gaps(a.R.Context(), a.By, model.GapsQuery{Limit: mostTools, Cursor: a.Query("after")})
	money := amounts(v.Currency)
	d := gapsData{GapsView: v, AtStakeText: money(v.AtStake), Open: v.Tools - v.Proven}
	c := model.Bars{Title: p.say(a, "gaps.bars"), Heads: [3]string{p.say(a, "gaps.missing"), p.say(a, "gaps.tools"), p.say(a, "worth.not-in-it")}}
	for _, g := range v.Counts() {
		c.Bars = append(c.Bars, model.Bar{Label: p.say(a, "gap."+strings.ReplaceAll(string(g.Gap), " ", "-")), Size: float64(g.Tools), Words: strconv.Itoa(g.Tools)})
	}
	d.Bars = barred(c)
	for _, r := range v.Rows {
		row := gapRow{GapRow: r}
		if r.Cost != nil {
			row.Amount = money(r.Cost.Amount)
		}
		d.Listed = append(d.Listed, row)
	}
	return Show("gaps", d), err
}
