package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/fault"
	"pawl/model/sheets"
)

func (s *service) matchRoutes() []route {
	return []route{
		{method: http.MethodGet, path: Prefix + "/match", query: []string{"reading", "maker", "kind", "found", "limit"}, handle: s.match},
		{method: http.MethodPost, path: Prefix + "/match", query: []string{"found"}, handle: s.matchList},
	}
}

// match tells which tool a worn serial may be of.
func (s *service) match(c *gin.Context) (answer, error) {
	q := askedOf(c)
	asked := model.MatchQuery{Reading: q.text("reading"), Maker: q.text("maker"), Kind: q.text("kind"), Found: q.text("found"), Limit: q.number("limit", 10, 1, 50)}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	v, err := s.shop.Match(c.Request.Context(), by(c), asked)
	return ok(Match(v), 0), err
}

// matchList does so for a list of readings.
func (s *service) matchList(c *gin.Context) (answer, error) {
	format, err := sheetFormat(c.Request)
	if err != nil {
		return answer{}, err
	}
	if format != "csv" {
		return answer{}, fault.New(fault.Media, "a list of readings comes as %s", csvType)
	}
	body := limit(c.Request.Body, sheets.MaxBytes)
	v, err := s.shop.MatchList(c.Request.Context(), by(c), body, askedOf(c).text("found"))
	if body.err != nil {
		err = body.err
	}
	return ok(MatchList(v), 0), err
}

// Match is what a reading comes to, as it travels.
func Match(v model.MatchView) wire.Match {
	return wire.Match{Reading: v.Reading, Candidates: list(v.Candidates, candidate), NoneOfThese: v.None, Others: v.Others, Error: v.Error,
		Registered: v.Registered, Found: v.Found, NoneBefore: v.NoneBefore}
}

// MatchList is what a list of readings comes to, as it travels.
func MatchList(v model.MatchedList) wire.MatchList {
	return wire.MatchList{Ignored: words(v.Ignored), Rows: list(v.Rows, func(r model.MatchedRow) wire.MatchRow {
		return wire.MatchRow{Row: r.Row, Reading: r.Reading, Candidates: list(r.Candidates, candidate), NoneOfThese: r.None, Others: r.Others, Error: r.Error,
			Assigned: null(r.Assigned), Said: r.Said}
	})}
}

func candidate(m model.MatchedTool) wire.Candidate {
	return wire.Candidate{Number: m.Row.Number.String(), Serial: m.Row.Serial, Posterior: m.Posterior, Verdict: string(m.Verdict),
		Deciding: m.Deciding(), Differing: m.Differing(), Kind: m.Row.Kind, Maker: m.Row.Maker, Model: m.Row.Model, State: m.State()}
}
