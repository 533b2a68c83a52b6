package labels

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/text/unicode/norm"

	"pawl/model/fault"
)

// Lengths of the papers of a claim in mm.
const (
	paperMargin = 15.0
	paperTop    = 22.0 // from the top of the paper to its text
	paperFoot   = 16.0
	paperType   = 3.0
	paperSmall  = 2.6
	paperGap    = 0.7 // below a row
)

// paper is a document whose text flows: blocks under each other, dealt onto pages.
// Nothing in it is cut: a text takes the lines that it needs.
type paper struct {
	doc     *fpdf.Fpdf
	size    string
	w, h    float64
	blocks  []block
	prints  map[string]string // SHA-256 of a photo to its name in the document
	dry     bool              // photos take their room and are not drawn
	lacking map[rune]bool     // letters that the faces lack
}

// block is what stays in one piece. Its lengths are from its top left.
type block struct {
	runs   []run
	rules  []float64
	frames []box
	prints []framed
	symbol *Symbol
	side   float64 // of the symbol, which begins a quiet zone below the top
	height float64
	held   bool // on one page with what follows it, if a page holds both
	fresh  bool // begins a page
}

// framed is a photo in its place.
type framed struct {
	of *printed
	at box
}

func newPaper(size, title string) (*paper, error) {
	measures, known := papers[size]
	if !known {
		return nil, fault.At("#/paper", "%q is not a paper", size).WithHint("use letter or a4")
	}
	p := &paper{size: size, w: measures[0], h: measures[1], prints: map[string]string{}, lacking: map[rune]bool{}}
	p.doc = newPages(p.w, p.h, boldFace.clean(title), numberFace, lineFace, boldFace)
	return p, nil
}

func (p *paper) wide() float64 { return p.w - 2*paperMargin }

// room is the height that a page has for text.
func (p *paper) room() float64 { return p.h - paperTop - paperFoot }

// clean is a text as it prints, and remembers the letters that it costs.
func (p *paper) clean(f *face, text string) string {
	var buf sfnt.Buffer
	for _, r := range norm.NFC.String(text) {
		if r > unicode.MaxLatin1 && !unicode.IsSpace(r) && !f.prints(&buf, r) {
			p.lacking[r] = true
		}
	}
	return f.clean(text)
}

// lines wraps a text to so many mm, from x on. A word that is longer is broken.
func (p *paper) lines(f *face, size, x, wide float64, text string) (out []run) {
	em := wide / size
	line, used := "", 0.0
	blank := f.width(" ")
	flush := func() {
		if line != "" {
			out = append(out, run{face: f, text: line, size: size, x: x})
		}
		line, used = "", 0
	}
	for _, word := range strings.Fields(p.clean(f, text)) {
		long := f.width(word)
		if line != "" && used+blank+long <= em {
			line, used = line+" "+word, used+blank+long
			continue
		}
		flush()
		for long > em {
			head := f.breakAt(word, em)
			out = append(out, run{face: f, text: head, size: size, x: x})
			word = word[len(head):]
			long = f.width(word)
		}
		line, used = word, long
	}
	flush()
	return out
}

// breakAt is the longest beginning of a word that fits, of at least one letter.
func (f *face) breakAt(word string, em float64) string {
	sum := 0.0
	for i, r := range word {
		if sum += f.width(string(r)); sum > em && i > 0 {
			return word[:i]
		}
	}
	return word
}

// add puts a block below the others; one of text that no page holds goes in parts.
func (p *paper) add(b block, gap float64) {
	b.height += gap
	for b.height > p.room() && len(b.runs) > 1 && len(b.prints) == 0 && b.symbol == nil {
		first, rest := b.parted(p.room() - gap)
		if len(first.runs) == 0 || len(rest.runs) == 0 {
			break
		}
		p.blocks = append(p.blocks, first)
		b = rest
	}
	p.blocks = append(p.blocks, b)
}

// parted gives the lines of a block above a height, and those below as one of their own.
func (b block) parted(height float64) (first, rest block) {
	first, rest = b, b
	first.runs, rest.runs = nil, nil
	first.height, first.frames, rest.frames, rest.rules = 0, nil, nil, nil
	top := b.height
	for _, r := range b.runs {
		if low := r.y + (leading-1)*r.size; low <= height {
			first.runs, first.height = append(first.runs, r), max(first.height, low)
		} else {
			rest.runs, top = append(rest.runs, r), min(top, r.y-r.size)
		}
	}
	for i := range rest.runs {
		rest.runs[i].y -= top
	}
	rest.height -= top
	return first, rest
}

