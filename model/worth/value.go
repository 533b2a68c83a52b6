package worth

import (
	"fmt"
	"math/big"

	"pawl/model/dates"
)

// Value is what a tool is worth at a day, with the arithmetic.
type Value struct {
	Replacement  int64
	ActualCash   int64
	Depreciation int64
	Age          int64 // complete calendar months
	Life         Life
	AtFloor      bool
	Condition    *Condition // nil: nothing is taken off for it
	remaining    *big.Rat
}

var one = big.NewRat(1, 1)

// ActualCash takes depreciation off a replacement cost:
//
//	remaining = max(floor, 1 − age/life) × condition; value = round(cost × remaining)
//
// (money-and-statistics 1.2; replacement cost "with proper deduction for
// depreciation", Texas Department of Insurance bulletin B-0045-98). Age is in
// complete months, 0 or more; the life's months are 1 or more. A condition, where
// somebody judged it, is a share of what age leaves; nil is none.
func ActualCash(replacement, age int64, life Life, c *Condition) Value {
	v := Value{Replacement: replacement, Age: max(age, 0), Life: life}
	least, err := ParseShare(life.Floor)
	if err != nil {
		least = new(big.Rat)
	}
	v.remaining = new(big.Rat).Sub(one, big.NewRat(v.Age, max(life.Months, 1)))
	if v.remaining.Cmp(least) <= 0 {
		v.remaining, v.AtFloor = least, true
	}
	if c != nil {
		if share, err := ParseShare(c.Share); err == nil {
			v.remaining, v.Condition = new(big.Rat).Mul(v.remaining, share), c
		}
	}
	v.ActualCash = Times(replacement, v.remaining)
	v.Depreciation = replacement - v.ActualCash
	return v
}

// AgeOn is a tool's age on a day in complete months since it went into service.
func AgeOn(since, day dates.Date) int64 { return int64(max(dates.CompleteMonths(since, day), 0)) }

// Working is the arithmetic in words: "68 of 120 months (measuring tools, assumed):
// 52/120 is left".
func (v Value) Working() string {
	left := fmt.Sprintf("%d/%d is left", v.Life.Months-v.Age, v.Life.Months)
	if v.AtFloor {
		left = fmt.Sprintf("the floor of %s is left", v.Life.Floor)
	}
	if v.Condition != nil {
		left += fmt.Sprintf(", times %s for its condition: %s", v.Condition.Share, v.Condition.Reason)
	}
	return fmt.Sprintf("%d of %d months (%s, %s): %s", v.Age, v.Life.Months, v.Life.Class, v.Life.From(), left)
}

// SecondPayment is what follows once a tool was replaced for an amount: the lower
// of replacement cost and what was spent, less what was paid first; never below 0
// (money-and-statistics 1.2).
func SecondPayment(replacement, first, spent int64) int64 {
	return max(0, min(replacement, spent)-first)
}
