package browser

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"pawl/model/needs"
)

// On paper a page says what it says on the screen, without what leads
// elsewhere, on US Letter and A4 (ISO 216).
func TestPrintedPages(t *testing.T) {
	browser(t)
	y := openDemo(t)
	p := y.open(t, "Tech A", desktop)
	papers := map[string][2]float64{"Letter": {8.5, 11}, "A4": {8.27, 11.69}} // inches
	for name, c := range map[string]struct{ path, says, without string }{
		"tool":    {"/t/" + y.wrench, "KD408B217", "Take it"},
		"history": {"/t/" + y.wrench + "/history", "job 1042", "Today"},
		"found":   {"/find?text=impact", "impact", "To the page"},
	} {
		p.visit(c.path)
		for on, size := range papers {
			t.Run(name+" on "+on, func(t *testing.T) {
				out, err := chromedp.Call(p.ctx, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: size[0], PaperHeight: size[1], PreferCSSPageSize: new(false)})
				if err != nil {
					t.Fatal(err)
				}
				file := filepath.Join(t.TempDir(), "page.pdf")
				if keep := os.Getenv("PAWL_PICTURES"); keep != "" {
					file = filepath.Join(keep, "print-"+name+"-"+on+".pdf")
				}
				if err := os.WriteFile(file, out.Data, 0o600); err != nil {
					t.Fatal(err)
				}
				if shown := eval[int](p, `() => document.images.length`); name == "found" && pictures(t, file) < shown {
					t.Errorf("the print has %d pictures, the page %d", pictures(t, file), shown)
				}
				text := wordsOf(t, file)
				if !strings.Contains(text, c.says) {
					t.Errorf("the print does not say %q: %s", c.says, text)
				}
				if strings.Contains(text, c.without) {
					t.Errorf("the print says %q: %s", c.without, text)
				}
			})
		}
	}
}

// wordsOf is the text of a PDF as poppler reads it.
func wordsOf(t *testing.T, file string) string {
	t.Helper()
	out, err := exec.Command(needs.Program(t, "pdftotext"), "-layout", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(strings.Fields(string(out)), " ")
}

// pictures is how many pictures poppler finds in a PDF.
func pictures(t *testing.T, file string) int {
	t.Helper()
	out, err := exec.Command("pdfimages", "-list", file).Output()
	if err != nil {
		t.Fatal(err)
	}
	return max(0, strings.Count(string(out), "\n")-2) // below a heading of two lines
}

// TestPictures draws every page into the folder that PAWL_PICTURES names: as a
// phone and as a desktop show it.
func TestPictures(t *testing.T) {
	folder := os.Getenv("PAWL_PICTURES")
	if folder == "" {
		t.Skip("PAWL_PICTURES names no folder: no pictures are drawn")
	}
	browser(t)
	y := openDemo(t)
	every(t, y, func(t *testing.T, s sight, path string) {
		p := y.openAs(t, s, phone)
		p.show(s, path)
		for _, on := range []screen{phone, desktop} {
			p.see(on)
			on.height = max(on.height, eval[int64](p, `() => document.scrollingElement.scrollHeight`))
			p.see(on)
			p.picture(filepath.Join(folder, strings.NewReplacer(" ", "-", ",", "").Replace(s.name)+"-"+strings.Fields(on.name)[0]+".png"))
		}
	})
}

// mostPicture is the most bytes of a picture in the README.
const mostPicture = 60_000

// TestReadmePictures draws the pictures of the README, into the folder that
// PAWL_PICTURES names.
func TestReadmePictures(t *testing.T) {
	if os.Getenv("PAWL_PICTURES") == "" {
		t.Skip("PAWL_PICTURES names no folder: no pictures are drawn")
	}
	browser(t)
	y := openDemo(t)
	drop := of("", "Tech A", "/t/NUMBER", doNotUse).path(t, y)
	for _, c := range []struct {
		name, who, path, scheme string
		on                      screen
	}{
		{"page-scan", "Tech A", "/scan", "light", phone},
		{"page-tool", "Tech A", "/t/" + y.wrench, "light", phone},
		{"page-do-not-use", "Tech A", drop, "dark", phone},
		{"page-add", "Tech A", "/add", "light", phone},
		{"page-today", boss, "/today", "light", phone},
		{"page-find", boss, "/find?text=impact", "light", desktop},
	} {
		p := y.open(t, c.who, c.on)
		p.paint(c.scheme)
		p.visit(c.path)
		file := filepath.Join(os.Getenv("PAWL_PICTURES"), c.name+".png")
		p.picture(file)
		if at, err := os.Stat(file); err != nil || at.Size() > mostPicture {
			t.Errorf("%s has %d bytes, more than %d (%v)", file, at.Size(), mostPicture, err)
		}
	}
}

// picture draws what the screen shows in few colors.
func (p *tab) picture(file string) {
	p.Helper()
	p.until("its photos", `() => [...document.images].every((i) => i.loading === "lazy" || i.complete)`)
	shot, err := chromedp.Call(p.ctx, page.CaptureScreenshot, page.CaptureScreenshotParams{Format: "png"})
	p.do(err)
	img, err := png.Decode(bytes.NewReader(shot.Data))
	p.do(err)
	few := image.NewPaletted(img.Bounds(), palette(img, 96))
	draw.Draw(few, few.Bounds(), img, img.Bounds().Min, draw.Src)
	var b bytes.Buffer
	p.do((&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, few))
	p.do(os.WriteFile(file, b.Bytes(), 0o644))
}

// palette is the colors that a picture has most, by 5 bits of each.
func palette(img image.Image, most int) (out color.Palette) {
	count := map[color.RGBA]int{}
	for y := img.Bounds().Min.Y; y < img.Bounds().Max.Y; y++ {
		for x := img.Bounds().Min.X; x < img.Bounds().Max.X; x++ {
			r, g, b, _ := img.At(x, y).RGBA()
			count[color.RGBA{uint8(r>>8)&^7 | uint8(r>>13), uint8(g>>8)&^7 | uint8(g>>13), uint8(b>>8)&^7 | uint8(b>>13), 255}]++
		}
	}
	var all []color.RGBA
	for c := range count {
		all = append(all, c)
	}
	slices.SortFunc(all, func(a, b color.RGBA) int {
		if d := count[b] - count[a]; d != 0 {
			return d
		}
		return int(a.R)<<16 + int(a.G)<<8 + int(a.B) - int(b.R)<<16 - int(b.G)<<8 - int(b.B)
	})
	for _, c := range all[:min(most, len(all))] {
		out = append(out, c)
	}
	return out
}
