package api

import (
	"context"
	"io"
	"maps"
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/labels"
	"pawl/model"
	"pawl/model/fault"
	"pawl/model/numbers"
)

// printRoutes are those of everything on paper besides labels, and of labels
// that take the place of others.
func (s *service) printRoutes() []route {
	return []route{
		{method: http.MethodGet, path: Prefix + "/numbers", query: []string{"limit", "cursor"}, handle: s.freeNumbers},
		{method: http.MethodGet, path: Prefix + "/prints/:what", query: []string{"name", "format", "dpi", "dots", "level", "sheet", "start", "dx", "dy", "unprintable"},
			offers: []string{pdfType, pngType, svgType}, handle: s.print},
		act("label", true, func(ctx context.Context, by model.By, number string, in wire.LabelAgain) (model.Done, error) {
			return s.shop.LabelAgain(ctx, by, number, model.LabelAgain(in))
		}),
		act("join", false, func(ctx context.Context, by model.By, number string, in wire.Join) (model.Done, error) {
			return s.shop.JoinNumber(ctx, by, number, model.Join(in))
		}),
	}
}

// freeNumbers lists the numbers that are issued and free.
func (s *service) freeNumbers(c *gin.Context) (answer, error) {
	q := askedOf(c)
	limit := q.limit()
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	free, next, err := s.shop.FreeNumbers(c.Request.Context(), by(c), limit, q.text("cursor"))
	return answer{body: wire.Numbers{Numbers: list(free, numbers.Number.String), Next: null(next)}, next: next}, err
}

// printed finds what one sort of print says of the thing with that name.
type printed func(ctx context.Context, by model.By, name string) ([]labels.Card, error)

// cards are the sorts of print that hold a symbol and a few words.
func (s *service) cards() map[string]printed {
	return map[string]printed{
		"badge": func(ctx context.Context, by model.By, name string) ([]labels.Card, error) {
			b, err := s.shop.Badge(ctx, by, name)
			return []labels.Card{b.Card()}, err
		},
		"place": func(ctx context.Context, by model.By, path string) ([]labels.Card, error) {
			p, err := s.shop.PlaceLabel(ctx, by, path)
			return []labels.Card{p.Card()}, err
		},
		"job": func(ctx context.Context, by model.By, number string) ([]labels.Card, error) {
			j, err := s.shop.JobTag(ctx, by, number)
			return []labels.Card{j.Card()}, err
		},
		"do-not-use": func(ctx context.Context, by model.By, number string) ([]labels.Card, error) {
			t, err := s.shop.DoNotUseTag(ctx, by, number)
			return []labels.Card{t.Card()}, err
		},
		"sticker": func(ctx context.Context, by model.By, number string) ([]labels.Card, error) {
			t, err := s.shop.Sticker(ctx, by, number)
			return []labels.Card{t.Card()}, err
		},
		"cards": func(ctx context.Context, by model.By, _ string) ([]labels.Card, error) {
			return s.shop.BoardCards(ctx, by)
		},
	}
}

// print draws what is not a tool's label.
func (s *service) print(c *gin.Context) (answer, error) {
	what, q := c.Param("what"), askedOf(c)
	switch what {
	case "sign-out":
		return s.signOut(c, q)
	case "slip":
		return s.slip(c, q)
	case "test-page":
		return s.testPage(c, q)
	case "drawer", "drawers":
		return s.drawers(c, q, what == "drawers")
	}
	find, known := s.cards()[what]
	if !known {
		all := slices.Sorted(maps.Keys(s.cards()))
		return answer{}, fault.New(fault.NotFound, "there is no print %q", fault.Clip(what)).
			WithHint("there is %s, drawer, drawers, sign-out, slip and test-page", strings.Join(all, ", "))
	}
	mediaType, draw := q.cardDrawer(c)
	marked := q.marked()
	q.named(what != "cards")
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	cards, err := find(c.Request.Context(), by(c), q.text("name"))
	if err != nil {
		return answer{}, err
	}
	for i := range cards {
		cards[i].Marked = cards[i].Marked || marked
	}
	return drawn(mediaType, what, func(w io.Writer) error { return draw(w, cards) })
}

