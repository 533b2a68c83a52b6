package calibration

import (
	"slices"
	"strings"

	"pawl/model/fault"
	"pawl/model/units"
)

// Figure is a statement with where it comes from.
type Figure struct {
	Text   string
	Source Source
}

// Preset is what is usually asked of one sort of tool. It never replaces the paper
// that came with a tool.
type Preset struct {
	Name       string
	Title      string
	Instrument Instrument
	Class      Class
	Electronic bool
	Units      []units.Unit // usual ones, the first the most usual
	Limits     []LimitChoice
	Graded     bool   // takes the grade or class on the dial: NAME:GRADE
	Ask        string // what to look for on the tool's own paper, where no limit is known here
	Months     int
	Cycles     int64
	Interval   Source
	Sequence   []Figure // how it is compared
}

// LimitChoice is a limit for tools up to a size.
type LimitChoice struct {
	UpTo   units.Quantity // the scale's high end at most this; none: any
	Limit  string         // as ParseLimit reads it
	Source Source
}

// Given is what is known of one tool when a preset is applied.
type Given struct {
	Unit        units.Unit
	Scale       Scale // in Unit
	Second      *Scale
	Resolution  units.Quantity
	Grade       string
	Directions  []Direction
	Limit       Limit // in place of the preset's; its source then has to say where it was read
	LimitSource Source
	GripToDrive units.Quantity
}

// FindPreset gives a preset by name; for gauges the grade on the dial may follow
// after a colon: "pressure-gauge:B", "pressure-gauge:1.6". An unknown one is
// fault.Invalid.
func FindPreset(name string) (p Preset, grade string, err error) {
	bare, grade, _ := strings.Cut(strings.ToLower(strings.TrimSpace(name)), ":")
	for _, p := range presets {
		if p.Name == bare {
			if grade != "" && !p.Graded {
				return Preset{}, "", fault.New(fault.Invalid, "preset %s takes no grade", p.Name).WithHint("leave out %q", ":"+fault.Clip(grade))
			}
			return p, strings.ToUpper(grade), nil
		}
	}
	var names []string
	for _, p := range presets {
		names = append(names, p.Name)
	}
	return Preset{}, "", fault.New(fault.Invalid, "%q is not a preset", fault.Clip(name)).WithHint("one of %s", strings.Join(names, ", "))
}

// Presets lists them all.
func Presets() []Preset { return presets[:len(presets):len(presets)] }

// Requirement applies the preset to a tool. Where the preset knows no limit for it,
// and none is given, that is fault.Invalid and says what to look for.
func (p Preset) Requirement(g Given) (Requirement, error) {
	q := Requirement{
		Preset: p.Name, Instrument: p.Instrument, Class: p.Class, Electronic: p.Electronic,
		Unit: g.Unit, Scale: g.Scale, Second: g.Second, Resolution: g.Resolution, Directions: g.Directions,
		Limit: g.Limit, LimitSource: g.LimitSource, Months: p.Months, Cycles: p.Cycles, IntervalSource: p.Interval, GripToDrive: g.GripToDrive,
	}
	if len(q.Directions) == 0 && p.Instrument.Turns() {
		q.Directions = []Direction{Clockwise, Counterclockwise}
	}
	if q.Limit.IsZero() {
		if err := q.checkInstrument(); err != nil {
			return Requirement{}, err
		}
		var err error
		if q.Limit, q.LimitSource, err = p.limit(g); err != nil {
			return Requirement{}, err
		}
	}
	return q, q.Check()
}

func (p Preset) limit(g Given) (Limit, Source, error) {
	if p.Graded {
		return gradeLimit(p, g.Grade)
	}
	for _, c := range p.Limits {
		if !c.UpTo.IsZero() {
			if order, err := g.Scale.High.Compare(c.UpTo); err != nil {
				return Limit{}, Source{}, err
			} else if order > 0 {
				continue
			}
		}
		l, err := ParseLimit(c.Limit)
		return l, c.Source, err
	}
	return Limit{}, Source{}, fault.New(fault.Invalid, "no limit is known here for this %s", p.Title).WithHint("%s; give it with where it was read", p.Ask)
}

// gauges are the grades of ASME B40.100 in percent of span: lower quarter, middle
// half, upper quarter.
var gauges = map[string]LimitChoice{
	"4A": {Limit: "0.1 % of span", Source: fromMemory("ASME B40.100, grade 4A")},
	"3A": {Limit: "0.25 % of span", Source: fromMemory("ASME B40.100, grade 3A")},
	"2A": {Limit: "0.5 % of span", Source: fromMemory("ASME B40.100, grade 2A")},
	"1A": {Limit: "1 % of span", Source: fromMemory("ASME B40.100, grade 1A")},
	"A":  {Limit: "2/1/2 % of span", Source: seen("ASME B40.100, grade A, as a gauge maker's and an instrument seller's pages give it")},
	"B":  {Limit: "3/2/3 % of span", Source: fromMemory("ASME B40.100, grade B")},
	"C":  {Limit: "4/3/4 % of span", Source: fromMemory("ASME B40.100, grade C")},
	"D":  {Limit: "5 % of span", Source: fromMemory("ASME B40.100, grade D")},
}

