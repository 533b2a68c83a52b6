package chart

import (
	"fmt"
	"html"
	"io"
	"strings"
)

// Head names the columns of Rows.
func (c Calibration) Head() []string {
	return []string{"Phase", "Direction", "Set, " + c.Unit, "Deviation of each reading", "Mean", "Limit, either way", "Limit less uncertainty", "Decision", "In words"}
}

// Rows are the figures of the chart as texts, a row a point, in the order given.
func (c Calibration) Rows() (rows [][]string) {
	for _, p := range c.Points {
		var each []string
		for _, d := range p.Deviations {
			each = append(each, percent(d))
		}
		rows = append(rows, []string{string(p.Phase), string(p.Direction), figure(p.Set), strings.Join(each, ", "), percent(p.Mean),
			percent(p.Limit), percent(p.Guarded), p.Decision, p.Words})
	}
	return rows
}

// Table writes the figures of the chart as an HTML table, whose cells name their
// columns for a narrow screen, on which it becomes a list.
func (c Calibration) Table(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "<table class=\"rows\">\n<caption>%s</caption>\n<thead><tr>", html.EscapeString(c.Title))
	for _, name := range c.Head() {
		fmt.Fprintf(&b, `<th scope="col">%s</th>`, html.EscapeString(name))
	}
	b.WriteString("</tr></thead>\n<tbody>\n")
	for _, row := range c.Rows() {
		b.WriteString("<tr>")
		for i, cell := range row {
			fmt.Fprintf(&b, `<td data-label="%s">%s</td>`, html.EscapeString(c.Head()[i]), html.EscapeString(cell))
		}
		b.WriteString("</tr>\n")
	}
	b.WriteString("</tbody>\n</table>\n")
	_, err := io.WriteString(w, b.String())
	return err
}
