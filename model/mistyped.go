package model

import (
	"strconv"

	"pawl/model/calibration"
)

// farApart is how many times its smallest reading the largest of one point is, from where on
// it is asked whether a reading was split in two.
const farApart = 2

// mistyped asks about what is often mistyped in a comparison and cannot be told from a true
// one: it is kept as entered, and nothing that follows from it is left out.
func (c *comparing) mistyped(m *measured, shown calibration.Shown) (out []string) {
	takeBack := "pawl " + map[bool]string{false: "calibrate", true: "bench"}[c.row.Bench] + " withdraw " + c.tool.Number.String() + " " + c.row.ID + " --why …"
	for _, p := range shown.Points {
		var low, high float64
		for i, r := range p.Readings {
			v, err := strconv.ParseFloat(r.Value, 64)
			if err != nil || !(v > 0) {
				low, high = 0, 0
				break
			}
			if low = min(low, v); i == 0 {
				low = v
			}
			high = max(high, v)
		}
		if low > 0 && high >= farApart*low {
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
