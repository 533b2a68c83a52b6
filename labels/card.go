package labels

import (
	"math"
	"slices"
	"strings"

	"pawl/model/fault"
)

// Card is a print with a symbol that is not a tool's label: a badge, the label
// of a place, a job's key tag, a do-not-use tag, a card for the board. From the
// top it holds a heading, then the number and lines beside or above the symbol,
// and at the foot small text such as cautions.
type Card struct {
	W, H    float64  // its own size in mm, where it is not put on a sheet
	Symbol  string   // what the QR symbol holds
	Heading string   // one line, as large as fits; shrinks, then is cut
	Number  string   // in full or not at all; empty: it has none
	Lead    string   // one bold line above the others; empty: it has none
	Lines   []string // wrapped, shrunk, then cut; blank ones take no room
	Foot    []string // paragraphs in small type
	Offset  bool     // the paint mark, broken and offset: do not use
	Marked  bool     // letters that the face lacks print as "?", else they are refused
	Whole   bool     // nothing but the foot is cut: the symbol gives way, and an area too small is refused
}

// Sizes of cards in mm: that of a bank card (ISO/IEC 7810, ID-1, upright edges
// rounded to 54 mm), of a half and a whole roll label of 4 x 6 inches.
const (
	badgeW, badgeH = 85.6, 54.0
	halfW, halfH   = 101.6, 50.8
	tagW, tagH     = 101.6, 152.4
)

// Lengths of cards in mm; type sizes are its em.
const (
	minHeading  = 3.0
	maxHeading  = 26.0
	minFoot     = 1.6 // 4.5 point
	maxFoot     = 2.9
	maxCardLine = 6.0
	maxLead     = 9.0
	mostOfTag   = 0.42 // of the width, for a symbol that stands beside text
)

// check refuses what cannot be drawn faithfully.
func (c Card) check() error {
	if err := checkPayload(c.Symbol); err != nil {
		return err
	}
	if boldFace.clean(c.Heading) == "" {
		return fault.At("#/heading", "a card for %q without a heading", c.Symbol).WithHint("the heading is what people read; give it")
	}
	if clean := numberFace.clean(c.Number); clean != c.Number {
		return fault.At("#/number", "the number %q cannot be printed as it is; it would read %q", c.Number, clean).
			WithHint("use letters and digits without spaces around them")
	}
	return printable(c.Marked, slices.Concat([]string{c.Heading, c.Lead}, c.Lines, c.Foot)...)
}

// frame is a card's area while it is filled: what is placed, and the room left.
type frame struct {
	layout
	w, h        float64 // of the card
	margin      float64
	top, bottom float64 // the room between heading and foot
}

// arrangeCard fills an area of w by h mm with a card. The symbol is as large as
// text leaves it, its module a whole number of dots of dot mm. It reports false
// where the symbol at 0.33 mm a module, the number, or the beginning of the
// foot does not fit.
func arrangeCard(w, h float64, s *Symbol, c Card, dot float64) (layout, bool) {
	f := frame{w: w, h: h, margin: max(0, min(5, 0.06*min(w, h)-1))}
	f.bottom = h - f.margin
	f.symbol = s
	f.head(c)
	if !f.foot(c) {
		return layout{}, false
	}
	upright := h > 1.1*w
	most := (f.bottom - f.top) / float64(s.Side())
	for n := math.Floor(most/dot + 1e-9); n*dot >= minModule-1e-9; n-- {
		try := f
		try.texts = append([]run(nil), f.texts...)
		try.module = n * dot
		if upright && try.below(c) || !upright && try.beside(c) {
			return try.layout, true
		}
	}
	return layout{}, false
}

// inner is the width between the margins.
func (f *frame) inner() float64 { return f.w - 2*f.margin }

// head sets the heading, and under it the paint mark.
func (f *frame) head(c Card) {
	text := boldFace.clean(c.Heading)
	size := min(maxHeading, 0.24*f.h, f.inner()/boldFace.width(text))
	if c.Whole {
		size = min(size, 0.18*f.h)
	}
	size = max(minHeading, size)
	text = boldFace.cut(text, f.inner()/size+1e-9)
	f.top = f.margin + size*boldFace.rise(text)
	f.texts = append(f.texts, run{face: boldFace, text: text, size: size, x: f.margin, y: f.top})
	if strings.ContainsAny(text, "gjpqy,;") {
		f.top += 0.22 * size
	}
	if c.Offset {
		thick, y := 0.12*size, f.top+0.3*size
		half := f.inner() / 2
		f.marks = []box{{f.margin, y, half, thick}, {f.margin + half, y + thick, half, thick}}
		f.top = y + 2*thick
	}
}

// foot sets the small text at the bottom, at most a third of the height of an
// upright card, less on one that lies; what
// does not fit there at the least size is cut with a mark. It reports false
// where not a line fits.
func (f *frame) foot(c Card) bool {
	if len(c.Foot) == 0 {
		return true
	}
	room := 0.33 * f.h
	if f.w > f.h {
		room = 0.22 * f.h
	}
	for size := maxFoot; ; size = max(minFoot, size-0.1) {
		lines := paragraphs(c.Foot, f.inner()/size)
		most := int(room / (leading * size))
		if most == 0 {
			return false
		}
		if len(lines) > most && size > minFoot {
			continue
		}
		if len(lines) > most {
			lines = lines[:most]
			lines[most-1] = lineFace.cut(lines[most-1]+" "+strings.Repeat(ellipsis, 3), f.inner()/size)
		}
		base := f.h - f.margin - 0.22*size - leading*size*float64(len(lines)-1)
		for i, line := range lines {
			if line != "" {
				f.texts = append(f.texts, run{face: lineFace, text: line, size: size, x: f.margin, y: base + leading*size*float64(i)})
			}
		}
		f.bottom = base - 1.3*size
		return true
	}
}

