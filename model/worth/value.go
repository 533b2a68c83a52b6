package worth

import (
	"fmt"
	"math/big"

	"pawl/model/dates"
	"pawl/model/register"
)

// Life is how long a class of tools is taken to be of use, and the share of its
// replacement cost below which its value does not sink.
type Life struct {
	Class  string
	Months int64
	Floor  string // a share, as ParseShare reads it
}

// The lives are assumptions (money-and-statistics 1.3): public tables of useful
// lives are made for tax assessment, not for insurance.
const floor = "0.2"

var (
	HandTools = Life{"hand tools", 240, floor}
	Powered   = Life{"air and cordless tools", 84, floor}
	Measuring = Life{"measuring tools", 120, floor}
	Storage   = Life{"storage", 180, floor}
)

var (
	powered = []string{"impact", "drill", "grinder", "sander", "polisher", "ratchet", "air hammer", "air tool", "cordless", "saw", "battery", "charger", "heat gun", "grease gun"}
	storage = []string{"chest", "cabinet", "toolbox", "tool box", "box", "cart", "bench", "case"}
)

// LifeOf gives the class of a kind of tool by the words in its name; what nothing
// is said of is taken for a hand tool.
func LifeOf(kind string) Life {
	switch {
	case register.Measures(kind):
		return Measuring
	case says(kind, storage):
		return Storage
	case says(kind, powered):
		return Powered
	}
	return HandTools
}

func says(kind string, words []string) bool {
	for _, w := range words {
		if register.Says(kind, w) {
			return true
		}
	}
	return false
}

// Value is what a tool is worth at a day, with the arithmetic.
type Value struct {
	Replacement  int64
	ActualCash   int64
	Depreciation int64
	Age          int64 // complete calendar months
	Life         Life
	AtFloor      bool
	remaining    *big.Rat
}

// ActualCash takes depreciation off a replacement cost:
//
//	remaining = max(floor, 1 − age/life); value = round(cost × remaining)
//
// (money-and-statistics 1.2; replacement cost "with proper deduction for
// depreciation", Texas Department of Insurance bulletin B-0045-98). Age is in
// complete months, 0 or more; the life's months are 1 or more.
func ActualCash(replacement, age int64, life Life) Value {
	v := Value{Replacement: replacement, Age: max(age, 0), Life: life}
	least, err := ParseShare(life.Floor)
	if err != nil {
		least = new(big.Rat)
	}
	v.remaining = new(big.Rat).Sub(big.NewRat(1, 1), big.NewRat(v.Age, max(life.Months, 1)))
	if v.remaining.Cmp(least) <= 0 {
		v.remaining, v.AtFloor = least, true
	}
	v.ActualCash = Times(replacement, v.remaining)
	v.Depreciation = replacement - v.ActualCash
	return v
}

// AgeOn is a tool's age on a day in complete months since it went into service.
func AgeOn(since, day dates.Date) int64 { return int64(max(dates.CompleteMonths(since, day), 0)) }

// Working is the arithmetic in words: "68 of 120 months (measuring tools): 52/120 is left".
func (v Value) Working() string {
	if v.AtFloor {
		return fmt.Sprintf("%d of %d months (%s, assumed): the floor of %s is left", v.Age, v.Life.Months, v.Life.Class, v.Life.Floor)
	}
	return fmt.Sprintf("%d of %d months (%s, assumed): %d/%d is left", v.Age, v.Life.Months, v.Life.Class, v.Life.Months-v.Age, v.Life.Months)
}

// Holdback is what a policy on replacement cost keeps back until the tool is
// replaced (money-and-statistics 1.1).
func (v Value) Holdback() int64 { return v.Depreciation }

// SecondPayment is what follows once a tool was replaced for an amount: the lower
// of replacement cost and what was spent, less what was paid first; never below 0
// (money-and-statistics 1.2).
func SecondPayment(replacement, first, spent int64) int64 {
	return max(0, min(replacement, spent)-first)
}
