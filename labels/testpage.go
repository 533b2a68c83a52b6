package labels

import (
	"fmt"
	"io"

	"codeberg.org/go-pdf/fpdf"
)

// TestPage draws a ruled page to hold against a sheet of labels: the outline
// and number of every label, and two rulers in mm from the edges of the paper.
// It moves with the offsets of opt, the rulers do not.
func TestPage(w io.Writer, opt SheetOptions) error {
	if err := opt.check(); err != nil {
		return err
	}
	s := opt.Sheet
	doc := newDocument(s, "Test page")
	doc.AddPage()
	doc.SetDrawColor(0, 0, 0)
	outlines(doc, opt)
	for mm := 0; float64(mm) <= s.PaperW; mm++ {
		tick(doc, mm, float64(mm), rulerAt, 0, 1)
	}
	for mm := 0; float64(mm) <= s.PaperH; mm++ {
		tick(doc, mm, rulerAt, float64(mm), 1, 0)
	}
	explain(doc, opt)
	return output(doc, w)
}

// rulerAt is how far from the edge the rulers lie: printers leave about 5 mm
// white (common practice, no source).
const rulerAt = 8.0

func outlines(doc *fpdf.Fpdf, opt SheetOptions) {
	doc.SetLineWidth(0.1)
	for i := range opt.Sheet.cells() {
		x, y := opt.Sheet.corner(i)
		x, y = x+opt.OffsetX, y+opt.OffsetY
		doc.Rect(x, y, opt.Sheet.W, opt.Sheet.H, "D")
		if x, y := x+opt.Sheet.W-8, y+opt.Sheet.H-2; !notice(opt.Sheet).covers(x, y-2, x+6, y+1) {
			write(doc, numberFace, 2.8, x, y, fmt.Sprintf("%3d", i+1))
		}
	}
}

// tick draws one mark of a ruler, longer every 5 and 10 mm; dx, dy is its
// direction.
func tick(doc *fpdf.Fpdf, mm int, x, y, dx, dy float64) {
	length := 1.5
	switch {
	case mm%10 == 0:
		length = 4
	case mm%5 == 0:
		length = 2.5
	}
	doc.Line(x, y, x+length*dx, y+length*dy)
	if mm%10 == 0 && mm > 10 {
		write(doc, lineFace, 2.2, x+length*dx+0.4*dy, y+length*dy+0.8*dx, fmt.Sprint(mm))
	}
}

// notice is the area of the explanation. Paper under 80 x 60 mm has none.
func notice(s Sheet) box {
	if s.PaperW < 80 || s.PaperH < 60 {
		return box{}
	}
	width := min(120, s.PaperW-30)
	return box{(s.PaperW - width) / 2, s.PaperH/2 - 24, width, 48}
}

// covers says whether the area and that from x0, y0 to x1, y1 have a part in
// common.
func (b box) covers(x0, y0, x1, y1 float64) bool {
	return x0 < b.x+b.w && x1 > b.x && y0 < b.y+b.h && y1 > b.y
}

// explain says in the middle of the page how to use it.
func explain(doc *fpdf.Fpdf, opt SheetOptions) {
	s, area := opt.Sheet, notice(opt.Sheet)
	if area.h == 0 {
		return
	}
	bar := 100.0
	if area.w < 110 {
		bar = 20
	}
	x, y := area.x, area.y
	doc.SetFillColor(255, 255, 255)
	doc.Rect(x, y, area.w, area.h, "FD")
	x += 5
	write(doc, numberFace, 5, x, y+9, "PRINT AT 100 %")
	write(doc, lineFace, 3.2, x, y+15, "No scaling, no fit to page.")
	doc.SetLineWidth(0.25)
	doc.Line(x, y+20, x+bar, y+20)
	doc.Line(x, y+18.5, x, y+21.5)
	doc.Line(x+bar, y+18.5, x+bar, y+21.5)
	for i, line := range []string{
		fmt.Sprintf("This line is %g mm long. The rulers count from the edges of the paper.", bar),
		"Hold the page and a sheet of labels against the light.",
		"An outline 0.4 mm too far right needs an x offset 0.4 mm smaller; too low, a smaller y.",
		fmt.Sprintf("Sheet %s, %d labels of %g x %g mm; offset x %.1f mm, y %.1f mm.", s.Name, s.cells(), s.W, s.H, opt.OffsetX, opt.OffsetY),
		NeverStick,
	} {
		size := min(3.0, (area.w-10)/lineFace.width(line))
		write(doc, lineFace, size, x, y+26+4.5*float64(i), lineFace.clean(line))
	}
}

func write(doc *fpdf.Fpdf, f *face, size, x, y float64, text string) {
	doc.SetFont(f.name, "", size*72/25.4)
	doc.Text(x, y, text)
}
