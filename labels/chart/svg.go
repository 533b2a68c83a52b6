package chart

import (
	"fmt"
	"html"
	"io"
	"math"
	"strconv"
	"strings"
)

// Lengths of a chart in its own units; 320 to 360 of them go on a phone, where the
// letters are 10 to 11 pixels high.
const (
	width, height              = 360, 320
	left, right, top, bottom   = 46, 350, 46, 216
	letters                    = 11
	inner                      = 30 // from the ends of an axis to its first and last value
	mostDodge                  = 14 // between what was found and left, and both directions, at one value
	legendLine                 = 15
	captionLine                = 14
	mostCaption                = 60  // letters of a line
	small                      = 1.8 // radius of a reading's dot
	large                      = 4.5 // and of a mean's mark
	mostAcross, mostUp         = 5, 6
	limitStroke, guardedStroke = `stroke-width="1.8"`, `stroke-width="1.2" stroke-dasharray="5 3"`
)

// canvas is a chart on its way into a document.
type canvas struct {
	strings.Builder
	x, y  axis
	dodge float64
	say   func(english string) string
}

func (v *canvas) atX(set float64) float64 {
	return left + inner + (right-left-2*inner)*(set-v.x.low)/(v.x.high-v.x.low)
}

func (v *canvas) atY(percent float64) float64 {
	return bottom - (bottom-top)*(percent-v.y.low)/(v.y.high-v.y.low)
}

// SVG draws the chart: every reading a dot, every mean a mark, the limits a line
// and what is left of them after the uncertainty a broken line.
func (c Calibration) SVG(w io.Writer) error {
	if err := c.check(); err != nil {
		return err
	}
	points := c.drawn()
	limits := bounds(points, func(p Point) *float64 { return p.Limit })
	guarded := bounds(points, func(p Point) *float64 { return p.Guarded })
	caution := broken(c.say(c.Caution), mostCaption)
	v := canvas{x: axisOf(points[0].Set, points[len(points)-1].Set, mostAcross), y: upright(points, limits), say: c.say}
	v.dodge = v.room(points)
	fmt.Fprintf(&v, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" role="img" font-family="sans-serif" font-size="%d" fill="currentColor" stroke="none">`+"\n",
		width, height+captionLine*len(caution), letters)
	english := "" // of a reading in words, where the page around it is not
	if c.Say != nil {
		english = ` lang="en"`
	}
	fmt.Fprintf(&v, "<title>%s</title>\n<desc%s>%s</desc>\n", html.EscapeString(c.Title), english, html.EscapeString(c.said()))
	v.heading(c.Title)
	v.axes(c.Unit)
	v.lines(limits, limitStroke)
	v.lines(guarded, guardedStroke)
	for _, p := range points {
		v.point(p)
	}
	v.legend(points, len(limits) > 0, len(guarded) > 0)
	for i, line := range caution {
		v.text(4, float64(height+captionLine*i+captionLine/2), "start", line)
	}
	v.WriteString("</svg>\n")
	_, err := io.WriteString(w, v.String())
	return err
}

// said is what the chart shows, for who does not see it.
func (c Calibration) said() string {
	var all []string
	for _, p := range c.Points {
		all = append(all, strings.TrimSpace(string(p.Phase)+" "+string(p.Direction))+": "+p.Words+"; "+p.Decision)
	}
	return strings.Join(all, ". ")
}

// upright is the axis of the deviations, the same either way.
func upright(points []Point, limits []bound) axis {
	most := 0.0
	for _, p := range points {
		for _, d := range append([]*float64{p.Mean}, p.Deviations...) {
			if d != nil {
				most = max(most, math.Abs(*d))
			}
		}
	}
	for _, l := range limits {
		most = max(most, l.percent)
	}
	if most == 0 {
		most = 1
	}
	return axisOf(-1.05*most, 1.05*most, mostUp)
}

func (v *canvas) text(x, y float64, anchor, text string) {
	fmt.Fprintf(v, `<text x="%s" y="%s" text-anchor="%s">%s</text>`+"\n", short(x), short(y), anchor, html.EscapeString(text))
}

func (v *canvas) line(x1, y1, x2, y2 float64, stroke string) {
	fmt.Fprintf(v, `<path d="M%s %sL%s %s" fill="none" stroke="currentColor" %s/>`+"\n", short(x1), short(y1), short(x2), short(y2), stroke)
}

// broken breaks a text between words into lines of at most so many letters.
func broken(text string, most int) (lines []string) {
	for _, word := range strings.Fields(text) {
		last := len(lines) - 1
		if last >= 0 && len([]rune(lines[last]))+1+len([]rune(word)) <= most {
			lines[last] += " " + word
		} else {
			lines = append(lines, word)
		}
	}
	return lines
}

// heading writes the title in at most two lines; a longer one is cut with a mark.
func (v *canvas) heading(title string) {
	const most = 56 // letters of a line
	rows := broken(title, most)
	if len(rows) > 2 {
		rows = append(rows[:1], rows[1]+" …")
	}
	for i, row := range rows {
		if letters := []rune(row); len(letters) > most+2 {
			row = string(letters[:most]) + " …"
		}
		v.text(4, 12+13*float64(i), "start", row)
	}
}

