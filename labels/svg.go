package labels

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"strings"

	"golang.org/x/image/font/sfnt"
)

// svgModule is the module of a label drawn as SVG: six dots at 300 dpi.
const svgModule = 6 * dot300

// SVG draws one label in millimeters, with modules of 0.508 mm. Its text is
// drawn as outlines, so it looks the same wherever it is opened; the title and
// the description hold it as text.
func SVG(w io.Writer, t Text, level Level) error {
	if err := t.check(); err != nil {
		return err
	}
	s, err := encodeStrong(t.Symbol, level)
	if err != nil {
		return err
	}
	l, width, height := free(svgModule, s, t)
	return drawing{width, height, l, t.Number, strings.Join(t.printed(), "; ")}.write(w)
}

// CardSVG draws one card of its own size, placed as CardPDF places it.
func CardSVG(w io.Writer, c Card, level Level) error {
	l, err := ownSize(c, level, dot300)
	if err != nil {
		return err
	}
	var said []string
	for _, r := range l.texts[1:] {
		said = append(said, r.text)
	}
	return drawing{c.W, c.H, l, l.texts[0].text, strings.Join(said, "; ")}.write(w)
}

// drawing is a layout on an area of w by h mm with what it says in words.
type drawing struct {
	w, h        float64
	layout      layout
	title, desc string
}

func (d drawing) write(w io.Writer) error {
	l := d.layout
	var b bytes.Buffer
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%[1]smm" height="%[2]smm" viewBox="0 0 %[1]s %[2]s" role="img">`+"\n",
		short(d.w), short(d.h))
	fmt.Fprintf(&b, "<title>%s</title>\n<desc>%s</desc>\n", escaped(d.title), escaped(d.desc))
	fmt.Fprintf(&b, `<rect width="%s" height="%s" fill="#fff"/>`+"\n", short(d.w), short(d.h))
	fmt.Fprintf(&b, `<path transform="translate(%s %s) scale(%s)" shape-rendering="crispEdges" d="`,
		short(l.x), short(l.y), short(l.module))
	for _, r := range l.symbol.bars() {
		fmt.Fprintf(&b, "M%d %dh%dv1h-%dz", r.x, r.y, r.w, r.w)
	}
	b.WriteString("\"/>\n")
	for _, m := range l.marks {
		fmt.Fprintf(&b, `<rect x="%s" y="%s" width="%s" height="%s"/>`+"\n", short(m.x), short(m.y), short(m.w), short(m.h))
	}
	for _, text := range l.texts {
		b.WriteString(`<path d="` + path(text) + "\"/>\n")
	}
	b.WriteString("</svg>\n")
	if _, err := w.Write(b.Bytes()); err != nil {
		return unwritten("drawing", err)
	}
	return nil
}

// path returns a run's outlines as SVG path data.
func path(r run) string {
	var b strings.Builder
	for i, s := range r.face.outline(r) {
		switch s.op {
		case sfnt.SegmentOpMoveTo:
			if i > 0 {
				b.WriteByte('Z')
			}
			b.WriteByte('M')
		case sfnt.SegmentOpLineTo:
			b.WriteByte('L')
		case sfnt.SegmentOpQuadTo:
			b.WriteByte('Q')
		case sfnt.SegmentOpCubeTo:
			b.WriteByte('C')
		}
		for j, p := range s.points {
			if j > 0 {
				b.WriteByte(' ')
			}
			b.WriteString(short(p.x) + " " + short(p.y))
		}
	}
	if b.Len() > 0 {
		b.WriteByte('Z')
	}
	return b.String()
}

// short writes a number with at most four decimals.
func short(x float64) string {
	s := strings.TrimRight(fmt.Sprintf("%.4f", x), "0")
	return strings.TrimSuffix(s, ".")
}

func escaped(text string) string {
	var b bytes.Buffer
	_ = xml.EscapeText(&b, []byte(text)) // a buffer takes every byte
	return b.String()
}
