// Package counts holds the rules of a count: how many tools to look at and which,
// what a count that is over may say of those it did not look at, and which tools
// are to be looked at today. Samples are drawn without replacement from a list that
// is fixed when the count starts, so everything rests on the hypergeometric
// distribution: C(D,x)·C(N−D,n−x)/C(N,n) is the probability of x missing ones among
// n looked at when D of N are missing.
package counts

import (
	"math"
	"math/big"
	"strconv"

	"gonum.org/v1/gonum/stat/distuv"

	"pawl/model/fault"
)

// MostListed is the largest list that a sample is reckoned for, in tools.
const MostListed = 10_000_000

// Smallest gives the least number of tools to look at so that, if missing or more of
// the listed tools were missing, at least one of them is found with at least the
// confidence: min{n : 1 − C(N−d,n)/C(N,n) ≥ C}. It is compared in whole numbers, with
// the confidence as the decimal it is written as (0.95 is 19/20), so a tie counts as
// reached. listed is 1 to MostListed, missing 1 to listed, confidence over 0 and under
// 1; anything else is fault.Invalid. The problem is that of detecting disease in a
// finite herd: A. R. Cannon and R. T. Roe, Livestock Disease Surveys, 1982.
func Smallest(listed, missing int, confidence float64) (int, error) {
	if listed < 1 || listed > MostListed {
		return 0, fault.New(fault.Invalid, "a sample of %d listed tools cannot be drawn", listed).
			WithHint("a count needs 1 to %d tools on its list", MostListed)
	}
	if missing < 1 || missing > listed {
		return 0, fault.New(fault.Invalid, "%d missing of %d listed is not to be found by a sample", missing, listed).
			WithHint("say how many missing tools the count must not overlook: 1 to %d", listed)
	}
	if err := CheckConfidence(confidence); err != nil {
		return 0, err
	}
	alpha := missed(confidence)
	// Doubling keeps n near the answer, so that the shorter of the two products
	// below stays short however long the list is.
	low, high := 0, 1
	for !overlooks(listed, high, missing, alpha) && high < listed {
		low, high = high, min(2*high, listed)
	}
	for low+1 < high {
		if mid := (low + high) / 2; overlooks(listed, mid, missing, alpha) {
			high = mid
		} else {
			low = mid
		}
	}
	return high, nil
}

// CheckConfidence refuses a confidence that no sample can have: it is over 0 and under 1.
func CheckConfidence(confidence float64) error {
	if confidence > 0 && confidence < 1 {
		return nil
	}
	return fault.New(fault.Invalid, "confidence %v is not over 0 and under 1", confidence).
		WithHint("write 0.95 for 95 %%; to be certain, count everything")
}

// missed is 1 − C, exactly as the decimal is written.
func missed(confidence float64) *big.Rat {
	c, ok := new(big.Rat).SetString(strconv.FormatFloat(confidence, 'f', -1, 64))
	if !ok {
		return new(big.Rat) // not a number: nothing may be claimed
	}
	return c.Sub(big.NewRat(1, 1), c)
}

// overlooks says whether n looks overlook all d missing ones with a probability of at
// most alpha: Π (N−n−i)/(N−i) over i < d ≤ alpha, or the same product with d and n
// changed over, whichever is shorter.
func overlooks(listed, looked, missing int, alpha *big.Rat) bool {
	if looked+missing > listed {
		return true // not even one more than the missing ones is left unlooked at
	}
	long, short := int64(max(looked, missing)), int64(min(looked, missing))
	n := int64(listed)
	num := new(big.Int).MulRange(n-long-short+1, n-long)
	den := new(big.Int).MulRange(n-short+1, n)
	return num.Mul(num, alpha.Denom()).Cmp(den.Mul(den, alpha.Num())) <= 0
}

// Detects is the probability, 0 to 1, that looking at that many of the listed tools
// finds at least one when exactly that many are missing; with more missing it is
// greater. Its relative error is under 1e-8. Figures that contradict each other (more
// looked at than listed) give 0.
func Detects(listed, looked, missing int) float64 {
	return -math.Expm1(logOverlooked(listed, looked, missing))
}

// logOverlooked is the logarithm of the probability that none of the missing ones is
// among those looked at.
func logOverlooked(listed, looked, missing int) float64 {
	if missing < 1 || looked < 1 || looked > listed || missing > listed {
		return 0
	}
	if looked+missing > listed {
		return math.Inf(-1)
	}
	long, short, sum := float64(max(looked, missing)), min(looked, missing), 0.0
	for i := range short {
		sum += math.Log1p(-long / float64(listed-i))
	}
	return sum
}

// MissingAtMost is the greatest number of missing tools that a count still has to
// allow for: max{D : P(X ≤ missing | N, D, n) > 1 − C}. With that confidence at most so
// many of the listed ones are missing. Looks that were not made are missing ones here.
// It holds 0 ≤ missing ≤ looked ≤ listed and a confidence over 0 and under 1; where
// they do not, nothing may be claimed and the answer is listed. The bound is the exact
// one for a finite list (the hypergeometric form of C. J. Clopper and E. S. Pearson,
// Biometrika 26, 1934).
func MissingAtMost(listed, looked, missing int, confidence float64) int {
	if CheckConfidence(confidence) != nil {
		return listed
	}
	return missingAtMost(listed, looked, missing, missed(confidence))
}

func missingAtMost(listed, looked, missing int, alpha *big.Rat) int {
	if missing < 0 || looked < missing || listed < looked || listed > MostListed {
		return listed
	}
	// At low it is allowed for (all that is missing was looked at); above high there
	// are not enough tools left to be missing.
	low, high := missing, listed-(looked-missing)
	for low < high {
		if mid := low + (high-low+1)/2; likelier(listed, looked, missing, mid, alpha) {
			low = mid
		} else {
			high = mid - 1
		}
	}
	return low
}

