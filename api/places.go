package api

import (
	"context"
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/register"
)

func (s *service) placeRoutes() []route {
	return []route{
		{method: http.MethodGet, path: Prefix + "/places", handle: s.places},
		{method: http.MethodPost, path: Prefix + "/places", handle: s.addPlace},
		{method: http.MethodGet, path: Prefix + "/places/:place", handle: s.place},
		placeAct("rename", false, func(ctx context.Context, by model.By, place string, in wire.PlaceName) (model.PlaceView, error) {
			return s.shop.RenamePlace(ctx, by, place, in.Name)
		}),
		placeAct("move", false, func(ctx context.Context, by model.By, place string, in wire.PlaceMove) (model.PlaceView, error) {
			return s.shop.MovePlace(ctx, by, place, in.To)
		}),
		placeAct("whose", false, func(ctx context.Context, by model.By, place string, in wire.PlacePerson) (model.PlaceView, error) {
			return s.shop.GivePlace(ctx, by, place, in.Person)
		}),
		placeAct("photo", false, func(ctx context.Context, by model.By, place string, in wire.PlacePhoto) (model.PlaceView, error) {
			return s.shop.PhotographPlace(ctx, by, place, register.Attach{SHA256: in.SHA256, Name: in.Name})
		}),
		placeAct("close", true, func(ctx context.Context, by model.By, place string, _ nothing) (model.PlaceView, error) {
			return s.shop.ClosePlace(ctx, by, place)
		}),
		{method: http.MethodGet, path: Prefix + "/custody", query: []string{"which", "place", "person", "owner", "limit", "cursor"}, handle: s.outList},
	}
}

// placeAct is the route of something done with one place, named by path, name, id or
// symbol.
func placeAct[T any](verb string, optional bool, do func(context.Context, model.By, string, T) (model.PlaceView, error)) route {
	return route{method: http.MethodPost, path: Prefix + "/places/:place/" + verb, handle: func(c *gin.Context) (answer, error) {
		in, err := bind[T](c, optional)
		if err != nil {
			return answer{}, err
		}
		p, err := do(c.Request.Context(), by(c), c.Param("place"), in)
		return ok(viewPlace(p), 0), err
	}}
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
	p, err := s.shop.AddPlaceOf(c.Request.Context(), by(c), in.Path, in.Person)
	return created(viewPlace(p), 0, ""), err
}

func (s *service) place(c *gin.Context) (answer, error) {
	v, err := s.shop.Place(c.Request.Context(), by(c), c.Param("place"))
	return ok(wire.PlaceShown{
		Place: viewPlace(v.PlaceView), PlaceCounts: wire.PlaceCounts(v.PlaceCounts), Tools: list(v.Tools, viewPlaceTool), More: v.More, Seen: list(v.Elsewhere, viewSeenTool),
		Parts: list(v.Parts, viewPlacePart), Photos: list(v.Photos, viewEvidence), As: v.As,
	}, 0), err
}

func viewPlacePart(p model.PlacePart) wire.PlacePart {
	return wire.PlacePart{Place: viewPlace(p.PlaceView), PlaceCounts: wire.PlaceCounts(p.PlaceCounts)}
}

func viewPlaceTool(t model.PlaceTool) wire.PlaceTool {
	return wire.PlaceTool{
		ToolRow: viewToolRow(t.ToolRow), Pieces: append(register.Pieces{}, t.Pieces...), Job: null(t.Job), For: null(string(t.Purpose)),
		Since: t.Since, Due: t.Due, MissingIn: null(t.MissingIn),
	}
}

func viewSeenTool(t model.SeenTool) wire.SeenTool {
	return wire.SeenTool{ToolRow: viewToolRow(t.ToolRow), SeenAt: t.SeenAt, SeenBy: t.SeenBy, SeenIn: t.SeenIn}
}

// outList gives one of the lists of tools that somebody should look after.
func (s *service) outList(c *gin.Context) (answer, error) {
	q := askedOf(c)
	in := model.OutQuery{Which: q.text("which"), Place: q.text("place"), Person: q.text("person"), Owner: q.text("owner"), Limit: q.limit(), Cursor: q.text("cursor")}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	rows, next, err := s.shop.OutList(c.Request.Context(), by(c), in)
	return answer{body: wire.Outs{Tools: list(rows, viewOutRow), Next: null(next)}, next: next}, err
}

func viewOutRow(r model.OutRow) wire.OutRow {
	return wire.OutRow{ToolRow: viewToolRow(r.ToolRow), Since: r.Since, Due: r.Due, Days: r.Days, Job: null(r.Job), Note: r.Note}
}
