package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
)

func (s *service) placeRoutes() []route {
	return []route{
		{method: http.MethodGet, path: Prefix + "/places", handle: s.places},
		{method: http.MethodPost, path: Prefix + "/places", handle: s.addPlace},
	}
}

func (s *service) places(c *gin.Context) (answer, error) {
	all, err := s.shop.Places(c.Request.Context(), by(c))
	return ok(wire.Places{Places: list(all, viewPlace)}, 0), err
}

func (s *service) addPlace(c *gin.Context) (answer, error) {
	in, err := bind[wire.NewPlace](c, false)
	if err != nil {
		return answer{}, err
	}
	p, err := s.shop.AddPlace(c.Request.Context(), by(c), in.Path)
	return created(viewPlace(p), 0, ""), err
}
