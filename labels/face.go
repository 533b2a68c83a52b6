package labels

import (
	"slices"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/gomonobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/norm"
)

// face is a typeface. Its measures are in em, the size of the type.
type face struct {
	name string // the family in a PDF
	ttf  []byte
	font func() *sfnt.Font
	caps func() float64 // height of the highest capital or digit
}

// All faces have a slashed zero.
var (
	numberFace = newFace("number", gomonobold.TTF)
	lineFace   = newFace("line", goregular.TTF)
	boldFace   = newFace("bold", gobold.TTF) // of headings
)

// newFace is an embedded font, which is read when something is first set in it; a broken
// one is a broken build.
func newFace(name string, ttf []byte) *face {
	f := &face{name: name, ttf: ttf}
	f.font = sync.OnceValue(func() *sfnt.Font {
		parsed, err := sfnt.Parse(ttf)
		if err != nil {
			panic("labels: embedded font " + name + ": " + err.Error())
		}
		return parsed
	})
	f.caps = sync.OnceValue(func() float64 { return f.top(capitals) })
	return f
}

// em is the size of the type in units of its font.
func (f *face) em() fixed.Int26_6 { return fixed.Int26_6(f.font().UnitsPerEm()) }

const capitals = "0123456789-ABCDEFGHIJKLMNOPQRSTUVWXYZ"

// rise returns how far a text reaches above its base line, in em; a lower case
// text as far as capitals.
func (f *face) rise(text string) float64 {
	if strings.Trim(text, capitals) == "" {
		return f.caps()
	}
	return max(f.caps(), f.top(text))
}

func (f *face) top(text string) float64 {
	top := 0.0
	for _, s := range f.outline(run{face: f, size: 1, text: text}) {
		for _, p := range s.points {
			top = min(top, p.y)
		}
	}
	return -top
}

// width returns the length of a text set at one em, in em.
func (f *face) width(text string) float64 {
	var buf sfnt.Buffer
	var sum fixed.Int26_6
	for _, r := range text {
		glyph, _ := f.font().GlyphIndex(&buf, r)
		advance, _ := f.font().GlyphAdvance(&buf, glyph, f.em(), font.HintingNone)
		sum += advance
	}
	return float64(sum) / float64(f.em())
}

// lacks returns the letters of a text that the face has no outline for, each
// once, in their order, and at most ten.
func (f *face) lacks(text string) string {
	var buf sfnt.Buffer
	var missing []rune
	for _, r := range norm.NFC.String(text) {
		if !unicode.IsSpace(r) && !f.prints(&buf, r) && !slices.Contains(missing, r) && len(missing) < 10 {
			missing = append(missing, r)
		}
	}
	return string(missing)
}

// prints says whether the face has a letter, or leaves it out as control or
// invisible formatting.
func (f *face) prints(buf *sfnt.Buffer, r rune) bool {
	if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) {
		return true
	}
	glyph, err := f.font().GlyphIndex(buf, r)
	return err == nil && glyph != 0
}

// clean returns a text as the face can print it: composed, white space and
// control characters as single blanks, invisible formatting dropped, and "?"
// for each character that the face lacks.
func (f *face) clean(text string) string {
	var buf sfnt.Buffer
	var b strings.Builder
	for _, r := range norm.NFC.String(text) {
		switch {
		case unicode.IsSpace(r) || unicode.IsControl(r):
			r = ' '
		case unicode.Is(unicode.Cf, r):
			continue
		case !f.prints(&buf, r):
			r = '?'
		}
		b.WriteRune(r)
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

const ellipsis = "…"

// cut returns text if it is at most max em long, else its longest beginning
// that fits with an ellipsis. Nothing is returned where not even that fits.
func (f *face) cut(text string, max float64) string {
	if f.width(text) <= max {
		return text
	}
	room := max - f.width(ellipsis)
	if room < 0 {
		return ""
	}
	end, sum := 0, 0.0
	for i, r := range text {
		if sum += f.width(string(r)); sum > room {
			end = i
			break
		}
	}
	return strings.TrimRight(text[:end], " ") + ellipsis
}

// wrap breaks a text at its blanks into lines of at most em; a longer word is
// cut. An empty text has no lines.
func (f *face) wrap(text string, em float64) (lines []string) {
	for _, word := range strings.Fields(text) {
		if n := len(lines); n > 0 && f.width(lines[n-1]+" "+word) <= em {
			lines[n-1] += " " + word
			continue
		}
		lines = append(lines, f.cut(word, em))
	}
	return lines
}

// run is a text set in one place: size is the em in mm, x and y the start of
// its base line in mm.
type run struct {
	face       *face
	text       string
	size, x, y float64
}

// width returns the length of the run in mm.
func (r run) width() float64 { return r.size * r.face.width(r.text) }

type point struct{ x, y float64 }

// segment is one piece of an outline: a move, a line, or a curve with its
// control points before its end.
type segment struct {
	op     sfnt.SegmentOp
	points []point
}

// outline returns the outlines of a run's letters in mm.
func (f *face) outline(r run) []segment {
	var buf sfnt.Buffer
	var out []segment
	scale := r.size / float64(f.em())
	x := r.x
	for _, c := range r.text {
		glyph, _ := f.font().GlyphIndex(&buf, c)
		segments, _ := f.font().LoadGlyph(&buf, glyph, f.em(), nil)
		for _, s := range segments {
			out = append(out, f.place(s, scale, x, r.y))
		}
		advance, _ := f.font().GlyphAdvance(&buf, glyph, f.em(), font.HintingNone)
		x += float64(advance) * scale
	}
	return out
}

func (f *face) place(s sfnt.Segment, scale, x, y float64) segment {
	count := 1
	switch s.Op {
	case sfnt.SegmentOpQuadTo:
		count = 2
	case sfnt.SegmentOpCubeTo:
		count = 3
	}
	points := make([]point, count)
	for i := range points {
		points[i] = point{x + float64(s.Args[i].X)*scale, y + float64(s.Args[i].Y)*scale}
	}
	return segment{s.Op, points}
}
