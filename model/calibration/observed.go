package calibration

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
)

// Observed counts, over the calibrations of any number of tools, newest first, how many
// say how the tool was found at the end of an interval, and how many of those found it
// in tolerance. The oldest of each tool ended no interval on record; it is not counted,
// nor are bench checks, and calibrations that cannot be judged as found (adjusted first,
// pass-only paper).
func Observed(tools ...[]Kept) (n Like) {
	for _, all := range tools {
		earlier := false // one that began the interval
		for _, k := range slices.Backward(all) {
			if k.BenchCheck {
				continue
			}
			began := earlier
			if earlier = true; !began || k.FoundVerdict != Passed && k.FoundVerdict != Failed {
				continue
			}
			n.Calibrations++
			if k.FoundVerdict == Passed {
				n.InTolerance++
			}
		}
	}
	return n
}

// LowerReliability is the lower bound of the share in tolerance, one-sided, that a
// number of calibrations of which some were in tolerance shows with a confidence such
// as 0.95: C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404. With none in
// tolerance it is 0; NaN where there are no calibrations.
func (n Like) LowerReliability(confidence float64) float64 {
	k, all := float64(n.InTolerance), float64(n.Calibrations)
	switch {
	case n.Calibrations <= 0 || n.InTolerance < 0 || n.InTolerance > n.Calibrations:
		return math.NaN()
	case n.InTolerance == 0:
		return 0
	}
	return mathext.InvRegIncBeta(k, all-k+1, 1-confidence)
}
