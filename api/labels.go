package api

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/labels"
	"pawl/model/fault"
	"pawl/model/numbers"
	"pawl/model/settings"
)

const (
	pngType = "image/png"
	svgType = "image/svg+xml"
	pdfType = "application/pdf"
)

// maxLabels is the most labels of one request.
const maxLabels = 1000

// formats are the values of the parameter format.
var formats = map[string]string{"png": pngType, "svg": svgType, "pdf": pdfType}

func (s *service) labelRoutes() []route {
	return []route{
		{method: http.MethodPost, path: Prefix + "/numbers", handle: s.issue},
		{method: http.MethodGet, path: Prefix + "/labels", query: []string{"number", "sheet", "start", "dx", "dy", "level", "unprintable"},
			offers: []string{pdfType}, handle: s.sheet},
		{method: http.MethodGet, path: Prefix + "/labels/:number", query: []string{"format", "dpi", "dots", "level", "sheet", "start", "dx", "dy", "unprintable"},
			offers: []string{pngType, svgType, pdfType}, handle: s.label},
	}
}

// issue reserves numbers for labels that are printed first.
func (s *service) issue(c *gin.Context) (answer, error) {
	in, err := bind[wire.Issue](c, false)
	if err != nil {
		return answer{}, err
	}
	all, err := s.shop.IssueNumbers(c.Request.Context(), by(c), in.Count)
	return created(wire.Issued{Numbers: list(all, numbers.Number.String)}, 0, ""), err
}

// label draws one label.
func (s *service) label(c *gin.Context) (answer, error) {
	q := askedOf(c)
	draw, mediaType := s.drawer(c, q)
	marked := q.marked()
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	text, err := s.shop.LabelText(c.Request.Context(), by(c), c.Param("number"))
	if err != nil {
		return answer{}, err
	}
	text.Marked = marked
	return drawn(mediaType, "label-"+text.Number, func(w io.Writer) error { return draw(c.Request.Context(), w, text) })
}

type drawer func(context.Context, io.Writer, labels.Text) error

// drawer reads how a label is to be drawn, by the parameter format or else as
// was agreed upon.
func (s *service) drawer(c *gin.Context, q *asked) (drawer, string) {
	mediaType := c.GetString(offered)
	if q.values.Has("format") {
		if mediaType = formats[q.text("format")]; mediaType == "" {
			q.bad.Add("#/format", "%q is not a format; use png, svg or pdf", fault.Clip(q.text("format")))
		}
	}
	switch mediaType {
	case svgType:
		level := q.level()
		return func(_ context.Context, w io.Writer, t labels.Text) error { return labels.SVG(w, t, level) }, mediaType
	case pdfType:
		onto := q.sheet()
		return func(ctx context.Context, w io.Writer, t labels.Text) error {
			return s.drawSheet(ctx, w, []labels.Text{t}, onto)
		}, mediaType
	}
	o := labels.PNGOptions{DPI: q.number("dpi", 300, 1, 9999), DotsPerModule: q.number("dots", 0, 1, 100), Level: q.level()}
	return func(_ context.Context, w io.Writer, t labels.Text) error { return labels.PNG(w, t, o) }, mediaType
}

// sheet draws labels onto sheets.
func (s *service) sheet(c *gin.Context) (answer, error) {
	q := askedOf(c)
	onto, marked, typed := q.sheet(), q.marked(), q.values["number"]
	if len(typed) < 1 || len(typed) > maxLabels {
		q.bad.Add("#/number", "%d numbers; 1 to %d are drawn at once", len(typed), maxLabels)
	}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	texts := make([]labels.Text, len(typed))
	for i, number := range typed {
		var err error
		if texts[i], err = s.shop.LabelText(c.Request.Context(), by(c), number); err != nil {
			return answer{}, err
		}
		texts[i].Marked = marked
	}
	return drawn(pdfType, "labels", func(w io.Writer) error { return s.drawSheet(c.Request.Context(), w, texts, onto) })
}

// onSheet is a sheet as it was named, and how it is used.
type onSheet struct {
	name string // empty: the shop's usual one
	labels.SheetOptions
}

func (q *asked) sheet() onSheet {
	o := onSheet{name: q.text("sheet")}
	if q.values.Has("sheet") {
		var err error
		o.Sheet, err = labels.ParseSheet(o.name)
		q.bad.Keep("#/sheet", err)
	}
	o.Start = q.number("start", 1, 1, 1000)
	o.OffsetX, o.OffsetY, o.Level = q.millimeters("dx"), q.millimeters("dy"), q.level()
	return o
}

// marked says whether letters that cannot be printed are marked, by the
// parameter unprintable; else a print that holds some is refused.
func (q *asked) marked() bool {
	switch how := q.text("unprintable"); {
	case how == "mark":
		return true
	case q.values.Has("unprintable") && how != "refuse":
		q.bad.Add("#/unprintable", "%q is not refuse or mark", fault.Clip(how))
	}
	return false
}

// level reads how much of a symbol may be lost; absent is a symbol that may be
// rubbed.
func (q *asked) level() labels.Level {
	if !q.values.Has("level") {
		return 0
	}
	level, err := labels.ParseLevel(q.text("level"))
	q.bad.Keep("#/level", err)
	return level
}

// drawSheet draws onto the named sheet, or one of the shop's paper.
func (s *service) drawSheet(ctx context.Context, w io.Writer, texts []labels.Text, onto onSheet) error {
	if err := s.orUsual(ctx, &onto); err != nil {
		return err
	}
	return labels.PDF(w, texts, onto.SheetOptions)
}

// orUsual puts a sheet of the shop's paper where none was named.
func (s *service) orUsual(ctx context.Context, onto *onSheet) error {
	if onto.name != "" {
		return nil
	}
	name, err := s.usualSheet(ctx)
	if err != nil {
		return err
	}
	onto.Sheet, err = labels.SheetByName(name)
	return err
}

func (s *service) usualSheet(ctx context.Context) (string, error) {
	now, err := s.shop.Settings(ctx)
	if now.Paper == settings.A4 {
		return "a4-3x7", err
	}
	return "letter-3x10", err
}

// drawn is an answer in bytes that were drawn in memory: what cannot be drawn is
// a fault and not half a picture.
func drawn(mediaType, name string, draw func(io.Writer) error) (answer, error) {
	var b bytes.Buffer
	if err := draw(&b); err != nil {
		return answer{}, err
	}
	r := inMemory(mediaType, b.Bytes())
	_, ending, _ := strings.Cut(mediaType, "/")
	ending, _, _ = strings.Cut(ending, "+")
	r.disposition = `inline; filename="` + name + "." + ending + `"`
	return answer{keep: "private, " + secondLook, raw: r}, nil
}
