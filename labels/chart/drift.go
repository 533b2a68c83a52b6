package chart

import (
	"fmt"
	"html"
	"io"
	"math"
	"strings"

	"pawl/model/calibration/intervals"
	"pawl/model/fault"
)

// Drift is the chart of what a tool showed over time, a panel for each point: how it
// was found and left, where it was adjusted, the limits, the line through the drift and
// how far it is to be trusted. Figures are those of the advice on intervals.
type Drift struct {
	Title  string
	Points []intervals.Drift
}

// Lengths of a panel, from its own top.
const (
	panelHeight         = 184
	panelTop, panelFoot = 24, 154 // of its plot
	headRoom            = 36      // for the title, above the first
	lineStroke          = `stroke-width="1.2"`
	boundStroke         = `stroke-width="1.2" stroke-dasharray="1.5 2.5"`
	adjustStroke        = `stroke-width="0.8" stroke-dasharray="7 2 1 2"`
)

// panel is one point's plot on its way into the document.
type panel struct {
	*canvas
	of   intervals.Drift
	top  float64
	span float64 // months
	up   axis
}

func (p panel) x(months float64) float64 { return left + 8 + (right-left-16)*months/p.span }

func (p panel) y(percent float64) float64 {
	return p.top + panelFoot - (panelFoot-panelTop)*(percent-p.up.low)/(p.up.high-p.up.low)
}

// SVG draws the chart.
func (d Drift) SVG(w io.Writer) error {
	points := d.drawn()
	if len(points) == 0 {
		return fault.New(fault.Conflict, "no point was compared twice, so there is no drift to draw").WithHint("enter a second calibration with readings")
	}
	v := &canvas{}
	high := headRoom + panelHeight*len(points) + 4*legendLine + 8
	fmt.Fprintf(v, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" role="img" font-family="sans-serif" font-size="%d" fill="currentColor" stroke="none">`+"\n",
		width, high, letters)
	fmt.Fprintf(v, "<title>%s</title>\n<desc>%s</desc>\n", html.EscapeString(d.Title), html.EscapeString(said(points)))
	v.heading(d.Title)
	for i, of := range points {
		p := panel{canvas: v, of: of, top: headRoom + float64(panelHeight*i)}
		p.draw()
	}
	v.driftLegend(float64(high - 4*legendLine - 2))
	v.WriteString("</svg>\n")
	_, err := io.WriteString(w, v.String())
	return err
}

// drawn are the points that were compared at two times at least.
func (d Drift) drawn() (out []intervals.Drift) {
	for _, p := range d.Points {
		if n := len(p.Marks); n > 1 && p.Marks[n-1].Months > 0 {
			out = append(out, p)
		}
	}
	return out
}

// PointName names a point: its set value and the direction.
func PointName(d intervals.Drift) string {
	return strings.TrimSpace(d.Set.Words() + " " + d.Direction.Words())
}

// said is what the chart shows, for who does not see it.
func said(points []intervals.Drift) string {
	var all []string
	for _, p := range points {
		all = append(all, PointName(p)+": "+p.Words)
	}
	return strings.Join(all, ". ")
}

func (p *panel) draw() {
	p.span, p.up = p.reach()
	fmt.Fprintf(p.canvas, "<g aria-label=\"%s\">\n", html.EscapeString(PointName(p.of)))
	p.text(4, p.top+12, "start", PointName(p.of))
	p.text(right, p.top+12, "end", "↑ shows too much")
	p.axes()
	for _, sign := range []float64{1, -1} {
		p.level("limit", p.of.LimitPercent, sign, limitStroke)
		p.level("guarded", p.of.GuardedPercent, sign, guardedStroke)
	}
	for _, s := range p.of.Pieces {
		p.path("line", lineStroke, [][2]float64{{s.FromMonths, *s.FromPercent}, {s.ToMonths, *s.ToPercent}})
	}
	var line, low, high [][2]float64
	for _, a := range p.of.Band {
		line, low, high = append(line, [2]float64{a.Months, *a.Line}), append(low, [2]float64{a.Months, *a.Low}), append(high, [2]float64{a.Months, *a.High})
	}
	p.path("line", lineStroke, line)
	p.path("bound", boundStroke, low)
	p.path("bound", boundStroke, high)
	for i, m := range p.of.Marks {
		p.compared(m, i == 0)
	}
	p.WriteString("</g>\n")
}

// reach is how many months the panel covers, and its axis of percents. A bound that
// runs far past the limit is cut at twice the limit, so that the rest stays readable.
func (p *panel) reach() (months float64, up axis) {
	months = p.of.Marks[len(p.of.Marks)-1].Months
	seen, far := 0.0, 0.0
	for _, m := range p.of.Marks {
		for _, v := range []*float64{m.Found, m.Left} {
			if v != nil {
				seen = math.Max(seen, math.Abs(*v))
			}
		}
	}
	if p.of.LimitPercent != nil {
		seen = math.Max(seen, *p.of.LimitPercent)
	}
	for _, a := range p.of.Band {
		months = math.Max(months, a.Months)
		far = math.Max(far, math.Max(math.Abs(*a.Low), math.Abs(*a.High)))
	}
	most := math.Max(seen, math.Min(far, 2*seen))
	if most == 0 {
		most = 1
	}
	return months, axisOf(-1.05*most, 1.05*most, 6)
}

