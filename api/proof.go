package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
)

func (s *service) proofRoutes() []route {
	return []route{
		{method: http.MethodPost, path: Prefix + "/checkpoints", handle: s.checkpoint},
		{method: http.MethodPost, path: Prefix + "/verify", handle: s.verify},
		{method: http.MethodGet, path: Prefix + "/clock", handle: s.clock},
		{method: http.MethodPost, path: Prefix + "/clock/confirm", handle: s.confirmClock},
		{method: http.MethodPost, path: Prefix + "/chores", handle: s.chores},
	}
}

func (s *service) checkpoint(c *gin.Context) (answer, error) {
	in, err := bind[wire.NewCheckpoint](c, true)
	if err != nil {
		return answer{}, err
	}
	if in.TimeStamp {
		p, err := s.shop.DatedCheckpoint(c.Request.Context(), by(c))
		return created(viewCheckpoint(p), 0, ""), err
	}
	p, err := s.shop.Checkpoint(c.Request.Context(), by(c))
	return created(viewCheckpoint(model.DatedCheckpoint{CheckpointView: p}), 0, ""), err
}

func (s *service) verify(c *gin.Context) (answer, error) {
	in, err := bind[wire.Verify](c, true)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.Verify(c.Request.Context(), by(c), model.VerifyQuery(in))
	return ok(viewVerified(v), 0), err
}

func (s *service) clock(c *gin.Context) (answer, error) {
	v, err := s.shop.ClockState(c.Request.Context())
	return ok(viewClock(v), 0), err
}

func (s *service) confirmClock(c *gin.Context) (answer, error) {
	if _, err := bind[nothing](c, true); err != nil {
		return answer{}, err
	}
	v, err := s.shop.ConfirmClock(c.Request.Context(), by(c))
	return ok(viewClock(v), 0), err
}

func (s *service) chores(c *gin.Context) (answer, error) {
	if _, err := bind[nothing](c, true); err != nil {
		return answer{}, err
	}
	done, err := s.shop.Chores(c.Request.Context(), by(c))
	return ok(wire.Chores{Done: words(done)}, 0), err
}
