package calibration

import (
	"math"
	"math/big"
	"strings"

	"pawl/model/fault"
	"pawl/model/units"
)

// Form is how one term of a limit grows with the value.
type Form string

const (
	OfReference Form = "% of reference" // of what the reference shows (ISO 6789-1:2017 5.1.5)
	OfIndicated Form = "% of indicated" // of what the tool shows or is set to
	OfSpan      Form = "% of span"      // of the whole scale, low end to high end
	Counts      Form = "counts"         // of the last digit
	Absolute    Form = "absolute"       // an amount
)

// Combine is how the terms of a limit make one half-width.
type Combine string

const (
	OneTerm  Combine = ""
	Sum      Combine = "sum"
	LargerOf Combine = "larger of"
)

// Term is one part of a limit: an amount with its form. Middle is set for a
// percent of span that is another one in the middle half of the scale. Step is the
// value of one count, and carries the unit of an absolute amount.
type Term struct {
	Form   Form
	Amount Decimal
	Middle Decimal        // OfSpan: the percent in the middle half; "" where it is the same all over
	Step   units.Quantity // Counts: one count
	Unit   units.Unit     // Absolute: its unit
}

// Rung is one step of a limit that goes by the value: its terms hold up to To,
// inclusive. The last rung has no To and holds above.
type Rung struct {
	Combine Combine
	Terms   []Term
	To      units.Quantity
}

// Limit is the largest error that a tool may show, the same to either side: one
// expression for every instrument. Its text is what ParseLimit reads:
//
//	4 % of reference
//	0.5 % of indicated + 2 counts of 0.01 V
//	larger of 2 °C and 2 % of indicated
//	3/2/3 % of span                          (lower quarter, middle half, upper quarter)
//	0.08 bar to 4 bar, 0.16 bar to 10 bar, 0.25 bar
//
// The zero value is none.
type Limit struct {
	Rungs []Rung
}

// IsZero says whether there is no limit.
func (l Limit) IsZero() bool { return len(l.Rungs) == 0 }

// Bound is a limit made ready for one scale: amounts in the scale's unit.
type Bound struct {
	rungs []boundRung
	low   float64
	span  float64
}

type boundRung struct {
	to     float64 // +Inf for the last
	larger bool
	terms  []boundTerm
}

type boundTerm struct {
	form   Form
	amount float64 // a percent, or an amount in the scale's unit
	middle float64 // a percent, in the middle half of the span
}

// Bind makes the limit ready for a scale in the unit. An amount in a unit of
// another dimension, a percent of span on a scale without one, or no limit at all
// is fault.Invalid.
func (l Limit) Bind(s Scale, unit units.Unit) (Bound, error) {
	if l.IsZero() {
		return Bound{}, fault.New(fault.Invalid, "there is no limit").WithHint("say how far off the tool may be, such as 4 %% of reference")
	}
	low, high, err := s.ends(unit)
	if err != nil {
		return Bound{}, err
	}
	b := Bound{low: low, span: high - low}
	for _, r := range l.Rungs {
		bound, err := r.bind(unit, b.span)
		if err != nil {
			return Bound{}, err
		}
		b.rungs = append(b.rungs, bound)
	}
	return b, nil
}

func (r Rung) bind(unit units.Unit, span float64) (boundRung, error) {
	out := boundRung{to: math.Inf(1), larger: r.Combine == LargerOf}
	if !r.To.IsZero() {
		to, err := amountIn(r.To, unit)
		if err != nil {
			return out, err
		}
		out.to = to
	}
	for _, t := range r.Terms {
		bound, err := t.bind(unit, span)
		if err != nil {
			return out, err
		}
		out.terms = append(out.terms, bound)
	}
	return out, nil
}

func (t Term) bind(unit units.Unit, span float64) (boundTerm, error) {
	out := boundTerm{form: t.Form, amount: t.Amount.Float(), middle: t.Amount.Float()}
	switch t.Form {
	case OfSpan:
		if span <= 0 {
			return out, fault.New(fault.Invalid, "a percent of span needs a scale with two ends").WithHint("give the range, such as 0..160")
		}
		if t.Middle != "" {
			out.middle = t.Middle.Float()
		}
	case Counts:
		step, err := differenceIn(t.Step, unit)
		if err != nil {
			return out, err
		}
		out.amount *= step
	case Absolute:
		amount, err := differenceIn(units.Quantity{Value: string(t.Amount), Unit: t.Unit}, unit)
		if err != nil {
			return out, err
		}
		out.amount = amount
	}
	return out, nil
}

// At gives the half-width, in the scale's unit, where the tool shows (or is set
// to) one value and the reference another. Which rung and which part of the span
// it is goes by the tool's value; the ends of the middle half belong to it.
func (b Bound) At(indicated, reference float64) float64 {
	r := b.rungs[len(b.rungs)-1]
	for _, candidate := range b.rungs {
		if atMost(indicated, candidate.to) {
			r = candidate
			break
		}
	}
	total := 0.0
	for _, t := range r.terms {
		amount := t.at(indicated, reference, b.low, b.span)
		if r.larger {
			total = math.Max(total, amount)
		} else {
			total += amount
		}
	}
	return total
}

