package labels

import (
	"bytes"
	"io"
	"math"
	"sort"
	"strconv"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"pawl/model/fault"
)

// inset is what cutting and feeding may cost at each edge of a label, in mm.
const inset = 1.0

// SheetOptions says onto which sheet labels go, and how.
type SheetOptions struct {
	Sheet            Sheet
	Start            int     // the first label used on the first page, by rows from 1; 0 is 1
	OffsetX, OffsetY float64 // moves all to the right and down, in steps of 0.1 mm, at most 5 mm either way
	Level            Level   // as small as it holds the text; zero is H in a symbol that may be rubbed
}

func (o SheetOptions) check() error {
	if err := o.Sheet.Check(); err != nil {
		return err
	}
	if o.Start < 0 || o.Start > o.Sheet.cells() {
		return fault.At("#/start", "no label %d on a sheet of %d", o.Start, o.Sheet.cells()).
			WithHint("labels count by rows from 1 to %d", o.Sheet.cells())
	}
	for _, m := range []struct {
		pointer string
		mm      float64
	}{{"#/offset_x", o.OffsetX}, {"#/offset_y", o.OffsetY}} {
		if !(math.Abs(m.mm) <= 5) || math.Abs(m.mm*10-math.Round(m.mm*10)) > 1e-6 {
			return fault.At(m.pointer, "an offset of %g mm", m.mm).WithHint("use steps of 0.1 mm, at most 5 mm either way")
		}
	}
	return nil
}

// PDF draws labels onto as many sheets as they need. Symbols are vectors, as
// large as the label permits less 1 mm at each edge, with modules of whole
// dots at 300 dpi. The same labels give the same bytes. A label that cannot
// hold its symbol is refused with the smallest built-in sheet that can.
func PDF(w io.Writer, labels []Text, opt SheetOptions) error {
	if err := opt.check(); err != nil {
		return err
	}
	if len(labels) == 0 {
		return fault.New(fault.Invalid, "no labels to draw").WithHint("name at least one number")
	}
	doc := newDocument(opt.Sheet, "Labels")
	return eachCell(doc, opt, len(labels), func(i int, x, y float64) error {
		l, err := fit(labels[i], opt)
		if err != nil {
			return onPrint(err, i, "label", labels[i].Number)
		}
		drawLabel(doc, opt.Sheet.PaperH, l, x, y)
		return nil
	}, w)
}

// eachCell gives draw the corner of each label in turn, within its inset, on as
// many pages as n labels need, and writes the document.
func eachCell(doc *fpdf.Fpdf, opt SheetOptions, n int, draw func(i int, x, y float64) error, w io.Writer) error {
	at := max(opt.Start, 1) - 1
	for i := range n {
		if i == 0 || at == opt.Sheet.cells() {
			doc.AddPage()
			at %= opt.Sheet.cells()
		}
		x, y := opt.Sheet.corner(at)
		if err := draw(i, x+inset+opt.OffsetX, y+inset+opt.OffsetY); err != nil {
			return err
		}
		at++
	}
	return output(doc, w)
}

// fit lays a text out on a label of the sheet.
func fit(t Text, opt SheetOptions) (layout, error) {
	if err := t.check(); err != nil {
		return layout{}, err
	}
	s, err := encodeStrong(t.Symbol, opt.Level)
	if err != nil {
		return layout{}, err
	}
	l, ok := arrange(opt.Sheet.W-2*inset, opt.Sheet.H-2*inset, s, t)
	if !ok {
		return layout{}, tooSmall(opt, s, t)
	}
	return l, nil
}

