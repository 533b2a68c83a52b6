package labels

import (
	"bytes"
	"encoding/gob"
	"fmt"
	"image"
	"image/jpeg"
	_ "image/png" // views may be PNG
	"math"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/draw"

	"pawl/model/claims"
	"pawl/model/fault"
)

// Photo gives an upright view of a photo, as JPEG or PNG of any size. It is scaled to
// the size of print and encoded again, so that nothing but its pixels is printed. It is
// asked only for pictures that can be shown. One that is NotFound is a gap; another error
// ends the drawing.
type Photo func(claims.File) ([]byte, error)

// fineness is how much of a photo is printed: dots to the inch and quality of the JPEG.
type fineness struct {
	dpi     float64
	quality int
}

// finenesses are tried in turn where a part of a document would be too large.
var finenesses = []fineness{{200, 78}, {150, 70}, {110, 60}, {75, 50}}

// mostPixels are what a view is decoded up to.
const mostPixels = 64_000_000

// printed is a photo as it is put on paper.
type printed struct {
	file claims.File
	fine fineness
	jpeg []byte // nil where it was let go of, to be made again when it is drawn
	long int64  // bytes of it
	w, h int
	gap  string // why there is none
}

// size is what the photo costs in a document.
func (p *printed) size() int64 { return p.long + 400 }

// toPrint scales a photo into a frame given in mm. What cannot be read as a picture is a
// gap, and said.
func toPrint(f claims.File, photo Photo, frame box, fine fineness) (*printed, error) {
	out := &printed{file: f, fine: fine, gap: f.Gap()}
	if out.gap != "" {
		return out, nil
	}
	data, err := photo(f)
	if fault.Is(err, fault.NotFound) {
		out.gap = fault.Of(err).Message
		return out, nil
	}
	if err != nil {
		return nil, err
	}
	src, why := decodePhoto(data)
	if why != "" {
		out.gap = why
		return out, nil
	}
	size := src.Bounds().Size()
	scale := min(1, frame.w/25.4*fine.dpi/float64(size.X), frame.h/25.4*fine.dpi/float64(size.Y))
	out.w, out.h = max(1, int(math.Round(float64(size.X)*scale))), max(1, int(math.Round(float64(size.Y)*scale)))
	dst := image.NewRGBA(image.Rect(0, 0, out.w, out.h))
	draw.Draw(dst, dst.Bounds(), image.White, image.Point{}, draw.Src)
	if scale == 1 {
		draw.Draw(dst, dst.Bounds(), src, src.Bounds().Min, draw.Over)
	} else {
		draw.BiLinear.Scale(dst, dst.Bounds(), src, src.Bounds(), draw.Over, nil)
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, dst, &jpeg.Options{Quality: fine.quality}); err != nil {
		return nil, fault.New(fault.Internal, "photo %s could not be encoded for print", f.Ref).WithCause(err)
	}
	out.jpeg, out.long = b.Bytes(), int64(b.Len())
	return out, nil
}

func decodePhoto(data []byte) (image.Image, string) {
	config, _, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return nil, "its view cannot be read as a picture"
	}
	if config.Width < 1 || config.Height < 1 || config.Width > mostPixels/config.Height {
		return nil, fmt.Sprintf("it is too large to be printed: %d x %d", config.Width, config.Height)
	}
	img, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, "its view is damaged"
	}
	return img, ""
}

// Lengths of photos on paper in mm.
const (
	photoBetween = 4.0
	photoCaption = 2.5 // type of captions
)

// photoGrid says how photos are set: columns of frames.
type photoGrid struct {
	columns int
	frame   box
}

func newPhotoGrid(wide float64, columns int) photoGrid {
	w := (wide - photoBetween*float64(columns-1)) / float64(columns)
	return photoGrid{columns, box{0, 0, w, w * 0.75}}
}

