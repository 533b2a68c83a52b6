package api

import (
	"io"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/claims"
	"pawl/model/evidence"
)

// packetRoutes are those by which what was recorded is handed over.
func (s *service) packetRoutes() []route {
	kinds := []string{evidence.TypeZIP, pdfType, xlsxType, csvType}
	return []route{
		{method: http.MethodGet, path: Prefix + "/claims/:id/packets", handle: s.packetsOf},
		{method: http.MethodPost, path: Prefix + "/claims/:id/packets", handle: s.packetOfClaim},
		{method: http.MethodPost, path: Prefix + "/tools/:number/packet", handle: s.packetOfTool},
		{method: http.MethodGet, path: Prefix + "/packets/:id", query: []string{"changed", "max_part"}, handle: s.packet},
		{method: http.MethodGet, path: Prefix + "/packets/:id/files/:name", query: []string{"max_part"}, offers: kinds, handle: s.packetFile},
		{method: http.MethodGet, path: Prefix + "/elsewhere", handle: s.elsewhere},
		{method: http.MethodPost, path: Prefix + "/elsewhere", query: []string{"add"}, offers: []string{evidence.TypeZIP}, handle: s.keepElsewhere},
	}
}

func (s *service) packetsOf(c *gin.Context) (answer, error) {
	all, err := s.shop.Packets(c.Request.Context(), by(c), c.Param("id"))
	out := wire.Packets{Packets: []wire.Packet{}}
	for _, v := range all {
		one, err := s.viewPacket(c, v, 0)
		if err != nil {
			return answer{}, err
		}
		out.Packets = append(out.Packets, one)
	}
	return ok(out, 0), err
}

func (s *service) packetOfClaim(c *gin.Context) (answer, error) {
	return s.build(c, model.NewPacket{Claim: c.Param("id")})
}

func (s *service) packetOfTool(c *gin.Context) (answer, error) {
	return s.build(c, model.NewPacket{Ownership: c.Param("number")})
}

func (s *service) build(c *gin.Context, in model.NewPacket) (answer, error) {
	asked, err := bind[wire.NewPacket](c, true)
	if err != nil {
		return answer{}, err
	}
	in.Add, in.Reworded = asked.Add, asked.Reworded
	v, err := s.shop.BuildPacket(c.Request.Context(), by(c), in)
	if err != nil {
		return answer{}, err
	}
	out, err := s.viewPacket(c, v, 0)
	return created(out, 0, "/packets/"+v.ID), err
}

func (s *service) packet(c *gin.Context) (answer, error) {
	q := askedOf(c)
	changed, most := q.flag("changed"), q.number("max_part", 0, 0, claims.MostPart)
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	v, err := s.shop.Packet(c.Request.Context(), by(c), c.Param("id"), changed != nil && *changed)
	if err != nil {
		return answer{}, err
	}
	out, err := s.viewPacket(c, v, int64(most))
	if changed != nil && *changed {
		out.Changed = words(v.Changed)
		if v.Police != nil {
			out.Police = &wire.PoliceSince{Drawn: v.Police.Drawn, Changed: words(v.Police.Changed)}
		}
	}
	return ok(out, 0), err
}

// viewPacket lists the files as they are with a claim document of parts up to most bytes;
// 0 is one part.
func (s *service) viewPacket(c *gin.Context, v model.PacketView, most int64) (wire.Packet, error) {
	files, err := s.shop.PacketFiles(c.Request.Context(), v, most)
	if err != nil {
		return wire.Packet{}, err
	}
	out := wire.Packet{ID: v.ID, Kind: string(v.Statement.Kind), Claim: null(v.Claim), Supplement: v.Supplement, Created: v.Created, Tools: len(v.Statement.Lines),
		Added: list(v.Statement.Added, func(a claims.Addition) string { return string(a) }), Fingerprint: v.Fingerprint, Size: v.Lines, Checkpoint: v.Note, Key: v.Key,
		Files: list(files, func(f model.PacketFile) string { return f.Name }), Left: list(v.Left, func(l claims.LeftOut) wire.NotInPacket { return wire.NotInPacket(l) }),
		Cautions: []string{claims.NoAdvice}}
	if v.Claim == "" {
		out.Number = null(v.Statement.Lines[0].Number)
	}
	return out, nil
}

// packetFile gives one file as it is written. One that fails on the way is broken off.
func (s *service) packetFile(c *gin.Context) (answer, error) {
	q := askedOf(c)
	most := q.number("max_part", 0, 0, claims.MostPart)
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	ctx := c.Request.Context()
	f, err := s.shop.PacketFile(ctx, by(c), c.Param("id"), c.Param("name"), int64(most))
	if err != nil {
		return answer{}, err
	}
	return answer{stream: &stream{mediaType: f.MediaType, disposition: `attachment; filename="` + f.Name + `"`, write: func(w io.Writer) error { return f.Write(ctx, w) }}}, nil
}

func (s *service) elsewhere(c *gin.Context) (answer, error) {
	e, err := s.shop.Elsewhere(c.Request.Context(), by(c))
	out := wire.Elsewhere{ID: null(e.ID), Made: e.Made, Size: e.Lines, Since: e.Since, Old: e.Old()}
	if e.Days >= 0 {
		out.Days = &e.Days
	}
	return ok(out, 0), err
}

// keepElsewhere gives the copy as it is made.
func (s *service) keepElsewhere(c *gin.Context) (answer, error) {
	q := askedOf(c)
	var add []string
	if q.values.Has("add") {
		add = strings.Split(q.text("add"), ",")
	}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	had, err := readHave(c.Request)
	if err != nil {
		return answer{}, err
	}
	k, err := s.shop.KeepElsewhere(c.Request.Context(), by(c), had, add...)
	if err != nil {
		return answer{}, err
	}
	return answer{stream: &stream{mediaType: evidence.TypeZIP, disposition: `attachment; filename="` + k.Name + `.zip"`, write: k.Write}}, nil
}