// tooSmall names the smallest built-in sheet that would hold the label, and the
// level at which this one does.
func tooSmall(opt SheetOptions, s *Symbol, t Text) error {
	sheet, smaller := opt.Sheet, ""
	if small, err := Encode(t.Symbol, Q); err == nil && opt.Level == 0 {
		if _, ok := arrange(sheet.W-2*inset, sheet.H-2*inset, small, t); ok {
			smaller = smallerSymbol
		}
	}
	side := minModule * float64(s.Side()+2*quiet)
	err := fault.At("#/sheet", "a symbol of version %d needs %.1f mm with its quiet zone beside %q and does not fit a label of %g x %g mm",
		s.Version, side, t.Number, sheet.W, sheet.H)
	others := Sheets()
	sort.SliceStable(others, func(i, j int) bool { return others[i].W*others[i].H < others[j].W*others[j].H })
	for _, o := range others {
		if _, ok := arrange(o.W-2*inset, o.H-2*inset, s, t); ok {
			return err.WithHint("the smallest sheet that holds it is %s (labels of %g x %g mm)%s", o.Name, o.W, o.H, smaller).
				WithFact("sheet", o.Name)
		}
	}
	return err.WithHint("no built-in sheet holds it; shorten the symbol's text or the number%s", smaller)
}

// smallerSymbol ends a hint where level Q fits.
const smallerSymbol = "; or ask for level Q: its smaller symbol fits, and is sooner unreadable when it wears"

// onPrint says which of many labels or cards a fault is about.
func onPrint(err error, i int, what, name string) error {
	f := *fault.Of(err)
	f.Message = what + " " + strconv.Itoa(i+1) + " (" + strconv.Quote(name) + "): " + f.Message
	return &f
}

// fixedTime stands in every document in place of the time of printing, so that
// the same labels give the same bytes.
var fixedTime = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// unscaled asks the viewer to print at 100 %. The library has no call for it
// and writes the language unescaped into the catalog: the language is closed,
// the preference follows (ISO 32000-1, 12.2), and a comment takes the rest.
const unscaled = "en) /ViewerPreferences << /PrintScaling /None >> %"

func newDocument(s Sheet, title string) *fpdf.Fpdf {
	return newPages(s.PaperW, s.PaperH, title+", "+s.Name, numberFace, lineFace)
}

// newPages is an empty document of pages of w by h mm.
func newPages(w, h float64, title string, faces ...*face) *fpdf.Fpdf {
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: w, Ht: h}})
	doc.SetMargins(0, 0, 0)
	doc.SetAutoPageBreak(false, 0)
	doc.SetCreationDate(fixedTime)
	doc.SetModificationDate(fixedTime)
	doc.SetCatalogSort(true)
	doc.SetProducer("Pawl", false)
	doc.SetTitle(title, true)
	doc.SetLang(unscaled)
	for _, f := range faces {
		// The library writes into the font when it takes the letters it needs.
		doc.AddUTF8FontFromBytes(f.name, "", bytes.Clone(f.ttf))
	}
	return doc
}

func output(doc *fpdf.Fpdf, w io.Writer) error {
	if err := doc.Output(w); err != nil {
		return unwritten("document", err)
	}
	return nil
}

// drawLabel puts a layout at a corner given in mm from the top left of paper
// that is paperH mm high.
func drawLabel(doc *fpdf.Fpdf, paperH float64, l layout, x, y float64) {
	doc.RawWriteStr(strokes(l, paperH, x, y))
	doc.SetFillColor(0, 0, 0)
	for _, m := range l.marks {
		doc.Rect(x+m.x, y+m.y, m.w, m.h, "F")
	}
	for _, r := range l.texts {
		doc.SetFont(r.face.name, "", r.size*72/25.4)
		doc.Text(x+r.x, y+r.y, r.text)
	}
}

// strokes returns a symbol as PDF operators: one path of rectangles in units of
// modules, so that edges of neighbors are equal to the last digit. The symbol
// starts on a whole dot of a 300 dpi printer.
func strokes(l layout, paperH, x, y float64) string {
	const pt = 72 / 25.4
	snap := func(mm float64) float64 { return math.Round(mm/dot300) * dot300 * pt }
	var b strings.Builder
	size := short(l.module * pt)
	b.WriteString("q " + size + " 0 0 -" + size + " " + short(snap(x+l.x)) + " " + short(paperH*pt-snap(y+l.y)) + " cm\n")
	for _, r := range l.symbol.bars() {
		b.WriteString(strconv.Itoa(r.x) + " " + strconv.Itoa(r.y) + " " + strconv.Itoa(r.w) + " 1 re\n")
	}
	b.WriteString("f Q")
	return b.String()
}
