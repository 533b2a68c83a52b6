package api

import (
	"context"
	"io"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/counts"
	"pawl/model/fault"
	"pawl/model/register"
)

func (s *service) countRoutes() []route {
	return []route{
		{method: http.MethodGet, path: Prefix + "/counts", query: []string{"open", "limit", "cursor"}, handle: s.counts},
		{method: http.MethodPost, path: Prefix + "/counts", handle: s.startCount},
		{method: http.MethodGet, path: Prefix + "/counts/plan", query: []string{"within"}, handle: s.countPlan},
		{method: http.MethodGet, path: Prefix + "/counts/missing", query: []string{"limit", "cursor"}, handle: s.missingTools},
		{method: http.MethodGet, path: Prefix + "/counts/:id", handle: s.count},
		{method: http.MethodGet, path: Prefix + "/counts/:id/tools", query: []string{"which", "limit", "cursor"}, handle: s.countTools},
		{method: http.MethodGet, path: Prefix + "/counts/:id/report", query: []string{"format"}, offers: []string{csvType, pdfType}, handle: s.countReport},
		{method: http.MethodPost, path: Prefix + "/counts/:id/scan", handle: s.scanCount},
		{method: http.MethodPost, path: Prefix + "/counts/:id/confirm", handle: s.confirmCount},
		{method: http.MethodPost, path: Prefix + "/counts/:id/settle", handle: s.settleDifference},
		s.countStep("pause", s.shop.PauseCount),
		s.countStep("resume", s.shop.ResumeCount),
		s.countStep("close", s.shop.CloseCount),
	}
}

// countStep is a route that needs no more than to be asked.
func (s *service) countStep(verb string, do func(context.Context, model.By, string) (model.CountView, error)) route {
	return route{method: http.MethodPost, path: Prefix + "/counts/:id/" + verb, handle: func(c *gin.Context) (answer, error) {
		if _, err := bind[nothing](c, true); err != nil {
			return answer{}, err
		}
		v, err := do(c.Request.Context(), by(c), c.Param("id"))
		if err != nil {
			return answer{}, err
		}
		return ok(viewCount(v), 0), nil
	}}
}

func (s *service) counts(c *gin.Context) (answer, error) {
	q := askedOf(c)
	query := model.CountQuery{Limit: q.limit(), Cursor: q.text("cursor")}
	if open := q.flag("open"); open != nil {
		query.Open = *open
	}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	page, next, err := s.shop.Counts(c.Request.Context(), by(c), query)
	return answer{body: wire.Counts{Counts: list(page, viewCountLine), Next: null(next)}, next: next}, err
}

func (s *service) startCount(c *gin.Context) (answer, error) {
	in, err := bind[wire.StartCount](c, true)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.StartCount(c.Request.Context(), by(c), model.StartCount{Scope: in.Scope, How: counts.How(in.How), MissingAtLeast: in.MissingAtLeast,
		Confidence: in.Confidence, Seed: in.Seed, Tolerable: in.Tolerable, Strata: in.Strata})
	if err != nil {
		return answer{}, err
	}
	return created(viewCount(v), 0, at("counts", v.ID)), nil
}

func (s *service) count(c *gin.Context) (answer, error) {
	v, same, err := s.shop.CountUnless(c.Request.Context(), by(c), c.Param("id"), tagsIn(c.Request.Header.Values("If-None-Match"))...)
	if err != nil || same {
		return answer{told: v.Tag}, err
	}
	a := ok(viewCount(v), 0)
	a.told = v.Tag
	return a, nil
}

func (s *service) countTools(c *gin.Context) (answer, error) {
	q := askedOf(c)
	query := model.CountToolsQuery{Which: q.text("which"), Limit: q.limit(), Cursor: q.text("cursor")}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	page, next, err := s.shop.CountTools(c.Request.Context(), by(c), c.Param("id"), query)
	return answer{body: wire.CountTools{Tools: list(page, viewCountTool), Next: null(next)}, next: next}, err
}

