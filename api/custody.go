package api

import (
	"context"
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
)

func (s *service) custodyRoutes() []route {
	return []route{
		act("take", true, func(ctx context.Context, by model.By, number string, in wire.Take) (model.Done, error) {
			return s.shop.Take(ctx, by, number, model.Take(in))
		}),
		act("return", true, func(ctx context.Context, by model.By, number string, in wire.Return) (model.Done, error) {
			return s.shop.Return(ctx, by, number, model.Return(in))
		}),
		act("undo", false, func(ctx context.Context, by model.By, number string, in wire.Undo) (model.Done, error) {
			return s.shop.Undo(ctx, by, number, model.Undo(in))
		}),
		act("handover", true, func(ctx context.Context, by model.By, number string, in wire.Handover) (model.Done, error) {
			return s.shop.Handover(ctx, by, number, model.Handover(in))
		}),
		act("away", false, func(ctx context.Context, by model.By, number string, in wire.Away) (model.Done, error) {
			return s.shop.Away(ctx, by, number, model.Away(in))
		}),
		act("back", true, func(ctx context.Context, by model.By, number string, in wire.Back) (model.Done, error) {
			return s.shop.Back(ctx, by, number, model.Back(in))
		}),
		act("wrong", false, func(ctx context.Context, by model.By, number string, in wire.Wrong) (model.Done, error) {
			return s.shop.Wrong(ctx, by, number, model.Wrong(in))
		}),
		act("clear", false, func(ctx context.Context, by model.By, number string, in wire.Clear) (model.Done, error) {
			return s.shop.Clear(ctx, by, number, model.Clear(in))
		}),
		act("evidence", false, func(ctx context.Context, by model.By, number string, in attachment) (model.Done, error) {
			return s.shop.Attach(ctx, by, number, in.Evidence)
		}),
	}
}

// attachment names uploaded originals and what they show.
type attachment struct {
	Evidence []wire.Attach `json:"evidence"`
}

// act is the route of something done with one tool. Where optional, a request
// without a body is one that says no more than that.
func act[T any](verb string, optional bool, do func(context.Context, model.By, string, T) (model.Done, error)) route {
	return route{method: http.MethodPost, path: Prefix + "/tools/:number/" + verb, handle: func(c *gin.Context) (answer, error) {
		in, err := bind[T](c, optional)
		if err != nil {
			return answer{}, err
		}
		done, err := do(c.Request.Context(), by(c), c.Param("number"), in)
		return ok(viewDone(done), 0), err
	}}
}
