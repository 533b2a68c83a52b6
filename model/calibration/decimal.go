package calibration

import (
	"math"
	"strconv"
	"strings"

	"pawl/model/fault"
)

// slack is the relative difference within which two values count as equal: decimal
// figures such as 24.96/0.96 and 26 differ in binary by rounding only.
const slack = 1e-9

const maxDecimalDigits, maxDecimalPart = 18, 15

// plain says whether a text is a decimal: a sign where it is negative, digits, and
// more of them behind a point. Thousands are read for one answer, so it is done by
// hand and not by an expression.
func plain(s string) bool {
	whole, part, point := strings.Cut(strings.TrimPrefix(s, "-"), ".")
	return digits(whole) && (!point || digits(part)) && len(whole)+len(part) <= maxDecimalDigits
}

func digits(s string) bool {
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return len(s) > 0 && len(s) <= maxDecimalPart
}

// ParseDecimal reads a plain decimal of at most 18 digits with a point, a sign
// where it is negative (hyphen or minus sign), and nothing else: no exponent, no
// comma, no unit. Anything else is fault.Invalid.
func ParseDecimal(s string) (Decimal, error) {
	text := strings.Replace(strings.TrimSpace(s), "−", "-", 1)
	if !plain(text) {
		return "", fault.New(fault.Invalid, "%q is not a number", fault.Clip(s)).WithHint("%s", decimalHint(text))
	}
	return Decimal(text), nil
}

func decimalHint(s string) string {
	switch {
	case strings.Contains(s, "%"):
		return "give the reading itself, not a percent; or say what the percent is of"
	case strings.Contains(s, ","):
		return "write a decimal point, such as 39.7"
	}
	return "write digits and a decimal point, such as 39.7"
}

// Float gives the value for arithmetic; NaN for none.
func (d Decimal) Float() float64 {
	f, err := strconv.ParseFloat(string(d), 64)
	if err != nil {
		return math.NaN()
	}
	return f
}

// valid says whether d is as ParseDecimal gives it.
func (d Decimal) valid() bool { return plain(string(d)) }

// decimalOf writes a computed value with at most ten decimals, no trailing zeros.
func decimalOf(f float64) Decimal {
	s := strconv.FormatFloat(f, 'f', 10, 64)
	s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	if s == "-0" {
		s = "0"
	}
	return Decimal(s)
}

// same says whether two values are equal within the slack.
func same(a, b float64) bool {
	return a == b || math.Abs(a-b) <= slack*math.Max(math.Abs(a), math.Abs(b))
}

// atMost says whether a <= b within the slack.
func atMost(a, b float64) bool { return a <= b || same(a, b) }
