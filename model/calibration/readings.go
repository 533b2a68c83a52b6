package calibration

import (
	"slices"
	"strings"

	"pawl/model/fault"
	"pawl/model/units"
)

// maxText is the longest text of readings that is taken.
const maxText = 64 << 10

// ParseReadings reads points as people type them. LEFT=RIGHT: left is what the tool
// was set to or showed, right what the reference showed, both in the tool's unit,
// for every instrument. Commas separate; a token with an equals sign starts a
// point, one without is another reading of it; a direction may stand before a point:
//
//	40=40.4, 40.6, 120=110.0
//	cw:40=39.7,39.8,ccw:40=39.5
//
// Points without a direction are in d. A value may carry the tool's unit and no
// other. A percent, a point without readings, a point that is there twice, or a
// point without direction after one that has one is fault.Invalid.
func ParseReadings(text string, unit units.Unit, d Direction) ([]Point, error) {
	if len(text) > maxText {
		return nil, fault.New(fault.Invalid, "the readings are longer than %d bytes", maxText).WithHint("use a CSV file")
	}
	p := readingParser{unit: unit, direction: d}
	for token := range strings.SplitSeq(text, ",") {
		if err := p.token(strings.TrimSpace(token)); err != nil {
			return nil, err
		}
	}
	return p.points, nil
}

type readingParser struct {
	unit      units.Unit
	direction Direction
	named     bool // a point named its direction
	points    []Point
}

func (p *readingParser) token(token string) error {
	left, right, starts := strings.Cut(token, "=")
	if !starts {
		if len(p.points) == 0 {
			return fault.New(fault.Invalid, "%q belongs to no point", fault.Clip(token)).WithHint("start with a point, such as 40=39.7")
		}
		reading, err := p.value(token)
		if err != nil {
			return err
		}
		last := &p.points[len(p.points)-1]
		last.Readings = append(last.Readings, reading)
		return tooMany(len(last.Readings), maxReadings, "readings of one point")
	}
	return p.point(left, right)
}

func (p *readingParser) point(left, right string) error {
	direction := p.direction
	if name, rest, has := strings.Cut(left, ":"); has {
		d, err := ParseDirection(name)
		if err != nil {
			return err
		}
		direction, left, p.named = d, rest, true
	} else if p.named {
		return fault.New(fault.Invalid, "the point %s has no direction, and the one before it has", fault.Clip(strings.TrimSpace(left))).WithHint("write cw: or ccw: before each point")
	}
	set, err := p.value(left)
	if err != nil {
		return err
	}
	reading, err := p.value(right)
	if err != nil {
		return err
	}
	if i := find(p.points, direction, set); i >= 0 {
		return fault.New(fault.Invalid, "the point %s%s is there twice", prefix(direction), set).WithHint("put its readings behind one another: %s=39.7,39.8", set)
	}
	p.points = append(p.points, Point{Direction: direction, Set: set, Readings: []Decimal{reading}})
	return tooMany(len(p.points), maxPoints, "points")
}

func find(points []Point, d Direction, set Decimal) int {
	return slices.IndexFunc(points, func(p Point) bool { return p.Direction == d && p.Set.Float() == set.Float() })
}

func tooMany(n, most int, what string) error {
	if n > most {
		return fault.New(fault.Invalid, "more than %d %s", most, what).WithHint("leave some out")
	}
	return nil
}

// value reads one decimal, with the tool's unit or none.
func (p *readingParser) value(s string) (Decimal, error) {
	s = strings.TrimSpace(s)
	d, err := ParseDecimal(s)
	if err == nil {
		return d, nil
	}
	q, other := units.ParseQuantity(s)
	switch {
	case other != nil:
		return "", err
	case q.Unit != p.unit:
		return "", fault.New(fault.Invalid, "%s is not in %s, the tool's unit", q, p.unit).WithHint("give readings in the tool's own unit, as the reference showed them")
	}
	return ParseDecimal(q.Value)
}

// FormatReadings writes points as ParseReadings reads them.
func FormatReadings(points []Point) string {
	var tokens []string
	for _, p := range points {
		for i, r := range p.Readings {
			if i == 0 {
				tokens = append(tokens, prefix(p.Direction)+string(p.Set)+"="+string(r))
			} else {
				tokens = append(tokens, string(r))
			}
		}
	}
	return strings.Join(tokens, ",")
}

// Meaning says what a percent on a paper is of. Papers differ, and a sign turned
// round calls a wrench that applies too little one that applies too much.
type Meaning string

const (
	SetLessDeliveredOfDelivered Meaning = "(set - delivered)/delivered" // ISO 6789-2:2017 5.1
	SetLessDeliveredOfSet       Meaning = "(set - delivered)/set"
	DeliveredLessSetOfSet       Meaning = "(delivered - set)/set"
	DeliveredLessSetOfDelivered Meaning = "(delivered - set)/delivered"
)

// ParseMeaning reads one of the meanings, with any spaces and either minus sign.
func ParseMeaning(s string) (Meaning, error) {
	bare := func(s string) string { return strings.ToLower(strings.NewReplacer(" ", "", "−", "-").Replace(s)) }
	for _, m := range []Meaning{SetLessDeliveredOfDelivered, SetLessDeliveredOfSet, DeliveredLessSetOfSet, DeliveredLessSetOfDelivered} {
		if bare(s) == bare(string(m)) {
			return m, nil
		}
	}
	return "", fault.New(fault.Invalid, "%q does not say what a percent is of", fault.Clip(s)).
		WithHint("one of %s, %s, %s, %s", SetLessDeliveredOfDelivered, SetLessDeliveredOfSet, DeliveredLessSetOfSet, DeliveredLessSetOfDelivered)
}

// FromPercent gives the reading behind a percent whose meaning the paper names,
// with at most ten decimals. A percent that leaves no reading is fault.Invalid.
func FromPercent(set, percent Decimal, m Meaning) (Decimal, error) {
	if !set.valid() || !percent.valid() {
		return "", fault.New(fault.Invalid, "%q at %q is not a percent at a value", fault.Clip(string(percent)), fault.Clip(string(set))).WithHint("write both as plain decimals, such as -2.5 at 40")
	}
	x, p := set.Float(), percent.Float()/100
	if p <= -1 || p >= 1 {
		return "", fault.New(fault.Invalid, "%s %% is no deviation", percent).WithHint("check the decimal point")
	}
	switch m {
	case SetLessDeliveredOfDelivered:
		x /= 1 + p
	case SetLessDeliveredOfSet:
		x *= 1 - p
	case DeliveredLessSetOfSet:
		x *= 1 + p
	case DeliveredLessSetOfDelivered:
		x /= 1 - p
	default:
		_, err := ParseMeaning(string(m))
		return "", err
	}
	return ParseDecimal(string(decimalOf(x)))
}