// likelier says whether P(X ≤ k | N, D, n) > alpha. Floating point decides where it is
// plain, whole numbers where it is close.
func likelier(listed, looked, k, missing int, alpha *big.Rat) bool {
	a, _ := alpha.Float64()
	p := atMost(listed, looked, k, missing)
	if math.Abs(p-a) > 1e-4*a {
		return p > a
	}
	return exactlyAtMost(listed, looked, k, missing).Cmp(alpha) > 0
}

// atMost is P(X ≤ k) in floating point, by the ratios of neighboring terms. The
// logarithms of factorials of MostListed cost it seven of its sixteen digits.
func atMost(listed, looked, k, missing int) float64 {
	least, most := max(0, looked+missing-listed), min(looked, missing)
	if k >= most {
		return 1
	}
	if k < least {
		return 0
	}
	N, n, D := float64(listed), float64(looked), float64(missing)
	sum, ratio := 1.0, 1.0 // against the term of k
	for x := float64(k); x > float64(least); x-- {
		ratio *= x * (N - D - n + x) / ((D - x + 1) * (n - x + 1))
		if sum += ratio; ratio < 1e-18*sum {
			break
		}
	}
	if math.IsInf(sum, 1) {
		return 1 // k is far above what is to be expected
	}
	x := float64(k)
	log := logChoose(D, x) + logChoose(N-D, n-x) - logChoose(N, n)
	return min(1, math.Exp(log+math.Log(sum)))
}

func logChoose(n, k float64) float64 {
	a, _ := math.Lgamma(n + 1)
	b, _ := math.Lgamma(k + 1)
	c, _ := math.Lgamma(n - k + 1)
	return a - b - c
}

// exactlyAtMost is P(X ≤ k) as a fraction.
func exactlyAtMost(listed, looked, k, missing int) *big.Rat {
	N, n, D := int64(listed), int64(looked), int64(missing)
	least, most := max(0, n+D-N), min(int64(k), n, D)
	sum := new(big.Int)
	if most < least {
		return new(big.Rat)
	}
	term := new(big.Int).Binomial(D, least)
	term.Mul(term, new(big.Int).Binomial(N-D, n-least))
	for x := least; ; x++ {
		sum.Add(sum, term)
		if x == most {
			break
		}
		term.Mul(term, big.NewInt((D-x)*(n-x)))
		term.Quo(term, big.NewInt((x+1)*(N-D-n+x+1)))
	}
	return new(big.Rat).SetFrac(sum, new(big.Int).Binomial(N, n))
}

// Share bounds the share of a large lot from k of n, two-sided: with the confidence it
// lies from low to high, both 0 to 1 (C. J. Clopper and E. S. Pearson, Biometrika 26,
// 1934; NIST/SEMATECH e-Handbook 7.2.4.1). Where k is not 0 to n, n not over 0, or the
// confidence not over 0 and under 1, nothing is known: 0 and 1.
func Share(k, n int, confidence float64) (low, high float64) {
	tail := (1 - confidence) / 2
	return shareFrom(k, n, tail), shareTo(k, n, tail)
}

// ShareAtLeast is the one-sided lower bound of Share: with the confidence the share is
// no smaller.
func ShareAtLeast(k, n int, confidence float64) float64 { return shareFrom(k, n, 1-confidence) }

// ShareAtMost is the one-sided upper bound of Share: with the confidence the share is
// no greater.
func ShareAtMost(k, n int, confidence float64) float64 { return shareTo(k, n, 1-confidence) }

func shareFrom(k, n int, tail float64) float64 {
	if k <= 0 || k > n || !(tail > 0 && tail < 1) {
		return 0
	}
	return distuv.Beta{Alpha: float64(k), Beta: float64(n - k + 1)}.Quantile(tail)
}

func shareTo(k, n int, tail float64) float64 {
	if k < 0 || k >= n || !(tail > 0 && tail < 1) {
		return 1
	}
	return distuv.Beta{Alpha: float64(k + 1), Beta: float64(n - k)}.Quantile(1 - tail)
}

// Accuracy is the share of records that were right: the tool was there, or with the
// holder and in the place on record, and its serial number and standing were as
// recorded. A record is right or wrong as a whole; overs never make up for shorts.
type Accuracy struct {
	Listed, Checked, Right int
	Confidence             float64
	Share                  float64 // of those checked, 0 to 1
	Low                    float64 // of all listed, at least, with the confidence; exact for the finite list
	LowOfMany              float64 // the same were the list endless
	WrongAtMost            int     // of all listed, with the confidence
}

// AccuracyOf reckons the record accuracy of a count that looked at checked of the
// listed records and found right of them as recorded. It holds 0 ≤ right ≤ checked ≤
// listed, checked over 0, and a confidence over 0 and under 1, else fault.Invalid.
func AccuracyOf(listed, checked, right int, confidence float64) (Accuracy, error) {
	if err := CheckConfidence(confidence); err != nil {
		return Accuracy{}, err
	}
	if right < 0 || checked < 1 || right > checked || checked > listed {
		return Accuracy{}, fault.New(fault.Invalid, "%d right of %d checked of %d listed is no accuracy", right, checked, listed).
			WithHint("at least one record has to be checked")
	}
	wrong := MissingAtMost(listed, checked, checked-right, confidence)
	return Accuracy{Listed: listed, Checked: checked, Right: right, Confidence: confidence,
		Share:       float64(right) / float64(checked),
		Low:         float64(listed-wrong) / float64(listed),
		LowOfMany:   ShareAtLeast(right, checked, confidence),
		WrongAtMost: wrong}, nil
}
