package demo

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gomonobold"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// picture is a photo or paper of the story.
type picture struct {
	kind, name, media string
	bytes             []byte
}

// pictures draws what a technician would photograph of a tool.
func (t tool) pictures() (out []picture) {
	if t.serial != "" {
		out = append(out, picture{"plate", "plate.jpg", "image/jpeg", photo(color.Gray{60}, color.Gray{225},
			t.maker, t.model, "SER. "+t.serial)})
	}
	if !t.noWhole {
		out = append(out, picture{"whole", "tool.jpg", "image/jpeg", photo(color.RGBA{176, 148, 110, 255}, color.Gray{40}, t.kind, t.maker+" "+t.model)})
	}
	if !t.noReceipt {
		out = append(out, picture{"receipt", "receipt.pdf", "application/pdf", receipt(t)})
	}
	return out
}

// newFace makes a face for one drawing: it is not for several at once.
func newFace() font.Face {
	f, err := opentype.Parse(gomonobold.TTF)
	if err != nil {
		panic(err) // the font is part of the program
	}
	face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: 38, DPI: 72})
	if err != nil {
		panic(err)
	}
	return face
}

// photo draws lines of text on a plate, as a JPEG of 480 by 320.
func photo(ground, ink color.Color, lines ...string) []byte {
	return asJPEG(plate(ground, ink, lines...))
}

func plate(ground, ink color.Color, lines ...string) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, 480, 320))
	draw.Draw(img, img.Bounds(), image.NewUniform(ground), image.Point{}, draw.Src)
	edge := image.Rect(22, 22, 458, 298)
	draw.Draw(img, edge, image.NewUniform(color.Gray{128}), image.Point{}, draw.Src)
	draw.Draw(img, edge.Inset(8), image.NewUniform(ground), image.Point{}, draw.Src)
	pen := font.Drawer{Dst: img, Src: image.NewUniform(ink), Face: newFace()}
	for i, line := range lines {
		pen.Dot = fixed.P(44, 105+69*i)
		pen.DrawString(line)
	}
	return img
}

func asJPEG(img image.Image) []byte {
	var out bytes.Buffer
	if err := jpeg.Encode(&out, img, &jpeg.Options{Quality: 85}); err != nil {
		panic(err) // encoding into memory does not fail
	}
	return out.Bytes()
}

// receipt sets a sales receipt on one page.
func receipt(t tool) []byte {
	return onPaper(t.seller, "Port Ellery", "", t.bought, "1 x "+t.maker+" "+t.model+" "+t.kind, "serial "+t.serial, "", "total  "+t.price+" USD", "PAID")
}

// onPaper sets lines on one page.
func onPaper(lines ...string) []byte {
	doc := fpdf.New("P", "mm", "A5", "")
	day := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	doc.SetCreationDate(day)
	doc.SetModificationDate(day)
	doc.SetCatalogSort(true)
	doc.AddPage()
	doc.SetFont("Courier", "", 11)
	for _, line := range lines {
		doc.CellFormat(0, 7, line, "", 1, "L", false, 0, "")
	}
	var out bytes.Buffer
	if err := doc.Output(&out); err != nil {
		panic(err) // writing into memory does not fail
	}
	return out.Bytes()
}
