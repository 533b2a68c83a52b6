package api

import (
	"io"
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/fault"
	"pawl/model/numbers"
	"pawl/model/sheets"
	"pawl/model/units"
	"pawl/model/worth"
)

func (s *service) worthRoutes() []route {
	return []route{
		{method: http.MethodGet, path: Prefix + "/worth", query: []string{"limit", "format"}, offers: []string{jsonType, csvType}, handle: s.worth},
		{method: http.MethodPost, path: Prefix + "/worth/quotes", query: []string{"dry_run"}, handle: s.importQuotes},
		{method: http.MethodGet, path: Prefix + "/worth/if-lost", query: []string{"place", "person", "everything"}, handle: s.ifLost},
		{method: http.MethodGet, path: Prefix + "/gaps", query: []string{"limit"}, handle: s.gaps},
		{method: http.MethodGet, path: Prefix + "/policies", handle: s.policies},
		{method: http.MethodPost, path: Prefix + "/policies", handle: s.addPolicy},
		{method: http.MethodPost, path: Prefix + "/policies/:id/end", handle: s.endPolicy},
	}
}

// listed reads how many tools a view lists.
func (q *asked) listed() int { return q.number("limit", model.MaxWorthTools, 1, model.MaxWorthTools) }

func (s *service) worth(c *gin.Context) (answer, error) {
	q := askedOf(c)
	limit, kind := q.listed(), c.GetString(offered)
	if q.values.Has("format") {
		if kind = map[string]string{"json": jsonType, "csv": csvType}[q.text("format")]; kind == "" {
			q.bad.Add("#/format", "%q is not a format; use json or csv", clip(q.text("format")))
		}
	}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	if kind == csvType {
		a, err := drawn(kind, "worth", func(w io.Writer) error { return s.shop.WorthCSV(c.Request.Context(), by(c), w) })
		if err == nil {
			a.raw.mediaType = csvType + "; charset=utf-8; header=present" // RFC 4180 section 3
		}
		return a, err
	}
	v, err := s.shop.Worth(c.Request.Context(), by(c), limit)
	return ok(viewWorth(v), 0), err
}

func viewWorth(v model.WorthView) wire.Worth {
	m := inCurrency(v.Currency)
	return wire.Worth{Currency: v.Currency, Today: v.Today, Total: m.sum(v.Total), Outside: v.Outside, Places: list(v.Places, m.sum), Owners: list(v.Owners, m.sum),
		Policies: list(v.Policies, m.standing), Tools: list(v.Tools, m.tool), More: v.More, Cautions: []string{worth.Caution},
		Lives: list(v.Lives, func(l worth.Life) wire.Life { return wire.Life{Class: l.Class, Months: l.Months, Floor: l.Floor} })}
}

// inCurrency writes amounts of one currency.
type inCurrency string

func (m inCurrency) text(minor int64) string {
	return units.Money{Minor: minor, Currency: string(m)}.String()
}

func (m inCurrency) orNone(minor *int64) *string {
	if minor == nil {
		return nil
	}
	text := m.text(*minor)
	return &text
}

func (m inCurrency) sum(s model.WorthSum) wire.WorthSum {
	return wire.WorthSum{Name: s.Name, Tools: s.Tools, Cost: m.text(s.Replacement), ActualCash: m.text(s.ActualCash), Quotes: s.FromQuotes, Prices: s.FromPricesPaid,
		Unpriced: s.Unpriced, Foreign: s.Foreign, Hidden: s.Hidden}
}

func (m inCurrency) tool(t model.WorthTool) wire.WorthTool {
	out := wire.WorthTool{Number: t.Tool.Number.String(), Kind: t.Tool.Kind, Maker: t.Tool.Maker, Model: t.Tool.Model, Owner: t.Owner, Place: null(t.Place),
		Aged: t.Aged(), Assumed: t.Assumed, Foreign: t.Foreign}
	if t.Cost != nil {
		working := t.Working()
		out.Cost, out.Of, out.Source, out.Dated = m.orNone(&t.Cost.Amount), null(t.Cost.Of), null(t.Cost.Source), dayOrNone(t.Cost.Dated)
		out.ActualCash, out.Working = m.orNone(&t.Value.ActualCash), &working
	}
	return out
}

func (m inCurrency) standing(p model.PolicyView) wire.PolicyStanding {
	out := wire.PolicyStanding{Policy: viewPolicy(p), Covered: m.sum(p.Covered), Adequacy: p.Adequacy, Gap: m.text(p.Gap)}
	if words := p.Warning(); words != "" {
		out.Warning = &words
	}
	return out
}

func viewPolicy(p model.PolicyView) wire.Policy {
	m := inCurrency(p.Currency)
	return wire.Policy{ID: p.ID, Name: p.Name, Owner: p.OwnerName, Employees: p.Employees, Limit: m.text(p.Terms.Limit), Deductible: m.text(p.Terms.Deductible),
		Coinsurance: null(p.Coinsurance), Basis: string(p.Basis), OtherCovered: m.orNone(p.OtherCovered), Order: words(stepWords(p.Terms.Order)),
		Sublimits: list(p.Terms.Sublimits, func(s worth.Sublimit) wire.Sublimit { return wire.Sublimit{Name: s.Name, Amount: m.text(s.Amount)} }),
		Since:     p.Since, Ended: p.Ended}
}

