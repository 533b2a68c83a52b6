package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
)

func (s *service) adviceRoutes() []route {
	return []route{
		{method: http.MethodGet, path: Prefix + "/tools/:number/advice", handle: s.intervalAdvice},
		{method: http.MethodGet, path: Prefix + "/tools/:number/drift", offers: []string{svgType}, handle: s.driftChart},
	}
}

func (s *service) intervalAdvice(c *gin.Context) (answer, error) {
	v, err := s.shop.IntervalAdvice(c.Request.Context(), by(c), c.Param("number"))
	return ok(wire.IntervalAdvice{Number: v.Number.String(), Kind: v.Kind, Advice: v.Advice, Cautions: words(v.Cautions), ComputedAt: v.ComputedAt}, 0), err
}

func (s *service) driftChart(c *gin.Context) (answer, error) {
	chart, err := s.shop.DriftChart(c.Request.Context(), by(c), c.Param("number"))
	if err != nil {
		return answer{}, err
	}
	return drawn(svgType, "drift", chart.SVG)
}
