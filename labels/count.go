package labels

import (
	"fmt"
	"io"
	"strings"

	"codeberg.org/go-pdf/fpdf"
	qrcode "github.com/skip2/go-qrcode"

	"pawl/model/fault"
)

// CountReport is what a count came to, on paper: who counted what and when, how a sample
// was drawn, the figures and what they permit to say, what differed and how that was
// settled, what was not seen, and the whole list by place.
type CountReport struct {
	ID, Scope string // "N-7K2M4Q9XC"; what was counted, in words
	Shop, As  string // As: when it was drawn, as people write it
	Paper     string // letter or a4
	Open      bool   // the count goes on: nothing in the report is final
	Facts     []CountFact
	Draw      *CountDraw // nil: everything was looked for
	Figures   []CountFact
	Statement []string       // what may be said; empty while the count is open
	Sections  []CountSection // differences, not seen, pieces
	Places    []CountSection // the list, by place in walking order
}

// CountFact is a line of two columns: "Started", "2026-11-25 08:10 by Tech A".
type CountFact struct{ Name, Value string }

// CountDraw is how a sample came about.
type CountDraw struct {
	Chosen     string // the number that somebody chose; empty where the seed was drawn
	Redraw     string // in words, where a sample of the same was drawn before
	Checkpoint string // the signed text, byte for byte; it is printed as a symbol too
	Nonce      string // hexadecimal
	Seed       string // hexadecimal
	When       string // when it was put on record, before the list was drawn from
}

// CountSection is a list under a heading.
type CountSection struct {
	Title string
	None  string // what is said where no row is in it; empty: the section is left out then
	Rows  []CountLine
}

// CountLine is one tool of a list.
type CountLine struct {
	Number string
	What   string   // "Brindle BX-900, impact wrench"
	Result string   // "seen", "not seen": set bold where Loud
	Loud   bool     // a difference, or a tool that was not seen
	More   []string // where it was expected, who saw it, how it was settled
}

// Lengths of the report in mm.
const (
	countMargin = 15.0
	countType   = 3.4
	countSmall  = 2.7
	countFoot   = 14.0
	countNumber = 26.0 // column of the numbers
	countName   = 44.0 // column of the names of facts
	countSymbol = 44.0 // a checkpoint is long
)

// countBlock is what stays together on a page.
type countBlock struct {
	runs   []run // y from the top of the block
	rules  []float64
	boxed  bool
	symbol *Symbol
	height float64
	held   bool // goes with what follows it
}

// countReport is a report while it is drawn.
type countReport struct {
	CountReport
	doc    *fpdf.Fpdf
	w, h   float64
	blocks []countBlock
}

// PDF draws the report on as many pages as it needs. The same count gives the same
// bytes. Letters that the face lacks print as "?".
func (s CountReport) PDF(w io.Writer) error {
	paper, known := papers[s.Paper]
	if !known {
		return fault.At("#/paper", "%q is not a paper", s.Paper).WithHint("use letter or a4")
	}
	for _, list := range [][]CountSection{s.Sections, s.Places} {
		for _, section := range list {
			for _, row := range section.Rows {
				if clean := numberFace.clean(row.Number); clean != row.Number || clean == "" {
					return fault.At("#/number", "the number %q cannot be printed as it is", row.Number)
				}
			}
		}
	}
	r := countReport{CountReport: s, w: paper[0], h: paper[1]}
	r.doc = newPages(r.w, r.h, "Count "+s.ID, numberFace, lineFace, boldFace)
	if err := r.first(); err != nil {
		return err
	}
	for _, section := range s.Sections {
		r.section(section, 5.2)
	}
	if len(s.Places) > 0 {
		r.held(run{face: boldFace, size: 5.2, text: "The list, by place"})
	}
	for _, place := range s.Places {
		r.section(place, 4)
	}
	pages := r.pages()
	for i, blocks := range pages {
		// The name of the shop may be long, and is what may be cut.
		r.page(blocks, fmt.Sprintf("Count %s, drawn %s. Page %d of %d. %s", s.ID, s.As, i+1, len(pages), s.Shop))
	}
	return output(r.doc, w)
}

func (r *countReport) wide() float64 { return r.w - 2*countMargin }

// lines wraps a text to what is right of an indent, at most as many lines as given.
func (r *countReport) lines(f *face, size, indent float64, text string, most int) (out []run) {
	return r.within(f, size, indent, r.wide()-indent, text, most)
}

// within wraps a text to a width right of an indent.
func (r *countReport) within(f *face, size, indent, wide float64, text string, most int) (out []run) {
	em := wide / size
	lines := f.wrap(f.clean(text), em)
	if len(lines) > most {
		lines = append(lines[:most-1], f.cut(lines[most-1]+" "+strings.Repeat(ellipsis, 3), em))
	}
	for _, line := range lines {
		out = append(out, run{face: f, text: line, size: size, x: indent})
	}
	return out
}