// gradeLimit reads a grade of ASME B40.100 (a letter) or a class of EN 837-1 (a
// number: percent of span over the whole scale, any number that a dial bears).
func gradeLimit(p Preset, grade string) (Limit, Source, error) {
	if c, ok := gauges[grade]; ok {
		l, err := ParseLimit(c.Limit)
		return l, c.Source, err
	}
	number := strings.TrimSpace(strings.TrimPrefix(strings.TrimPrefix(grade, "EN"), "CL"))
	if d, err := ParseDecimal(number); err == nil && d.Float() > 0 && d.Float() <= 10 {
		l, err := ParseLimit(string(d) + " % of span")
		return l, seen("EN 837-1: the class on the dial is percent of span, as a gauge maker's class guide gives it"), err
	}
	if grade == "" {
		return Limit{}, Source{}, fault.New(fault.Invalid, "a %s needs the grade or class on its dial", p.Title).WithHint("write %s:B for grade B, %s:1.6 for class 1.6, or give the limit", p.Name, p.Name)
	}
	return Limit{}, Source{}, fault.New(fault.Invalid, "%q is not a grade of a gauge", fault.Clip(grade)).WithHint("4A, 3A, 2A, 1A, A, B, C, D, or the class number on the dial, such as 1.6")
}

func seen(where string) Source       { return Source{Seen, where} }
func fromMemory(where string) Source { return Source{FromMemory, where} }

var (
	handToolInterval = seen("12 months or 5000 cycles, whichever is first: ISO 6789:2003 as a torque-tool maker's note on intervals gives it; the shop's own documented interval takes precedence")
	yearly           = Source{CommonPractice, "12 months: common practice, no source; the shop's own documented interval takes precedence"}
)

// readings is how many readings a point takes: 5, and 10 for tools without a scale
// (ISO 6789-1:2017 6, from memory); 0 for other instruments.
func (c Class) readings() int {
	switch {
	case c == NoClass:
		return 0
	case c.NonGraduated():
		return 10
	}
	return 5
}

// ReadingsPerPoint is how many readings a point of the tool usually takes.
func (q Requirement) ReadingsPerPoint() int {
	return max(q.Class.readings(), 1)
}

// graduated are the classes whose range begins at the lowest mark, and which are
// compared from there: ISO 6789-1:2017 5.1.3, as a torque-tool maker's articles
// give it.
var graduated = map[Class]bool{
	BeamWrench: true, DialWrench: true, DialScrewdriver: true, SettingWrench: true, SettingScrewdriver: true, FlexionBarSettingWrench: true,
}

// Points gives the values, in the tool's unit, at which it is usually compared.
// Hand torque tools: a fifth (or the lowest mark), three fifths and the whole of
// the maximum, rising (ISO 6789-1, as a setting wrench's manual gives it). Others:
// the two ends of the scale and the quarters between (the project's choice).
func (q Requirement) Points() []float64 {
	low, high, err := q.Scale.ends(q.Unit)
	switch {
	case err != nil:
		return nil
	case low == high:
		return []float64{low}
	case q.Class == NoClass && !q.Instrument.Turns():
		span := high - low
		return []float64{low, low + span/4, low + span/2, low + 3*span/4, high}
	}
	first := 0.2 * high
	if graduated[q.Class] && low > 0 || low > first {
		first = low
	}
	return []float64{first, q.mark(0.6 * high), high}
}

// mark gives the graduation nearest to a value.
func (q Requirement) mark(x float64) float64 {
	if q.Scale.Graduation.IsZero() {
		return x
	}
	step := Decimal(q.Scale.Graduation.Value).Float()
	return decimalOf(float64(int64(x/step+0.5)) * step).Float()
}

// AskedFor says whether a kind of tool, by its name, is one that a value in a unit is
// asked of; of a torque those that apply it, not those that only measure it.
func AskedFor(kind string, u units.Unit) bool {
	kind = strings.ToLower(kind)
	return slices.ContainsFunc(Presets(), func(p Preset) bool {
		return p.Instrument != TorqueTester && strings.Contains(kind, string(p.Instrument)) &&
			slices.ContainsFunc(p.Units, func(have units.Unit) bool { return have.Dimension() == u.Dimension() })
	})
}
