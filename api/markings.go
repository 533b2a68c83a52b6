package api

import (
	"cmp"
	"context"
	"io"
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/fault"
	"pawl/model/markings"
)

func (s *service) markingRoutes() []route {
	return []route{
		done("marking", func(ctx context.Context, by model.By, number string, in wire.Mark) (any, error) {
			v, err := s.shop.Mark(ctx, by, number, markings.Entry{Marking: in.Marking, On: in.On, Grade: in.Grade, Read: in.Read, Evidence: in.Evidence,
				Protection: in.Protection, Remark: in.Remark, OwnersNumber: in.OwnersNumber, Method: in.Method, Where: in.Where})
			return viewMarked(v), err
		}),
		done("marking/withdraw", func(ctx context.Context, by model.By, number string, in wire.WithdrawMarking) (any, error) {
			v, err := s.shop.WithdrawMarking(ctx, by, number, in.ID, in.Why)
			return viewMarked(v), err
		}),
		{method: http.MethodGet, path: Prefix + "/tools/:number/marking", handle: s.markings},
		{method: http.MethodGet, path: Prefix + "/tools/:number/marking/forecast", query: []string{"marking"}, handle: s.markingForecast},
		{method: http.MethodGet, path: Prefix + "/markings/round", query: []string{"limit", "cursor", "all", "format"}, offers: []string{jsonType, pdfType}, handle: s.markingRound},
	}
}

func (s *service) markings(c *gin.Context) (answer, error) {
	v, err := s.shop.Markings(c.Request.Context(), by(c), c.Param("number"))
	return ok(viewMarkings(v), 0), err
}

func (s *service) markingForecast(c *gin.Context) (answer, error) {
	v, err := s.shop.MarkingForecast(c.Request.Context(), by(c), c.Param("number"), askedOf(c).text("marking"))
	if err != nil {
		return answer{}, err
	}
	return ok(viewForecast(v), 0), nil
}

func (s *service) markingRound(c *gin.Context) (answer, error) {
	q := askedOf(c)
	in := model.RoundQuery{Limit: q.number("limit", model.PageDefault, 1, model.PageMost), Cursor: q.text("cursor"), All: q.whole()}
	kind := c.GetString(offered)
	if q.values.Has("format") {
		if kind = map[string]string{"json": jsonType, "pdf": pdfType}[q.text("format")]; kind == "" {
			q.bad.Add("#/format", "%q is not a format; use json or pdf", fault.Clip(q.text("format")))
		}
	}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	ctx := c.Request.Context()
	if kind == pdfType {
		return drawn(pdfType, "round", func(w io.Writer) error { return s.shop.WriteRound(ctx, by(c), w) })
	}
	v, err := s.shop.MarkingRound(ctx, by(c), in)
	a := ok(viewRound(v), 0)
	a.next = v.Next
	return a, err
}

func viewMarked(v model.MarkingsView) wire.Marked {
	return wire.Marked{ID: null(v.Recorded), Said: words(v.Said), Question: v.Question, ToolMarkings: viewMarkings(v)}
}

func viewMarkings(v model.MarkingsView) wire.ToolMarkings {
	return wire.ToolMarkings{Number: v.Number.String(), Kind: v.Kind, Serial: v.Serial, Usage: string(v.Usage), Current: null(v.Current),
		Markings: list(v.Markings, viewMarkingRecord), Advice: words(v.Advice), Cautions: words(v.Cautions)}
}

func viewMarkingRecord(m model.MarkingView) wire.MarkingRecord {
	return wire.MarkingRecord{ID: m.ID, Shows: cmp.Or(m.Shows, "serial number"), Code: null(m.Code), Method: string(m.Method), Protection: string(m.Protection),
		Where: m.Spot, Since: m.Since, Marked: dayOrNone(m.Marked), Ended: dayOrNone(m.Ended), Terms: list(m.Terms, viewTerm), Checks: list(m.Checks, viewMarkingCheck),
		Forecast: viewForecast(m.Forecast)}
}

func viewTerm(t model.TermView) wire.MarkingTerm {
	return wire.MarkingTerm{ID: t.ID, From: dayOrNone(t.From), Protection: null(string(t.Protection)), Usage: null(string(t.Usage)), Entered: t.Entered,
		EnteredBy: null(t.EnteredBy), Withdrawn: t.Withdrawn, Why: t.Why}
}

func viewMarkingCheck(c model.CheckView) wire.MarkingCheck {
	out := wire.MarkingCheck{ID: c.ID, On: c.On, Grade: c.Grade, Read: c.Read, Entered: c.Entered, EnteredBy: null(c.EnteredBy), Withdrawn: c.Withdrawn, Why: c.Why}
	if c.Grade != nil {
		out.Means = markings.GradeWords(*c.Grade)
	}
	if c.Photo != nil {
		out.Photo = &c.Photo.SHA256
	}
	return out
}

func viewForecast(f model.MarkingForecast) wire.MarkingForecast {
	prior := wire.MarkingPrior{Shape: f.Shape, Rate: f.Rate, LearnedFrom: f.LearnedFrom, Factors: list(f.Shares, func(s markings.Share) wire.MarkingFactor {
		return wire.MarkingFactor{Of: s.Of, Value: s.Value, Learned: s.Learned}
	})}
	if f.Spread.Value > 0 {
		prior.Spread = &wire.MarkingFactor{Of: "spread between tools", Value: f.Spread.Value, Learned: f.Spread.Learned}
	}
	return wire.MarkingForecast{Marking: f.Marking, Grade: f.Grade, AsOf: dayOrNone(f.AsOf), Expected: dayOrNone(f.Expected), Early: dayOrNone(f.Early),
		Late: dayOrNone(f.Late), UnreadableToday: f.UnreadableToday, Exposure: f.Exposure,
		Prior: prior, Lost: f.Lost, Assumed: f.Assumed,
		NextPhoto: dayOrNone(f.NextPhoto), Act: f.Act, Words: f.Words(), Cautions: words(f.Cautions)}
}

func viewRound(v model.RoundView) wire.MarkingRound {
	return wire.MarkingRound{Next: null(v.Next), Today: v.Today, Through: v.Through, Currency: v.Currency, All: v.All, Unmarked: v.Unmarked,
		Markings: list(v.Rows, func(r model.RoundRow) wire.RoundRow { return viewRoundRow(r, v.Currency) })}
}

func viewRoundRow(r model.RoundRow, currency string) wire.RoundRow {
	out := wire.RoundRow{Number: r.Number.String(), Kind: r.Kind, Maker: r.Maker, Model: r.Model, Place: null(r.Place), Marking: r.Marking.ID,
		Method: string(r.Marking.Method), Protection: string(r.Marking.Protection), Where: r.Marking.Spot, Rank: r.Rank, Grade: r.Forecast.Grade,
		LastLook: dayOrNone(r.LastLook), LastRead: r.LastRead, Chance: r.Soon, CostFrom: string(r.CostFrom), Proof: r.Proof,
		Why: words(r.Reasons), Do: words(r.Do), Forecast: viewForecast(r.Forecast)}
	if r.Cost != nil {
		out.Cost = &wire.Money{Minor: *r.Cost, Currency: currency}
	}
	return out
}
