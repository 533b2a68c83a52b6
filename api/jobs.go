package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/jobs"
)

func (s *service) jobRoutes() []route {
	return []route{
		{method: http.MethodGet, path: Prefix + "/jobs", query: []string{"open", "limit", "cursor"}, handle: s.jobs},
		{method: http.MethodPost, path: Prefix + "/jobs", handle: s.openJob},
		{method: http.MethodGet, path: Prefix + "/jobs/:number", handle: s.job},
	}
}

func (s *service) jobs(c *gin.Context) (answer, error) {
	q := askedOf(c)
	query := model.JobQuery{Open: q.flag("open"), Limit: q.limit(), Cursor: q.text("cursor")}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	page, next, err := s.shop.Jobs(c.Request.Context(), by(c), query)
	return answer{body: wire.Jobs{Jobs: list(page, viewJob), Next: null(next)}, next: next}, err
}

func (s *service) job(c *gin.Context) (answer, error) {
	j, err := s.shop.Job(c.Request.Context(), by(c), c.Param("number"))
	if err != nil {
		return answer{}, err
	}
	job, err := s.oneJob(c, j)
	return ok(job, j.Rev), err
}

// oneJob is a job with what holds it open.
func (s *service) oneJob(c *gin.Context, j jobs.Job) (wire.Job, error) {
	uses, err := s.shop.UsesOn(c.Request.Context(), by(c), j.Number)
	out := viewJob(j)
	out.Holds, out.Warnings = []wire.Use{}, words(jobs.VINWarnings(j.VIN))
	for _, u := range uses {
		if u.Holds {
			out.Holds = append(out.Holds, viewUse(u))
		}
	}
	return out, err
}

func (s *service) openJob(c *gin.Context) (answer, error) {
	in, err := bind[wire.NewJob](c, false)
	if err != nil {
		return answer{}, err
	}
	j, err := s.shop.OpenJob(c.Request.Context(), by(c), model.NewJob(in))
	if err != nil {
		return answer{}, err
	}
	job, err := s.oneJob(c, j)
	return created(job, j.Rev, at("jobs", j.Number)), err
}
