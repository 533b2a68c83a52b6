package labels

import (
	"fmt"
	"io"
	"strings"

	"codeberg.org/go-pdf/fpdf"

	"pawl/model/fault"
	"pawl/model/units"
)

// Slip goes with a tool to the laboratory and says what is asked of the calibration.
type Slip struct {
	Symbol       string   // T/NUMBER, or the link
	Number, What string   // "Tarn TW-200, torque wrench"
	Serial       string   // empty: not recorded
	To, Shop     string   // empty To: to be written by hand
	As           string   // the day on which it was drawn, as people write it
	Holds        string   // what it must hold, in words; empty: not recorded
	Unit         string   // of the readings; empty: that of its scale
	Points       []string // values, in that unit; none: those that the laboratory chooses
	Readings     int      // at each point, at least
	BothWays     bool     // it turns, and is to be compared clockwise and counterclockwise
	Paper        string   // letter or a4
	Caution      string   // stands at the foot
	Marked       bool     // letters that the face lacks print as "?", else they are refused
}

// Lengths of a slip in mm.
const (
	slipMargin = 18.0
	slipSymbol = 24.0
	slipType   = 4.0
	slipBox    = 3.4
)

// asks are what the laboratory is asked for.
func (s Slip) asks() (out []string) {
	unit := "the unit of its scale"
	if s.Unit != "" {
		unit = s.Unit
	}
	out = append(out, "Read it AS FOUND first, before anything is adjusted or cleaned. Without that, earlier work with it cannot be judged.",
		"If it is adjusted, read it again AS LEFT at the same points.")
	if s.BothWays {
		out = append(out, "Both directions: clockwise and counterclockwise, as found and as left.")
	}
	out = append(out, "READINGS, not percents: at each point the value set or shown, and every reading of the reference, in "+unit+".")
	if len(s.Points) > 0 {
		out = append(out, fmt.Sprintf("Points: %s %s, %s or more at each.", strings.Join(s.Points, ", "), s.Unit, units.Count(max(1, s.Readings), "reading")))
	}
	out = append(out, "A certificate with the expanded uncertainty (k = 2) at each point, the standard used, the temperature and the date of the calibration.",
		"Confirm the serial number on the tool, and print it on the certificate.",
		"Do not replace the tool by another. If it cannot be repaired or calibrated, call first.")
	return out
}

// returned is ticked off when it is back.
func (s Slip) returned() []string {
	out := []string{"the same tool, with the serial number above", "a certificate that names that serial number",
		"as found readings", "as left readings, or the words that it was not adjusted"}
	if s.BothWays {
		out = append(out, "both directions")
	}
	return append(out, "readings, not only percents", "the uncertainty at each point", "entered in the register, with the certificate, before it is used")
}

// slipPage is a slip while it is drawn.
type slipPage struct {
	doc     *fpdf.Fpdf
	w, h, y float64
}

// PDF draws the slip on one page.
func (s Slip) PDF(w io.Writer) error {
	paper, known := papers[s.Paper]
	if !known {
		return fault.At("#/paper", "%q is not a paper", s.Paper).WithHint("use letter or a4")
	}
	if clean := numberFace.clean(s.Number); clean != s.Number || clean == "" {
		return fault.At("#/number", "the number %q cannot be printed as it is", s.Number)
	}
	if err := printable(s.Marked, append([]string{s.What, s.Serial, s.To, s.Shop, s.Holds, s.Unit, s.Caution}, s.Points...)...); err != nil {
		return err
	}
	symbol, err := encodeStrong(s.Symbol, 0)
	if err != nil {
		return err
	}
	p := slipPage{doc: newPages(paper[0], paper[1], "Calibration slip, "+s.Number, numberFace, lineFace, boldFace), w: paper[0], h: paper[1]}
	p.doc.AddPage()
	p.head(s, symbol)
	p.tool(s)
	p.title("Please")
	for i, ask := range s.asks() {
		p.item(fmt.Sprintf("%d.", i+1), ask)
	}
	p.title("When it is back")
	for _, line := range s.returned() {
		p.doc.SetLineWidth(0.3)
		p.doc.Rect(slipMargin, p.y+slipType*0.95-slipBox, slipBox, slipBox, "D")
		p.item("", line)
	}
	p.one(lineFace, s.Caution, 3, p.h-slipMargin/3, p.w-2*slipMargin)
	if p.y > p.h-slipMargin/2 {
		return fault.New(fault.Invalid, "the slip of %q does not fit one page", s.Number).WithHint("shorten what is recorded of the tool")
	}
	return output(p.doc, w)
}

func (p *slipPage) head(s Slip, symbol *Symbol) {
	module := wholeDots(slipSymbol / float64(symbol.Side()))
	side := module * float64(symbol.Side())
	l := layout{symbol: symbol, module: module, x: p.w - slipMargin - side, y: slipMargin - 4}
	p.doc.RawWriteStr(strokes(l, p.h, 0, 0))
	wide := l.x - quiet*module - slipMargin
	p.one(boldFace, "For the calibration laboratory", 7, slipMargin+3, wide)
	p.one(numberFace, s.Number, 9, slipMargin+15, wide)
	p.one(lineFace, s.Shop+", "+s.As, slipType, slipMargin+22, wide)
	p.y = slipMargin + 28
}

// one writes a line of at most wide mm: shrunk, then cut with a mark.
func (p *slipPage) one(f *face, text string, size, y, wide float64) {
	if text = f.clean(text); text == "" {
		return
	}
	size = max(minLine, min(size, wide/f.width(text)))
	write(p.doc, f, size, slipMargin, y, f.cut(text, wide/size+1e-9))
}

// tool says which it is and what it must hold.
func (p *slipPage) tool(s Slip) {
	or := func(text, otherwise string) string {
		if text == "" {
			return otherwise
		}
		return text
	}
	for _, row := range [][2]string{
		{"To", or(s.To, "……………………………………………")}, {"Tool", s.What}, {"Serial number", or(s.Serial, "not recorded; please give it: ……………………")},
		{"It must hold", or(s.Holds, "not recorded; please state the limit used")},
	} {
		write(p.doc, boldFace, slipType, slipMargin, p.y+slipType, row[0])
		p.wrapped(row[1], 32)
	}
}

func (p *slipPage) title(text string) {
	p.y += 3
	write(p.doc, boldFace, 5, slipMargin, p.y+5, text)
	p.y += 8
}

func (p *slipPage) item(mark, text string) {
	if mark != "" {
		write(p.doc, lineFace, slipType, slipMargin, p.y+slipType, mark)
	}
	p.wrapped(text, 8)
}

// wrapped writes a text that begins so far from the margin, on as many lines as it
// takes; four lines are the most.
func (p *slipPage) wrapped(text string, from float64) {
	lines := lineFace.wrap(lineFace.clean(text), (p.w-2*slipMargin-from)/slipType)
	if len(lines) > 4 {
		lines = append(lines[:3], lineFace.cut(lines[3]+" "+strings.Repeat(ellipsis, 3), (p.w-2*slipMargin-from)/slipType))
	}
	for _, line := range lines {
		write(p.doc, lineFace, slipType, slipMargin+from, p.y+slipType, line)
		p.y += leading * slipType
	}
	p.y += 1.2
}
