package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/evidence"
	"pawl/model/numbers"
)

func (s *service) photoRoutes() []route {
	return []route{
		{method: http.MethodGet, path: Prefix + "/evidence/:sha256/codes", handle: s.codes},
		{method: http.MethodPost, path: Prefix + "/photos", handle: s.filePhotos},
		{method: http.MethodGet, path: Prefix + "/unsorted", query: []string{"limit", "cursor"}, handle: s.unsorted},
		{method: http.MethodPost, path: Prefix + "/unsorted/:id/file", handle: s.fileUnsorted},
		{method: http.MethodGet, path: Prefix + "/which", query: []string{"words", "kind", "maker", "place", "limit", "cursor"}, handle: s.which},
	}
}

// view gives a smaller, upright copy of an original.
func (s *service) view(c *gin.Context, size string) (answer, error) {
	if _, err := negotiate(c.Request.Header.Values("Accept"), []string{evidence.TypeJPEG}); err != nil {
		return answer{}, err
	}
	b, err := s.shop.View(c.Request.Context(), by(c), c.Param("sha256"), size)
	if err != nil {
		return answer{}, err
	}
	r := inMemory(evidence.TypeJPEG, b)
	r.policy = "sandbox; " + policy
	return answer{keep: "private, " + secondLook, raw: r}, nil
}

// codes reads the labels in a photo.
func (s *service) codes(c *gin.Context) (answer, error) {
	v, err := s.shop.Codes(c.Request.Context(), by(c), c.Param("sha256"))
	return ok(wire.Codes{
		Numbers: list(v.Numbers, numbers.Number.String), Strange: list(v.Strange, numbers.Number.String), Unreadable: v.Unreadable,
	}, 0), err
}

// filePhotos files photos under the tool of a label, or as unsorted.
func (s *service) filePhotos(c *gin.Context) (answer, error) {
	in, err := bind[wire.Photos](c, false)
	if err != nil {
		return answer{}, err
	}
	done, err := s.shop.FilePhotos(c.Request.Context(), by(c), in)
	filed := wire.PhotosFiled{ID: null(done.Tool), Started: done.Started, Question: done.Question,
		Photos: list(done.Photos, func(p model.FiledPhoto) wire.FiledPhoto {
			return wire.FiledPhoto{ID: p.ID, SHA256: p.SHA256, Kind: string(p.Kind), Name: p.Name, Already: p.Already}
		})}
	if done.Tool != "" {
		filed.Number = null(done.Number.String())
	}
	return ok(filed, 0), err
}

func (s *service) unsorted(c *gin.Context) (answer, error) {
	q := askedOf(c)
	limit := q.limit()
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	all, next, err := s.shop.Unsorted(c.Request.Context(), by(c), limit, q.text("cursor"))
	return answer{body: wire.Unsorted{Unsorted: list(all, viewUnsorted), Next: null(next)}, next: next}, err
}

func viewUnsorted(r evidence.Record) wire.UnsortedPhoto {
	return wire.UnsortedPhoto{ID: r.ID, SHA256: r.SHA256, MediaType: r.MediaType, Bytes: r.Bytes, Name: r.Name,
		ReceivedAt: r.ReceivedAt, ClaimedAt: null(r.ClaimedAt)}
}

// fileUnsorted files one unsorted photo.
func (s *service) fileUnsorted(c *gin.Context) (answer, error) {
	in, err := bind[wire.FileUnder](c, false)
	if err != nil {
		return answer{}, err
	}
	done, err := s.shop.FileUnsorted(c.Request.Context(), by(c), c.Param("id"), in)
	return ok(viewDone(done), 0), err
}

// which gives the tools that fit a description.
func (s *service) which(c *gin.Context) (answer, error) {
	q := askedOf(c)
	asked := model.WhichQuery{Words: q.text("words"), Kind: q.text("kind"), Maker: q.text("maker"), Place: q.text("place"),
		Limit: q.limit(), Cursor: q.text("cursor")}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	rows, next, err := s.shop.Which(c.Request.Context(), by(c), asked)
	if err != nil {
		return answer{}, err
	}
	gone, err := s.shop.GoneBeside(c.Request.Context(), by(c), asked.Find(), len(rows))
	return answer{body: wire.Which{Tools: list(rows, viewWhich), Gone: gone, Next: null(next)}, next: next}, err
}

func viewWhich(r model.WhichRow) wire.WhichRow {
	return wire.WhichRow{ToolRow: viewToolRow(r.ToolRow), Photos: list(r.Photos, func(e evidence.Record) wire.Photo {
		return wire.Photo{SHA256: e.SHA256, Kind: string(e.Kind)}
	})}
}