func (s *service) countReport(c *gin.Context) (answer, error) {
	q := askedOf(c)
	kind, formats := c.GetString(offered), map[string]string{"csv": csvType, "pdf": pdfType}
	if q.values.Has("format") {
		if kind = formats[q.text("format")]; kind == "" {
			q.bad.Add("#/format", "%q is not a format of the report; use csv or pdf", fault.Clip(q.text("format")))
		}
	}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	write := s.shop.CountCSV
	if kind == pdfType {
		write = s.shop.CountPDF
	}
	a, err := drawn(kind, "count", func(w io.Writer) error { return write(c.Request.Context(), by(c), c.Param("id"), w) })
	if err == nil && kind == csvType {
		a.raw.mediaType = csvType + "; charset=utf-8; header=present" // RFC 4180 section 3
	}
	return a, err
}

func (s *service) countPlan(c *gin.Context) (answer, error) {
	q := askedOf(c)
	within := q.number("within", model.PlanWithin, 1, counts.LongestRound)
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	p, err := s.shop.CountPlan(c.Request.Context(), by(c), within)
	return ok(wire.CountPlan{Within: p.Within, Usual: p.Usual, Late: p.Late, Behind: p.Behind, Tools: list(p.Tools, func(t model.PlannedTool) wire.PlannedOne {
		return wire.PlannedOne{Number: t.Number.String(), Kind: t.Kind, Place: null(t.Place), Holder: null(t.Holder), Seen: null(string(t.Seen))}
	})}, 0), err
}

func (s *service) missingTools(c *gin.Context) (answer, error) {
	q := askedOf(c)
	limit := q.limit()
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	page, next, err := s.shop.MissingTools(c.Request.Context(), by(c), limit, q.text("cursor"))
	return answer{body: wire.MissingTools{Tools: list(page, func(m model.MissingTool) wire.MissingTool {
		out := wire.MissingTool{Number: m.Number.String(), Kind: m.Kind, Maker: m.Maker, Model: m.Model, Serial: null(m.Serial), Place: null(m.Place), Count: m.Count,
			Since: m.Since, By: m.By, Note: null(m.Note)}
		if m.NotSeenSince != 0 {
			out.LastSeen = &wire.LastSeen{How: m.How, At: m.NotSeenSince}
		}
		return out
	}), Next: null(next)}, next: next}, err
}

func (s *service) scanCount(c *gin.Context) (answer, error) {
	in, err := bind[wire.ScanCount](c, false)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.ScanCount(c.Request.Context(), by(c), c.Param("id"), model.ScanCount(in))
	return ok(viewCounted(v), 0), err
}

func (s *service) confirmCount(c *gin.Context) (answer, error) {
	in, err := bind[wire.ConfirmCount](c, false)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.ConfirmCount(c.Request.Context(), by(c), c.Param("id"), model.ConfirmCount(in))
	return ok(viewCounted(v), 0), err
}

func (s *service) settleDifference(c *gin.Context) (answer, error) {
	in, err := bind[wire.SettleDifference](c, false)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.SettleDifference(c.Request.Context(), by(c), c.Param("id"), model.SettleDifference(in))
	return ok(viewCountTool(v), 0), err
}

func viewCountLine(v model.CountView) wire.CountLine {
	return wire.CountLine{ID: v.ID, Scope: v.Scope, How: string(v.How), State: string(v.Stage()), Listed: v.Listed, Drawn: v.Count.Drawn, Started: v.Started,
		StartedBy: v.StartedBy, Paused: v.Paused, PausedBy: null(v.PausedBy), Closed: v.Closed, ClosedBy: null(v.ClosedBy)}
}

