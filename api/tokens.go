package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
)

func (s *service) tokenRoutes() []route {
	return []route{
		{method: http.MethodGet, path: Prefix + "/tokens", handle: s.tokens},
		{method: http.MethodPost, path: Prefix + "/tokens", handle: s.addToken},
		{method: http.MethodPost, path: Prefix + "/tokens/:id/revoke", handle: s.revokeToken},
	}
}

func (s *service) tokens(c *gin.Context) (answer, error) {
	all, err := s.shop.Tokens(c.Request.Context(), by(c))
	return ok(wire.Tokens{Tokens: list(all, viewToken)}, 0), err
}

func (s *service) addToken(c *gin.Context) (answer, error) {
	in, err := bind[wire.NewToken](c, false)
	if err != nil {
		return answer{}, err
	}
	t, err := s.shop.AddToken(c.Request.Context(), by(c), model.NewToken(in))
	return created(viewToken(t), 0, ""), err
}

func (s *service) revokeToken(c *gin.Context) (answer, error) {
	if _, err := bind[nothing](c, true); err != nil {
		return answer{}, err
	}
	t, err := s.shop.RevokeToken(c.Request.Context(), by(c), c.Param("id"))
	return ok(viewToken(t), 0), err
}
