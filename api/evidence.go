package api

import (
	"mime"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"pawl/model"
	"pawl/model/evidence"
	"pawl/model/fault"
)

// evidenceTypes are the media types of originals, and the endings of the names
// under which they are given.
var evidenceTypes = []struct{ mediaType, ending string }{
	{evidence.TypeJPEG, "jpg"}, {evidence.TypePNG, "png"}, {evidence.TypeWebP, "webp"},
	{evidence.TypeHEIC, "heic"}, {evidence.TypeHEIF, "heif"}, {evidence.TypePDF, "pdf"}, {evidence.TypeZIP, "zip"},
}

func (s *service) evidenceRoutes() []route {
	var types []string
	for _, t := range evidenceTypes {
		types = append(types, t.mediaType)
	}
	return []route{
		{method: http.MethodPut, path: Prefix + "/evidence/:sha256", handle: s.putEvidence},
		{method: http.MethodGet, path: Prefix + "/evidence/:sha256", query: []string{"view"}, offers: types, handle: s.evidence},
	}
}

// putEvidence takes the bytes of a photo or paper under their SHA-256.
func (s *service) putEvidence(c *gin.Context) (answer, error) {
	up, err := bindUpload(c)
	if err != nil {
		return answer{}, err
	}
	body := limit(c.Request.Body, evidence.MaxBytes)
	o, isNew, err := s.shop.StoreOriginal(c.Request.Context(), by(c), up, body)
	if body.err != nil {
		err = body.err // rather than what the store made of it
	}
	a := ok(viewOriginal(o), 0)
	if isNew {
		a = created(a.body, 0, at("evidence", o.SHA256))
	}
	return a, err
}

// bindUpload reads what an upload says of itself.
func bindUpload(c *gin.Context) (model.Upload, error) {
	h := c.Request.Header
	up := model.Upload{SHA256: c.Param("sha256"), MediaType: h.Get("Content-Type"), Size: c.Request.ContentLength}
	switch {
	case h.Get("Content-Encoding") != "":
		return up, fault.New(fault.Media, "an upload in an encoding is not taken").WithHint("send the bytes as they are")
	case h.Get("Content-Range") != "": // RFC 9110 section 14.5
		return up, fault.New(fault.Malformed, "a part of a file cannot be sent").WithHint("send it whole")
	case up.Size > evidence.MaxBytes:
		return up, fault.New(fault.TooLarge, "the file has %d bytes; the limit is %d (25 MiB)", up.Size, int64(evidence.MaxBytes)).
			WithHint("take the photo at a lower resolution, or scan the paper at 300 dpi")
	}
	if stated := h.Get("Content-Disposition"); stated != "" {
		_, parameters, err := mime.ParseMediaType(stated)
		if err != nil {
			return up, fault.New(fault.Malformed, "Content-Disposition %q cannot be read", fault.Clip(stated)).
				WithHint("write attachment; filename*=UTF-8''NAME, escaped as RFC 8187 says").WithCause(err)
		}
		up.Name = parameters["filename"]
	}
	return up, nil
}

// evidence gives an original as it was received. A browser keeps it out of the
// shop's pages, whatever it holds.
func (s *service) evidence(c *gin.Context) (answer, error) {
	if q := queryOf(c); q.Has("view") {
		return s.view(c, q.Get("view"))
	}
	bytes, o, err := s.shop.OpenOriginal(c.Request.Context(), by(c), c.Param("sha256"))
	if err != nil {
		return answer{}, err
	}
	if _, err := negotiate(c.Request.Header.Values("Accept"), []string{o.Type}); err != nil {
		bytes.Close()
		return answer{}, err
	}
	return answer{keep: "private, " + secondLook, raw: &raw{
		mediaType: o.Type, etag: o.SHA256, size: o.Bytes, open: bytes, policy: "sandbox; " + policy,
		disposition: `attachment; filename="` + givenName(o) + `"`,
	}}, nil
}

// givenName is made here; the one that came with the file is only data.
func givenName(o model.Original) string {
	name := strings.ToLower(o.SHA256[:min(len(o.SHA256), 12)])
	for _, t := range evidenceTypes {
		if t.mediaType == o.Type {
			return name + "." + t.ending
		}
	}
	return name
}