// paragraphs wraps texts to em long lines.
func paragraphs(texts []string, em float64) (lines []string) {
	for _, t := range texts {
		lines = append(lines, lineFace.wrap(lineFace.clean(t), em)...)
	}
	return lines
}

// quietBelow is the lowest that a symbol may end: its quiet zone lies on the
// card and above the foot.
func (f *frame) quietBelow(c Card) float64 {
	if len(c.Foot) > 0 {
		return f.bottom - quiet*f.module
	}
	return f.h - max(f.margin, quiet*f.module)
}

// beside puts the symbol to the left and the text to its right.
func (f *frame) beside(c Card) bool {
	q, side := quiet*f.module, float64(f.symbol.Side())*f.module
	f.x = max(f.margin, q)
	end := f.quietBelow(c)
	f.y = end - side
	text := box{f.x + side + q, f.y, 0, side}
	text.w = f.w - f.margin - text.x
	if c.Whole { // the text takes the height that the symbol leaves
		text.y = min(f.y, f.top+textGap)
		text.h = end - text.y
	}
	least := 12.0
	if c.Number != "" {
		least = max(least, minNumber*numberFace.width(c.Number))
	}
	if f.y-q < f.top || side > mostOfTag*f.w || text.w < least {
		return false
	}
	return f.block(text, c)
}

// below puts the text above and the symbol under it.
func (f *frame) below(c Card) bool {
	q, side := quiet*f.module, float64(f.symbol.Side())*f.module
	f.x = max(f.margin, q)
	f.y = f.quietBelow(c) - side
	text := box{f.margin, f.top + 0.03*f.h, f.inner(), 0}
	text.h = f.y - q - text.y
	if f.x+side+q > f.w || text.h < 0 {
		return false
	}
	if text.h < min(f.wanted(c), 0.6*(f.bottom-f.top)) {
		return false
	}
	return f.block(text, c)
}

// wanted is the height of a card's text at its largest.
func (f *frame) wanted(c Card) (height float64) {
	if c.Number != "" {
		height = 0.16 * f.h
	}
	if c.Lead != "" {
		height += leading * maxLead
	}
	for _, line := range c.Lines {
		height += leading * maxCardLine * math.Ceil(maxCardLine*lineFace.width(line)/f.inner())
	}
	return height
}

// block sets number, lead and lines from the top of an area down.
func (f *frame) block(b box, c Card) bool {
	share := 0.3
	if c.Whole { // no line is given up for a large number
		share = 0.22
	}
	if c.Number != "" {
		n := run{face: numberFace, text: c.Number, x: b.x}
		rise := numberFace.rise(c.Number)
		if n.size = min(24, b.w/numberFace.width(c.Number), share*b.h/rise); n.size < minNumber {
			return false
		}
		n.y = b.y + n.size*rise
		f.texts = append(f.texts, n)
		used := n.size*rise + 0.2*n.size
		b.y, b.h = b.y+used, b.h-used
	}
	if lead := boldFace.clean(c.Lead); lead != "" {
		size := max(minLine, min(maxLead, share*b.h, b.w/boldFace.width(lead)))
		if leading*size > b.h || c.Whole && size*boldFace.width(lead) > b.w+1e-9 {
			return false
		}
		f.texts = append(f.texts, run{face: boldFace, text: boldFace.cut(lead, b.w/size+1e-9), size: size, x: b.x, y: b.y + size})
		b.y, b.h = b.y+leading*size, b.h-leading*size
	}
	lines, whole := f.wrapped(c, b)
	f.texts = append(f.texts, lines...)
	return whole || !c.Whole
}

// wrapped sets the lines of a card, each broken where it is too long for the
// area; what has no room is left out with a mark, and not whole.
func (f *frame) wrapped(c Card, b box) (set []run, whole bool) {
	largest := min(maxCardLine, max(minLine, 0.4*b.h))
	if c.Whole { // sooner smaller than broken
		largest = min(largest, max(minLine, b.h/(leading*float64(len(c.Lines))+0.25)))
	}
	if c.Number == "" && c.Lead == "" && len(c.Lines) > 0 {
		b.y -= (1 - lineFace.caps()) * largest // the first line's capitals begin where the area does
	}
	var lines []string
	for _, line := range c.Lines {
		if line = lineFace.clean(line); 0.75*largest*lineFace.width(line) > b.w {
			lines = append(lines, lineFace.wrap(line, b.w/(0.75*largest))...)
		} else if line != "" {
			lines = append(lines, line)
		}
	}
	set, pitch := setLines(lines, b.w, b.h-0.25*largest, largest)
	whole = len(set) == len(lines)
	for i := range set {
		set[i].x, set[i].y = b.x, b.y+pitch*float64(i)+set[i].size
		whole = whole && set[i].text == lines[i]
	}
	return set, whole
}
