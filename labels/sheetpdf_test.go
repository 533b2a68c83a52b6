package labels

import (
	"encoding/xml"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// openTemplates are the sheets as the open glabels template database gives
// them, in mm: paper, columns x rows, label, corner of the first, pitch.
var openTemplates = map[string][10]float64{
	"letter-3x10": {215.9, 279.4, 3, 10, 66.675, 25.4, 4.7625, 12.7, 69.85, 25.4},
	"letter-2x10": {215.9, 279.4, 2, 10, 101.6, 25.4, 3.969, 12.7, 106.36, 25.4},
	"letter-2x7":  {215.9, 279.4, 2, 7, 101.6, 33.87, 3.969, 21.17, 106.36, 33.87},
	"letter-2x5":  {215.9, 279.4, 2, 5, 101.6, 50.8, 3.969, 12.7, 106.36, 50.8},
	"letter-4x20": {215.9, 279.4, 4, 20, 44.45, 12.7, 7.144, 12.7, 52.39, 12.7},
	"a4-3x7":      {210, 297, 3, 7, 63.5, 38.1, 7.2, 15.15, 66, 38.1},
	"a4-2x8":      {210, 297, 2, 8, 99.1, 33.9, 3.99, 12.98, 102.48, 33.9},
	"a4-3x11":     {210, 297, 3, 11, 70, 25, 0, 10, 70, 25},
	"a4-5x13":     {210, 297, 5, 13, 38.1, 21.2, 4.7, 10.9, 40.6, 21.2},
	"a4-5x16":     {210, 297, 5, 16, 35.6, 16.9, 11, 13, 38.1, 16.9},
}

// boxes is what pdftotext -bbox writes, in points from the top left.
type boxes struct {
	Pages []struct {
		W     float64 `xml:"width,attr"`
		H     float64 `xml:"height,attr"`
		Words []struct {
			X0   float64 `xml:"xMin,attr"`
			Y0   float64 `xml:"yMin,attr"`
			X1   float64 `xml:"xMax,attr"`
			Y1   float64 `xml:"yMax,attr"`
			Text string  `xml:",chardata"`
		} `xml:"word"`
	} `xml:"body>doc>page"`
}

var placed = regexp.MustCompile(`q ([\d.]+) 0 0 -[\d.]+ ([\d.]+) ([\d.]+) cm\n`)

// TestSheetGeometryInPDF reads a full page of every sheet with two programs:
// pdftotext tells the size of the paper and where each number stands, qpdf where
// each symbol is drawn. Paper, labels and pitch are those of the open template
// database to a tenth of a millimeter.
func TestSheetGeometryInPDF(t *testing.T) {
	const mm = 25.4 / 72
	if len(openTemplates) != len(Sheets()) {
		t.Errorf("%d sheets, %d templates", len(Sheets()), len(openTemplates))
	}
	for name, g := range openTemplates {
		cols, rows := int(g[2]), int(g[3])
		opt := SheetOptions{Sheet: sheetOf(t, name)}
		if name == "letter-4x20" {
			opt.Level = Q
		}
		path := drawPDF(t, some(cols*rows), opt)
		var read boxes
		decoder := xml.NewDecoder(strings.NewReader(outputOf(t, "pdftotext", "-bbox", path, "-")))
		decoder.Strict, decoder.Entity = false, xml.HTMLEntity
		if err := decoder.Decode(&read); err != nil || len(read.Pages) != 1 {
			t.Fatalf("%s: %d pages, %v", name, len(read.Pages), err)
		}
		page := read.Pages[0]
		if math.Abs(page.W*mm-g[0]) > 0.1 || math.Abs(page.H*mm-g[1]) > 0.1 {
			t.Errorf("%s: paper of %.2f x %.2f mm, want %g x %g", name, page.W*mm, page.H*mm, g[0], g[1])
		}
		corner := func(i int) (x, y float64) { return g[6] + float64(i%cols)*g[8], g[7] + float64(i/cols)*g[9] }
		numbers := 0
		for _, w := range page.Words {
			var i, more int
			if n, _ := fmt.Sscanf(w.Text, "%3d-%3d", &i, &more); n != 2 || len(w.Text) != 7 {
				continue
			}
			numbers++
			x, y := corner(1000*i + more)
			// The box of a word is as high as the whole face, more than its capitals.
			slack := 0.35 * (w.Y1 - w.Y0) * mm
			if w.X0*mm < x+inset || w.X1*mm > x+g[4]-inset+0.1 || w.Y0*mm < y-slack || w.Y1*mm > y+g[5]+slack {
				t.Errorf("%s: number %s at %.2f..%.2f, %.2f..%.2f mm is off the label at %.2f, %.2f",
					name, w.Text, w.X0*mm, w.X1*mm, w.Y0*mm, w.Y1*mm, x, y)
			}
		}
		symbols := placed.FindAllStringSubmatch(outputOf(t, "qpdf", "--qdf", "--object-streams=disable", path, "-"), -1)
		if numbers != cols*rows || len(symbols) != cols*rows {
			t.Errorf("%s: %d numbers and %d symbols of %d", name, numbers, len(symbols), cols*rows)
			continue
		}
		var first [2]float64
		for i, m := range symbols {
			module, left, top := points(t, m[1])*mm, points(t, m[2])*mm, g[1]-points(t, m[3])*mm
			x, y := corner(i)
			if i == 0 {
				first = [2]float64{left - x, top - y}
			}
			side := float64(17+4*leastVersion) * module
			if opt.Level == Q {
				side = 21 * module
			}
			if math.Abs(left-x-first[0]) > 0.1 || math.Abs(top-y-first[1]) > 0.1 {
				t.Errorf("%s: symbol %d at %.2f, %.2f mm; the label begins at %.2f, %.2f, the first one's lies %.2f, %.2f in", name, i+1, left, top, x, y, first[0], first[1])
			}
			q := 4*module + 1 - 0.05 // quiet zone, and 1 mm of tolerance
			if left < x+q || top < y+q || left+side > x+g[4]-q || top+side > y+g[5]-q {
				t.Errorf("%s: symbol %d of %.2f mm at %.2f, %.2f mm comes too near the edge of its label", name, i+1, side, left, top)
			}
		}
	}
}

func points(t testing.TB, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}
