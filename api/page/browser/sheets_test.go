package browser

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	stddraw "image/draw"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"golang.org/x/image/draw"
	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"
)

// A contact sheet shows many pages small, each with its path under it.
const (
	gap     = 8  // px between pictures
	caption = 30 // px under each, for two lines of 13

	// mostSheets is the most bytes of all contact sheets.
	mostSheets = 3_000_000
)

// sheet is one sort of contact sheet: how wide a picture is on it and how high the
// screen is cut, in px, and how many fit.
type sheet struct {
	name          string
	on            screen
	width, height int
	columns, rows int
}

var sheets = []sheet{
	{"pages-phone", phone, 180, 400, 8, 4},
	{"pages-desktop", desktop, 360, 225, 4, 9},
}

// taken is a page as it was photographed.
type taken struct {
	img  image.Image // reduced
	name string
	path string
}

// TestReadmePicturesOfEveryPage draws every page of the table of sights onto contact
// sheets, a few for phones and a few for desktops, into the folder that
// PAWL_PICTURES names. It is what TestPictures draws in full.
func TestReadmePicturesOfEveryPage(t *testing.T) {
	folder := os.Getenv("PAWL_PICTURES")
	if folder == "" {
		t.Skip("PAWL_PICTURES names no folder: no pictures are drawn")
	}
	browser(t)
	readme, err := os.ReadFile("../../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	old, err := filepath.Glob(filepath.Join(folder, "pages-*.png"))
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range old {
		if err := os.Remove(file); err != nil {
			t.Fatal(err)
		}
	}
	y := openDemo(t)
	all := make([][]taken, len(sheets))
	everyInEnglish(t, y, func(t *testing.T, s sight, path string) {
		p := y.openAs(t, s, phone)
		p.show(s, path)
		for i, of := range sheets {
			p.see(of.on)
			p.until("its photos", `() => [...document.images].every((i) => i.loading === "lazy" || i.complete)`)
			all[i] = append(all[i], taken{of.reduced(p.shot()), s.name, path})
		}
	})
	sum := int64(0)
	for i, of := range sheets {
		each := of.columns * of.rows
		for n := 0; n*each < len(all[i]); n++ {
			file := filepath.Join(folder, fmt.Sprintf("%s-%d.png", of.name, n+1))
			if !bytes.Contains(readme, []byte(filepath.Base(file))) {
				t.Errorf("the README does not show %s", filepath.Base(file))
			}
			sum += of.write(t, file, all[i][n*each:min(len(all[i]), (n+1)*each)])
		}
	}
	if sum > mostSheets {
		t.Errorf("the contact sheets have %d bytes, more than %d", sum, mostSheets)
	}
}

// shot is what the screen shows.
func (p *tab) shot() image.Image {
	p.Helper()
	got, err := chromedp.Call(p.ctx, page.CaptureScreenshot, page.CaptureScreenshotParams{Format: "png"})
	p.do(err)
	img, err := png.Decode(bytes.NewReader(got.Data))
	p.do(err)
	return img
}

// reduced is a picture in the size of the sheet.
func (of sheet) reduced(img image.Image) image.Image {
	small := image.NewRGBA(image.Rect(0, 0, of.width, of.height))
	draw.CatmullRom.Scale(small, small.Bounds(), img, img.Bounds(), draw.Src, nil)
	return small
}

// write lays pictures out, left to right and down, and gives the bytes of the file.
func (of sheet) write(t *testing.T, file string, all []taken) int64 {
	t.Helper()
	rows := (len(all) + of.columns - 1) / of.columns
	out := image.NewRGBA(image.Rect(0, 0, of.columns*(of.width+gap)+gap, rows*(of.height+caption+gap)+gap))
	stddraw.Draw(out, out.Bounds(), image.White, image.Point{}, stddraw.Src)
	edge := image.NewUniform(color.Gray{160})
	for i, one := range all {
		at := image.Pt(gap+i%of.columns*(of.width+gap), gap+i/of.columns*(of.height+caption+gap))
		frame := image.Rectangle{at, at.Add(image.Pt(of.width, of.height))}
		stddraw.Draw(out, frame.Inset(-1), edge, image.Point{}, stddraw.Src)
		stddraw.Draw(out, frame, one.img, image.Point{}, stddraw.Src)
		letters := of.width / basicfont.Face7x13.Advance
		for line, text := range []string{one.name, one.path} {
			if len(text) > letters {
				text = text[:letters-2] + ".."
			}
			d := font.Drawer{Dst: out, Src: image.Black, Face: basicfont.Face7x13, Dot: fixed.P(at.X, at.Y+of.height+12+13*line)}
			d.DrawString(text)
		}
	}
	few := image.NewPaletted(out.Bounds(), palette(out, 64))
	stddraw.Draw(few, few.Bounds(), out, image.Point{}, stddraw.Src)
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, few); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	return int64(b.Len())
}

// everyInEnglish is every, without the pages that are there for their language or
// their refusal alone.
func everyInEnglish(t *testing.T, y *yard, check func(t *testing.T, s sight, path string)) {
	t.Helper()
	for _, route := range routes(y) {
		for _, s := range sights[route] {
			t.Run(strings.ReplaceAll(s.name, " ", "-"), func(t *testing.T) { check(t, s, s.path(t, y)) })
		}
	}
	for _, s := range behind {
		t.Run(strings.ReplaceAll(s.name, " ", "-"), func(t *testing.T) { check(t, s, s.path(t, y)) })
	}
}
