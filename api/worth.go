package api

import (
	"io"
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/claims"
	"pawl/model/fault"
	"pawl/model/units"
	"pawl/model/worth"
)

func (s *service) worthRoutes() []route {
	return []route{
		{method: http.MethodGet, path: Prefix + "/worth", query: []string{"limit", "cursor", "all", "format", "tax", "mid_quarter"}, offers: []string{jsonType, csvType}, handle: s.worth},
		{method: http.MethodPost, path: Prefix + "/worth/quotes", query: []string{"dry_run"}, handle: s.importQuotes},
		{method: http.MethodGet, path: Prefix + "/worth/if-lost", query: []string{"place", "person", "everything"}, handle: s.ifLost},
		{method: http.MethodGet, path: Prefix + "/worth/lives", handle: s.lives},
		{method: http.MethodPost, path: Prefix + "/worth/lives", handle: s.setLife},
		{method: http.MethodPost, path: Prefix + "/worth/lives/:id/end", handle: s.endLife},
		{method: http.MethodGet, path: Prefix + "/worth/index", handle: s.priceIndex},
		{method: http.MethodPost, path: Prefix + "/worth/index", query: []string{"dry_run"}, handle: s.importIndex},
		{method: http.MethodPost, path: Prefix + "/worth/index/end", handle: s.endIndex},
		{method: http.MethodGet, path: Prefix + "/tools/:number/worth", handle: s.toolWorth},
		{method: http.MethodPost, path: Prefix + "/tools/:number/quotes", handle: s.addQuote},
		{method: http.MethodPost, path: Prefix + "/tools/:number/condition", handle: s.judge},
		{method: http.MethodGet, path: Prefix + "/gaps", query: []string{"limit", "cursor", "all"}, handle: s.gaps},
		{method: http.MethodGet, path: Prefix + "/policies", handle: s.policies},
		{method: http.MethodPost, path: Prefix + "/policies", handle: s.addPolicy},
		{method: http.MethodGet, path: Prefix + "/policies/:id", handle: s.policy},
		{method: http.MethodPatch, path: Prefix + "/policies/:id", handle: s.editPolicy},
		{method: http.MethodPost, path: Prefix + "/policies/:id/end", handle: s.endPolicy},
	}
}

// listed reads how many tools a view lists.
func (q *asked) listed() int { return q.number("limit", model.MaxWorthTools, 1, model.MaxWorthTools) }

// whole says whether every row is asked for, as a stream; it goes with no page.
func (q *asked) whole() bool {
	all := q.yes("all")
	if all && (q.values.Has("limit") || q.values.Has("cursor")) {
		q.bad.Add("#/all", "all goes with no limit and no cursor")
	}
	return all
}

func (s *service) worth(c *gin.Context) (answer, error) {
	q := askedOf(c)
	in, all, kind := model.WorthQuery{Limit: q.listed(), Cursor: q.text("cursor"), Tax: q.yes("tax")}, q.whole(), c.GetString(offered)
	if q.values.Has("format") {
		if kind = map[string]string{"json": jsonType, "csv": csvType}[q.text("format")]; kind == "" {
			q.bad.Add("#/format", "%q is not a format; use json or csv", fault.Clip(q.text("format")))
		}
	}
	var err error
	in.MidQuarter, err = worth.ParseYears(q.text("mid_quarter"))
	q.bad.Keep("#/mid_quarter", err)
	if len(in.MidQuarter) > 0 && !in.Tax {
		q.bad.Add("#/mid_quarter", "it is of the tax book; ask for that too: tax=true")
	}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	switch {
	case kind == csvType:
		return answer{stream: &stream{csvType + "; charset=utf-8; header=present", `inline; filename="worth.csv"`, // RFC 4180 section 3
			func(w io.Writer) error { return s.shop.WorthCSV(c.Request.Context(), by(c), w) }}}, nil
	case all:
		return answer{stream: &stream{jsonType, `inline; filename="worth.json"`, func(w io.Writer) error { return s.worthWhole(c, in, w) }}}, nil
	}
	v, err := s.shop.Worth(c.Request.Context(), by(c), in)
	a := ok(viewWorth(v, in.Tax), 0)
	a.next = v.Next
	return a, err
}

