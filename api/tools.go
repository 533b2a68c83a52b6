package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/register"
)

func (s *service) toolRoutes() []route {
	find := []string{"text", "kind", "place", "owner", "state", "person", "gone", "unfinished", "limit", "cursor"}
	return []route{
		{method: http.MethodGet, path: Prefix + "/tools", query: find, handle: s.find},
		{method: http.MethodPost, path: Prefix + "/tools", handle: s.register},
		{method: http.MethodGet, path: Prefix + "/tools/:number", handle: s.tool},
		{method: http.MethodPatch, path: Prefix + "/tools/:number", handle: s.changeTool},
		{method: http.MethodGet, path: Prefix + "/tools/:number/history", query: []string{"limit", "cursor"}, handle: s.history},
	}
}

func (s *service) find(c *gin.Context) (answer, error) {
	q := askedOf(c)
	query := model.FindQuery{
		Text: q.text("text"), Kind: q.text("kind"), Place: q.text("place"), Owner: q.text("owner"),
		State: q.text("state"), Person: q.text("person"), Limit: q.limit(), Cursor: q.text("cursor"),
	}
	if gone := q.flag("gone"); gone != nil {
		query.Gone = *gone
	}
	if unfinished := q.flag("unfinished"); unfinished != nil {
		query.Unfinished = *unfinished
	}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	rows, next, err := s.shop.Find(c.Request.Context(), by(c), query)
	if err != nil {
		return answer{}, err
	}
	gone, err := s.shop.GoneBeside(c.Request.Context(), by(c), query, len(rows))
	return answer{body: wire.Tools{Tools: list(rows, viewToolRow), Gone: gone, Next: null(next)}, next: next}, err
}

func (s *service) register(c *gin.Context) (answer, error) {
	in, err := bind[register.New](c, false)
	if err != nil {
		return answer{}, err
	}
	done, err := s.shop.Register(c.Request.Context(), by(c), in)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.Tool(c.Request.Context(), by(c), string(done.Number))
	tool := viewTool(v)
	a := created(wire.Registered{ID: tool.ID, Number: tool.Number, Tool: tool, Question: done.Question}, tool.Rev, at("tools", string(done.Number)))
	a.tagged = tool
	return a, err
}

func (s *service) tool(c *gin.Context) (answer, error) {
	v, err := s.shop.Tool(c.Request.Context(), by(c), c.Param("number"))
	return ok(viewTool(v), v.Tool.Rev), err
}

func (s *service) changeTool(c *gin.Context) (answer, error) {
	in, rev, err := bindChange[register.Change](c)
	if err != nil {
		return answer{}, err
	}
	if _, err := s.shop.ChangeTool(c.Request.Context(), by(c), c.Param("number"), rev, in); err != nil {
		return answer{}, err
	}
	return s.tool(c)
}

func (s *service) history(c *gin.Context) (answer, error) {
	q := askedOf(c)
	limit := q.limit()
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	lines, next, err := s.shop.History(c.Request.Context(), by(c), c.Param("number"), limit, q.text("cursor"))
	return answer{body: wire.History{History: list(lines, viewLine), Next: null(next)}, next: next}, err
}
