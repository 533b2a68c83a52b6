package chart

import (
	"fmt"
	"html"
	"io"
	"strings"

	"pawl/model/fault"
)

// Bar is one amount among others, with what it is said to be.
type Bar struct {
	Label string
	Size  float64 // 0 or more; bars of one chart share its unit
	Words string  // the amount as text
	More  string  // what the bar does not show; may be empty
}

// Bars compares amounts, each a bar with its words.
type Bars struct {
	Title string
	Heads [3]string // of the table: what, how much, and what is not shown
	Bars  []Bar
}

const (
	barTop    = 24 // under the title
	barPitch  = 34
	barHeight = 10
	barWidth  = width - 8
)

// SVG draws the bars one under the other, each under its label and its words.
func (c Bars) SVG(w io.Writer) error {
	most := 0.0
	for _, b := range c.Bars {
		if b.Size < 0 {
			return fault.At("#/bars", "%s is %v: below 0", b.Label, b.Size)
		}
		most = max(most, b.Size)
	}
	if len(c.Bars) == 0 || most == 0 {
		return fault.New(fault.NotFound, "there is nothing to draw")
	}
	v := canvas{}
	fmt.Fprintf(&v, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" role="img" font-family="sans-serif" font-size="%d" fill="currentColor" stroke="none">`+"\n",
		width, barTop+barPitch*len(c.Bars)+4, letters)
	fmt.Fprintf(&v, "<title>%s</title>\n<desc>%s</desc>\n", html.EscapeString(c.Title), html.EscapeString(c.said()))
	v.text(4, 12, "start", c.Title)
	for i, b := range c.Bars {
		y := float64(barTop + barPitch*i)
		v.text(4, y+letters, "start", shortened(b.Label, 34))
		v.text(width-4, y+letters, "end", b.Words)
		fmt.Fprintf(&v, `<rect x="4" y="%s" width="%s" height="%d"/>`+"\n", short(y+letters+5), short(barWidth*b.Size/most), barHeight)
		v.line(4, y+letters+5+barHeight, width-4, y+letters+5+barHeight, `stroke-width="0.6"`)
	}
	v.WriteString("</svg>\n")
	_, err := io.WriteString(w, v.String())
	return err
}

// said is what the chart shows, for who does not see it.
func (c Bars) said() string {
	all := make([]string, len(c.Bars))
	for i, b := range c.Bars {
		all[i] = b.Label + ": " + b.Words
	}
	return strings.Join(all, "; ")
}

func shortened(s string, most int) string {
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}

// Table writes the same figures as an HTML table.
func (c Bars) Table(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "<table class=\"rows\">\n<caption>%s</caption>\n<thead><tr>", html.EscapeString(c.Title))
	for _, name := range c.Heads {
		fmt.Fprintf(&b, `<th scope="col">%s</th>`, html.EscapeString(name))
	}
	b.WriteString("</tr></thead>\n<tbody>\n")
	for _, bar := range c.Bars {
		b.WriteString("<tr>")
		for i, cell := range []string{bar.Label, bar.Words, bar.More} {
			fmt.Fprintf(&b, `<td data-label="%s">%s</td>`, html.EscapeString(c.Heads[i]), html.EscapeString(cell))
		}
		b.WriteString("</tr>\n")
	}
	b.WriteString("</tbody>\n</table>\n")
	_, err := io.WriteString(w, b.String())
	return err
}