// stack puts runs under each other, and gives the height below them.
func stack(runs []run, y float64) float64 {
	for i := range runs {
		y += leading * runs[i].size
		runs[i].y = y - (leading-1)*runs[i].size
	}
	return y
}

// heading is never the last on its page.
func (p *paper) heading(size float64, text string) {
	b := block{held: true, height: 2.5}
	runs := p.lines(boldFace, size, 0, p.wide(), text)
	b.height = stack(runs, b.height)
	b.runs = runs
	p.add(b, 1)
}

// words is a text over the whole width.
func (p *paper) words(f *face, size float64, text string) {
	all := p.lines(f, size, 0, p.wide(), text)
	for i := range all {
		one := all[i : i+1]
		b := block{runs: one, height: stack(one, 0)}
		if i == len(all)-1 {
			b.height += 1.2
		}
		p.add(b, 0)
	}
}

// boxed is what nobody may overlook.
func (p *paper) boxed(title, text string) {
	b := block{height: 2}
	for _, part := range []struct {
		f    *face
		size float64
		text string
	}{{boldFace, 4.2, title}, {lineFace, paperType, text}} {
		runs := p.lines(part.f, part.size, 3, p.wide()-6, part.text)
		b.height = stack(runs, b.height)
		b.runs = append(b.runs, runs...)
	}
	b.height += 2
	b.frames = []box{{0, 0, p.wide(), b.height}}
	p.add(b, 2.5)
}

// note is what is known of one thing: "Serial number, as read", "KD408B217".
type note struct {
	name, value string
	face        *face // nil: of a line
}

// column is where notes stand.
type column struct{ x, name, value float64 }

// noted sets a note in a column and gives its height.
func (p *paper) noted(n note, c column) (runs []run, height float64) {
	f := n.face
	if f == nil {
		f = lineFace
	}
	names := p.lines(lineFace, paperSmall, c.x, c.name-2, n.name)
	values := p.lines(f, paperType, c.x+c.name, c.value, n.value)
	low := stack(values, 0)
	stack(names, 0)
	for i := range names { // on the base line of the value
		names[i].y += paperType - paperSmall
		low = max(low, names[i].y+(leading-1)*paperSmall)
	}
	return append(names, values...), low
}

// notes sets notes under each other over the whole width from x on.
func (p *paper) notes(x, name float64, held bool, all ...note) {
	for _, n := range all {
		runs, height := p.noted(n, column{x, name, p.wide() - x - name})
		p.add(block{runs: runs, height: height, held: held}, paperGap)
	}
}

// beside sets two lists of notes in two columns from x on, row by row, all held
// together with what follows.
func (p *paper) beside(x, name float64, left, right []note) {
	const between = 5
	half := (p.wide() - x - between) / 2
	for i := range max(len(left), len(right)) {
		var b block
		for k, side := range [][]note{left, right} {
			if i >= len(side) {
				continue
			}
			runs, height := p.noted(side[i], column{x + float64(k)*(half+between), name, half - name})
			b.runs, b.height = append(b.runs, runs...), max(b.height, height)
		}
		b.held = true
		p.add(b, paperGap)
	}
}

// blanks are lines to write on, each with its name.
func (p *paper) blanks(name float64, names ...string) {
	for _, n := range names {
		runs := p.lines(lineFace, paperType, 0, name-2, n)
		b := block{height: max(stack(runs, 2.5), 9), runs: runs}
		b.frames = []box{{name, b.height - 1.5, p.wide() - name, 0}}
		p.add(b, 0.5)
	}
}

// cell is a text in a table, at x and so wide; right aligned where it is an amount.
type cell struct {
	text  string
	x     float64
	wide  float64
	right bool
	face  *face
}

// row sets cells beside each other under a thin rule.
func (p *paper) row(held bool, cells ...cell) {
	b := block{rules: []float64{0}, held: held, height: 0.6}
	for _, c := range cells {
		f := c.face
		if f == nil {
			f = lineFace
		}
		runs := p.lines(f, paperSmall, c.x, c.wide, c.text)
		low := stack(runs, 0.6)
		for i := range runs {
			if c.right {
				runs[i].x = c.x + c.wide - runs[i].width()
			}
		}
		b.runs, b.height = append(b.runs, runs...), max(b.height, low)
	}
	p.add(b, 0.6)
}