// stack puts runs under each other.
func (b *countBlock) stack(runs []run) {
	for _, t := range runs {
		b.height += leading * t.size
		t.y = b.height - (leading-1)*t.size
		b.runs = append(b.runs, t)
	}
}

func (r *countReport) add(b countBlock, gap float64) {
	b.height += gap
	r.blocks = append(r.blocks, b)
}

// held is a heading: it is never the last on its page.
func (r *countReport) held(heading run) {
	b := countBlock{held: true, height: 2.5}
	heading.text = heading.face.cut(heading.face.clean(heading.text), r.wide()/heading.size)
	b.stack([]run{heading})
	r.add(b, 1)
}

func (r *countReport) words(f *face, size, indent float64, text string) {
	var b countBlock
	b.stack(r.lines(f, size, indent, text, 12))
	r.add(b, 1)
}

// first is all that stands before the lists.
func (r *countReport) first() error {
	r.words(boldFace, 7, 0, "Count "+r.ID)
	r.words(lineFace, 4, 0, r.Scope)
	r.words(lineFace, countType, 0, r.Shop+", "+r.As)
	if r.Open {
		r.box("THIS COUNT IS NOT CLOSED", "Nothing here is final, and nothing is said of what was not looked at.")
	}
	r.facts("", r.Facts)
	if err := r.draw(); err != nil {
		return err
	}
	r.facts("What was found", r.Figures)
	if len(r.Statement) > 0 {
		r.held(run{face: boldFace, size: 4.4, text: "What this count shows"})
	}
	for _, line := range r.Statement {
		r.words(lineFace, countType, 0, line)
	}
	return nil
}

// box is what nobody may overlook.
func (r *countReport) box(title, text string) {
	b := countBlock{boxed: true, height: 2}
	b.stack(r.lines(boldFace, 4.4, 3, title, 2))
	for _, t := range r.lines(lineFace, countType, 6, text, 6) {
		t.x = 3
		b.stack([]run{t})
	}
	b.height += 1.5
	r.add(b, 2)
}

func (r *countReport) facts(title string, facts []CountFact) {
	if title != "" && len(facts) > 0 {
		r.held(run{face: boldFace, size: 4.4, text: title})
	}
	for _, f := range facts {
		var b countBlock
		b.stack(r.lines(lineFace, countType, countName, f.Value, 6))
		if len(b.runs) == 0 {
			b.stack([]run{{face: lineFace, size: countType}})
		}
		name := lineFace.cut(lineFace.clean(f.Name), (countName-2)/countType)
		b.runs = append(b.runs, run{face: lineFace, text: name, size: countType, y: countType})
		r.add(b, 0.6)
	}
}

// draw says how a sample came about, so that somebody else can draw it again.
func (r *countReport) draw() error {
	d := r.Draw
	if d == nil {
		return nil
	}
	r.held(run{face: boldFace, size: 4.4, text: "How the sample was drawn"})
	if d.Chosen != "" {
		r.box("CHOSEN SEED "+d.Chosen, "Nobody drew this seed: somebody chose it. Whoever chooses a seed can choose which tools are looked at.")
	}
	if d.Redraw != "" {
		r.box("DRAWN AGAIN", d.Redraw)
	}
	if d.Checkpoint != "" {
		if err := r.checkpoint(); err != nil {
			return err
		}
	}
	r.facts("", []CountFact{{"Seed", d.Seed}, {"On record", d.When}})
	how := "The seed is the SHA-256 of the checkpoint's bytes followed by those of the nonce, both on record before the draw."
	if d.Chosen != "" {
		how = `The seed is the SHA-256 of the text "pawl chosen seed ` + d.Chosen + `".`
	}
	r.words(lineFace, countSmall, 0, how+" Block i of the draw is the SHA-256 of the seed and i, in 8 bytes, first byte the highest, from i = 0; each gives 4 numbers of 8 bytes. "+
		"A number below m: the next one that is under the greatest multiple of m up to 2^64, modulo m. The list in the order of its numbers; for i = 0, 1 … the tool at i changes place "+
		"with that at i plus a number below what is left. The first ones are drawn. A part of the list, B or C by worth, is drawn so from the SHA-256 of the seed and its name.")
	return nil
}

