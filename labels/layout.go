package labels

import "math"

// Lengths in mm. The floor of a module is what phones read; the smallest type
// is 4.5 point for lines and 7 point for the number.
const (
	minModule  = 0.33
	minNumber  = 2.5
	maxNumber  = 12.0
	minLine    = 1.6
	maxLine    = 3.4
	minColumn  = 10.0 // the narrowest room for text
	textGap    = 0.5  // between quiet zone and text
	leading    = 1.25
	numberPart = 0.36 // height of the number over that of the text
	numberGap  = 0.2  // least gap below the number over its height
	dot300     = 25.4 / 300
)

// layout is one label with everything in its place.
type layout struct {
	symbol *Symbol
	module float64 // mm
	x, y   float64 // of the first module
	texts  []run
	marks  []box // filled with ink
}

// box is an area in mm.
type box struct{ x, y, w, h float64 }

// arrange fills an area of w by h mm with the largest symbol that leaves room
// for the number: beside it, or below it where that makes the symbol larger.
// The module is a whole number of dots at 300 dpi. It reports false where a
// module of 0.33 mm does not fit.
func arrange(w, h float64, s *Symbol, t Text) (layout, bool) {
	across := float64(s.Side() + 2*quiet)
	column := max(minColumn, minNumber*numberFace.width(t.Number))
	row := minNumber*numberFace.rise(t.Number) + textGap + maxLine/4
	beside := wholeDots(min(h, w-textGap-column) / across)
	below := 0.0
	if column <= w {
		below = wholeDots(min(w, h-row) / across)
	}
	module := max(beside, below)
	if module < minModule {
		return layout{}, false
	}
	l := layout{symbol: s, module: module}
	side := across * module
	if beside >= below {
		l.x, l.y = quiet*module, (h-side)/2+quiet*module
		l.texts = setText(box{side + textGap, l.y, w - side - textGap, side - 2*quiet*module}, t, false)
	} else {
		l.x, l.y = (w-side)/2+quiet*module, quiet*module
		l.texts = setText(box{0, side + textGap, w, h - side - textGap - maxLine/4}, t, true)
	}
	return l, true
}

// wholeDots rounds a module down to whole dots of a 300 dpi printer, which
// are whole dots at 600 and 1200 dpi as well.
func wholeDots(module float64) float64 {
	return math.Floor(module/dot300+1e-9) * dot300
}

// free lays out a label without a given size around a module of given size:
// text beside the symbol, as wide as the text needs and at most twice the
// symbol. It returns the size of the label in mm.
func free(module float64, s *Symbol, t Text) (l layout, w, h float64) {
	inner := float64(s.Side()) * module
	h = inner + 2*quiet*module
	number := max(minNumber, min(maxNumber, numberPart*inner/numberFace.rise(t.Number))) * numberFace.width(t.Number)
	column := number
	for _, line := range t.printed() {
		column = max(column, maxLine*lineFace.width(line))
	}
	column = max(number, min(column, 2*h))
	l = layout{symbol: s, module: module, x: quiet * module, y: quiet * module}
	l.texts = setText(box{h + textGap, l.y, column, inner}, t, false)
	right := 0.0
	for _, r := range l.texts {
		right = max(right, r.x+r.width())
	}
	return l, right + quiet*module, h
}

// setText sets the number at the top of a column and the lines at its foot,
// or all of it centered as one block.
func setText(b box, t Text, centered bool) []run {
	number := run{face: numberFace, text: t.Number}
	rise := numberFace.rise(t.Number)
	number.size = min(maxNumber, b.w/numberFace.width(t.Number), max(minNumber, numberPart*b.h/rise))
	caps := number.size * rise
	lines, pitch := setLines(t.printed(), b.w, b.h-(1+numberGap)*caps, min(maxLine, number.size/2))
	slack := b.h - caps - pitch*float64(len(lines))
	top, gap := b.y, slack
	if len(lines) == 0 || centered {
		gap = min(slack, numberGap*caps)
		top += (slack - gap) / 2
	}
	number.y = top + caps
	texts := []run{number}
	for i, line := range lines {
		line.y = number.y + gap + pitch*float64(i+1)
		texts = append(texts, line)
	}
	for i := range texts {
		texts[i].x = b.x
		if centered {
			texts[i].x += (b.w - texts[i].width()) / 2
		}
	}
	return texts
}

// setLines sets lines into w by h mm, not yet placed, and returns them with
// the distance of their base lines. All are as large as the widest permits,
// down to three quarters of the largest size that the height permits; a wider
// one shrinks alone, then is cut. Lines without room are left out from the
// end, which the last one shows by an ellipsis.
func setLines(lines []string, w, h, largest float64) (set []run, pitch float64) {
	if len(lines) == 0 || h < leading*minLine {
		return nil, 0
	}
	common := max(minLine, min(largest, h/(leading*float64(len(lines)))))
	least := max(minLine, 0.75*common)
	for _, line := range lines {
		common = max(least, min(common, w/lineFace.width(line)))
	}
	pitch = leading * common
	room := min(len(lines), int(h/pitch+1e-9))
	for i, line := range lines[:room] {
		if i == room-1 && len(lines) > room {
			line += ellipsis
		}
		size := max(minLine, min(common, w/lineFace.width(line)))
		set = append(set, run{face: lineFace, text: lineFace.cut(line, w/size+1e-9), size: size})
	}
	return set, pitch
}