// named wants a name, or none.
func (q *asked) named(needed bool) {
	switch given := strings.TrimSpace(q.text("name")) != ""; {
	case needed && !given:
		q.bad.Add("#/name", "say of whom, which place, job or tool")
	case !needed && q.values.Has("name"):
		q.bad.Add("#/name", "this print is of nothing in particular; leave name out")
	}
}

// mediaType is the type that the parameter format names, or else the one agreed
// upon; formats are those that the print has.
func (q *asked) mediaType(c *gin.Context, has ...string) string {
	if !q.values.Has("format") {
		return c.GetString(offered)
	}
	format := q.text("format")
	if !slices.Contains(has, format) {
		q.bad.Add("#/format", "%q is not a format of this print; use %s", fault.Clip(format), strings.Join(has, " or "))
	}
	return formats[format]
}

// cardDrawer reads how cards are to be drawn: on pages of their own, on label
// sheets, or one as a picture or drawing.
func (q *asked) cardDrawer(c *gin.Context) (mediaType string, draw func(io.Writer, []labels.Card) error) {
	alone := func(draw func(io.Writer, labels.Card) error) func(io.Writer, []labels.Card) error {
		return func(w io.Writer, cards []labels.Card) error {
			if len(cards) != 1 {
				return fault.At("#/format", "%d cards do not go on one picture", len(cards)).WithHint("ask for a PDF")
			}
			return draw(w, cards[0])
		}
	}
	switch mediaType = q.mediaType(c, "pdf", "png", "svg"); mediaType {
	case pngType:
		o := labels.PNGOptions{DPI: q.number("dpi", 300, 1, 9999), DotsPerModule: q.number("dots", 0, 1, 100), Level: q.level()}
		return mediaType, alone(func(w io.Writer, card labels.Card) error { return labels.CardPNG(w, card, o) })
	case svgType:
		level := q.level()
		return mediaType, alone(func(w io.Writer, card labels.Card) error { return labels.CardSVG(w, card, level) })
	}
	onto := q.sheet()
	return mediaType, func(w io.Writer, cards []labels.Card) error {
		if onto.name == "" {
			return labels.CardPDF(w, cards, onto.Level)
		}
		return labels.CardSheet(w, cards, onto.SheetOptions)
	}
}

// onlyPDF refuses another format.
func (q *asked) onlyPDF(c *gin.Context) {
	if mediaType := q.mediaType(c, "pdf"); mediaType != pdfType && !q.values.Has("format") {
		q.bad.Add("#/format", "this print is a PDF only")
	}
}

// signOut draws the sign-out sheet of a place on the shop's paper.
func (s *service) signOut(c *gin.Context, q *asked) (answer, error) {
	q.onlyPDF(c)
	q.named(true)
	marked := q.marked()
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	sheet, err := s.shop.SignOut(c.Request.Context(), by(c), q.text("name"))
	if err != nil {
		return answer{}, err
	}
	sheet.Marked = marked
	return drawn(pdfType, "sign-out", sheet.PDF)
}

// drawers draws the sheet that lies in a place, or those of all that is in it, or of the
// whole tree.
func (s *service) drawers(c *gin.Context, q *asked, below bool) (answer, error) {
	q.onlyPDF(c)
	if !below {
		q.named(true)
	}
	marked := q.marked()
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	return drawn(pdfType, c.Param("what"), func(w io.Writer) error {
		return s.shop.DrawerSheetPDF(c.Request.Context(), by(c), q.text("name"), below, marked, w)
	})
}

// slip draws what goes to the laboratory with a tool.
func (s *service) slip(c *gin.Context, q *asked) (answer, error) {
	q.onlyPDF(c)
	q.named(true)
	marked := q.marked()
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	slip, err := s.shop.Slip(c.Request.Context(), by(c), q.text("name"))
	if err != nil {
		return answer{}, err
	}
	slip.Marked = marked
	return drawn(pdfType, "slip", slip.PDF)
}

// testPage draws the ruled page of a sheet.
func (s *service) testPage(c *gin.Context, q *asked) (answer, error) {
	q.onlyPDF(c)
	q.named(false)
	onto := q.sheet()
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	if err := s.orUsual(c.Request.Context(), &onto); err != nil {
		return answer{}, err
	}
	return drawn(pdfType, "test-page", func(w io.Writer) error { return labels.TestPage(w, onto.SheetOptions) })
}