func (v *canvas) axes(unit string) {
	for _, t := range v.y.ticks() {
		stroke := `stroke-width="0.4" stroke-opacity="0.4"`
		if math.Abs(t) < v.y.step/2 {
			stroke = `stroke-width="0.8"`
		}
		v.line(left, v.atY(t), right, v.atY(t), stroke)
		v.text(left-4, v.atY(t)+4, "end", v.y.label(t)+" %")
	}
	v.line(left, top, left, bottom, `stroke-width="0.8"`)
	v.line(left, bottom, right, bottom, `stroke-width="0.8"`)
	for _, t := range v.x.ticks() {
		v.line(v.atX(t), bottom, v.atX(t), bottom+4, `stroke-width="0.8"`)
		v.text(v.atX(t), bottom+15, "middle", v.x.label(t))
	}
	v.text(right, bottom+29, "end", v.say("set value")+", "+unit)
	v.text(4, top-8, "start", "↑ "+v.say("shows too much, % of reference"))
	v.text(4, bottom+29, "start", "↓ "+v.say("shows too little"))
}

// lines draws a limit either way, from value to value.
func (v *canvas) lines(all []bound, stroke string) {
	for _, sign := range []float64{1, -1} {
		for i, b := range all {
			if i == 0 {
				v.line(v.atX(b.set)-inner, v.atY(sign*b.percent), v.atX(b.set), v.atY(sign*b.percent), stroke)
			}
			if i == len(all)-1 {
				v.line(v.atX(b.set), v.atY(sign*b.percent), v.atX(b.set)+inner, v.atY(sign*b.percent), stroke)
			} else {
				v.line(v.atX(b.set), v.atY(sign*b.percent), v.atX(all[i+1].set), v.atY(sign*all[i+1].percent), stroke)
			}
		}
	}
}

// aside is how many places a point stands beside its value, so that marks of one
// value do not hide each other.
func (p Point) aside() float64 {
	x := -1.5
	if p.Phase == AsLeft {
		x += 2
	}
	if p.Direction == Counterclockwise {
		x++
	}
	return x
}

// room is how far marks of one value can stand apart without coming near those of
// the next.
func (v *canvas) room(points []Point) float64 {
	room := float64(mostDodge)
	for i := range points[1:] {
		if gap := v.atX(points[i+1].Set) - v.atX(points[i].Set); gap > 0 {
			room = min(room, gap/4.5)
		}
	}
	return room
}

func (v *canvas) point(p Point) {
	x := v.atX(p.Set) + p.aside()*v.dodge
	for _, d := range p.Deviations {
		if d != nil {
			fmt.Fprintf(v, `<circle cx="%s" cy="%s" r="%s" %s/>`+"\n", short(x-v.dodge/3), short(v.atY(*d)), short(small), p.ink())
		}
	}
	v.mark(x+v.dodge/4, v.atY(*p.Mean), p)
}

// ink is an outline where a point was found and full where it was left.
func (p Point) ink() string {
	if p.Phase == AsLeft {
		return `fill="currentColor" stroke="currentColor"`
	}
	return `fill="none" stroke="currentColor"`
}

// mark draws a mean: a triangle that points up clockwise and down the other way, a
// square without a direction.
func (v *canvas) mark(x, y float64, p Point) {
	corners := [][2]float64{{-large, large * 0.8}, {large, large * 0.8}, {0, -large}}
	switch p.Direction {
	case Counterclockwise:
		corners = [][2]float64{{-large, -large * 0.8}, {large, -large * 0.8}, {0, large}}
	case NoDirection:
		corners = [][2]float64{{-large * 0.8, -large * 0.8}, {large * 0.8, -large * 0.8}, {large * 0.8, large * 0.8}, {-large * 0.8, large * 0.8}}
	}
	var d strings.Builder
	for i, c := range corners {
		d.WriteString(string("ML"[min(i, 1)]) + short(x+c[0]) + " " + short(y+c[1]))
	}
	fmt.Fprintf(v, `<path d="%sZ" %s/>`+"\n", d.String(), p.ink())
}

// legend says in words what each mark and line is, two to a line.
func (v *canvas) legend(points []Point, limits, guarded bool) {
	n := 0
	at := func(words string, draw func(x, y float64)) {
		x, y := 12+float64(n%2)*174, float64(bottom+45+n/2*legendLine)
		draw(x, y-4)
		v.text(x+16, y, "start", v.say(words))
		n++
	}
	for _, phase := range []Phase{AsFound, AsLeft} {
		for _, direction := range []Direction{NoDirection, Clockwise, Counterclockwise} {
			for _, p := range points {
				if p.Phase == phase && p.Direction == direction {
					at(strings.TrimSpace(string(phase)+" "+string(direction)), func(x, y float64) { v.mark(x, y, p) })
					break
				}
			}
		}
	}
	at("one reading", func(x, y float64) {
		fmt.Fprintf(v, `<circle cx="%s" cy="%s" r="%s" stroke="currentColor"/>`+"\n", short(x), short(y), short(small))
	})
	if limits {
		at("limit", func(x, y float64) { v.line(x-10, y, x+10, y, limitStroke) })
	}
	if guarded {
		at("limit less uncertainty", func(x, y float64) { v.line(x-10, y, x+10, y, guardedStroke) })
	}
}

// short writes a length with at most two decimals.
func short(x float64) string {
	s := strconv.FormatFloat(x, 'f', 2, 64)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}
