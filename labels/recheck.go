package labels

import (
	"fmt"
	"io"

	"codeberg.org/go-pdf/fpdf"

	"pawl/model/fault"
)

// RecheckSheet is the list of work put in doubt by what was found of a tool, to be
// worked through with a pen.
type RecheckSheet struct {
	Symbol       string // T/NUMBER of the tool, or the link
	Number, What string
	Serial       string
	Shop, As     string // As: when it was drawn, as people write it
	Paper        string // letter or a4
	Unknown      string // what the list does not know; printed first
	Why          []string
	Lines        []RecheckSheetLine // worst first
	Cautions     []string
}

// RecheckSheetLine is one line of it.
type RecheckSheetLine struct {
	ID, Verdict string // the verdict in words, set bold
	Work        string // "job 1042: front wheel nuts, 5, on 2026-06-01, Tech A"
	Figures     string // "set 108 N·m for 100..116 N·m; likeliest applied 100.4 ± 2.0 N·m"
	Why         string
	Settled     string // how; empty: room to write, if it is open
	Open        bool
}

// Lengths of the sheet in mm.
const (
	recheckMargin = 15.0
	recheckType   = 3.6
	recheckFoot   = 14.0
)

// recheckBlock is what stays together on a page.
type recheckBlock struct {
	texts  []recheckText
	ruled  bool // a rule above it
	blank  bool // room to write how it was settled
	height float64
}

type recheckText struct {
	face   *face
	size   float64
	indent float64
	text   string
}

// rechecking is a sheet while it is drawn.
type rechecking struct {
	RecheckSheet
	doc     *fpdf.Fpdf
	w, h, y float64
	symbol  *Symbol
}

// PDF draws the list on as many pages as it needs; what is not known and the cautions
// come before its lines, and every page says of which tool it is and how many there are.
func (s RecheckSheet) PDF(w io.Writer) error {
	paper, known := papers[s.Paper]
	if !known {
		return fault.At("#/paper", "%q is not a paper", s.Paper).WithHint("use letter or a4")
	}
	if clean := numberFace.clean(s.Number); clean != s.Number || clean == "" {
		return fault.At("#/number", "the number %q cannot be printed as it is", s.Number)
	}
	symbol, err := encodeStrong(s.Symbol, 0)
	if err != nil {
		return err
	}
	r := rechecking{RecheckSheet: s, w: paper[0], h: paper[1], symbol: symbol}
	r.doc = newPages(r.w, r.h, "Recheck, "+s.Number, numberFace, lineFace, boldFace)
	pages := r.pages()
	for i, blocks := range pages {
		r.doc.AddPage()
		r.head(i == 0)
		for _, b := range blocks {
			r.draw(b)
		}
		write(r.doc, lineFace, 2.8, recheckMargin, r.h-8, fmt.Sprintf("Recheck of %s, drawn %s. Page %d of %d.", s.Number, s.As, i+1, len(pages)))
	}
	return output(r.doc, w)
}

// pages deals the blocks out.
func (r *rechecking) pages() (pages [][]recheckBlock) {
	var page []recheckBlock
	left := r.room(true)
	for _, b := range r.blocks() {
		if b.height > left && len(page) > 0 {
			pages, page, left = append(pages, page), nil, r.room(false)
		}
		page, left = append(page, b), left-b.height
	}
	return append(pages, page)
}

// top is where a page's blocks begin.
func (r *rechecking) top(first bool) float64 {
	if first {
		return recheckMargin + 30
	}
	return recheckMargin + 10
}

func (r *rechecking) room(first bool) float64 { return r.h - r.top(first) - recheckFoot }

