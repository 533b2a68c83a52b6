package labels

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pawl/model/fault"
)

// drawing is an SVG document as far as these tests read it.
type drawing struct {
	Width  string `xml:"width,attr"`
	Height string `xml:"height,attr"`
	View   string `xml:"viewBox,attr"`
	Title  string `xml:"title"`
	Desc   string `xml:"desc"`
	Paths  []struct {
		D         string `xml:"d,attr"`
		Transform string `xml:"transform,attr"`
	} `xml:"path"`
}

func drawSVG(t testing.TB, text Text) drawing {
	t.Helper()
	var b bytes.Buffer
	if err := SVG(&b, text, Q); err != nil {
		t.Fatal(err)
	}
	var d drawing
	if err := xml.Unmarshal(b.Bytes(), &d); err != nil {
		t.Fatal(err)
	}
	return d
}

// TestSVGReads rebuilds the modules from the path and lets both judges read
// them.
func TestSVGReads(t *testing.T) {
	d := drawSVG(t, wrench)
	modules := make([][]bool, 25) // QR-02: version 2
	for y := range modules {
		modules[y] = make([]bool, 25)
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
	if got := zxingUpright(picture(modules, 4)); got != link {
		t.Errorf("gozxing reads %q", got)
	}
	if got := zbar(t, picture(modules, 4)); len(got) != 1 || got[0] != link {
		t.Errorf("zbarimg reads %q", got)
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
	text := Text{Symbol: "T/1", Number: "A&B<1>", Lines: []string{"40–200 N·m", "", "\x00扳"}}
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
