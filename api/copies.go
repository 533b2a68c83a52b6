package api

import (
	"io"
	"mime"
	"net/http"
	"os"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/bag"
	"pawl/model/evidence"
	"pawl/model/fault"
)

// copyRoutes are those by which a copy of somebody's tools goes out and comes in.
func (s *service) copyRoutes() []route {
	return []route{
		{method: http.MethodPost, path: Prefix + "/people/:id/leave", handle: s.leave},
		{method: http.MethodPost, path: Prefix + "/people/:id/copy", offers: []string{evidence.TypeZIP}, handle: s.copyOwn},
		{method: http.MethodPost, path: Prefix + "/imports/copy", query: []string{"owner", "key", "against"}, handle: s.importCopy},
	}
}

func (s *service) leave(c *gin.Context) (answer, error) {
	in, err := bind[wire.Leave](c, true)
	if err != nil {
		return answer{}, err
	}
	l, err := s.shop.Leave(c.Request.Context(), by(c), c.Param("id"), model.Leave(in))
	return ok(wire.Left{
		Person: viewPerson(l.Person), Takes: list(l.Takes, viewPart), Tokens: words(l.Tokens), Devices: words(l.Devices),
		Open: list(l.Open, func(o model.ToSettle) wire.ToSettle {
			return wire.ToSettle{Number: o.Number.String(), Kind: o.Kind, What: o.What}
		}),
	}, 0), err
}

// copyOwn gives a copy as it is made. One that fails on the way is broken off.
func (s *service) copyOwn(c *gin.Context) (answer, error) {
	if _, err := bind[nothing](c, true); err != nil {
		return answer{}, err
	}
	own, err := s.shop.CopyOwn(c.Request.Context(), by(c), c.Param("id"))
	if err != nil {
		return answer{}, err
	}
	r, w := io.Pipe()
	go func() { w.CloseWithError(own.Write(w)) }()
	return answer{raw: &raw{mediaType: evidence.TypeZIP, size: -1, open: r, disposition: `attachment; filename="` + own.Name + `.zip"`}}, nil
}

// importCopy takes a copy, which is read from a file of its own once it is whole.
func (s *service) importCopy(c *gin.Context) (answer, error) {
	kind, _, _ := mime.ParseMediaType(c.Request.Header.Get("Content-Type"))
	switch {
	case kind != evidence.TypeZIP || c.Request.Header.Get("Content-Encoding") != "":
		return answer{}, fault.New(fault.Media, "a copy of tools comes as it is, in the type %s", evidence.TypeZIP)
	case c.Request.ContentLength > bag.MaxBytes:
		return answer{}, fault.New(fault.TooLarge, "the copy has %d bytes; the limit is %d", c.Request.ContentLength, bag.MaxBytes)
	}
	if err := s.shop.Ready(c.Request.Context()); err != nil {
		return answer{}, err // before all of it was sent
	}
	file, err := os.CreateTemp("", "pawl-copy-")
	if err != nil {
		return answer{}, fault.New(fault.Unavailable, "there is no place to put the copy").WithCause(err)
	}
	defer os.Remove(file.Name())
	defer file.Close()
	body := limit(c.Request.Body, bag.MaxBytes)
	size, err := io.Copy(file, body)
	if body.err != nil {
		return answer{}, body.err
	}
	if err != nil {
		return answer{}, fault.New(fault.Unavailable, "the copy could not be put aside").WithCause(err)
	}
	q := askedOf(c)
	in := model.ImportCopy{Key: q.text("key")}
	if q.values.Has("owner") {
		in.Owner = &q.values["owner"][0]
	}
	if q.values.Has("against") {
		in.Against = []string{q.text("against")}
	}
	out, err := s.shop.ImportCopy(c.Request.Context(), by(c), in, file, size)
	return created(wire.ImportedCopy{Owner: out.Owner, Ledger: out.Ledger, Said: words(out.Said),
		Tools: list(out.Tools, func(t model.ImportedTool) wire.ImportedTool {
			return wire.ImportedTool{Number: t.Number.String(), Was: t.Was.String(), Kind: t.Kind, Serial: t.Serial}
		})}, 0, ""), err
}
