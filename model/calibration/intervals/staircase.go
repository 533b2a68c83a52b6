package intervals

import "math"

// The staircase: a deterministic simple response, chosen by this project. ILAC-G24 /
// OIML D 10 method 1 describes the method and leaves the steps open.
const (
	longer, shorter = 1.1, 0.5
	least, most     = 3.0, 24.0 // months
)

// Stair is the interval after one as-found result: 1.1 times as long where it was well
// inside its limit, half where it was out of tolerance, else the same; in months,
// within 3 to 24.
func Stair(months float64, found Outcome) float64 {
	switch found {
	case Near:
		months *= longer
	case OutOf:
		months *= shorter
	}
	return math.Min(math.Max(months, least), most)
}

// SettlesAt is the share in tolerance, 0 to 1, at which a staircase that lengthens by
// the part up and shortens by the part down comes to rest: where a step up as often as
// R and a step down as often as 1 − R cancel, (1 − down) = (1 + up)^(−R/(1−R)). NCSLI
// RP-1 method A1 (concept from memory; the relation follows from the steps).
func SettlesAt(up, down float64) float64 {
	odds := -math.Log1p(-down) / math.Log1p(up)
	return odds / (1 + odds)
}

// StepDown is the part by which to shorten so that a staircase that lengthens by the
// part up comes to rest at reliability R: NCSLI RP-1 method A1, as in SettlesAt.
func StepDown(up, reliability float64) float64 {
	return 1 - math.Pow(1+up, -reliability/(1-reliability))
}

// Rescale is the time after which the share in tolerance is want, where it was observed
// to be got after t: exponential model, t·ln want/ln got.
func Rescale(t, got, want float64) float64 { return t * math.Log(want) / math.Log(got) }

// ZeroFailures is how many calibrations without a failure show a reliability with a
// confidence: ln(1 − confidence)/ln(reliability), not rounded up.
func ZeroFailures(reliability, confidence float64) float64 {
	return math.Log(1-confidence) / math.Log(reliability)
}
