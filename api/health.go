package api

import (
	"net/http"

	"github.com/gin-gonic/gin"
)

func (s *service) healthRoutes() []route {
	return []route{
		{method: http.MethodGet, path: "/livez", handle: s.live},
		{method: http.MethodGet, path: "/readyz", handle: s.ready},
	}
}

// health is the answer of both; programs look at the status only.
type health struct {
	Status string `json:"status"`
}

// live says that the process is up, and touches nothing.
func (s *service) live(*gin.Context) (answer, error) { return ok(health{"live"}, 0), nil }

// ready says that the shop can serve.
func (s *service) ready(c *gin.Context) (answer, error) {
	return ok(health{"ready"}, 0), s.shop.Ready(c.Request.Context())
}
