package labels

import (
	"fmt"
	"io"

	"codeberg.org/go-pdf/fpdf"

	"pawl/model/fault"
)

// SignOut is a ruled paper for a board without Wi-Fi: the tools that belong in
// a place, with room to write by hand who takes each and when it is back.
type SignOut struct {
	Symbol      string // P/CODE of the place
	Place, Shop string
	As          string // the day on which it was drawn, as people write it
	Paper       string // letter or a4
	Rows        []SignOutRow
	Marked      bool // letters that the face lacks print as "?", else they are refused
}

// SignOutRow is one tool.
type SignOutRow struct {
	Number      string
	What, Kind  string // "Brindle BX-900", "impact wrench"
	Where       string // path of its place; rows of one place stand together
	Now         string // printed where people write: who has it, or DO NOT USE
	MustNotMove bool   // Now is set bold
}

// Lengths of the paper in mm.
const (
	signMargin = 12.0
	signHead   = 34.0 // from the top of the paper to the head of the table
	signRow    = 9.5
	signGroup  = 8.0 // a row that names a place
	signFoot   = 15.0
)

// signColumns are the columns with their share of the width.
var signColumns = []struct {
	title string
	share float64
}{{"Number", 0.13}, {"Tool", 0.28}, {"Taken by", 0.20}, {"Job", 0.13}, {"Out: day, time", 0.13}, {"Back: day, time", 0.13}}

// signLine is a row of the table: a tool, the name of a place, or nothing yet.
type signLine struct {
	group string
	row   *SignOutRow
}

func (l signLine) height() float64 {
	if l.group != "" {
		return signGroup
	}
	return signRow
}

// signing is a sign-out sheet while it is drawn.
type signing struct {
	SignOut
	doc        *fpdf.Fpdf
	w, h, wide float64 // of the paper; of the table
	symbol     *Symbol
}

// PDF draws the paper on as many pages as its tools need; each repeats the head
// and carries the symbol of the place. The rest of the last page is ruled for
// what is written in by hand.
func (s SignOut) PDF(w io.Writer) error {
	paper, known := papers[s.Paper]
	if !known {
		return fault.At("#/paper", "%q is not a paper", s.Paper).WithHint("use letter or a4")
	}
	symbol, err := encodeStrong(s.Symbol, 0)
	if err != nil {
		return err
	}
	for _, r := range s.Rows {
		if clean := numberFace.clean(r.Number); clean != r.Number || clean == "" {
			return fault.At("#/number", "the number %q cannot be printed as it is", r.Number)
		}
		if err := printable(s.Marked, r.What, r.Kind, r.Where, r.Now); err != nil {
			return err
		}
	}
	if err := printable(s.Marked, s.Place, s.Shop); err != nil {
		return err
	}
	g := signing{SignOut: s, w: paper[0], h: paper[1], wide: paper[0] - 2*signMargin, symbol: symbol}
	g.doc = newPages(g.w, g.h, "Sign-out sheet, "+s.Place, numberFace, lineFace, boldFace)
	pages := g.pages()
	for i, lines := range pages {
		g.page(i+1, len(pages), lines)
	}
	return output(g.doc, w)
}

// room is the height of a page's table below its head.
func (g *signing) room() float64 { return g.h - signHead - signGroup - signFoot }

// pages deals the lines out. A place is named again where it goes on, and its
// name never stands alone at the foot of a page.
func (g *signing) pages() (pages [][]signLine) {
	var page []signLine
	left, group := g.room(), ""
	turn := func() {
		pages, page, left, group = append(pages, page), nil, g.room(), ""
	}
	many := false
	for _, r := range g.Rows {
		many = many || r.Where != g.Rows[0].Where || r.Where != g.Place
	}
	for i := range g.Rows {
		r := &g.Rows[i]
		need := signRow
		if many && r.Where != group {
			need += signGroup
		}
		if need > left+1e-9 {
			turn()
		}
		if many && r.Where != group {
			group = r.Where
			page, left = append(page, signLine{group: group}), left-signGroup
		}
		page, left = append(page, signLine{row: r}), left-signRow
	}
	for ; left+1e-9 >= signRow; left -= signRow {
		page = append(page, signLine{})
	}
	turn()
	return pages
}

func (g *signing) page(n, of int, lines []signLine) {
	g.doc.AddPage()
	g.head(n, of)
	y := signHead + signGroup
	for _, l := range lines {
		g.line(l, y)
		y += l.height()
	}
	g.doc.SetLineWidth(0.3)
	g.doc.Line(signMargin, y, signMargin+g.wide, y)
	write(g.doc, lineFace, 2.6, signMargin, g.h-8, "Write down each tool that you take and when it is back. Enter it in the register once there is a connection.")
}

// head sets place, shop and day, the symbol, and the titles of the columns.
func (g *signing) head(n, of int) {
	module := wholeDots(18.0 / float64(g.symbol.Side()))
	side := module * float64(g.symbol.Side())
	l := layout{symbol: g.symbol, module: module, x: g.w - signMargin - side, y: 8}
	g.doc.RawWriteStr(strokes(l, g.h, 0, 0))
	wide := l.x - quiet*module - signMargin
	g.fit(boldFace, "Sign-out sheet: "+g.Place, 7, 3.4, signMargin, 16, wide)
	g.fit(lineFace, fmt.Sprintf("%s. As recorded on %s. Page %d of %d.", g.Shop, g.As, n, of), 3.4, 2.2, signMargin, 23, wide)
	y := signHead + signGroup - 2.4
	x := signMargin
	for _, c := range signColumns {
		g.fit(boldFace, c.title, 3, 1.8, x+1, y, c.share*g.wide-2)
		x += c.share * g.wide
	}
	g.doc.SetLineWidth(0.5)
	g.doc.Line(signMargin, signHead+signGroup, signMargin+g.wide, signHead+signGroup)
}

// line rules one row and sets what is known of it.
func (g *signing) line(l signLine, y float64) {
	g.doc.SetLineWidth(0.15)
	g.doc.Line(signMargin, y, signMargin+g.wide, y)
	if l.group != "" {
		g.fit(boldFace, l.group, 3.6, 2.2, signMargin+1, y+signGroup-2.6, g.wide-2)
		return
	}
	x := signMargin
	for i, c := range signColumns {
		if i > 0 {
			g.doc.Line(x, y, x, y+signRow)
		}
		if l.row != nil {
			g.cell(*l.row, i, x+1, y, c.share*g.wide-2)
		}
		x += c.share * g.wide
	}
}

func (g *signing) cell(r SignOutRow, column int, x, y, wide float64) {
	switch column {
	case 0:
		g.fit(numberFace, r.Number, 4.2, 1.6, x, y+6.2, wide)
	case 1:
		g.fit(lineFace, r.What, 3.2, 2.2, x, y+4, wide)
		g.fit(lineFace, r.Kind, 2.6, 2, x, y+7.8, wide)
	case 2:
		f := lineFace
		if r.MustNotMove {
			f = boldFace
		}
		g.fit(f, r.Now, 3, 2, x, y+6, wide)
	}
}

// fit writes one line of at most wide mm: shrunk, then cut with a mark.
func (g *signing) fit(f *face, text string, size, least, x, y, wide float64) {
	text = f.clean(text)
	if text == "" {
		return
	}
	size = max(least, min(size, wide/f.width(text)))
	write(g.doc, f, size, x, y, f.cut(text, wide/size+1e-9))
}
