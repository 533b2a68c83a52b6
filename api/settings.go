package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/model/settings"
)

func (s *service) settingsRoutes() []route {
	return []route{
		{method: http.MethodGet, path: Prefix + "/settings", handle: s.settings},
		{method: http.MethodPatch, path: Prefix + "/settings", handle: s.changeSettings},
	}
}

func (s *service) settings(c *gin.Context) (answer, error) {
	now, err := s.shop.Settings(c.Request.Context())
	return ok(viewSettings(now), now.Rev), err
}

func (s *service) changeSettings(c *gin.Context) (answer, error) {
	in, rev, err := bindChange[settings.Change](c)
	if err != nil {
		return answer{}, err
	}
	now, err := s.shop.ChangeSettings(c.Request.Context(), by(c), rev, in)
	return ok(viewSettings(now), now.Rev), err
}