func (r *rechecking) blocks() (out []recheckBlock) {
	text := func(f *face, indent float64, text string) recheckText {
		return recheckText{f, recheckType, indent, text}
	}
	add := func(b recheckBlock) { out = append(out, r.measured(b)) }
	add(recheckBlock{texts: []recheckText{text(boldFace, 0, "What is not known"), text(lineFace, 0, r.Unknown)}})
	for i, why := range r.Why {
		title := "Why"
		if i > 0 {
			title = "And"
		}
		add(recheckBlock{texts: []recheckText{text(boldFace, 0, title), text(lineFace, 0, why)}})
	}
	for _, c := range r.Cautions {
		add(recheckBlock{texts: []recheckText{text(lineFace, 4, "! "+c)}})
	}
	for _, l := range r.Lines {
		b := recheckBlock{ruled: true, blank: l.Open && l.Settled == ""}
		b.texts = []recheckText{text(boldFace, 0, l.Verdict), text(lineFace, 0, l.ID+"   "+l.Work)}
		for _, more := range []string{l.Figures, l.Why} {
			if more != "" {
				b.texts = append(b.texts, text(lineFace, 6, more))
			}
		}
		if l.Settled != "" {
			b.texts = append(b.texts, text(boldFace, 6, "Settled: "+l.Settled))
		}
		add(b)
	}
	return out
}

// measured wraps the texts of a block to the paper, and says how high it is. A text is
// at most six lines long.
func (r *rechecking) measured(b recheckBlock) recheckBlock {
	var all []recheckText
	for _, t := range b.texts {
		wide := (r.w - 2*recheckMargin - t.indent) / t.size
		lines := t.face.wrap(t.face.clean(t.text), wide)
		if len(lines) > 6 {
			lines = append(lines[:5], t.face.cut(lines[5]+" "+ellipsis+ellipsis+ellipsis, wide))
		}
		for _, line := range lines {
			all = append(all, recheckText{t.face, t.size, t.indent, line})
			b.height += leading * t.size
		}
	}
	if b.texts = all; b.blank {
		b.height += 8
	}
	b.height += 2.4
	return b
}

func (r *rechecking) head(first bool) {
	r.y = r.top(first)
	if !first {
		write(r.doc, boldFace, 4.4, recheckMargin, recheckMargin+3, "Recheck of "+r.Number)
		return
	}
	module := wholeDots(20.0 / float64(r.symbol.Side()))
	side := module * float64(r.symbol.Side())
	l := layout{symbol: r.symbol, module: module, x: r.w - recheckMargin - side, y: recheckMargin - 4}
	r.doc.RawWriteStr(strokes(l, r.h, 0, 0))
	wide := l.x - quiet*module - recheckMargin
	write(r.doc, boldFace, 6.5, recheckMargin, recheckMargin+3, "Recheck: work in doubt")
	write(r.doc, numberFace, 8, recheckMargin, recheckMargin+13, r.Number)
	for i, text := range []string{joinWords(r.What, r.Serial), r.Shop + ", " + r.As} {
		if text = lineFace.clean(text); text != "" {
			size := max(2.4, min(recheckType, wide/lineFace.width(text)))
			write(r.doc, lineFace, size, recheckMargin, recheckMargin+19+5*float64(i), lineFace.cut(text, wide/size+1e-9))
		}
	}
}

func joinWords(what, serial string) string {
	if serial == "" {
		return what
	}
	return what + ", serial number " + serial
}

func (r *rechecking) draw(b recheckBlock) {
	if b.ruled {
		r.doc.SetLineWidth(0.2)
		r.doc.Line(recheckMargin, r.y, r.w-recheckMargin, r.y)
	}
	r.y++
	for _, t := range b.texts {
		write(r.doc, t.face, t.size, recheckMargin+t.indent, r.y+t.size, t.text)
		r.y += leading * t.size
	}
	if b.blank {
		r.y += 6
		write(r.doc, lineFace, 2.8, recheckMargin+6, r.y, "Settled how, with which tool, by whom, when:")
		r.doc.SetLineWidth(0.15)
		r.doc.Line(recheckMargin+64, r.y+0.6, r.w-recheckMargin, r.y+0.6)
		r.y += 2
	}
	r.y += 1.4
}