// symbolBeside sets a symbol with texts to its right; its quiet zone stays free.
func (p *paper) symbolBeside(s *Symbol, side float64, set func(x, wide float64) []run) {
	b := block{symbol: s, side: side}
	zone := quiet * side / float64(s.Side())
	x := side + zone + 2
	b.runs = set(x, p.wide()-x)
	b.height = max(stack(b.runs, zone), side+2*zone)
	p.add(b, 1)
}

// missing says which letters could not be printed: each stands as a question mark.
func (p *paper) missing() {
	if len(p.lacking) == 0 {
		return
	}
	var all []rune
	for r := range p.lacking {
		all = append(all, r)
	}
	slices.Sort(all)
	var said []string
	for _, r := range all[:min(len(all), 60)] {
		said = append(said, fmt.Sprintf("U+%04X", r))
	}
	if more := len(all) - len(said); more > 0 {
		said = append(said, fmt.Sprintf("and %d more", more))
	}
	p.words(lineFace, paperSmall, "The type of this paper lacks letters, and prints ? for each of these (Unicode): "+strings.Join(said, ", ")+".")
}

// pages deals the blocks out. What is held together begins a page together where it
// would not fit, and is parted only where a whole page would not hold it.
func (p *paper) pages() (pages [][]block) {
	var page []block
	room := p.room()
	left := room
	for i, b := range p.blocks {
		need := b.height
		if i == 0 || !p.blocks[i-1].held {
			for j := i; p.blocks[j].held && j+1 < len(p.blocks); j++ {
				need += p.blocks[j+1].height
			}
			need = min(need, room)
		}
		if (need > left+1e-9 || b.fresh) && len(page) > 0 {
			pages, page, left = append(pages, page), nil, room
		}
		page, left = append(page, b), left-b.height
	}
	return append(pages, page)
}

// paperHead is what stands at the top of each page, left and right, and at its foot.
type paperHead struct {
	left, right string // the right one is followed by the page
	foot        string
}

// output draws the blocks onto pages and writes the document.
func (p *paper) output(head paperHead, w io.Writer) error {
	pages := p.pages()
	for i, blocks := range pages {
		p.doc.AddPage()
		p.headed(head, fmt.Sprintf("page %d of %d", i+1, len(pages)))
		y := paperTop
		for _, b := range blocks {
			p.block(b, y)
			y += b.height
		}
	}
	return output(p.doc, w)
}

func (p *paper) headed(head paperHead, page string) {
	right := lineFace.clean(strings.TrimPrefix(head.right+", "+page, ", "))
	wide := lineFace.width(right) * paperSmall
	write(p.doc, lineFace, paperSmall, p.w-paperMargin-wide, paperMargin, right)
	// The name of a shop may be long: the head alone is shortened, its text stands on the page.
	write(p.doc, boldFace, paperSmall, paperMargin, paperMargin, boldFace.cut(boldFace.clean(head.left), (p.wide()-wide-4)/paperSmall))
	p.doc.SetLineWidth(0.3)
	p.doc.Line(paperMargin, paperMargin+1.6, p.w-paperMargin, paperMargin+1.6)
	for i, r := range p.lines(lineFace, 2.4, paperMargin, p.wide(), head.foot) {
		write(p.doc, r.face, r.size, r.x, p.h-paperFoot+5.5+3*float64(i), r.text)
	}
}

func (p *paper) block(b block, y float64) {
	for _, at := range b.rules {
		p.doc.SetLineWidth(0.1)
		p.doc.Line(paperMargin, y+at, p.w-paperMargin, y+at)
	}
	for _, f := range b.frames {
		p.doc.SetLineWidth(0.4)
		if f.h == 0 {
			p.doc.SetLineWidth(0.15)
			p.doc.Line(paperMargin+f.x, y+f.y, paperMargin+f.x+f.w, y+f.y)
			continue
		}
		p.doc.Rect(paperMargin+f.x, y+f.y, f.w, f.h, "D")
	}
	if b.symbol != nil {
		module := wholeDots(b.side / float64(b.symbol.Side()))
		p.doc.RawWriteStr(strokes(layout{symbol: b.symbol, module: module}, p.h, paperMargin, y+quiet*module))
	}
	for _, pic := range b.prints {
		p.place(pic, y)
	}
	for _, t := range b.runs {
		write(p.doc, t.face, t.size, paperMargin+t.x, y+t.y, t.text)
	}
}
