package counts

import (
	"cmp"
	"math"
	"math/big"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"pawl/model/fault"
)

// Monetary-unit sampling: not tools but units of money are drawn, each alike in
// probability, and the tool that a drawn unit belongs to is looked at. Dear tools are
// so looked at more often. Its bound speaks of money: overstatement of the record, a
// missing tool being overstated by the whole of its worth.

// Factor is the exact confidence factor R for that many errors: χ²(C, 2(errors+1))/2,
// the Poisson upper bound. errors is 0 or more, confidence over 0 and under 1; else NaN.
func Factor(errors int, confidence float64) float64 {
	if errors < 0 || CheckConfidence(confidence) != nil {
		return math.NaN()
	}
	return distuv.ChiSquared{K: float64(2 * (errors + 1))}.Quantile(confidence) / 2
}

// TableFactor is Factor rounded up to two decimals, as the tables of the American
// Institute of Certified Public Accountants print it (Audit Guide Audit Sampling).
func TableFactor(errors int, confidence float64) float64 {
	return math.Ceil(Factor(errors, confidence)*100) / 100
}

// Factors says which confidence factor is reckoned with: Factor or TableFactor.
type Factors func(errors int, confidence float64) float64

// UnitInterval is the distance of the units drawn, in minor units: the tolerable
// overstatement over the factor of no errors, rounded down, so that the sample is never
// smaller than it must be. No errors are planned for. It needs a tolerable amount of
// at least 1 and a confidence over 0 and under 1, else fault.Invalid.
func UnitInterval(tolerable int64, confidence float64, factor Factors) (int64, error) {
	if err := CheckConfidence(confidence); err != nil {
		return 0, err
	}
	if tolerable < 1 {
		return 0, fault.New(fault.Invalid, "a tolerable amount of %d is nothing to look for", tolerable).
			WithHint("say from which amount on missing worth must be noticed; to be certain, count everything")
	}
	return max(1, int64(float64(tolerable)/factor(0, confidence))), nil
}

// Units is a sample by monetary units.
type Units struct {
	Interval int64 // in minor units
	Start    int64 // the first unit drawn, 0 to Interval−1; then every Interval-th
	Drawn    []int // positions on the list that a unit fell on, ascending
	Big      []int // those of them worth the interval or more: always drawn, their error taken as is
	Outside  []int // without a price, or worth nothing: no unit can fall on them, so they are looked at in full
}

// DrawUnits draws by monetary units: the worths stand in a row in the order of the
// list, the start is a number below the interval from the part seed "units", and from
// there every interval-th unit is drawn. interval is 1 or more, else fault.Invalid.
func DrawUnits(seed [32]byte, worths []Worth, interval int64) (Units, error) {
	if interval < 1 {
		return Units{}, fault.New(fault.Invalid, "an interval of %d is not at least 1", interval)
	}
	u := Units{Interval: interval, Start: Below(PartSeed(seed, "units"), interval)}
	next := u.Start // from the first unit of the tool at hand to the next one drawn
	for i, w := range worths {
		switch {
		case !w.Known || w.Minor <= 0:
			u.Outside = append(u.Outside, i)
			continue
		case w.Minor >= interval:
			u.Big = append(u.Big, i)
		}
		if next < w.Minor {
			u.Drawn = append(u.Drawn, i)
			next += (w.Minor - next + interval - 1) / interval * interval
		}
		next -= w.Minor
	}
	return u, nil
}

// Looks are all positions that are looked at, ascending.
func (u Units) Looks() []int {
	out := slices.Concat(u.Drawn, u.Outside)
	slices.Sort(out)
	return out
}

// Finding is a tool of the sample and what was found of it, in minor units: 0 for one
// that is missing.
type Finding struct {
	Book, Found int64
}

// Overstated is what a monetary-unit sample says of the whole list, in minor units.
// Each figure is rounded once, and Upper is the sum of the printed ones.
type Overstated struct {
	Big         int64 // of tools worth the interval or more, as found
	Projected   int64 // Big, and for the others the interval times the taint
	Basic       int64 // the interval times the factor of no errors
	Incremental int64 // what the errors add beside their projection
	Upper       int64 // with the confidence, the whole overstatement is no more
}

// Evaluate reckons the upper bound from what was found:
// UL = Σ big + I·R0 + Σ (R_j − R_{j−1})·I·t_j, the taints t = (book − found)/book sorted
// from the largest, after the AICPA guide Audit Sampling. A tool found to be worth more
// than its book counts as without error: overs are not netted. A looked-at tool without
// a book worth is none of it. interval is 1 or more, confidence over 0 and under 1, no
// amount below 0; else fault.Invalid.
func Evaluate(interval int64, confidence float64, factor Factors, found []Finding) (Overstated, error) {
	if err := CheckConfidence(confidence); err != nil {
		return Overstated{}, err
	}
	if interval < 1 {
		return Overstated{}, fault.New(fault.Invalid, "an interval of %d is not at least 1", interval)
	}
	var out Overstated
	var taints []*big.Rat
	for _, f := range found {
		switch {
		case f.Book < 0 || f.Found < 0:
			return Overstated{}, fault.New(fault.Invalid, "a worth of %d found %d is below nothing", f.Book, f.Found)
		case f.Found >= f.Book:
		case f.Book >= interval:
			out.Big += f.Book - f.Found
		default:
			taints = append(taints, big.NewRat(f.Book-f.Found, f.Book))
		}
	}
	slices.SortFunc(taints, func(a, b *big.Rat) int { return cmp.Compare(0, a.Cmp(b)) })
	out.Projected, out.Basic = out.Big, times(interval, factor(0, confidence))
	for j, t := range taints {
		out.Projected += rounded(new(big.Rat).Mul(t, big.NewRat(interval, 1)))
		step := factor(j+1, confidence) - factor(j, confidence) - 1
		out.Incremental += rounded(new(big.Rat).Mul(t, new(big.Rat).Mul(decimal(step), big.NewRat(interval, 1))))
	}
	out.Upper = out.Projected + out.Basic + out.Incremental
	return out, nil
}

func times(minor int64, factor float64) int64 {
	return rounded(new(big.Rat).Mul(decimal(factor), big.NewRat(minor, 1)))
}

// decimal takes a factor to nine decimals, so that 4.75 − 3.00 − 1 is 0.75 again.
func decimal(f float64) *big.Rat {
	return big.NewRat(int64(math.Round(f*1e9)), 1e9)
}