// worthWhole writes every tool as it is read.
func (s *service) worthWhole(c *gin.Context, in model.WorthQuery, w io.Writer) error {
	var rows *rowStream
	var m inCurrency
	err := s.shop.WorthStream(c.Request.Context(), by(c), in, func(v model.WorthView) (err error) {
		m = inCurrency(v.Currency)
		rows, err = openRows(w, viewWorth(v, in.Tax), "tools")
		return err
	}, func(some []model.WorthTool) error {
		for _, t := range some {
			if err := rows.add(m.tool(t)); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return rows.close()
}

func viewWorth(v model.WorthView, tax bool) wire.Worth {
	m := inCurrency(v.Currency)
	out := wire.Worth{Currency: v.Currency, Today: v.Today, Total: m.sum(v.Total), Outside: v.Outside, Places: list(v.Places, m.sum), Owners: list(v.Owners, m.sum),
		Policies: list(v.Policies, m.standing), Tools: list(v.Tools, m.tool), More: v.More, Next: null(v.Next), Cautions: []string{claims.NoAdvice},
		Lives: list(v.Lives, viewLife), Unmoved: v.Unmoved}
	if v.Index != nil {
		i := viewPoint(*v.Index)
		out.Index = &i
	}
	if tax {
		out.Tax = &wire.TaxBook{Caution: worth.TaxCaution, Placed: list(v.Placed, m.placed)}
	}
	return out
}

func viewLife(l worth.Life) wire.Life {
	return wire.Life{Class: l.Class, Months: l.Months, Floor: l.Floor, From: l.From()}
}

func viewPoint(p worth.IndexPoint) wire.IndexPoint {
	return wire.IndexPoint{Series: p.Series, Area: p.Area, Base: p.Base, Month: p.Month, Value: p.Value}
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
		if c := t.Value.Condition; c != nil {
			out.Condition = &wire.Condition{Share: c.Share, Reason: c.Reason}
		}
	}
	if i := t.Moved; i != nil {
		out.Indexed = &wire.Indexed{Amount: m.text(i.Amount), Label: worth.Indexed, Series: i.Series, Area: i.Area, Base: i.Base, FromMonth: i.FromMonth, FromValue: i.FromValue,
			ToMonth: i.ToMonth, ToValue: i.ToValue, Change: i.Percent()}
	}
	if t.Tax != nil {
		line := m.tax(*t.Tax)
		out.Tax = &line
	}
	return out
}

func (m inCurrency) tax(l worth.TaxLine) wire.TaxLine {
	out := wire.TaxLine{Period: worth.TaxPeriod, Harbor: l.Harbor, WhyNone: null(l.WhyNone), Years: []wire.TaxYear{}}
	if l.WhyNone != "" {
		return out
	}
	m = "USD" // the tables are for no other
	out.Basis, out.In, out.Convention, out.SoFar, out.Left = m.orNone(&l.Basis), &l.In, null(string(l.When)), m.orNone(&l.SoFar), m.orNone(&l.Left)
	out.Years = list(l.Years, func(y worth.TaxYear) wire.TaxYear { return wire.TaxYear{Year: y.Year, Amount: m.text(y.Amount)} })
	return out
}

func (m inCurrency) placed(p worth.Placed) wire.TaxPlaced {
	m = "USD"
	return wire.TaxPlaced{Owner: p.Owner, Year: p.Year, Basis: m.text(p.Basis), LastQuarter: m.text(p.LastQuarter), MidQuarter: p.MidQuarter()}
}

func (m inCurrency) standing(p model.PolicyView) wire.PolicyStanding {
	out := wire.PolicyStanding{Policy: viewPolicy(p), Covered: m.sum(p.Covered), Adequacy: p.Adequacy, Gap: m.text(p.Gap)}
	if p.Foreign {
		out.Gap = ""
	}
	if words := p.Warning(); words != "" {
		out.Warning = &words
	}
	return out
}

func viewPolicy(p model.PolicyView) wire.Policy {
	m := inCurrency(p.Currency)
	return wire.Policy{ID: p.ID, Name: p.Name, Owner: p.OwnerName, Employees: p.Employees, Limit: m.text(p.Terms.Limit), Deductible: m.text(p.Terms.Deductible),
		Coinsurance: null(p.Coinsurance), Basis: string(p.Basis), OtherCovered: m.orNone(p.OtherCovered), Order: words(stepWords(p.Terms.Order)),
		Sublimits:    list(p.Terms.Sublimits, func(s worth.Sublimit) wire.Sublimit { return wire.Sublimit{Name: s.Name, Amount: m.text(s.Amount)} }),
		HoldbackDays: p.HoldbackDays, Since: p.Since, Ended: p.Ended}
}

func stepWords(steps []worth.Step) (out []string) {
	for _, s := range steps {
		out = append(out, string(s))
	}
	return out
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
		Cautions: []string{claims.NoAdvice}}
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
		out.First, out.Held, out.Days = &first, m.orNone(p.Holdback), p.Policy.HoldbackDays
	}
	return out
}

func (s *service) gaps(c *gin.Context) (answer, error) {
	q := askedOf(c)
	in, all := model.GapsQuery{Limit: q.listed(), Cursor: q.text("cursor")}, q.whole()
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	if all {
		return answer{stream: &stream{jsonType, `inline; filename="gaps.json"`, func(w io.Writer) error { return s.gapsWhole(c, w) }}}, nil
	}
	v, err := s.shop.Gaps(c.Request.Context(), by(c), in)
	a := ok(viewGaps(v), 0)
	a.next = v.Next
	return a, err
}

// gapsWhole writes every tool that lacks something as it is read.
func (s *service) gapsWhole(c *gin.Context, w io.Writer) error {
	var rows *rowStream
	var m inCurrency
	err := s.shop.GapsStream(c.Request.Context(), by(c), func(v model.GapsView) (err error) {
		m = inCurrency(v.Currency)
		rows, err = openRows(w, viewGaps(v), "tools")
		return err
	}, func(some []model.GapRow) error {
		for _, r := range some {
			if err := rows.add(m.gap(r)); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return rows.close()
}

func viewGaps(v model.GapsView) wire.Gaps {
	m := inCurrency(v.Currency)
	return wire.Gaps{Currency: v.Currency, AtStake: m.text(v.AtStake), Looked: v.Tools, Proven: v.Proven, Unpriced: v.Unpriced, Hidden: v.Hidden, More: v.More, Next: null(v.Next),
		Missing: list(v.Counts(), func(g model.GapCount) wire.GapCount { return wire.GapCount{Missing: string(g.Gap), Tools: g.Tools} }),
		Tools:   list(v.Rows, m.gap), Cautions: []string{claims.NoAdvice}}
}

func (m inCurrency) gap(r model.GapRow) wire.GapTool {
	out := wire.GapTool{Number: r.Tool.Number.String(), Kind: r.Tool.Kind, Owner: r.Owner, Place: null(r.Place), Next: r.Gaps[0].Next(r.Tool.Number.String()),
		Missing: list(r.Gaps, func(g worth.Gap) string { return string(g) })}
	if r.Cost != nil {
		out.AtStake = m.orNone(&r.Cost.Amount)
	}
	return out
}