func (t boundTerm) at(indicated, reference, low, span float64) float64 {
	switch t.form {
	case OfReference:
		return t.amount / 100 * math.Abs(reference)
	case OfIndicated:
		return t.amount / 100 * math.Abs(indicated)
	case OfSpan:
		f := (indicated - low) / span
		if f >= 0.25-slack && f <= 0.75+slack {
			return t.middle / 100 * span
		}
		return t.amount / 100 * span
	}
	return t.amount
}

// Relative gives the percent where the limit is one percent of the reference and
// nothing else; then errors are judged as percents, exactly as ISO 6789-2:2017 5.1
// defines them.
func (b Bound) Relative() (percent float64, ok bool) {
	if len(b.rungs) == 1 && len(b.rungs[0].terms) == 1 && b.rungs[0].terms[0].form == OfReference {
		return b.rungs[0].terms[0].amount, true
	}
	return 0, false
}

// amountIn gives the value of a quantity in a unit.
func amountIn(q units.Quantity, unit units.Unit) (float64, error) {
	if d := Decimal(q.Value); q.Unit == unit && d.valid() { // the usual case, without fractions
		return d.Float(), nil
	}
	r, err := q.In(unit)
	if err != nil {
		return 0, err
	}
	f, _ := r.Float64()
	return f, nil
}

// differenceIn gives the size of a quantity in a unit when it is a difference: a
// limit of 2 °C is 3.6 °F, not 35.6.
func differenceIn(q units.Quantity, unit units.Unit) (float64, error) {
	if q.Unit == unit {
		return amountIn(q, unit)
	}
	r, err := q.In(unit)
	if err != nil {
		return 0, err
	}
	zero, err := units.Quantity{Value: "0", Unit: q.Unit}.In(unit)
	if err != nil {
		return 0, err
	}
	f, _ := new(big.Rat).Sub(r, zero).Float64()
	return f, nil
}

// String writes the limit as ParseLimit reads it; "" for none.
func (l Limit) String() string {
	var rungs []string
	for _, r := range l.Rungs {
		text := r.text(Term.String)
		if !r.To.IsZero() {
			text += " to " + r.To.String()
		}
		rungs = append(rungs, text)
	}
	return strings.Join(rungs, ", ")
}

func (r Rung) text(term func(Term) string) string {
	var terms []string
	for _, t := range r.Terms {
		terms = append(terms, term(t))
	}
	if r.Combine == LargerOf {
		return "larger of " + strings.Join(terms, " and ")
	}
	return strings.Join(terms, " + ")
}

// String writes the term as ParseLimit reads it.
func (t Term) String() string {
	switch t.Form {
	case OfSpan:
		if t.Middle != "" {
			return string(t.Amount) + "/" + string(t.Middle) + "/" + string(t.Amount) + " % of span"
		}
		return string(t.Amount) + " % of span"
	case Counts:
		return string(t.Amount) + " counts of " + t.Step.String()
	case Absolute:
		return string(t.Amount) + " " + string(t.Unit)
	}
	return string(t.Amount) + " " + string(t.Form)
}

// Words says the limit to a person: "±4 % of what the reference shows".
func (l Limit) Words() string {
	var rungs []string
	for i, r := range l.Rungs {
		text := "±" + r.text(Term.Words)
		if r.Combine == LargerOf || len(r.Terms) > 1 {
			text = "±(" + r.text(Term.Words) + ")"
		}
		switch {
		case !r.To.IsZero():
			text += " up to " + r.To.Words()
		case i > 0:
			text += " above"
		}
		rungs = append(rungs, text)
	}
	return strings.Join(rungs, ", ")
}

// Words says the term to a person.
func (t Term) Words() string {
	switch t.Form {
	case OfReference:
		return string(t.Amount) + " % of what the reference shows"
	case OfIndicated:
		return string(t.Amount) + " % of what the tool shows"
	case OfSpan:
		if t.Middle != "" {
			return string(t.Amount) + " % of the whole scale (" + string(t.Middle) + " % in its middle half)"
		}
		return string(t.Amount) + " % of the whole scale"
	case Counts:
		if t.Amount == "1" {
			return "1 count of " + t.Step.Words()
		}
		return string(t.Amount) + " counts of " + t.Step.Words()
	}
	return units.Quantity{Value: string(t.Amount), Unit: t.Unit}.Words()
}

// MarshalText writes the limit as ParseLimit reads it.
func (l Limit) MarshalText() ([]byte, error) { return []byte(l.String()), nil }

// UnmarshalText reads a limit as ParseLimit does; "" is none.
func (l *Limit) UnmarshalText(text []byte) (err error) {
	*l = Limit{}
	if len(text) > 0 {
		*l, err = ParseLimit(string(text))
	}
	return err
}
