package labels

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/vector"

	"pawl/model/fault"
)

// PNGOptions says for which printer a label is drawn.
type PNGOptions struct {
	DPI           int   // dots per inch: 203, 300 or 600
	DotsPerModule int   // whole dots along a module, at least 0.33 mm; 0 is the least that gives 0.33 mm and 4 dots
	Level         Level // as small as it holds the text; zero is H in a symbol that may be rubbed
}

// dots returns the dots along a module. Four dots and more are the guidance of
// the symbol's inventor (qrcode.com, "module size").
func (o PNGOptions) dots() (int, error) {
	switch o.DPI {
	case 203, 300, 600:
	default:
		return 0, fault.At("#/dpi", "%d dots per inch is not a label printer's", o.DPI).WithHint("use 203, 300 or 600")
	}
	floor := int(math.Ceil(minModule * float64(o.DPI) / 25.4))
	if o.DotsPerModule == 0 {
		return max(4, floor), nil
	}
	if o.DotsPerModule < floor {
		return 0, fault.At("#/dots", "%d dots at %d dpi make a module of %.2f mm; phones need 0.33 mm",
			o.DotsPerModule, o.DPI, 25.4*float64(o.DotsPerModule)/float64(o.DPI)).
			WithHint("use %d dots or more", floor)
	}
	return o.DotsPerModule, nil
}

// maxDots is the most dots in a picture: about 210 x 148 mm at 600 dpi.
const maxDots = 16_000_000

// PNG draws one label as a black and white picture, one pixel to a printer
// dot, with its resolution in the pHYs chunk. Print it at 100 %: scaled, the
// modules become uneven.
func PNG(w io.Writer, t Text, opt PNGOptions) error {
	dots, err := opt.dots()
	if err != nil {
		return err
	}
	if err := t.check(); err != nil {
		return err
	}
	s, err := encodeStrong(t.Symbol, opt.Level)
	if err != nil {
		return err
	}
	perMM := float64(opt.DPI) / 25.4
	l, width, _ := free(float64(dots)/perMM, s, t)
	cols, rows := int(math.Ceil(width*perMM)), (s.Side()+2*quiet)*dots
	if cols > maxDots/rows {
		return fault.At("#/dots", "%d dots per module make a label of %d x %d dots", dots, cols, rows).
			WithHint("use fewer; a picture holds at most %d dots", maxDots)
	}
	img := image.NewPaletted(image.Rect(0, 0, cols, rows), color.Palette{color.White, color.Black})
	inkText(img, l.texts, perMM)
	inkSymbol(img, s, quiet*dots, quiet*dots, dots)
	return writePNG(w, img, opt.DPI)
}

// inkSymbol draws a symbol whose first module is at x, y.
func inkSymbol(img *image.Paletted, s *Symbol, x, y, dots int) {
	for _, b := range s.bars() {
		ink(img, x+b.x*dots, y+b.y*dots, b.w*dots, dots)
	}
}

// ink blackens w by h dots.
func ink(img *image.Paletted, x0, y0, w, h int) {
	for y := y0; y < y0+h; y++ {
		for x := x0; x < x0+w; x++ {
			img.SetColorIndex(x, y, 1)
		}
	}
}

// inkText blackens every dot that a letter covers by half or more.
func inkText(img *image.Paletted, texts []run, perMM float64) {
	size := img.Bounds().Size()
	r := vector.NewRasterizer(size.X, size.Y)
	for _, text := range texts {
		for _, s := range text.face.outline(text) {
			trace(r, s, perMM)
		}
	}
	cover := image.NewAlpha(img.Bounds())
	r.Draw(cover, cover.Bounds(), image.Opaque, image.Point{})
	for i, a := range cover.Pix {
		if a >= 0x80 {
			img.Pix[i] = 1
		}
	}
}

func trace(r *vector.Rasterizer, s segment, scale float64) {
	var c [6]float32
	for i, p := range s.points {
		c[2*i], c[2*i+1] = float32(p.x*scale), float32(p.y*scale)
	}
	switch s.op {
	case sfnt.SegmentOpMoveTo:
		r.ClosePath()
		r.MoveTo(c[0], c[1])
	case sfnt.SegmentOpLineTo:
		r.LineTo(c[0], c[1])
	case sfnt.SegmentOpQuadTo:
		r.QuadTo(c[0], c[1], c[2], c[3])
	case sfnt.SegmentOpCubeTo:
		r.CubeTo(c[0], c[1], c[2], c[3], c[4], c[5])
	}
}

// afterHeader is where a PNG's IHDR chunk ends: an 8-byte signature, then
// length, type, 13 bytes and check (PNG 3rd ed., 5.2 and 11.2.1).
const afterHeader = 8 + 4 + 4 + 13 + 4

// writePNG writes an image with a pHYs chunk (PNG 3rd ed., 11.3.4.3), which
// the standard library leaves out: dots per meter, twice, and the unit.
func writePNG(w io.Writer, img image.Image, dpi int) error {
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		return unwritten("picture", err)
	}
	perMeter := uint32(math.Round(float64(dpi) / 0.0254))
	chunk := []byte("pHYs")
	chunk = binary.BigEndian.AppendUint32(chunk, perMeter)
	chunk = binary.BigEndian.AppendUint32(chunk, perMeter)
	chunk = append(chunk, 1) // the unit is the meter
	head := binary.BigEndian.AppendUint32(nil, uint32(len(chunk)-4))
	check := binary.BigEndian.AppendUint32(nil, crc32.ChecksumIEEE(chunk))
	for _, part := range [][]byte{b.Bytes()[:afterHeader], head, chunk, check, b.Bytes()[afterHeader:]} {
		if _, err := w.Write(part); err != nil {
			return unwritten("picture", err)
		}
	}
	return nil
}

func unwritten(what string, err error) error {
	return fault.New(fault.Internal, "the %s could not be written", what).WithCause(err)
}
