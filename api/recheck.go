package api

import (
	"context"
	"io"
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/dates"
	"pawl/model/fault"
)

func (s *service) recheckRoutes() []route {
	return []route{
		{method: http.MethodGet, path: Prefix + "/rechecks", handle: s.unsettledRechecks},
		{method: http.MethodGet, path: Prefix + "/tools/:number/recheck", query: []string{"format"}, offers: []string{jsonType, csvType, pdfType}, handle: s.recheck},
		{method: http.MethodPost, path: Prefix + "/rechecks/:id/settle", handle: s.settleRecheck},
	}
}

// recheck gives the list, by the parameter format or else as was agreed upon.
func (s *service) recheck(c *gin.Context) (answer, error) {
	files := map[string]writesList{pdfType: s.shop.RecheckPDF, csvType: s.shop.RecheckCSV}
	return listAs(c, "recheck", files, "use json, csv or pdf", func() (answer, error) {
		v, err := s.shop.Recheck(c.Request.Context(), by(c), c.Param("number"))
		return ok(viewRecheck(v), 0), err
	})
}

// writesList writes a list about what a number names.
type writesList func(ctx context.Context, by model.By, number string, w io.Writer) error

// listAs gives a list about what the number in the path names: as one of some files, by the
// parameter format or else as was agreed upon, or as JSON.
func listAs(c *gin.Context, name string, files map[string]writesList, hint string, asJSON func() (answer, error)) (answer, error) {
	q := askedOf(c)
	kind := c.GetString(offered)
	if q.values.Has("format") {
		kind = map[string]string{"json": jsonType, "csv": csvType, "pdf": pdfType}[q.text("format")]
		if kind != jsonType && files[kind] == nil {
			q.bad.Add("#/format", "%q is not a format; %s", fault.Clip(q.text("format")), hint)
		}
	}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	write := files[kind]
	if write == nil {
		return asJSON()
	}
	a, err := drawn(kind, name, func(w io.Writer) error { return write(c.Request.Context(), by(c), c.Param("number"), w) })
	if err == nil && kind == csvType {
		a.raw.mediaType = csvType + "; charset=utf-8; header=present" // RFC 4180 section 3
	}
	return a, err
}

func (s *service) settleRecheck(c *gin.Context) (answer, error) {
	in, err := bind[wire.SettleRecheck](c, false)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.SettleRecheck(c.Request.Context(), by(c), c.Param("id"), model.SettleRecheck(in))
	return ok(wire.RecheckSettled{Number: v.Number.String(), Kind: v.Kind, RecheckLine: viewRecheckLine(v.RecheckRow), Left: v.Left, Advice: words(v.Advice)}, 0), err
}

func (s *service) unsettledRechecks(c *gin.Context) (answer, error) {
	all, err := s.shop.UnsettledRechecks(c.Request.Context(), by(c))
	return ok(wire.UnsettledRechecks{Tools: list(all, func(u model.UnsettledRecheck) wire.UnsettledRecheck {
		return wire.UnsettledRecheck{Number: u.Row.Number.String(), Kind: u.Row.Kind, Lines: u.Lines, Since: string(u.Since), Worst: string(u.Worst)}
	})}, 0), err
}

func viewRecheck(v model.RecheckView) wire.Recheck {
	out := wire.Recheck{Number: v.Number.String(), Kind: v.Kind, Windows: list(v.Windows, viewWindow), Lines: list(v.Lines, viewRecheckLine),
		Unknown: wire.RecheckUnknown{JobsWithoutRecord: v.Unknown.JobsWithoutRecord, DaysOutWithoutJob: v.Unknown.DaysOutWithoutJob,
			Jobs: words(v.Unknown.Jobs), Words: v.Unknown.Words},
		Open: v.Open, Cautions: words(v.Cautions)}
	if len(out.Windows) > 0 {
		out.Window = &out.Windows[0]
	}
	return out
}

func viewWindow(w model.RecheckWindow) wire.RecheckWindow {
	day := func(d dates.Date) *string { return null(string(d)) }
	return wire.RecheckWindow{From: day(w.From), To: day(w.To), FromAt: w.FromAt, ToAt: w.ToAt, Why: w.Why}
}

func viewRecheckLine(r model.RecheckRow) wire.RecheckLine {
	out := wire.RecheckLine{ID: r.ID, Use: null(r.Use), Job: null(r.Job), What: null(r.What), Fastener: null(r.Fastener), Count: r.Count, Happened: r.Happened,
		Until: r.Until, Person: null(r.Person), Safety: r.Safety, Set: r.Set, Limits: null(r.Limits), LimitsAssumed: r.LimitsAssumed, Direction: r.Direction,
		Adapter: r.Adapter, DeviationPercent: r.DeviationPercent, Applied: r.Applied, Uncertainty: r.Uncertainty, Low: r.Low, High: r.High,
		Verdict: string(r.Verdict), Why: r.Why}
	if s := r.Settled; s != nil {
		out.Settled, out.How, out.Done, out.SettledBy, out.With, out.Photo = s.At, null(s.How), null(s.Done), null(s.Person), null(s.With), null(s.Photo)
	}
	return out
}