// photoRows sets photos in rows under the blocks that are there, captions below them.
func (p *paper) photoRows(g photoGrid, s claims.Statement, photos []*printed) {
	for i := 0; i < len(photos); i += g.columns {
		b := block{}
		low := 0.0
		for k, of := range photos[i:min(i+g.columns, len(photos))] {
			x := float64(k) * (g.frame.w + photoBetween)
			at := box{x, 0, g.frame.w, g.frame.h}
			b.prints = append(b.prints, framed{of, at})
			if of.gap != "" {
				runs := p.lines(boldFace, paperType, x+3, at.w-6, of.file.Ref+" CANNOT BE SHOWN: "+of.gap+". It counts as a gap.")
				stack(runs, 4)
				b.runs = append(b.runs, runs...)
			}
			title := p.lines(boldFace, photoCaption, x, at.w, of.file.Ref+" "+of.file.Words())
			runs := append(title, p.lines(lineFace, photoCaption, x, at.w, captionOf(s, of.file))...)
			low = max(low, stack(runs, at.h+0.8))
			b.runs = append(b.runs, runs...)
		}
		b.height = low
		p.add(b, 2)
	}
}

// captionOf says when a photo was received, and what it says of itself.
func captionOf(s claims.Statement, f claims.File) string {
	words := "Received " + s.When(f.Received) + "."
	if said := f.ClaimedWords(); said != "" {
		words += " Photo says " + said + "."
	}
	if said := f.GradeWords(); said != "" {
		words += " Marking: " + said + "."
	}
	return words
}

// photoWords stand before the first photo.
const photoWords = "Photos are printed smaller than they are kept. Received: when the file came in, by the clock of the shop's computer. " +
	"What a photo says of its own time is the camera's setting, which anybody can change."

// place draws a photo in the middle of its frame.
func (p *paper) place(pic framed, y float64) {
	of, at := pic.of, pic.at
	p.doc.SetLineWidth(0.15)
	p.doc.Rect(paperMargin+at.x, y+at.y, at.w, at.h, "D")
	if p.dry || of.gap != "" {
		return
	}
	scale := min(at.w/float64(of.w), at.h/float64(of.h))
	w, h := float64(of.w)*scale, float64(of.h)*scale
	name := p.register(of)
	p.doc.ImageOptions(name, paperMargin+at.x+(at.w-w)/2, y+at.y+(at.h-h)/2, w, h, false, fpdf.ImageOptions{ImageType: "JPG"}, 0, "")
}

// register gives the document a photo once.
func (p *paper) register(of *printed) string {
	key := of.file.SHA256
	if name, known := p.prints[key]; known {
		return name
	}
	name := fmt.Sprintf("photo%d", len(p.prints))
	p.prints[key] = name
	addPhoto(p.doc, name, of.jpeg, len(p.prints))
	return name
}

// addPhoto gives a document its nth photo, a JPEG. The library writes photos out in the
// order of their widths, and those of equal width in the order of a map, which is another
// one each time: so each is made wider by a millionth of a dot more than the one before,
// which the document, in whole dots, does not show. Nil where it is no JPEG.
func addPhoto(doc *fpdf.Fpdf, name string, data []byte, n int) *fpdf.ImageInfoType {
	info := doc.RegisterImageOptionsReader(name, fpdf.ImageOptions{ImageType: "JPG"}, bytes.NewReader(data))
	if info == nil || doc.Err() {
		return nil
	}
	encoded, err := info.GobEncode()
	if err != nil {
		doc.SetError(err)
		return nil
	}
	widened, err := widen(encoded, float64(n)/(1<<20))
	if err == nil {
		err = info.GobDecode(widened)
	}
	doc.SetError(err)
	return info
}

// widen makes a photo wider, in the form in which the library keeps one.
func widen(encoded []byte, by float64) ([]byte, error) {
	var data, mask, palette []byte
	var n, bits int
	var w, h, scale, dpi float64
	var space, filter, params string
	var transparent []int
	fields := []any{&data, &mask, &n, &w, &h, &space, &palette, &bits, &filter, &params, &transparent, &scale, &dpi}
	decoder := gob.NewDecoder(bytes.NewReader(encoded))
	for _, field := range fields {
		if err := decoder.Decode(field); err != nil {
			return nil, err
		}
	}
	w += by
	var b bytes.Buffer
	encoder := gob.NewEncoder(&b)
	for _, field := range fields {
		if err := encoder.Encode(field); err != nil {
			return nil, err
		}
	}
	return b.Bytes(), nil
}
