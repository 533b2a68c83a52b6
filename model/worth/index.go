package worth

import (
	"fmt"
	"math/big"

	"pawl/model/fault"
)

// Index is how a price index moved between two months. Series, area, base period
// and month say which index it is: without them no figure can be checked.
type Index struct {
	Series, Area, Base, Month string
	From, To                  string // its values, as published
}

// Indexed is the label of every amount moved by an index.
const Indexed = "indexed, not quoted"

func (i Index) values() (from, to *big.Rat, err error) {
	from, ok := new(big.Rat).SetString(i.From)
	to, fine := new(big.Rat).SetString(i.To)
	if !ok || !fine || from.Sign() <= 0 || to.Sign() <= 0 {
		return nil, nil, fault.New(fault.Invalid, "%q and %q are not two values of an index", clip(i.From), clip(i.To)).WithHint("as published, such as 233.049")
	}
	return from, to, nil
}

// Change is (to − from) / from × 100, to one decimal: "4.1" (BLS method,
// money-and-statistics 2.3).
func (i Index) Change() (string, error) {
	from, to, err := i.values()
	if err != nil {
		return "", err
	}
	tenths := new(big.Rat).Mul(new(big.Rat).Quo(new(big.Rat).Sub(to, from), from), big.NewRat(1000, 1))
	n := Round(tenths)
	sign := ""
	if n < 0 {
		sign, n = "-", -n
	}
	return fmt.Sprintf("%s%d.%d", sign, n/10, n%10), nil
}

// Price moves an amount by the unrounded ratio of the two values.
func (i Index) Price(amount int64) (int64, error) {
	from, to, err := i.values()
	if err != nil {
		return 0, err
	}
	return Times(amount, new(big.Rat).Quo(to, from)), nil
}
