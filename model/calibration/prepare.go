package calibration

import (
	"math"
	"math/big"
	"strconv"
	"strings"

	"pawl/model/fault"
	"pawl/model/register"
	"pawl/model/units"
)

// Prepared is one tool's facts made ready for many questions: what is typed as
// decimal text is read once. It may be asked by several callers at once.
type Prepared struct {
	facts   Facts
	refused error
	scales  []marked // the tool's own first
	bound   Bound
	bounded bool
	noun    string
}

// marked is one scale of a tool, in its own unit.
type marked struct {
	unit      units.Unit
	low, high float64
	step      float64 // 0 = no graduation
	decimals  int
	toTool    linear
}

// linear turns a value of one unit into another.
type linear struct{ factor, offset float64 }

func (l linear) do(v float64) float64   { return v*l.factor + l.offset }
func (l linear) undo(v float64) float64 { return (v - l.offset) / l.factor }

func between(from, to units.Unit) (linear, error) {
	zero, err := units.Quantity{Value: "0", Unit: from}.In(to)
	if err != nil {
		return linear{}, err
	}
	one, err := units.Quantity{Value: "1", Unit: from}.In(to)
	if err != nil {
		return linear{}, err
	}
	offset, _ := zero.Float64()
	factor, _ := new(big.Rat).Sub(one, zero).Float64()
	return linear{factor, offset}, nil
}

// conversions remembers the conversions that one question needs: many tools share
// them.
type conversions map[[2]units.Unit]linear

func (c conversions) between(from, to units.Unit) (linear, error) {
	if from == to {
		return linear{factor: 1}, nil
	}
	key := [2]units.Unit{from, to}
	if l, ok := c[key]; ok {
		return l, nil
	}
	l, err := between(from, to)
	if err == nil {
		c[key] = l
	}
	return l, err
}

// in gives a value in a unit.
func (c conversions) in(q units.Quantity, to units.Unit) (float64, error) {
	v, err := strconv.ParseFloat(q.Value, 64)
	if err != nil || strings.Trim(q.Value, "-.0123456789") != "" {
		return amountIn(q, to)
	}
	l, err := c.between(q.Unit, to)
	return l.do(v), err
}

// Answers refuses the kinds of tools for which a readiness question is never
// answered: lifts, jacks, stands, slings, hoists and gloves. An inspection date is
// not permission to stand under a load or to touch a voltage.
func Answers(kind string) error {
	if !register.Bears(kind) {
		return nil
	}
	return fault.New(fault.Refused, "whether %s will hold is never answered here", oneOf(strings.ToLower(strings.TrimSpace(kind)))).
		WithHint("its inspection, its rated load and its maker's instructions decide; look at it before each use")
}

// oneOf puts an article before a kind of tool; gloves and stands need none.
func oneOf(kind string) string {
	switch {
	case strings.HasSuffix(kind, "s") && !strings.HasSuffix(kind, "ss"):
		return kind
	case kind != "" && strings.ContainsRune("aeiou", rune(kind[0])):
		return "an " + kind
	}
	return "a " + kind
}

// Prepare makes a tool's facts ready. It never fails: what cannot be read is kept as
// a reason against the tool.
func Prepare(f Facts) Prepared {
	conv := conversions{}
	p := Prepared{facts: f, refused: Answers(f.Kind), noun: "tool"}
	r := f.Requirement
	if r == nil {
		return p
	}
	p.noun = r.noun()
	for _, s := range []*Scale{&r.Scale, r.Second} {
		if s == nil {
			continue
		}
		m, err := mark(*s, *r, conv)
		if err != nil {
			p.facts.Unreadable = append(p.facts.Unreadable[:len(p.facts.Unreadable):len(p.facts.Unreadable)], "its scale "+s.String())
			continue
		}
		p.scales = append(p.scales, m)
	}
	if b, err := r.Limit.Bind(r.Scale, r.Unit); err == nil {
		p.bound, p.bounded = b, true
	}
	return p
}

func mark(s Scale, r Requirement, conv conversions) (marked, error) {
	m := marked{unit: s.Low.Unit, decimals: max(s.Low.Decimals(), s.Graduation.Decimals())}
	var err error
	if m.low, err = conv.in(s.Low, m.unit); err != nil {
		return marked{}, err
	}
	if m.high, err = conv.in(s.High, m.unit); err != nil || m.low > m.high {
		return marked{}, fault.New(fault.Invalid, "the scale %s does not rise", s)
	}
	if m.toTool, err = conv.between(m.unit, r.Unit); err != nil {
		return marked{}, err
	}
	step := s.Graduation
	if step.IsZero() && !r.fixed() {
		step = r.Resolution
	}
	if !step.IsZero() {
		if m.step, err = conv.in(step, m.unit); err != nil {
			return marked{}, err
		}
		m.decimals = max(m.decimals, step.Decimals())
	}
	if !(m.step >= 0) || math.IsInf(m.step, 1) {
		return marked{}, fault.New(fault.Invalid, "a graduation of %s is no step", step)
	}
	return m, nil
}

// noun is the word for the tool in sentences.
func (r Requirement) noun() string {
	words := strings.Fields(string(r.Instrument))
	if len(words) == 0 || r.Instrument == OtherInstrument {
		return "tool"
	}
	return words[len(words)-1]
}

// fixed says whether the tool has one value, or no scale that it could be set by.
func (r Requirement) fixed() bool { return r.Class.OneValue() || r.Class.NonGraduated() }

// electronic tools have a zero and a battery.
func (r Requirement) electronic() bool {
	return r.Electronic || r.Class == ElectronicWrench || r.Class == ElectronicScrewdriver
}

// measures says whether the tool only measures: nothing is tightened with it.
func (r Requirement) measures() bool {
	return r.Instrument != TorqueWrench && r.Instrument != TorqueScrewdriver
}
