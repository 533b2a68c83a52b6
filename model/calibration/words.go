package calibration

import (
	"fmt"
	"math"
	"strings"

	"pawl/model/fault"
)

// ParseDirection reads a direction as people write it. Anything else is
// fault.Invalid.
func ParseDirection(s string) (Direction, error) {
	switch strings.ToLower(strings.TrimSpace(s)) {
	case "cw", "clockwise", "right":
		return Clockwise, nil
	case "ccw", "counterclockwise", "counter-clockwise", "anticlockwise", "left":
		return Counterclockwise, nil
	}
	return NoDirection, fault.New(fault.Invalid, "%q is not a direction", fault.Clip(s)).WithHint("cw (clockwise) or ccw (counterclockwise)")
}

// Echo says one reading in words, so that no bare sign is left to be understood:
// "set 120, delivered 110.0: 8.3 % LOW" for a torque tool, of what was set; for
// others "shows 260, reference 250: reads 4.0 % HIGH", of what the reference shows.
func Echo(q Requirement, set, reading Decimal) string {
	return echo(q, set, string(reading), reading.Float())
}

func echo(q Requirement, set Decimal, reading string, delivered float64) string {
	shown := set.Float()
	if q.Class != NoClass {
		verb := "set"
		if !q.Class.Sets() {
			verb = "showed"
		}
		return fmt.Sprintf("%s %s, delivered %s: %s", verb, set, reading, apart(delivered-shown, shown, q))
	}
	return fmt.Sprintf("shows %s, reference %s: reads %s", set, reading, apart(shown-delivered, delivered, q))
}

// apart says how far off and to which side: in percent of a base, or as an amount
// where the base is zero. Below zero HIGH and LOW would be read both ways (more
// vacuum, or a higher pressure), so the words there are others.
func apart(difference, base float64, q Requirement) string {
	if difference == 0 {
		return "the same"
	}
	side := "HIGH"
	switch {
	case base < 0 && difference < 0:
		side = "TOO FAR below zero"
	case base < 0:
		side = "NOT FAR ENOUGH below zero"
	case difference < 0:
		side = "LOW"
	}
	if base == 0 {
		return fmt.Sprintf("%s %s %s", decimalOf(math.Abs(difference)), q.Unit.Words(), side)
	}
	percent := fmt.Sprintf("%.1f %%", 100*math.Abs(difference/base))
	if percent == "0.0 %" {
		percent = "less than 0.1 %"
	}
	return percent + " " + side
}

// Words says one point: its mean, its worst reading, and whether it is within.
func (q Requirement) Words(p JudgedPoint) string {
	text := ""
	if p.Direction != NoDirection {
		text = p.Direction.Words() + ", "
	}
	if len(p.Readings) == 1 {
		text += echo(q, p.Set, string(p.Readings[0]), p.Delivered)
	} else {
		text += echo(q, p.Set, string(decimalOf(round(p.Delivered, decimals(p.Readings)+1)))+" on average of "+fmt.Sprint(len(p.Readings)), p.Delivered)
		text += "; worst: " + Echo(q, p.Set, p.worst())
	}
	if p.Within {
		return text + "; within " + q.Limit.Words()
	}
	return text + "; OUTSIDE " + q.Limit.Words()
}

// worst is the reading farthest from what was set.
func (p JudgedPoint) worst() Decimal {
	at := 0
	for i := range p.Errors {
		if math.Abs(p.Errors[i]) > math.Abs(p.Errors[at]) {
			at = i
		}
	}
	return p.Readings[at]
}

func decimals(readings []Decimal) int {
	most := 0
	for _, r := range readings {
		_, after, _ := strings.Cut(string(r), ".")
		most = max(most, len(after))
	}
	return most
}

func round(f float64, decimals int) float64 {
	scale := math.Pow(10, float64(min(decimals, 10)))
	return math.Round(f*scale) / scale
}