func stepWords(steps []worth.Step) (out []string) {
	for _, s := range steps {
		out = append(out, string(s))
	}
	return out
}

func (s *service) policies(c *gin.Context) (answer, error) {
	all, err := s.shop.Policies(c.Request.Context(), by(c))
	return ok(wire.Policies{Policies: list(all, viewPolicy)}, 0), err
}

func (s *service) addPolicy(c *gin.Context) (answer, error) {
	in, err := bind[wire.NewPolicy](c, false)
	if err != nil {
		return answer{}, err
	}
	p, err := s.shop.AddPolicy(c.Request.Context(), by(c), model.NewPolicy{Owner: in.Owner, NewPolicy: worth.NewPolicy{Name: in.Name, Limit: in.Limit,
		Deductible: in.Deductible, Coinsurance: in.Coinsurance, Basis: in.Basis, OtherCovered: in.OtherCovered, Order: in.Order, Sublimits: in.Sublimits, Employees: in.Employees}})
	return created(viewPolicy(p), 0, ""), err
}

func (s *service) endPolicy(c *gin.Context) (answer, error) {
	if _, err := bind[nothing](c, true); err != nil {
		return answer{}, err
	}
	p, err := s.shop.EndPolicy(c.Request.Context(), by(c), c.Param("id"))
	return ok(viewPolicy(p), 0), err
}

// importQuotes takes the bytes of a CSV.
func (s *service) importQuotes(c *gin.Context) (answer, error) {
	format, err := sheetFormat(c.Request)
	if err == nil && format != "csv" {
		err = fault.New(fault.Media, "quotes come as a CSV, not as %s", clip(c.Request.Header.Get("Content-Type"))).WithHint("send them as Content-Type: %s", csvType)
	}
	if err != nil {
		return answer{}, err
	}
	q := askedOf(c)
	dry := q.yes("dry_run")
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	body := limit(c.Request.Body, sheets.MaxBytes)
	r, err := s.shop.ImportQuotes(c.Request.Context(), by(c), body, dry)
	if body.err != nil {
		err = body.err // rather than what the shop made of it
	}
	return ok(wire.QuotesReport{DryRun: r.DryRun, Rows: r.Rows, Added: r.Added, Unchanged: r.Unchanged,
		Numbers: list(r.Tools, func(n numbers.Number) string { return n.String() })}, 0), err
}

func (s *service) ifLost(c *gin.Context) (answer, error) {
	q := askedOf(c)
	in := model.IfLost{Place: q.text("place"), Person: q.text("person"), Everything: q.yes("everything")}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	v, err := s.shop.IfLost(c.Request.Context(), by(c), in)
	return ok(viewLost(v), 0), err
}

func viewLost(v model.LostView) wire.Lost {
	m := inCurrency(v.Currency)
	return wire.Lost{Scope: v.Scope, Currency: v.Currency, Lost: m.sum(v.Lost), Outside: v.Outside, Paid: m.between(v.PaidLow, &v.PaidHigh),
		Unpaid: m.between(&v.UnpaidLow, v.UnpaidHigh), Policies: list(v.Policies, m.lost), Uncovered: m.sum(v.Uncovered), Words: v.Words, Said: words(v.Said),
		Cautions: []string{worth.Caution}}
}

func (m inCurrency) between(low, high *int64) wire.Range {
	return wire.Range{Low: m.orNone(low), High: m.orNone(high)}
}

func (m inCurrency) lost(p model.LostPolicy) wire.LostPolicy {
	out := wire.LostPolicy{Policy: p.Policy.Name, Basis: string(p.Policy.Basis), Lost: m.sum(p.Lost), Paid: m.between(p.Low, &p.High), Orders: p.Orders, Said: words(p.Said),
		Lines: list(p.Lines, func(l worth.Line) wire.EstimateLine {
			return wire.EstimateLine{Step: null(string(l.Step)), Words: l.Words, Amount: m.text(l.Amount)}
		})}
	if p.First != nil {
		first := m.between(p.First.Low, &p.First.High)
		out.First = &first
	}
	return out
}

func (s *service) gaps(c *gin.Context) (answer, error) {
	q := askedOf(c)
	limit := q.listed()
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	v, err := s.shop.Gaps(c.Request.Context(), by(c), limit)
	m := inCurrency(v.Currency)
	return ok(wire.Gaps{Currency: v.Currency, AtStake: m.text(v.AtStake), Looked: v.Tools, Proven: v.Proven, Unpriced: v.Unpriced, Hidden: v.Hidden, More: v.More,
		Missing: list(v.Counts(), func(g model.GapCount) wire.GapCount { return wire.GapCount{Missing: string(g.Gap), Tools: g.Tools} }),
		Tools:   list(v.Rows, m.gap), Cautions: []string{worth.Caution}}, 0), err
}

func (m inCurrency) gap(r model.GapRow) wire.GapTool {
	out := wire.GapTool{Number: r.Tool.Number.String(), Kind: r.Tool.Kind, Owner: r.Owner, Place: null(r.Place), Next: r.Gaps[0].Next(r.Tool.Number.String()),
		Missing: list(r.Gaps, func(g worth.Gap) string { return string(g) })}
	if r.Cost != nil {
		out.AtStake = m.orNone(&r.Cost.Amount)
	}
	return out
}
