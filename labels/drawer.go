package labels

import (
	"fmt"
	"io"

	"codeberg.org/go-pdf/fpdf"

	"pawl/model/fault"
)

// DrawerSheet is the paper that lies in a drawer: what belongs there, where each of it
// was when it was drawn, and boxes to tick by hand at each count.
type DrawerSheet struct {
	Symbol             string // P/CODE of the place
	Place, Shop, Whose string // Whose: the person whose place it is; empty: everybody's
	As                 string // when it was drawn, as people write it
	Paper              string // letter or a4
	Rows               []DrawerRow
	Counts             string // "12 belong here: 9 in place, 2 out, 1 away"
	Photo              []byte // JPEG of the full drawer, upright; nil: none
	PhotoWords         string // when it was taken, or why there is none
	Marked             bool   // letters that the face lacks print as "?", else they are refused
}

// DrawerRow is one tool that belongs in the drawer.
type DrawerRow struct {
	Number, Kind, What string // "impact wrench", "Brindle BX-900"
	Pieces             string // of a set: "10 mm socket, extension (2)"
	Now                string // "in place", or who has it since when
	MustNotMove        bool   // Now is set bold: it may not be used
	AtLab              bool   // it is listed apart
	Elsewhere          bool   // it was seen here, and belongs elsewhere: likewise
}

// Lengths of the sheet in mm.
const (
	drawerMargin = 12.0
	drawerHead   = 33.0 // from the top of the paper to the head of the table
	drawerTitles = 13.0 // of the table's head, with room for a day and initials
	drawerRow    = 10.5 // the least height of a row
	drawerLine   = 3.6  // of each line of pieces
	drawerGroup  = 8.0
	drawerFoot   = 14.0
	drawerBox    = 5.0
	drawerTicks  = 4    // counts that fit on the sheet
	drawerTick   = 0.07 // share of the width of each
	drawerPhoto  = 70.0 // the least height left for a photo
	mostPieces   = 6    // lines of pieces in a row
)

// drawerColumns are the columns before the ticks, with their share of the width.
var drawerColumns = []struct {
	title string
	share float64
}{{"Number", 0.13}, {"What belongs here", 0.33}, {"Now", 0.26}}

// drawerEntry is a row with its pieces wrapped, the name of a group, or what is said in
// place of rows.
type drawerEntry struct {
	group  string
	none   string
	row    *DrawerRow
	pieces []string
	height float64
}

// drawerPages is a sheet while it is drawn.
type drawerPages struct {
	DrawerSheet
	doc     *fpdf.Fpdf
	w, h    float64
	wide    float64 // of the table
	symbol  *Symbol
	nth     int    // sheet of the document, from 0
	picture string // name of the photo in the document
}

// DrawersPDF draws sheets of one paper, each beginning on a page of its own. The same
// sheets give the same bytes.
func DrawersPDF(w io.Writer, all []DrawerSheet) error {
	if len(all) == 0 {
		return fault.New(fault.NotFound, "there is no place to draw a sheet of").WithHint("add one: pawl places add \"Bay 1/Cart\"")
	}
	paper, known := papers[all[0].Paper]
	if !known {
		return fault.At("#/paper", "%q is not a paper", all[0].Paper).WithHint("use letter or a4")
	}
	title := "Drawer sheet, " + all[0].Place
	if len(all) > 1 {
		title = "Drawer sheets, " + all[0].Shop
	}
	doc := newPages(paper[0], paper[1], title, numberFace, lineFace, boldFace)
	for i, s := range all {
		p := drawerPages{DrawerSheet: s, doc: doc, w: paper[0], h: paper[1], wide: paper[0] - 2*drawerMargin, nth: i, picture: fmt.Sprintf("drawer%d", i)}
		if err := p.draw(); err != nil {
			return err
		}
	}
	return output(doc, w)
}

func (p *drawerPages) draw() (err error) {
	if p.symbol, err = encodeStrong(p.Symbol, 0); err != nil {
		return err
	}
	if err := p.check(); err != nil {
		return err
	}
	pages, left := p.pages()
	high, wide := p.measurePhoto()
	apart := high > 0 && left < drawerPhoto
	of := len(pages)
	if apart {
		of++
	}
	y := 0.0
	for i, entries := range pages {
		y = p.page(i+1, of, true)
		for _, e := range entries {
			p.entry(e, y)
			y += e.height
		}
		p.doc.SetLineWidth(0.3)
		p.doc.Line(drawerMargin, y, drawerMargin+p.wide, y)
	}
	if apart {
		y, left = p.page(of, of, false), p.h-drawerHead-drawerFoot
	}
	p.photo(y, left, high, wide)
	return p.doc.Error()
}

