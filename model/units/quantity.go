package units

import (
	"encoding/json"
	"math/big"
	"strings"

	"pawl/model/fault"
	"pawl/model/pattern"
)

// Quantity is a measured or stated value: decimal text as typed, trailing zeros
// kept, and its unit. The zero value is none.
type Quantity struct {
	Value string
	Unit  Unit
}

const maxDigits = 18

var (
	valueShape    = pattern.Late(`^-?[0-9]+(?:\.[0-9]+)?$`)
	quantityShape = pattern.Late(`^([-−]?[0-9]+(?:\.[0-9]+)?)[ \t\x{a0}\x{202f}]*([^0-9., \t\x{a0}\x{202f}][^0-9]*)?$`)
)

// ParseQuantity reads a decimal of at most 18 digits, without exponent, and a
// unit, with or without a space between them: "108 N·m", "80ft-lb", "-40 °C".
// A bare number, a pound alone, or anything else is fault.Invalid.
func ParseQuantity(s string) (Quantity, error) {
	m := quantityShape().FindStringSubmatch(strings.TrimSpace(s))
	if m == nil {
		return Quantity{}, notAQuantity(s, "write digits, a decimal point if any, and the unit, such as 26.1 mm or 80 ft-lb")
	}
	unit, err := ParseUnit(m[2])
	if err != nil {
		return Quantity{}, notAQuantity(s, unitHint(m[2]))
	}
	value := strings.Replace(m[1], "−", "-", 1)
	if !validValue(value) {
		return Quantity{}, notAQuantity(s, "at most 18 digits")
	}
	return Quantity{value, unit}, nil
}

func notAQuantity(s, hint string) error {
	return fault.New(fault.Invalid, "%q is not a value with a unit", fault.Clip(s)).WithHint("%s", hint)
}

func validValue(v string) bool {
	digits := len(v) - strings.Count(v, ".") - strings.Count(v, "-")
	return digits <= maxDigits && valueShape().MatchString(v)
}

// IsZero says whether there is no quantity at all; "0 mm" is one.
func (q Quantity) IsZero() bool { return q == Quantity{} }

// String writes the value and the unit's symbol: "108 N·m"; "" for none.
func (q Quantity) String() string {
	if q.IsZero() {
		return ""
	}
	return q.Value + " " + string(q.Unit)
}

// Words writes the quantity as screens and papers do; see Unit.Words.
func (q Quantity) Words() string {
	if q.IsZero() {
		return ""
	}
	return q.Value + " " + q.Unit.Words()
}

// Decimals returns how many digits were typed after the point.
func (q Quantity) Decimals() int {
	_, after, _ := strings.Cut(q.Value, ".")
	return len(after)
}

// In returns the exact value in another unit of the same dimension. Another
// dimension, or no quantity, is fault.Invalid.
func (q Quantity) In(unit Unit) (*big.Rat, error) {
	from, known := definitions[q.Unit]
	if !known || !validValue(q.Value) {
		return nil, notAQuantity(q.String(), "give a value with a unit, such as 108 N·m")
	}
	to, known := definitions[unit]
	if !known || to.dimension != from.dimension {
		return nil, fault.New(fault.Invalid, "%s is a %s and cannot be given in %q", q, from.dimension, unit).
			WithHint("use a unit of %s", from.dimension)
	}
	v, ok := new(big.Rat).SetString(q.Value)
	if !ok {
		return nil, notAQuantity(q.String(), "give a plain decimal")
	}
	v.Add(v, from.offset)
	v.Mul(v, from.factor)
	v.Quo(v, to.factor)
	return v.Sub(v, to.offset), nil
}

// Compare returns -1, 0 or 1 as q is less than, equal to or greater than other,
// exactly. Another dimension is fault.Invalid.
func (q Quantity) Compare(other Quantity) (int, error) {
	mine, err := q.In(q.Unit)
	if err != nil {
		return 0, err
	}
	theirs, err := other.In(q.Unit)
	if err != nil {
		return 0, err
	}
	return mine.Cmp(theirs), nil
}

// MarshalJSON writes the quantity as one string; none is null.
func (q Quantity) MarshalJSON() ([]byte, error) {
	if q.IsZero() {
		return []byte("null"), nil
	}
	return json.Marshal(q.String())
}

// UnmarshalJSON reads one string as ParseQuantity does; null is none.
func (q *Quantity) UnmarshalJSON(data []byte) error {
	var s *string
	if err := json.Unmarshal(data, &s); err != nil {
		return fault.New(fault.Invalid, "a measured value is a string, not %s", fault.Clip(string(data))).WithHint(`write it with its unit: "108 N·m"`)
	}
	if s == nil {
		*q = Quantity{}
		return nil
	}
	parsed, err := ParseQuantity(*s)
	if err != nil {
		return err
	}
	*q = parsed
	return nil
}
