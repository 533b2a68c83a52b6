package model

import (
	"context"
	"maps"
	"slices"
	"time"

	"pawl/model/dates"
	"pawl/model/internal/store"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/worth"
)

// WorthTool is a tool with what it is worth, as far as the asker may see it.
type WorthTool struct {
	Tool     register.Tool
	Currency string // of every amount here
	Owner    string
	Place    string
	Cost     *worth.Cost  // nil: no figure is on record
	Value    *worth.Value // nil with Cost
	Foreign  bool         // there is a figure, in another currency
	Shown    bool         // its money may be seen
	Assumed  bool         // its age counts from when it was registered
	Days     int          // how old the figure is; -1: nobody said

	Moved   *worth.Moved   // the price paid, moved by the index; nil: there is a quote, or no such figure
	Unmoved string         // the month of which the index has no value
	Tax     *worth.TaxLine // in the tax book; nil: it was not asked for
}

// WorthSum adds up tools. What has no figure, or one that the asker may not see, is
// counted and in no amount.
type WorthSum struct {
	Name                       string
	Tools                      int
	Replacement, ActualCash    int64
	Unpriced, Hidden, Foreign  int
	FromQuotes, FromPricesPaid int
}

func (s *WorthSum) add(w WorthTool) {
	s.Tools++
	switch {
	case !w.Shown:
		s.Hidden++
	case w.Cost != nil:
		s.Replacement += w.Cost.Amount
		s.ActualCash += w.Value.ActualCash
		if w.Cost.Of == worth.FromQuote {
			s.FromQuotes++
		} else {
			s.FromPricesPaid++
		}
	case w.Foreign:
		s.Foreign++
	default:
		s.Unpriced++
	}
}

// WorthView is what the tools are worth.
type WorthView struct {
	Currency string
	Today    dates.Date
	Tools    []WorthTool // dearest first
	More     int         // that are not listed after them
	Next     string      // cursor of the next page; empty: this is the last
	Places   []WorthSum
	Owners   []WorthSum
	Total    WorthSum
	Outside  int // tools of owners outside, in no figure here
	Policies []PolicyView
	Lives    []worth.Life      // of each class met
	Index    *worth.IndexPoint // the reference month of the index that the shop goes by; nil: none
	Unmoved  int               // prices paid in months of which that index has no value here
	Placed   []worth.Placed    // by owner and year, where the tax book was asked for
}

// PolicyView is a policy with how its limit stands against what it covers.
type PolicyView struct {
	worth.Policy
	OwnerName string
	Terms     worth.Terms
	Covered   WorthSum
	Foreign   bool     // it is in another currency than the shop's: nothing here is held against it
	Adequacy  *float64 // nil: cannot be said
	Gap       int64    // 0 of one in another currency, where it cannot be said
}

// valuer says what tools are worth to one asker on one day.
type valuer struct {
	*directory
	by     By
	loc    *time.Location
	today  dates.Date
	lives  worth.Lives
	kinds  map[string]worth.Life // that were asked for
	points worth.Points
	query  WorthQuery
}

func (d *directory) valuer(by By, q WorthQuery) (*valuer, error) {
	v := &valuer{directory: d, by: by, kinds: map[string]worth.Life{}, query: q}
	var err error
	if v.loc, err = d.settings.Location(); err != nil {
		return nil, err
	}
	v.today = d.Now().Day(v.loc)
	lives, err := d.Lives()
	if err != nil {
		return nil, err
	}
	points, err := d.IndexPoints()
	v.lives, v.points = lives, points
	return v, err
}

// each hands over every tool that is not gone, page by page.
func (v *valuer) each(ctx context.Context, fn func([]register.Tool, []WorthTool) error) error {
	for q := (store.ToolQuery{Limit: exportPage}); ; {
		tools, err := v.Tools(q)
		if err == nil {
			err = ctx.Err()
		}
		if err != nil || len(tools) == 0 {
			return err
		}
		out, err := v.value(tools)
		if err != nil {
			return err
		}
		if err := fn(tools, out); err != nil || len(tools) < q.Limit {
			return err
		}
		q.After = tools[len(tools)-1].Number
	}
}