// steps between the dates under a panel, in months.
var steps = []float64{1, 2, 3, 6, 12, 24, 36, 60, 120, 240}

func (p *panel) axes() {
	for _, t := range p.up.ticks() {
		stroke := `stroke-width="0.4" stroke-opacity="0.4"`
		if math.Abs(t) < p.up.step/2 {
			stroke = `stroke-width="0.8"`
		}
		p.line(left, p.y(t), right, p.y(t), stroke)
		p.text(left-4, p.y(t)+4, "end", p.up.label(t)+" %")
	}
	step := steps[len(steps)-1]
	for i := len(steps) - 1; i >= 0 && p.span/steps[i] <= 5; i-- {
		step = steps[i]
	}
	for n := 0; float64(n)*step <= p.span; n++ {
		day := p.of.From.AddMonths(n * int(step))
		x := p.x(intervals.MonthsBetween(p.of.From, day))
		if x > right {
			break
		}
		p.line(x, p.top+panelFoot, x, p.top+panelFoot+4, `stroke-width="0.8"`)
		p.text(math.Min(math.Max(x, left+16), right-18), p.top+panelFoot+15, "middle", string(day)[:7])
	}
	p.line(left, p.top+panelFoot, right, p.top+panelFoot, `stroke-width="0.8"`)
}

func (p *panel) level(class string, percent *float64, sign float64, stroke string) {
	if percent != nil {
		p.path(class, stroke, [][2]float64{{0, sign * *percent}, {p.span, sign * *percent}})
	}
}

// path draws a line through figures; what lies beyond the axis is cut at its end.
func (p *panel) path(class, stroke string, through [][2]float64) {
	if len(through) == 0 {
		return
	}
	var d strings.Builder
	pen := byte('M')
	for i, at := range through {
		if i > 0 {
			if cut, crosses := p.up.cut(through[i-1], at); crosses {
				fmt.Fprintf(&d, "%c%s %s", pen, short(p.x(cut[0])), short(p.y(cut[1])))
				pen = 'L'
			}
		}
		if at[1] < p.up.low || at[1] > p.up.high {
			pen = 'M'
			continue
		}
		fmt.Fprintf(&d, "%c%s %s", pen, short(p.x(at[0])), short(p.y(at[1])))
		pen = 'L'
	}
	if d.Len() > 0 {
		fmt.Fprintf(p.canvas, `<path class="%s" d="%s" fill="none" stroke="currentColor" %s/>`+"\n", class, d.String(), stroke)
	}
}

// cut is where a stretch crosses an end of the axis.
func (a axis) cut(from, to [2]float64) ([2]float64, bool) {
	for _, end := range []float64{a.low, a.high} {
		if (from[1] < end) != (to[1] < end) && from[1] != end && to[1] != end {
			f := (end - from[1]) / (to[1] - from[1])
			return [2]float64{from[0] + f*(to[0]-from[0]), end}, true
		}
	}
	return from, false
}

// compared draws one comparison: an open circle as found, a full square as left where
// that differs or is the first, and a broken line between them where it was adjusted.
func (p *panel) compared(m intervals.MarkShown, first bool) {
	if m.Found != nil {
		p.found(p.x(m.Months), p.y(*m.Found))
	}
	if m.Left == nil || !first && !m.Adjusted {
		return
	}
	if m.Found != nil {
		fmt.Fprintf(p.canvas, `<path class="adjusted" d="M%s %sL%s %s" fill="none" stroke="currentColor" %s/>`+"\n",
			short(p.x(m.Months)), short(p.y(*m.Found)), short(p.x(m.Months)), short(p.y(*m.Left)), adjustStroke)
	}
	p.leftMark(p.x(m.Months), p.y(*m.Left))
}

func (v *canvas) found(x, y float64) {
	fmt.Fprintf(v, `<circle class="as-found" cx="%s" cy="%s" r="%s" fill="none" stroke="currentColor" stroke-width="1.4"/>`+"\n", short(x), short(y), short(large-0.5))
}

func (v *canvas) leftMark(x, y float64) {
	fmt.Fprintf(v, `<rect class="as-left" x="%s" y="%s" width="6" height="6"/>`+"\n", short(x-3), short(y-3))
}

// driftLegend says in words what each mark and line is, two to a line.
func (v *canvas) driftLegend(top float64) {
	stroke := func(s string) func(x, y float64) {
		return func(x, y float64) { v.line(x-10, y, x+10, y, s) }
	}
	for n, of := range []struct {
		words string
		draw  func(x, y float64)
	}{
		{"as found", v.found}, {"as left", v.leftMark}, {"limit", stroke(limitStroke)}, {"limit less uncertainty", stroke(guardedStroke)},
		{"line of the drift", stroke(lineStroke)}, {"95 % bound, each side", stroke(boundStroke)}, {"adjusted", stroke(adjustStroke)},
	} {
		x, y := 12+float64(n%2)*174, top+float64(n/2*legendLine)+10
		of.draw(x, y-4)
		v.text(x+16, y, "start", of.words)
	}
}
