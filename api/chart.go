package api

import (
	"net/http"

	"github.com/gin-gonic/gin"
)

func (s *service) chartRoutes() []route {
	return []route{
		{method: http.MethodGet, path: Prefix + "/tools/:number/chart", query: []string{"calibration"}, offers: []string{svgType}, handle: s.chart},
		{method: http.MethodGet, path: Prefix + "/tools/:number/adapter", query: []string{"target", "crowfoot", "angle"}, offers: []string{svgType}, handle: s.adapter},
	}
}

// chart draws one calibration of a tool.
func (s *service) chart(c *gin.Context) (answer, error) {
	q := askedOf(c)
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	chart, err := s.shop.ChartOf(c.Request.Context(), by(c), c.Param("number"), q.text("calibration"))
	if err != nil {
		return answer{}, err
	}
	return drawn(svgType, "chart", chart.SVG)
}

// adapter draws an offset adapter on a tool, for a question.
func (s *service) adapter(c *gin.Context) (answer, error) {
	in, err := ask(c)
	if err != nil {
		return answer{}, err
	}
	drawing, err := s.shop.AdapterDrawing(c.Request.Context(), by(c), c.Param("number"), in)
	if err != nil {
		return answer{}, err
	}
	return drawn(svgType, "adapter", drawing.SVG)
}