// check refuses what cannot be printed as it is.
func (p *drawerPages) check() error {
	for _, r := range p.Rows {
		if clean := numberFace.clean(r.Number); clean != r.Number || clean == "" {
			return fault.At("#/number", "the number %q cannot be printed as it is", r.Number)
		}
		if err := printable(p.Marked, r.Kind, r.What, r.Pieces, r.Now); err != nil {
			return err
		}
	}
	return printable(p.Marked, p.Place, p.Shop, p.Whose)
}

// drawerGroups are the headings of the tools that are listed apart, in their order.
var drawerGroups = []string{"", "At the calibration laboratory", "Seen here last, belongs elsewhere"}

func (r DrawerRow) group() string {
	switch {
	case r.Elsewhere:
		return drawerGroups[2]
	case r.AtLab:
		return drawerGroups[1]
	}
	return drawerGroups[0]
}

// entries are the tools, those that are not to lie here last and under their own
// headings.
func (p *drawerPages) entries() (out []drawerEntry) {
	for _, group := range drawerGroups {
		first := true
		for i := range p.Rows {
			r := &p.Rows[i]
			if r.group() != group {
				continue
			}
			if group != "" && first {
				out = append(out, drawerEntry{group: group, height: drawerGroup})
			}
			first = false
			e := drawerEntry{row: r, height: drawerRow}
			room := (drawerColumns[1].share*p.wide - 2) / 2.7
			if r.Pieces != "" {
				e.pieces = lineFace.wrap(lineFace.clean(r.Pieces), room)
			}
			if len(e.pieces) > mostPieces {
				e.pieces = append(e.pieces[:mostPieces-1], lineFace.cut(e.pieces[mostPieces-1]+" "+ellipsis+ellipsis+ellipsis, room))
			}
			e.height += drawerLine * float64(len(e.pieces))
			out = append(out, e)
		}
	}
	if len(out) == 0 {
		out = append(out, drawerEntry{none: "No tool belongs directly in here.", height: drawerGroup})
	}
	return out
}

// pages deals the entries out and gives the height that is left on the last page. A
// heading never stands alone at the foot of a page.
func (p *drawerPages) pages() (pages [][]drawerEntry, left float64) {
	room := p.h - drawerHead - drawerTitles - drawerFoot
	var page []drawerEntry
	left = room
	all := p.entries()
	for i, e := range all {
		need := e.height
		if e.group != "" && i+1 < len(all) {
			need += all[i+1].height
		}
		if need > left+1e-9 && len(page) > 0 {
			pages, page, left = append(pages, page), nil, room
		}
		page, left = append(page, e), left-e.height
	}
	return append(pages, page), left
}

// page begins a page with its head and foot, and gives where its content begins.
func (p *drawerPages) page(n, of int, table bool) float64 {
	p.doc.AddPage()
	module := wholeDots(19.0 / float64(p.symbol.Side()))
	side := module * float64(p.symbol.Side())
	l := layout{symbol: p.symbol, module: module, x: p.w - drawerMargin - side, y: 8}
	p.doc.RawWriteStr(strokes(l, p.h, 0, 0))
	wide := l.x - quiet*module - drawerMargin
	p.fit(boldFace, p.Place, 7, 3.4, drawerMargin, 15, wide)
	whose := p.Shop
	if p.Whose != "" {
		whose += ". Of " + p.Whose
	}
	p.fit(lineFace, fmt.Sprintf("%s. As recorded on %s. Page %d of %d.", whose, p.As, n, of), 3.4, 2.2, drawerMargin, 21.5, wide)
	p.fit(boldFace, p.Counts, 3.8, 2.2, drawerMargin, 27.5, wide)
	write(p.doc, lineFace, 2.6, drawerMargin, p.h-8, "In place: nobody is recorded as having it. That is not a look into the drawer; tick what you see.")
	if !table {
		return drawerHead
	}
	p.titles()
	return drawerHead + drawerTitles
}