func viewCount(v model.CountView) wire.Count {
	out := wire.Count{CountLine: viewCountLine(v), Confidence: v.Level(), Strata: words(strings.FieldsFunc(v.Strata, func(r rune) bool { return r == '\n' })), ListDigest: v.Digest, RedrawOf: null(v.Redraw), Numbers: viewCountNumbers(v.Numbers),
		Counted: words(v.Counted), Advice: words(v.Advice)}
	if v.MissingAtLeast > 0 {
		out.MissingAtLeast = &v.MissingAtLeast
	}
	if v.Tolerable != nil {
		out.Tolerable = &wire.Money{Minor: *v.Tolerable, Currency: v.Currency}
	}
	if d := v.Draw; d != nil {
		out.Draw = &wire.CountDraw{Seed: d.Seed, Chosen: d.Chosen, Checkpoint: null(d.Checkpoint), Nonce: null(d.Nonce), Drawn: d.Drawn}
	}
	if l := v.Last; l != nil {
		out.Last = &wire.CountLook{At: l.At, By: l.By, Place: null(l.Place)}
	}
	if s := v.Statement; s != nil {
		out.Statement = &wire.CountStatement{Listed: s.Listed, Looked: s.Looked, Seen: s.Seen, ByWord: s.ByWord, Moved: s.Moved, Missing: s.Missing, AtMostMissing: s.AtMostMissing,
			Confidence: s.Confidence, Accuracy: wire.CountAccuracy{Right: s.Accuracy.Right, Share: s.Accuracy.Share, Low: s.Accuracy.Low}, Words: words(s.Words)}
		out.Unsettled = list(v.Unsettled, viewCountTool)
	}
	return out
}

func viewCountNumbers(n counts.Numbers) wire.CountNumbers {
	return wire.CountNumbers{Seen: n.By[counts.Seen], SeenElsewhere: n.By[counts.SeenElsewhere], NotComplete: n.By[counts.Incomplete], Confirmed: n.By[counts.Confirmed],
		Moved: n.By[counts.Moved], Out: n.By[counts.StillOut], Away: n.By[counts.StillAway], NotSeen: n.By[counts.NotSeen], NotInSample: n.By[counts.NotDrawn],
		Extra: n.Extra, Unsettled: n.Unsettled, Missing: n.Missing}
}

func viewCounted(v model.CountedDone) wire.Counted {
	out := wire.Counted{Count: v.Count, Done: v.Done, Number: null(v.Number.String()), Kind: v.Kind, Maker: v.Maker, Model: v.Model, At: null(v.At), Seen: v.Seen,
		By: null(v.By), Label: null(v.Label), Why: null(v.Why), Missing: append(register.Pieces{}, v.Missing...), ToLookAt: v.ToLookAt, Advice: words(v.Advice)}
	if v.Done != model.StandsHere {
		custody := viewCustody(v.Custody)
		out.Custody = &custody
	}
	return out
}

func viewCountTool(v model.CountRow) wire.CountTool {
	out := wire.CountTool{Number: v.Number.String(), Kind: v.Kind, Maker: v.Maker, Model: v.Model, Serial: null(v.Serial), Bucket: null(string(v.Bucket)), ToLookAt: v.Look,
		Place: null(v.Place), Expected: v.Expected, Holder: null(v.Holder)}
	if s := v.Seen; s != nil {
		out.Seen = &wire.CountSeen{At: s.At, By: s.By, Place: null(s.Place), Label: null(s.Label), Missing: append(register.Pieces{}, s.Missing...), Condition: null(s.Condition),
			Why: null(s.Why), ByWord: s.ByWord}
	}
	if m := v.Moved; m != nil {
		out.Moved = &wire.CountMoved{Words: m.Words, Custody: null(m.Loan), At: m.At}
	}
	if d := v.Settled; d != nil {
		out.Settled = &wire.CountSettled{How: string(d.How), Place: null(d.Place), With: null(d.Whom), Note: null(d.Note), By: d.By, At: d.At}
	}
	if v.LastSeen.At != 0 {
		out.LastSeen = &wire.LastSeen{How: v.LastSeen.How, At: v.LastSeen.At}
	}
	return out
}
