package labels

import (
	"image"
	"image/color"
	"io"
	"math"
	"sort"

	"codeberg.org/go-pdf/fpdf"

	"pawl/model/fault"
)

// CardPDF draws cards, each on a page of its own size. Symbols are vectors
// with modules of whole dots at 300 dpi. The same cards give the same bytes.
func CardPDF(w io.Writer, cards []Card, level Level) error {
	if len(cards) == 0 {
		return noCards()
	}
	doc := newPages(cards[0].W, cards[0].H, "Cards", numberFace, lineFace, boldFace)
	for i, c := range cards {
		l, err := ownSize(c, level, dot300)
		if err != nil {
			return onPrint(err, i, "card", c.Heading)
		}
		doc.AddPageFormat("P", fpdf.SizeType{Wd: c.W, Ht: c.H})
		drawLabel(doc, c.H, l, 0, 0)
	}
	return output(doc, w)
}

// CardSheet draws cards onto as many sheets of labels as they need, in place of
// their own size. A label that cannot hold its card is refused with the
// smallest built-in sheet that can.
func CardSheet(w io.Writer, cards []Card, opt SheetOptions) error {
	if err := opt.check(); err != nil {
		return err
	}
	if len(cards) == 0 {
		return noCards()
	}
	doc := newPages(opt.Sheet.PaperW, opt.Sheet.PaperH, "Cards, "+opt.Sheet.Name, numberFace, lineFace, boldFace)
	return eachCell(doc, opt, len(cards), func(i int, x, y float64) error {
		l, err := fitCard(cards[i], opt)
		if err != nil {
			return onPrint(err, i, "card", cards[i].Heading)
		}
		drawLabel(doc, opt.Sheet.PaperH, l, x, y)
		return nil
	}, w)
}

// fitCard lays a card out on a label of the sheet.
func fitCard(c Card, opt SheetOptions) (layout, error) {
	c.W, c.H = opt.Sheet.W-2*inset, opt.Sheet.H-2*inset
	return ownSize(c, opt.Level, dot300)
}

// ownSize lays a card out on its own size for a printer's dots of dot mm.
func ownSize(c Card, level Level, dot float64) (layout, error) {
	if err := c.check(); err != nil {
		return layout{}, err
	}
	s, err := encodeStrong(c.Symbol, level)
	if err != nil {
		return layout{}, err
	}
	l, ok := arrangeCard(c.W, c.H, s, c, dot)
	if !ok {
		return layout{}, cardTooSmall(c.W, c.H, s, c, level)
	}
	return l, nil
}

func noCards() error {
	return fault.New(fault.Invalid, "no cards to draw").WithHint("name at least one")
}

// cardTooSmall names the smallest built-in sheet that would hold the card, and
// the level at which this area does.
func cardTooSmall(w, h float64, s *Symbol, c Card, level Level) error {
	smaller := ""
	if small, err := Encode(c.Symbol, Q); err == nil && level == 0 {
		if _, ok := arrangeCard(w, h, small, c, dot300); ok {
			smaller = smallerSymbol
		}
	}
	err := fault.At("#/sheet", "%q with a symbol of version %d does not fit %.4g x %.4g mm", c.Heading, s.Version, w, h)
	others := Sheets()
	sort.SliceStable(others, func(i, j int) bool { return others[i].W*others[i].H < others[j].W*others[j].H })
	for _, o := range others {
		if _, ok := arrangeCard(o.W-2*inset, o.H-2*inset, s, c, dot300); ok {
			return err.WithHint("the smallest sheet that holds it is %s (labels of %g x %g mm); without a sheet it gets a page of its own%s", o.Name, o.W, o.H, smaller).
				WithFact("sheet", o.Name)
		}
	}
	return err.WithHint("print it without a sheet, on a page of its own%s", smaller)
}

// CardPNG draws one card of its own size as a black and white picture, one
// pixel to a printer dot. DotsPerModule is the most; zero is as many as fit.
func CardPNG(w io.Writer, c Card, opt PNGOptions) error {
	if _, err := opt.dots(); err != nil {
		return err
	}
	perMM := float64(opt.DPI) / 25.4
	l, err := ownSize(c, opt.Level, 1/perMM)
	if err != nil {
		return err
	}
	dots := int(math.Round(l.module * perMM))
	x, y := int(math.Round(l.x*perMM)), int(math.Round(l.y*perMM))
	if opt.DotsPerModule > 0 && opt.DotsPerModule < dots {
		y += (dots - opt.DotsPerModule) * l.symbol.Side()
		dots = opt.DotsPerModule
	}
	size := image.Rect(0, 0, int(math.Ceil(c.W*perMM)), int(math.Ceil(c.H*perMM)))
	img := image.NewPaletted(size, color.Palette{color.White, color.Black})
	inkText(img, l.texts, perMM)
	for _, m := range l.marks {
		ink(img, int(math.Round(m.x*perMM)), int(math.Round(m.y*perMM)), int(math.Round(m.w*perMM)), int(math.Round(m.h*perMM)))
	}
	inkSymbol(img, l.symbol, x, y, dots)
	return writePNG(w, img, opt.DPI)
}
