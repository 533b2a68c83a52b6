package labels

import (
	"bytes"
	"fmt"
	"image"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	qrcode "github.com/skip2/go-qrcode"

	"pawl/model/fault"
)

// some returns n labels with distinct payloads, long lines and characters that
// the face lacks among them.
func some(n int) []Text {
	lines := [][]string{
		{"Torque wrench, Brindle TW-340", "Demo garage"},
		nil,
		{strings.Repeat("Ключ Ω扳手 ÉÅ ", 30), strings.Repeat("W", 300)},
		{"one", "two", "three", "four", "five", "six", "seven", "eight", "nine"},
	}
	out := make([]Text, n)
	for i := range out {
		number := fmt.Sprintf("%06d", i)
		out[i] = Text{"T/" + number, number[:3] + "-" + number[3:], lines[i%len(lines)], true}
	}
	return out
}

func sheetOf(t testing.TB, name string) Sheet {
	t.Helper()
	s, err := SheetByName(name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// drawPDF writes a document into a file and returns its path.
func drawPDF(t testing.TB, labels []Text, opt SheetOptions) string {
	t.Helper()
	var b bytes.Buffer
	if err := PDF(&b, labels, opt); err != nil {
		t.Fatal(err)
	}
	return keep(t, b.Bytes())
}

func keep(t testing.TB, b []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

const renderDPI = 300

// render returns one page of a document as a picture at 300 dpi.
func render(t testing.TB, path string, page int) *image.Gray {
	t.Helper()
	p := strconv.Itoa(page)
	out := []byte(outputOf(t, "pdftoppm", "-r", strconv.Itoa(renderDPI), "-gray", "-f", p, "-l", p, path))
	img := new(image.Gray) // the output is a PGM: "P5 width height 255" and the bytes
	if _, err := fmt.Sscanf(string(out[:min(len(out), 40)]), "P5\n%d %d\n255\n", &img.Rect.Max.X, &img.Rect.Max.Y); err != nil {
		t.Fatal(err)
	}
	img.Stride = img.Rect.Dx()
	img.Pix = out[len(out)-img.Rect.Dx()*img.Rect.Dy():]
	return img
}

// TestPDFReads: zbarimg reads each of the 30 symbols of a full page.
func TestPDFReads(t *testing.T) {
	labels := some(30)
	for i := range labels {
		labels[i].Symbol = "HTTPS://SHOP.EXAMPLE/" + labels[i].Symbol
	}
	var want []string
	for _, l := range labels {
		want = append(want, l.Symbol)
	}
	path := drawPDF(t, labels, SheetOptions{Sheet: sheetOf(t, "letter-3x10")})
	got := zbar(t, render(t, path, 1))
	slices.Sort(got)
	if !slices.Equal(got, want) {
		t.Errorf("zbarimg reads %d symbols: %q", len(got), got)
	}
	text := outputOf(t, "pdftotext", path, "-")
	for _, l := range labels {
		if !strings.Contains(text, l.Number) {
			t.Errorf("the number %s is not found as text", l.Number)
		}
	}
}

// TestPDFStaysOnLabels: on every sheet, black stays 0.5 mm inside the labels
// that are used, and nothing is printed elsewhere.
func TestPDFStaysOnLabels(t *testing.T) {
	for _, s := range Sheets() {
		const start = 2
		opt := SheetOptions{Sheet: s, Start: start}
		if s.Name == "letter-4x20" {
			opt.Level = Q // takes the small symbols only
		}
		path := drawPDF(t, some(s.cells()-2), opt)
		img := render(t, path, 1)
		for i := range s.cells() {
			x, y := s.corner(i)
			black := blacken(img, x+0.5, y+0.5, x+s.W-0.5, y+s.H-0.5)
			used := i >= start-1 && i < s.cells()-1
			if (black > 500) != used || !used && black > 0 {
				t.Errorf("%s: label %d has %d black dots, used is %v", s.Name, i+1, black, used)
			}
		}
		if stray := blacken(img, 0, 0, s.PaperW, s.PaperH); stray > 0 {
			t.Errorf("%s: %d black dots off the labels", s.Name, stray)
		}
	}
}

// blacken counts the dark dots in an area given in mm and makes them white.
func blacken(img *image.Gray, x0, y0, x1, y1 float64) (n int) {
	dot := func(mm float64) int { return int(math.Round(mm * renderDPI / 25.4)) }
	area := image.Rect(dot(x0), dot(y0), dot(x1), dot(y1)).Intersect(img.Bounds())
	for y := area.Min.Y; y < area.Max.Y; y++ {
		for x := area.Min.X; x < area.Max.X; x++ {
			if p := &img.Pix[img.PixOffset(x, y)]; *p < 128 {
				*p = 255
				n++
			}
		}
	}
	return n
}

var matrix = regexp.MustCompile(`q ([\d.]+) 0 0 -([\d.]+) ([\d.]+) ([\d.]+) cm\n(\d+) (\d+) (\d+) 1 re`)

// TestPDFStream reads the first symbol's place from the uncompressed document,
// in points of 1/72 inch from the bottom left (ISO 32000-1, 8.3.2.3).
func TestPDFStream(t *testing.T) {
	for _, c := range []struct {
		sheet  string
		opt    SheetOptions
		dots   float64 // of a module, at 300 dpi
		middle float64 // of the symbol, mm from the top
	}{
		// At level Q: version 1 takes 29 modules of (label - 2 mm): 23.4 mm hold
		// 9 dots each, 10.7 mm hold 4, 19.2 mm hold 7.
		{"letter-3x10", SheetOptions{}, 9, 12.7 + 12.7},
		{"letter-4x20", SheetOptions{}, 4, 12.7 + 6.35},
		{"a4-5x13", SheetOptions{}, 7, 10.9 + 10.6},
		{"a4-5x13", SheetOptions{OffsetX: 1.3, OffsetY: -0.4}, 7, 10.9 + 10.6 - 0.4},
		{"a4-5x13", SheetOptions{Start: 65}, 7, 10.9 + 12*21.2 + 10.6},
	} {
		c.opt.Sheet, c.opt.Level = sheetOf(t, c.sheet), Q
		s := c.opt.Sheet
		plain := outputOf(t, "qpdf", "--qdf", "--object-streams=disable", drawPDF(t, some(1), c.opt), "-")
		m := matrix.FindStringSubmatch(plain)
		if m == nil {
			t.Fatalf("%s: no symbol in the document", c.sheet)
		}
		var v [4]float64
		for i := range v {
			v[i], _ = strconv.ParseFloat(m[i+1], 64)
			v[i] *= 25.4 / 72
		}
		module, left, top := v[0], v[2], s.PaperH-v[3]
		x, _ := s.corner(max(c.opt.Start, 1) - 1)
		wantLeft := x + c.opt.OffsetX + 1 + 4*module
		if math.Abs(module-c.dots*25.4/300) > 1e-4 || v[1] != module || module < 0.33 {
			t.Errorf("%s: a module of %.4f mm, want %g dots", c.sheet, module, c.dots)
		}
		if math.Abs(left-wantLeft) > 0.05 || math.Abs(top+10.5*module-c.middle) > 0.05 {
			t.Errorf("%s: symbol at %.2f mm, its middle %.2f mm down; want %.2f, %.2f", c.sheet, left, top+10.5*module, wantLeft, c.middle)
		}
		if first := strings.Join(m[5:8], " "); first != "0 0 7" { // the top of a finder pattern
			t.Errorf("%s: the first bar is %q", c.sheet, first)
		}
	}
}

func TestPDFIsSound(t *testing.T) {
	s := sheetOf(t, "a4-3x7")
	path := drawPDF(t, some(43), SheetOptions{Sheet: s, Start: 21})
	if out := outputOf(t, "qpdf", "--check", path); !strings.Contains(out, "No syntax or stream encoding errors") {
		t.Errorf("qpdf --check: %s", out)
	}
	// The one label left, then 21 and 21.
	if pages := strings.TrimSpace(outputOf(t, "qpdf", "--show-npages", path)); pages != "3" {
		t.Errorf("%s pages, want 3", pages)
	}
	plain := outputOf(t, "qpdf", "--qdf", "--object-streams=disable", path, "-")
	for _, want := range []string{"/PrintScaling /None", "/Lang (en)", "/CreationDate (D:20000101000000)", "/ModDate (D:20000101000000)"} {
		if !strings.Contains(plain, want) {
			t.Errorf("the document has no %s", want)
		}
	}
}

// TestPDFIsDeterministic: the same labels give the same bytes, also from many
// goroutines at once.
func TestPDFIsDeterministic(t *testing.T) {
	var group sync.WaitGroup
	got := make([]bytes.Buffer, 6)
	for i := range got {
		group.Go(func() {
			if err := PDF(&got[i], some(40), SheetOptions{Sheet: Sheets()[0]}); err != nil {
				t.Error(err)
			}
		})
	}
	group.Wait()
	for i := range got {
		if got[0].Len() == 0 || !bytes.Equal(got[0].Bytes(), got[i].Bytes()) {
			t.Errorf("document %d of %d bytes differs from the first of %d", i, got[i].Len(), got[0].Len())
		}
	}
}

func TestPDFRefuses(t *testing.T) {
	small, big := sheetOf(t, "letter-4x20"), sheetOf(t, "letter-2x5")
	linked := some(1)
	linked[0].Symbol = link
	huge := []Text{{Symbol: strings.Repeat("A", 1800), Number: "1"}}
	wide := []Text{{Symbol: "T/1", Number: strings.Repeat("8", 60)}}
	endless := []Text{{Symbol: "T/1", Number: strings.Repeat("8", 70)}}
	slipped := big
	slipped.Left += 3
	for _, c := range []struct {
		name   string
		labels []Text
		opt    SheetOptions
		says   string
	}{
		{"no labels", nil, SheetOptions{Sheet: big}, "no labels"},
		{"no sheet", some(1), SheetOptions{}, "width of the paper"},
		{"a slipped sheet", some(1), SheetOptions{Sheet: slipped}, "left margin"},
		// identity-labels-evidence 2.5: version 2 does not fit 12.7 mm.
		{"a link on a tiny label", linked, SheetOptions{Sheet: small}, "smallest sheet that holds it is a4-5x16"},
		{"a symbol that fits nowhere", huge, SheetOptions{Sheet: big}, "no built-in sheet"},
		{"a number for a wide label", wide, SheetOptions{Sheet: small}, "holds it is letter-2x10"},
		{"a number that fits nowhere", endless, SheetOptions{Sheet: small}, "no built-in sheet"},
		{"an empty number in second place", append(some(1), Text{Symbol: "T/1"}), SheetOptions{Sheet: big}, "label 2"},
		{"label 0 from the end", some(1), SheetOptions{Sheet: big, Start: -1}, "from 1 to 10"},
		{"a start past the sheet", some(1), SheetOptions{Sheet: big, Start: 11}, "no label 11"},
		{"half a step", some(1), SheetOptions{Sheet: big, OffsetX: 0.25}, "0.1 mm"},
		{"a far offset", some(1), SheetOptions{Sheet: big, OffsetY: -5.1}, "at most 5 mm"},
		{"no figure", some(1), SheetOptions{Sheet: big, OffsetX: math.NaN()}, "NaN"},
		{"an unknown level", some(1), SheetOptions{Sheet: big, Level: 7}, "level 7"},
	} {
		err := PDF(failing{}, c.labels, c.opt)
		if !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v; want invalid, saying %q", c.name, err, c.says)
		}
	}
	if err := PDF(failing{}, some(1), SheetOptions{Sheet: big}); !fault.Is(err, fault.Internal) {
		t.Errorf("a failing writer: %v, want internal", err)
	}
}

// TestPDFLevel: a level asked for is the least that is drawn, so H may need a
// larger label than Q; where none is asked for, the symbol is one that may be
// rubbed.
func TestPDFLevel(t *testing.T) {
	labels := some(1)
	labels[0].Symbol = "T/00EKM5/LEFT" // 13 characters: version 1 at Q, 2 at H (2.1)
	opt := SheetOptions{Sheet: sheetOf(t, "letter-4x20")}
	for level, fits := range map[Level]bool{0: false, M: true, Q: true, H: false} {
		opt.Level = level
		if err := PDF(&bytes.Buffer{}, labels, opt); (err == nil) != fits {
			t.Errorf("at %v: %v, want fit %v", level, err, fits)
		}
	}
}

func TestTestPage(t *testing.T) {
	for _, s := range append(Sheets(), Sheet{Name: "roll", Paper: "roll", PaperW: 62, PaperH: 30, Cols: 1, Rows: 1, W: 58, H: 26, Left: 2, Top: 2}) {
		var b bytes.Buffer
		if err := TestPage(&b, SheetOptions{Sheet: s, OffsetX: 0.4}); err != nil {
			t.Fatalf("%s: %v", s.Name, err)
		}
		path := keep(t, b.Bytes())
		outputOf(t, "qpdf", "--check", path)
		text := outputOf(t, "pdftotext", "-layout", path, "-")
		for _, want := range []string{"PRINT AT 100 %", "No scaling", "offset x 0.4 mm", s.Name} {
			if s.Name != "roll" && !strings.Contains(text, want) {
				t.Errorf("%s: the page does not say %q", s.Name, want)
			}
		}
		img := render(t, path, 1)
		for i := range s.cells() {
			x, y := s.corner(i)
			area := notice(s)
			// Three quarters across the top edge: clear of the rulers' figures.
			if x += 0.75*s.W + 0.4; area.covers(x-2, y-1, x+2, y+1) {
				continue
			}
			if n := blacken(img, x-1, y-0.2, x+1, y+0.2); n < 10 {
				t.Errorf("%s: no outline at the top of label %d", s.Name, i+1)
			}
		}
	}
	if err := TestPage(failing{}, SheetOptions{}); !fault.Is(err, fault.Invalid) {
		t.Errorf("no sheet: %v, want invalid", err)
	}
}

// againstEncoding returns the time of a PDF over the time that the library
// takes for the symbols alone.
func againstEncoding(t testing.TB, count int) float64 {
	labels := some(count)
	for i := range labels {
		labels[i].Symbol = "HTTPS://SHOP.EXAMPLE/" + labels[i].Symbol
	}
	start := time.Now()
	for _, l := range labels {
		code, err := qrcode.New(l.Symbol, qrcode.High)
		if err != nil {
			t.Fatal(err)
		}
		code.DisableBorder = true
		code.Bitmap()
	}
	alone := time.Since(start)
	start = time.Now()
	if err := PDF(&bytes.Buffer{}, labels, SheetOptions{Sheet: sheetOf(t, "letter-3x10")}); err != nil {
		t.Fatal(err)
	}
	return float64(time.Since(start)) / float64(alone)
}

// TestSheetTime is a line of DESIGN 18 with its slack: a PDF of labels takes
// at most 2 x 2 the time of encoding their symbols alone, at best of three.
func TestSheetTime(t *testing.T) {
	best := math.Inf(1)
	for range 3 {
		best = min(best, againstEncoding(t, 300))
	}
	if best > 4 {
		t.Errorf("300 labels as a PDF take %.1f times as long as encoding them, at most 4", best)
	}
}

// BenchmarkSheet1000 reports the same ratio for 1,000 labels; the goal is 2.
func BenchmarkSheet1000(b *testing.B) {
	sum := 0.0
	for b.Loop() {
		sum += againstEncoding(b, 1000)
	}
	b.ReportMetric(sum/float64(b.N), "x-encoding")
}
