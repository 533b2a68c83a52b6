package model

import "pawl/model/calibration"

// mistyped asks about what is often mistyped in a comparison and cannot be told from a true
// one: it is kept as entered, and nothing that follows from it is left out.
func (c *comparing) mistyped(m *measured, shown calibration.Shown) (out []string) {
	takeBack := "pawl " + map[bool]string{false: "calibrate", true: "bench"}[c.row.Bench] + " withdraw " + c.tool.Number.String() + " " + c.row.ID + " --why …"
	for _, p := range shown.Points {
		if p.FarApart() {
			out = append(out, "The readings at "+p.Set.Words()+" lie far apart. Commas separate readings: if a decimal comma split one, or a = was forgotten, take this back and enter it with decimal points: "+takeBack)
			break
		}
	}
	for _, k := range m.results[c.tool.ID] {
		if k.ID != c.row.ID && k.row.Bench == c.row.Bench && k.row.OnDay == c.row.OnDay && k.result.Number != "" && k.result.Number == c.result.Number {
			out = append(out, "Paper "+c.result.Number+" of that day is on record already, as "+k.ID+". Both count, and where they differ the worse one decides. If this is the same one again, take one of them back: "+takeBack)
			break
		}
	}
	return out
}
