// Package units holds amounts as people write them. Money is a whole number of
// minor units (cents) with its currency. A quantity is decimal text as typed with
// its unit, never a float: "108 N·m" stays 108, "108.0 N·m" keeps its zero.
// A unit has a dimension, and only units of one dimension convert.
package units

import (
	"fmt"
	"math/big"
	"strings"

	"golang.org/x/text/currency"

	"pawl/model/fault"
	"pawl/model/pattern"
)

// Money is an amount in minor units of an ISO 4217 currency: {28900, "USD"} is
// 289.00 USD. The zero value is none.
type Money struct {
	Minor    int64
	Currency string
}

// maxMajor is the largest amount taken, in major units; with the at most four
// decimals of any currency it fits an int64.
const maxMajor = 1_000_000_000_000

var currencyCode = pattern.Late(`^[A-Z]{3}$`)

// Currency returns the number of decimals of an ISO 4217 currency, 0 to 4, as
// CLDR rounds it (for a few currencies whose coins are out of use, fewer than ISO
// 4217 lists). An unknown code is fault.Invalid.
func Currency(code string) (digits int, err error) {
	unit, err := currency.ParseISO(code)
	if err != nil || !currencyCode().MatchString(code) || unit == currency.XXX {
		return 0, fault.New(fault.Invalid, "%q is not a currency", fault.Clip(code)).
			WithHint("use the three capital letters of ISO 4217, such as USD")
	}
	digits, _ = currency.Standard.Rounding(unit)
	return digits, nil
}

var plainDecimal = pattern.Late(`^([0-9]{1,13})(?:\.([0-9]+))?$`)

// ParseMoney reads a plain decimal such as 289, 289.5 or 289.00 in the currency:
// no sign, no separators of thousands, at most the currency's decimals, at most
// 10^12. Anything else is fault.Invalid.
func ParseMoney(s, currency string) (Money, error) {
	digits, err := Currency(currency)
	if err != nil {
		return Money{}, err
	}
	m := plainDecimal().FindStringSubmatch(s)
	if m == nil {
		return Money{}, fault.New(fault.Invalid, "%q is not an amount of money", fault.Clip(s)).
			WithHint("write digits and a decimal point only, such as 1234.50")
	}
	if len(m[2]) > digits {
		return Money{}, fault.New(fault.Invalid, "amount %s has %d decimals, but %s has %d", fault.Clip(s), len(m[2]), currency, digits).
			WithHint("give the exact amount in %s", currency)
	}
	var minor int64
	for _, d := range m[1] + m[2] + strings.Repeat("0", digits-len(m[2])) {
		minor = minor*10 + int64(d-'0')
	}
	if minor > maxMajor*pow10(digits) {
		return Money{}, fault.New(fault.Invalid, "amount %s is over %d %s", fault.Clip(s), int64(maxMajor), currency).WithHint("check the digits")
	}
	return Money{minor, currency}, nil
}

func pow10(n int) int64 {
	p := int64(1)
	for range n {
		p *= 10
	}
	return p
}

// Decimal writes the amount without its currency, as ParseMoney reads it:
// "289.00"; "" for none.
func (m Money) Decimal() string {
	if m.Currency == "" {
		return ""
	}
	digits, err := Currency(m.Currency)
	if err != nil {
		digits = 0
	}
	sign, text := "", fmt.Sprintf("%0*d", digits+1, m.Minor)
	if m.Minor < 0 {
		sign, text = "-", fmt.Sprintf("%0*s", digits+1, new(big.Int).Abs(big.NewInt(m.Minor)))
	}
	if digits == 0 {
		return sign + text
	}
	return sign + text[:len(text)-digits] + "." + text[len(text)-digits:]
}

// String writes the amount with its currency: "289.00 USD"; "" for none.
func (m Money) String() string {
	if m.Currency == "" {
		return ""
	}
	return m.Decimal() + " " + m.Currency
}
