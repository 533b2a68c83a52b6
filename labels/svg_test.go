package labels

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image/png"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pawl/model/fault"
)

// svgDocument is an SVG document as far as these tests read it.
type svgDocument struct {
	Width  string `xml:"width,attr"`
	Height string `xml:"height,attr"`
	View   string `xml:"viewBox,attr"`
	Title  string `xml:"title"`
	Desc   string `xml:"desc"`
	Paths  []struct {
		D         string `xml:"d,attr"`
		Transform string `xml:"transform,attr"`
	} `xml:"path"`
	Rects []struct {
		X float64 `xml:"x,attr"`
		Y float64 `xml:"y,attr"`
	} `xml:"rect"`
}

func drawSVG(t testing.TB, text Text) svgDocument {
	t.Helper()
	var b bytes.Buffer
	if err := SVG(&b, text, Q); err != nil {
		t.Fatal(err)
	}
	var d svgDocument
	if err := xml.Unmarshal(b.Bytes(), &d); err != nil {
		t.Fatal(err)
	}
	return d
}

// TestSVGReads rebuilds the modules from the path and lets both judges read
// them.
func TestSVGReads(t *testing.T) {
	d := drawSVG(t, wrench)
	modules := d.modules(t, 25) // QR-02: version 2
	if got := zxingUpright(picture(modules, 4)); got != link {
		t.Errorf("gozxing reads %q", got)
	}
	if got := zbar(t, picture(modules, 4)); len(got) != 1 || got[0] != link {
		t.Errorf("zbarimg reads %q", got)
	}
}

// modules rebuilds a symbol of that side from the bars of the first path.
func (d svgDocument) modules(t testing.TB, side int) [][]bool {
	t.Helper()
	modules := make([][]bool, side)
	for y := range modules {
		modules[y] = make([]bool, side)
	}
	bars := regexp.MustCompile(`M(\d+) (\d+)h(\d+)v1h-(\d+)z`)
	if rest := bars.ReplaceAllString(d.Paths[0].D, ""); rest != "" {
		t.Fatalf("the symbol's path also holds %q", rest)
	}
	for _, m := range bars.FindAllStringSubmatch(d.Paths[0].D, -1) {
		x, y, w := atoi(t, m[1]), atoi(t, m[2]), atoi(t, m[3])
		if m[3] != m[4] {
			t.Fatalf("bar %q does not close", m[0])
		}
		for i := range w {
			modules[y][x+i] = true
		}
	}
	return modules
}

// TestCardSVG: every card as SVG has its own size, its symbol where the PDF has
// it, dot for dot that of the PNG at 300 dpi, and both judges read it; the paint
// mark of a do-not-use tag is two bars, the right one lower.
func TestCardSVG(t *testing.T) {
	for name, c := range prints() {
		var b, raster bytes.Buffer
		if err := CardSVG(&b, c, 0); err != nil {
			t.Fatal(err)
		}
		var d svgDocument
		if err := xml.Unmarshal(b.Bytes(), &d); err != nil {
			t.Fatal(err)
		}
		if d.Width != short(c.W)+"mm" || d.Height != short(c.H)+"mm" || d.View != "0 0 "+short(c.W)+" "+short(c.H) {
			t.Errorf("%s: %s x %s, view %s", name, d.Width, d.Height, d.View)
		}
		var x, y, module float64
		if _, err := fmt.Sscanf(d.Paths[0].Transform, "translate(%g %g) scale(%g)", &x, &y, &module); err != nil {
			t.Fatal(err)
		}
		modules := d.modules(t, 17+4*leastVersion)
		if got := zxingUpright(picture(modules, 4)); got != c.Symbol {
			t.Errorf("%s: gozxing reads %q", name, got)
		}
		if got := zbar(t, picture(modules, 4)); len(got) != 1 || got[0] != c.Symbol {
			t.Errorf("%s: zbarimg reads %q", name, got)
		}
		if err := CardPNG(&raster, c, PNGOptions{DPI: 300}); err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(&raster)
		if err != nil {
			t.Fatal(err)
		}
		const perMM = 300 / 25.4
		for my, row := range modules {
			for mx, black := range row {
				at := img.At(int((x+(float64(mx)+0.5)*module)*perMM), int((y+(float64(my)+0.5)*module)*perMM))
				if r, _, _, _ := at.RGBA(); (r == 0) != black {
					t.Fatalf("%s: module %d, %d is %v in the SVG only", name, mx, my, black)
				}
			}
		}
		if c.Offset != (len(d.Rects) == 3) || c.Offset && d.Rects[2].Y <= d.Rects[1].Y {
			t.Errorf("%s: bars %+v", name, d.Rects)
		}
		if !strings.HasPrefix(boldFace.clean(c.Heading), strings.TrimSuffix(d.Title, ellipsis)) {
			t.Errorf("%s: title %q", name, d.Title)
		}
	}
}

func atoi(t testing.TB, s string) int {
	t.Helper()
	n, err := strconv.Atoi(s)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// TestSVGGeometry: modules of 0.508 mm give 16.8 mm for version 2 with its
// quiet zone (identity-labels-evidence 2.3, 300 dpi and 6 dots); the text lies
// right of it and inside the label.
func TestSVGGeometry(t *testing.T) {
	long := wrench
	long.Lines = []string{strings.Repeat("Wide Ω ", 60)}
	for _, text := range []Text{wrench, long} {
		d := drawSVG(t, text)
		var w, h float64
		if _, err := fmt.Sscanf(d.View, "0 0 %g %g", &w, &h); err != nil {
			t.Fatal(err)
		}
		if d.Width != short(w)+"mm" || d.Height != short(h)+"mm" || math.Abs(h-16.764) > 0.001 || w > 3*h+4 {
			t.Errorf("label of %s x %s, view %s", d.Width, d.Height, d.View)
		}
		if want := "translate(2.032 2.032) scale(0.508)"; d.Paths[0].Transform != want {
			t.Errorf("the symbol is placed by %q, want %q", d.Paths[0].Transform, want)
		}
		for _, p := range d.Paths[1:] {
			for _, xy := range regexp.MustCompile(`(\d[\d.]*) (-?\d[\d.]*)`).FindAllStringSubmatch(p.D, -1) {
				x, _ := strconv.ParseFloat(xy[1], 64)
				y, _ := strconv.ParseFloat(xy[2], 64)
				if x < 33*0.508 || x > w || y < 0 || y > h {
					t.Fatalf("text at %g, %g on %g x %g mm", x, y, w, h)
				}
			}
		}
	}
}

func TestSVGText(t *testing.T) {
	text := Text{Symbol: "T/1", Number: "A&B<1>", Lines: []string{"40–200 N·m", "", "\x00扳"}, Marked: true}
	d := drawSVG(t, text)
	if d.Title != "A&B<1>" || d.Desc != "40–200 N·m; ?" {
		t.Errorf("title %q, description %q", d.Title, d.Desc)
	}
	if err := SVG(failing{}, Text{Symbol: "T/1"}, Q); !fault.Is(err, fault.Invalid) {
		t.Errorf("no number: %v, want invalid", err)
	}
	if err := SVG(failing{}, text, Q); !fault.Is(err, fault.Internal) {
		t.Errorf("a failing writer: %v, want internal", err)
	}
}
