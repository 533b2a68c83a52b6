package api

import (
	"net/http"

	"github.com/gin-gonic/gin"
)

func (s *service) chartRoutes() []route {
	return []route{
		{method: http.MethodGet, path: Prefix + "/tools/:number/chart", query: []string{"calibration"}, offers: []string{svgType}, handle: s.chart},
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
