package model

import (
	"context"
	"io"
	"maps"
	"slices"
	"strings"

	"pawl/model/dates"
	"pawl/model/internal/store"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/sheets"
	"pawl/model/units"
	"pawl/model/worth"
)

// WorthTool is a tool with what it is worth, as far as the asker may see it.
type WorthTool struct {
	Tool    register.Tool
	Owner   string
	Place   string
	Cost    *worth.Cost  // nil: no figure is on record
	Value   *worth.Value // nil with Cost
	Foreign bool         // there is a figure, in another currency
	Shown   bool         // its money may be seen
	Assumed bool         // its age counts from when it was registered
	Days    int          // how old the figure is; -1: nobody said
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
	More     int         // that are not listed
	Places   []WorthSum
	Owners   []WorthSum
	Total    WorthSum
	Outside  int // tools of owners outside, in no figure here
	Policies []PolicyView
	Lives    []worth.Life // of each class met
}

// PolicyView is a policy with how its limit stands against what it covers.
type PolicyView struct {
	worth.Policy
	OwnerName string
	Terms     worth.Terms
	Covered   WorthSum
	Adequacy  *float64 // nil: cannot be said
	Gap       int64
}

// worthOf hands over every tool that is not gone, page by page.
func (d *directory) worthOf(ctx context.Context, by By, q store.ToolQuery, each func([]register.Tool, []WorthTool) error) error {
	loc, err := d.settings.Location()
	if err != nil {
		return err
	}
	today := d.Now().Day(loc)
	for q.Limit = exportPage; ; {
		tools, err := d.Tools(q)
		if err == nil {
			err = ctx.Err()
		}
		if err != nil || len(tools) == 0 {
			return err
		}
		ids := make([]string, len(tools))
		for i, t := range tools {
			ids[i] = t.ID
		}
		quotes, err := d.Quotes(ids)
		if err != nil {
			return err
		}
		out := make([]WorthTool, len(tools))
		for i, t := range tools {
			out[i] = d.worthTool(by, t, quotes[t.ID], today, t.Created.Day(loc))
		}
		if err := each(tools, out); err != nil || len(tools) < q.Limit {
			return err
		}
		q.After = tools[len(tools)-1].Number
	}
}

func (d *directory) worthTool(by By, t register.Tool, quotes []worth.Quote, today, registered dates.Date) WorthTool {
	w := WorthTool{Tool: t, Owner: d.ownerOf(t), Place: d.places.Path(t.Place), Days: -1, Shown: people.May(by.Actor, people.SeeMoney, d.object(t))}
	if !w.Shown {
		w.Tool.Purchase = t.Purchase.Hidden()
		return w
	}
	w.Cost, w.Foreign = worth.CostOf(t, quotes, d.settings.Currency)
	if w.Cost == nil {
		return w
	}
	since, assumed := worth.Since(t, registered)
	v := worth.ActualCash(w.Cost.Amount, worth.AgeOn(since, today), worth.LifeOf(t.Kind))
	w.Value, w.Assumed = &v, assumed
	if w.Cost.Dated != "" {
		w.Days = dates.DaysBetween(w.Cost.Dated, today)
	}
	return w
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

// MaxWorthTools is how many tools a view lists.
const MaxWorthTools = 1000

// Worth gives what the tools are worth that the asker may know of, by place and by
// owner, and how the policies stand against it.
func (s *Shop) Worth(ctx context.Context, by By, limit int) (v WorthView, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		v, err = d.worth(ctx, by)
		return err
	})
	slices.SortStableFunc(v.Tools, dearest)
	if limit > 0 && len(v.Tools) > limit {
		v.More, v.Tools = len(v.Tools)-limit, v.Tools[:limit]
	}
	return v, err
}

func dearest(a, b WorthTool) int {
	cost := func(w WorthTool) int64 {
		if w.Cost == nil {
			return -1
		}
		return w.Cost.Amount
	}
	if c := cost(b) - cost(a); c != 0 {
		return map[bool]int{true: 1, false: -1}[c > 0]
	}
	return strings.Compare(string(a.Tool.Number), string(b.Tool.Number))
}

func (d *directory) worth(ctx context.Context, by By) (v WorthView, err error) {
	loc, err := d.settings.Location()
	if err != nil {
		return v, err
	}
	v.Currency, v.Today = d.settings.Currency, d.Now().Day(loc)
	if v.Policies, err = d.policies(by); err != nil {
		return v, err
	}
	places, owners, lives := map[string]*WorthSum{}, map[string]*WorthSum{}, map[string]worth.Life{}
	into := func(sums map[string]*WorthSum, name string, w WorthTool) {
		if sums[name] == nil {
			sums[name] = &WorthSum{Name: name}
		}
		sums[name].add(w)
	}
	err = d.worthOf(ctx, by, store.ToolQuery{}, func(_ []register.Tool, some []WorthTool) error {
		for _, w := range some {
			if w.Tool.FromOutside() {
				v.Outside++
				continue
			}
			v.Total.add(w)
			into(places, w.Place, w)
			into(owners, w.Owner, w)
			for i := range v.Policies {
				if v.Policies[i].Covers(w.Tool) {
					v.Policies[i].Covered.add(w)
				}
			}
			if w.Shown {
				v.Tools = append(v.Tools, w)
			}
			if w.Value != nil {
				lives[w.Value.Life.Class] = w.Value.Life
			}
		}
		return nil
	})
	v.Places, v.Owners = sorted(places), sorted(owners)
	for _, class := range slices.Sorted(maps.Keys(lives)) {
		v.Lives = append(v.Lives, lives[class])
	}
	for i := range v.Policies {
		v.Policies[i].stand()
	}
	return v, err
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

// WorthCSV writes the tools with their figures; cells are guarded against being
// taken for formulas.
func (s *Shop) WorthCSV(ctx context.Context, by By, w io.Writer) error {
	v, err := s.Worth(ctx, by, 0)
	if err != nil {
		return err
	}
	to := sheets.NewCSV(w, sheets.CSVOptions{Guard: true})
	if err := to.Write([]string{"number", "kind", "maker", "model", "owner", "place", "amount", "currency", "of", "source", "date", "actual cash value", "working"}); err != nil {
		return err
	}
	for _, t := range v.Tools {
		cells := []string{t.Tool.Number.String(), t.Tool.Kind, t.Tool.Maker, t.Tool.Model, t.Owner, t.Place, "", "", "", "", "", "", ""}
		if t.Cost != nil {
			copy(cells[6:], []string{units.Money{Minor: t.Cost.Amount, Currency: v.Currency}.Decimal(), v.Currency, t.Cost.Of, t.Cost.Source, string(t.Cost.Dated),
				units.Money{Minor: t.Value.ActualCash, Currency: v.Currency}.Decimal(), t.Working()})
		}
		if err := to.Write(cells); err != nil {
			return err
		}
	}
	return to.Close()
}
