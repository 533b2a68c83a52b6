package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/model/fault"
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

// stoppingKey marks the context of a request to a server that is stopping.
type stoppingKey struct{}

// refuseWhenStopping sends new requests elsewhere once the server stops. The
// process is still live.
func refuseWhenStopping(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if stopping, _ := r.Context().Value(stoppingKey{}).(bool); stopping && r.URL.Path != "/livez" {
			exchangeOf(r).fail(w, fault.New(fault.Unavailable, "this server is stopping").WithHint("try again; nothing was changed"))
			return
		}
		next.ServeHTTP(w, r)
	})
}