// checkpoint prints the signed text as a symbol and to be read, with the nonce.
func (r *countReport) checkpoint() error {
	symbol, err := encodeSigned(r.Draw.Checkpoint)
	if err != nil {
		return err
	}
	b := countBlock{symbol: symbol, height: 1}
	x := countSymbol + 6
	b.stack(r.lines(boldFace, countSmall, x, "Checkpoint of the ledger, as text beside and in the symbol", 2))
	for line := range strings.Lines(r.Draw.Checkpoint) {
		b.stack(broken(lineFace, countSmall, x, line, r.wide()-x))
	}
	b.stack(r.lines(boldFace, countSmall, x, "Nonce, hexadecimal", 1))
	b.stack(broken(lineFace, countSmall, x, r.Draw.Nonce, r.wide()-x))
	b.height = max(b.height, countSymbol+2)
	r.add(b, 2)
	return nil
}

// broken sets a text without blanks to be typed off, in as many lines as it needs.
func broken(f *face, size, x float64, text string, wide float64) (out []run) {
	line := ""
	for _, c := range f.clean(text) {
		if f.width(line+string(c))*size > wide {
			out, line = append(out, run{face: f, text: line, size: size, x: x}), ""
		}
		line += string(c)
	}
	if line == "" {
		return out
	}
	return append(out, run{face: f, text: line, size: size, x: x})
}

// encodeSigned encodes a signed note. Its em dash is no ASCII, which the readers that
// prints are tried with take as the UTF-8 that it is.
func encodeSigned(note string) (*Symbol, error) {
	code, err := qrcode.New(note, drawn[M])
	if err != nil {
		return nil, fault.At("#/checkpoint", "a checkpoint of %d bytes is too long for a QR symbol", len(note)).WithCause(err)
	}
	return drawnCode(code, M), nil
}

func (r *countReport) section(s CountSection, size float64) {
	if len(s.Rows) == 0 && s.None == "" {
		return
	}
	r.held(run{face: boldFace, size: size, text: fmt.Sprintf("%s (%d)", s.Title, len(s.Rows))})
	if len(s.Rows) == 0 {
		r.words(lineFace, countType, 0, s.None)
	}
	for _, row := range s.Rows {
		r.row(row)
	}
}

// countWhat is how many lines say what a tool is: its serial number stands last, and must
// not be cut where maker and model are long.
const countWhat = 4

// row is one tool: number and what it is to the left, how it ended to the right, and
// what there is to say below.
func (r *countReport) row(l CountLine) {
	f := lineFace
	if l.Loud {
		f = boldFace
	}
	result := f.cut(f.clean(l.Result), r.wide()/3/countType)
	wide := f.width(result) * countType
	b := countBlock{rules: []float64{0}, height: 0.8}
	b.stack(r.within(lineFace, countType, countNumber, r.wide()-countNumber-wide-4, l.What, countWhat))
	if len(b.runs) == 0 {
		b.stack([]run{{face: lineFace, size: countType, x: countNumber}})
	}
	y := b.runs[0].y
	b.runs = append(b.runs, run{face: numberFace, text: l.Number, size: countType, y: y},
		run{face: f, text: result, size: countType, x: r.wide() - wide, y: y})
	for _, more := range l.More {
		b.stack(r.lines(lineFace, countSmall, countNumber, more, 4))
	}
	r.add(b, 0.8)
}

// pages deals the blocks out. What is held goes with the block after it.
func (r *countReport) pages() (pages [][]countBlock) {
	var page []countBlock
	room := r.h - countMargin - countFoot
	left := room
	for i, b := range r.blocks {
		need := b.height
		for j := i; r.blocks[j].held && j+1 < len(r.blocks); j++ {
			need += r.blocks[j+1].height
		}
		if need > left && len(page) > 0 {
			pages, page, left = append(pages, page), nil, room
		}
		page, left = append(page, b), left-b.height
	}
	return append(pages, page)
}

func (r *countReport) page(blocks []countBlock, foot string) {
	r.doc.AddPage()
	y := countMargin
	for _, b := range blocks {
		r.block(b, y)
		y += b.height
	}
	write(r.doc, lineFace, 2.8, countMargin, r.h-8, lineFace.cut(lineFace.clean(foot), r.wide()/2.8))
}

func (r *countReport) block(b countBlock, y float64) {
	for _, at := range b.rules {
		r.doc.SetLineWidth(0.1)
		r.doc.Line(countMargin, y+at, r.w-countMargin, y+at)
	}
	if b.boxed {
		r.doc.SetLineWidth(0.7)
		r.doc.Rect(countMargin, y, r.wide(), b.height-2, "D")
	}
	if b.symbol != nil {
		module := wholeDots(countSymbol / float64(b.symbol.Side()))
		l := layout{symbol: b.symbol, module: module}
		r.doc.RawWriteStr(strokes(l, r.h, countMargin, y+2))
	}
	for _, t := range b.runs {
		write(r.doc, t.face, t.size, countMargin+t.x, y+t.y, t.text)
	}
}