// titles sets the head of the table: over each column of boxes, room for a day and
// initials.
func (p *drawerPages) titles() {
	x, y := drawerMargin, drawerHead+drawerTitles
	for _, c := range drawerColumns {
		p.fit(boldFace, c.title, 3, 1.8, x+1, y-2.4, c.share*p.wide-2)
		x += c.share * p.wide
	}
	p.fit(lineFace, "Counted: day, initials", 2.6, 1.8, x+1, drawerHead+2.6, drawerTicks*drawerTick*p.wide-2)
	p.doc.SetLineWidth(0.15)
	for range drawerTicks {
		p.doc.Rect(x, drawerHead+4, drawerTick*p.wide, drawerTitles-4, "D")
		x += drawerTick * p.wide
	}
	p.doc.SetLineWidth(0.5)
	p.doc.Line(drawerMargin, y, drawerMargin+p.wide, y)
}

// entry rules one row and sets what is known of it.
func (p *drawerPages) entry(e drawerEntry, y float64) {
	if e.none != "" {
		write(p.doc, lineFace, 3.4, drawerMargin+1, y+drawerGroup-2.6, e.none)
		return
	}
	p.doc.SetLineWidth(0.15)
	p.doc.Line(drawerMargin, y, drawerMargin+p.wide, y)
	if e.group != "" {
		p.fit(boldFace, e.group, 3.6, 2.2, drawerMargin+1, y+drawerGroup-2.6, p.wide-2)
		return
	}
	x, r := drawerMargin, e.row
	p.fit(numberFace, r.Number, 4.2, 1.6, x+1, y+6.4, drawerColumns[0].share*p.wide-2)
	x += drawerColumns[0].share * p.wide
	wide := drawerColumns[1].share*p.wide - 2
	p.fit(boldFace, r.Kind, 3.2, 2.2, x+1, y+4.2, wide)
	p.fit(lineFace, r.What, 2.9, 2, x+1, y+8.2, wide)
	first := y + 8.2
	if r.What == "" {
		first -= drawerLine
	}
	for i, line := range e.pieces {
		write(p.doc, lineFace, 2.7, x+1, first+drawerLine*float64(i+1), line)
	}
	x += drawerColumns[1].share * p.wide
	f := lineFace
	if r.MustNotMove {
		f = boldFace
	}
	p.now(f, r.Now, x+1, y, drawerColumns[2].share*p.wide-2)
	x += drawerColumns[2].share * p.wide
	for range drawerTicks {
		p.doc.Rect(x+(drawerTick*p.wide-drawerBox)/2, y+(drawerRow-drawerBox)/2, drawerBox, drawerBox, "D")
		x += drawerTick * p.wide
	}
}

// now sets where a tool is on two lines at most.
func (p *drawerPages) now(f *face, text string, x, y, wide float64) {
	const size = 2.9
	lines := f.wrap(f.clean(text), wide/size)
	if len(lines) > 2 {
		lines = []string{lines[0], f.cut(lines[1]+" "+ellipsis+ellipsis+ellipsis, wide/size)}
	}
	for i, line := range lines {
		write(p.doc, f, size, x, y+4.2+4*float64(i), line)
	}
}

// measurePhoto gives the size of the photo in pixels; 0 where there is none.
func (p *drawerPages) measurePhoto() (high, wide float64) {
	if len(p.Photo) == 0 {
		return 0, 0
	}
	info := addPhoto(p.doc, p.picture, p.Photo, p.nth+1)
	if p.doc.Err() || info == nil {
		return 0, 0
	}
	return info.Height(), info.Width()
}

// photo sets the photo below y as large as the page permits, and says when it was
// taken, or that there is none.
func (p *drawerPages) photo(y, left, high, wide float64) {
	if p.PhotoWords != "" && left >= 8 {
		write(p.doc, lineFace, 3, drawerMargin, y+6, lineFace.cut(lineFace.clean(p.PhotoWords), p.wide/3))
	}
	if high == 0 {
		return
	}
	scale := min(p.wide/wide, (left-12)/high)
	p.doc.ImageOptions(p.picture, drawerMargin, y+9, wide*scale, high*scale, false, fpdf.ImageOptions{ImageType: "JPG"}, 0, "")
}

// fit writes one line of at most wide mm: shrunk, then cut with a mark.
func (p *drawerPages) fit(f *face, text string, size, least, x, y, wide float64) {
	if text = f.clean(text); text == "" {
		return
	}
	size = max(least, min(size, wide/f.width(text)))
	write(p.doc, f, size, x, y, f.cut(text, wide/size+1e-9))
}
