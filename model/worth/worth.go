// Package worth reckons what tools are worth and what a policy would bring, from
// the figures that somebody entered. It is no advice: the policy's wording and the
// insurer decide.
//
// Amounts are whole minor units of one currency. An amount is rounded once, on the
// line on which it is printed, half away from zero; a total is the sum of its
// printed lines (money-and-statistics, "General money rules", an assumption).
package worth

import (
	"math/big"

	"pawl/model/fault"
	"pawl/model/pattern"
)

// Round gives the whole number nearest to x, a half away from zero. The amounts
// that units.ParseMoney takes, times a ratio up to 1, fit.
func Round(x *big.Rat) int64 {
	twice := new(big.Int).Mul(big.NewInt(2), new(big.Int).Abs(x.Num()))
	whole := new(big.Int).Quo(twice.Add(twice, x.Denom()), new(big.Int).Mul(big.NewInt(2), x.Denom()))
	if x.Sign() < 0 {
		whole.Neg(whole)
	}
	return whole.Int64()
}

// Times is an amount multiplied by a ratio, rounded.
func Times(amount int64, ratio *big.Rat) int64 {
	return Round(new(big.Rat).Mul(new(big.Rat).SetInt64(amount), ratio))
}

// Sum adds lines up.
func Sum(lines []int64) (total int64) {
	for _, l := range lines {
		total += l
	}
	return total
}

var share = pattern.Late(`^(0(\.[0-9]{1,6})?|1(\.0{1,6})?)$`)

// ParseShare reads a ratio from 0 to 1 with at most six decimals, such as 0.8;
// anything else is fault.Invalid.
func ParseShare(text string) (*big.Rat, error) {
	if !share().MatchString(text) {
		return nil, fault.New(fault.Invalid, "%q is not a share from 0 to 1", fault.Clip(text)).WithHint("80 %% is 0.8")
	}
	r, _ := new(big.Rat).SetString(text)
	return r, nil
}