// value says what some tools are worth.
func (v *valuer) value(tools []register.Tool) ([]WorthTool, error) {
	ids := make([]string, len(tools))
	for i, t := range tools {
		ids[i] = t.ID
	}
	quotes, err := v.Quotes(ids)
	if err != nil {
		return nil, err
	}
	conditions, err := v.Conditions(ids)
	if err != nil {
		return nil, err
	}
	out := make([]WorthTool, len(tools))
	for i, t := range tools {
		var c *worth.Condition
		if judged, is := conditions[t.ID]; is {
			c = &judged
		}
		if out[i], err = v.tool(t, quotes[t.ID], c); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (v *valuer) tool(t register.Tool, quotes []worth.Quote, c *worth.Condition) (w WorthTool, err error) {
	w = WorthTool{Tool: t, Currency: v.settings.Currency, Owner: v.ownerOf(t), Place: v.places.Path(t.Place), Days: -1, Shown: people.May(v.by.Actor, people.SeeMoney, v.object(t))}
	if !w.Shown {
		w.Tool.Purchase = t.Purchase.Hidden()
		return w, nil
	}
	if v.query.Tax {
		line, err := worth.TaxBook(t, v.query.MidQuarter, v.today)
		if err != nil {
			return w, err
		}
		w.Tax = &line
	}
	w.Cost, w.Foreign = worth.CostOf(t, quotes, v.settings.Currency)
	if w.Cost == nil {
		return w, nil
	}
	since, assumed := worth.Since(t, t.Created.Day(v.loc))
	value := worth.ActualCash(w.Cost.Amount, worth.AgeOn(since, v.today), v.life(t.Kind), c)
	w.Value, w.Assumed = &value, assumed
	w.Moved, w.Unmoved = v.points.Move(w.Cost)
	if w.Cost.Dated != "" {
		w.Days = dates.DaysBetween(w.Cost.Dated, v.today)
	}
	return w, nil
}

// life looks the words of a kind up once.
func (v *valuer) life(kind string) worth.Life {
	l, known := v.kinds[kind]
	if !known {
		l = v.lives.Of(kind)
		v.kinds[kind] = l
	}
	return l
}

// Working is the arithmetic of the actual cash value in words; empty where there is
// none.
func (w WorthTool) Working() string {
	switch {
	case w.Value == nil:
		return ""
	case w.Assumed:
		return w.Value.Working() + "; its age counts from when it was registered, and it may be older"
	}
	return w.Value.Working()
}

// sums adds every tool up and ranks those whose money the asker may see.
func (v *valuer) sums(ctx context.Context) (out WorthView, list *ranking, err error) {
	out.Currency, out.Today, out.Index = v.settings.Currency, v.today, v.points.Reference()
	if out.Policies, err = v.policies(v.by); err != nil {
		return out, nil, err
	}
	sum := summing{view: &out, places: map[string]*WorthSum{}, owners: map[string]*WorthSum{}, lives: map[string]worth.Life{}, placed: worth.PlacedIn{}}
	list = &ranking{}
	err = v.each(ctx, func(_ []register.Tool, some []WorthTool) error {
		for _, w := range some {
			if sum.add(w); w.Shown && !w.Tool.FromOutside() {
				list.add(w)
			}
		}
		return nil
	})
	sum.close()
	list.sort()
	return out, list, err
}

// summing adds tools up.
type summing struct {
	view           *WorthView
	places, owners map[string]*WorthSum
	lives          map[string]worth.Life
	placed         worth.PlacedIn
}

func (s *summing) add(w WorthTool) {
	v := s.view
	if w.Tool.FromOutside() {
		v.Outside++
		return
	}
	v.Total.add(w)
	into(s.places, w.Place).add(w)
	into(s.owners, w.Owner).add(w)
	for i := range v.Policies {
		if v.Policies[i].Covers(w.Tool) {
			v.Policies[i].Covered.add(w)
		}
	}
	if w.Value != nil {
		s.lives[w.Value.Life.Class] = w.Value.Life
	}
	if w.Unmoved != "" {
		v.Unmoved++
	}
	if w.Tax != nil {
		s.placed.Add(w.Owner, *w.Tax)
	}
}

// into gives the sum of a name.
func into(sums map[string]*WorthSum, name string) *WorthSum {
	if sums[name] == nil {
		sums[name] = &WorthSum{Name: name}
	}
	return sums[name]
}

func (s *summing) close() {
	v := s.view
	v.Places, v.Owners, v.Placed = sorted(s.places), sorted(s.owners), s.placed.Sorted()
	for _, class := range slices.Sorted(maps.Keys(s.lives)) {
		v.Lives = append(v.Lives, s.lives[class])
	}
	for i := range v.Policies {
		v.Policies[i].stand()
	}
}

func sorted(sums map[string]*WorthSum) (out []WorthSum) {
	for _, name := range slices.Sorted(maps.Keys(sums)) {
		out = append(out, *sums[name])
	}
	return out
}

// worthOn is the value of what a policy covers, on its basis.
func (p PolicyView) worthOn() int64 {
	if p.Basis == worth.ByActualCash {
		return p.Covered.ActualCash
	}
	return p.Covered.Replacement
}

// stand says how the limit stands against what is covered.
func (p *PolicyView) stand() {
	if p.Foreign {
		return
	}
	p.Adequacy, p.Gap = p.Terms.Adequacy(p.worthOn()), p.Terms.Gap(p.Covered.Replacement)
}

// policies gives the policies in force that the asker may see.
func (d *directory) policies(by By) (out []PolicyView, err error) {
	all, err := d.Policies()
	for _, p := range all {
		if !p.May(by.Actor, d.byID[p.Owner].Shares) {
			continue
		}
		v, err := d.asRecorded(p)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, err
}
