package calibration_test

import (
	"math"
	"slices"
	"sync"
)

// oracleSlack is the relative margin of every comparison with a limit.
const oracleSlack = 1e-9

// atMost says whether a <= b, with the margin.
func atMost(a, b float64) bool { return a <= b+oracleSlack*math.Max(math.Abs(a), math.Abs(b)) }

func same(a, b float64) bool { return atMost(a, b) && atMost(b, a) }

// oraclePointFacts are what follows from the readings at one value, in percent of
// the reference.
type oraclePointFacts struct {
	set                     float64
	mean, scatter, w, limit float64 // ā, s, standard uncertainty, MPD
	known                   bool    // the uncertainty is
	within                  bool
	amounts                 [4]float64 // mean error, standard uncertainty, scatter and limit in the tool's unit
}

// oracleInflation is t.975(n-1) over the normal quantile, 1.960, for n readings.
var oracleInflation = sync.OnceValue(func() (factors [10]float64) {
	for n := 2; n < 10; n++ {
		factors[n] = oracleStudent(0.975, n-1) / oracleNormalQuantile(0.975)
	}
	return factors
})

// point judges one value: errors by ISO 6789-2:2017 5.1, every reading against the
// limit, the scatter of a single use, the standard uncertainty.
func (c oracleCase) point(p oraclePoint, k oracleCalibration) oraclePointFacts {
	f := oraclePointFacts{set: p.Set.float(), within: true}
	var errors, read, off []float64
	narrow := math.Inf(1)
	for _, r := range p.Readings {
		x := r.float()
		a := 100 * (f.set - x) / math.Abs(x)
		half := c.Limit.at(f.set, x, c.Scale)
		errors, read, off = append(errors, a), append(read, x), append(off, f.set-x)
		narrow = math.Min(narrow, half)
		f.within = f.within && atMost(math.Abs(f.set-x), half)
	}
	f.limit = 100 * c.Limit.at(f.set, f.set, c.Scale) / f.set
	if c.Limit.Kind == "of reference" {
		f.limit = c.Limit.Amount.float()
	}
	f.mean = oracleMean(errors)
	switch n := len(errors); {
	case n == 1 || k.OnlyW:
		f.scatter = f.limit / 4
	default:
		f.scatter = oracleSpread(errors) * oracleFactor(n)
	}
	f.w, f.known = c.uncertainty(p, k, read, narrow)
	f.amounts = [4]float64{oracleMean(off), f.w / 100 * oracleMean(read), narrow / 4, narrow}
	if len(off) > 1 && !k.OnlyW {
		f.amounts[2] = oracleSpread(off) * oracleFactor(len(off))
	}
	return f
}

// oracleWidening is how much k = t.9773 exceeds 2 where the effective degrees of
// freedom are few (JCGM 100:2008 G.4.1, cut to a whole number); a hand torque tool
// has k = 2 always.
func oracleWidening(w, repeat float64, freedom int) float64 {
	effective := math.Pow(w, 4) / (math.Pow(repeat, 4) / float64(freedom))
	if !(effective < 50) {
		return 1
	}
	return math.Max(1, oracleCovering(int(effective))/2)
}

var oracleCoverings sync.Map

func oracleCovering(freedom int) float64 {
	k, ok := oracleCoverings.Load(freedom)
	if !ok {
		k = oracleStudent((1+0.9545)/2, freedom)
		oracleCoverings.Store(freedom, k)
	}
	return k.(float64)
}

func (c oracleCase) resolution() milli {
	if c.Resolution != 0 {
		return c.Resolution
	}
	return c.Scale.Step
}

// wrench says whether the place of the hand matters.
func (c oracleCase) wrench() bool {
	return slices.Contains([]string{"I-A", "I-B", "I-C", "II-A", "II-B", "II-C", "II-G"}, c.Class)
}

// holds says whether the mean deviation with its expanded uncertainty stays inside
// the limit: in percent where the limit is a percent of the reference, else as
// amounts.
func (c oracleCase) holds(f oraclePointFacts) bool {
	if c.Limit.Kind == "of reference" {
		return atMost(math.Abs(f.mean)+2*f.w, f.limit)
	}
	return atMost(math.Abs(f.amounts[0])+2*f.amounts[1], f.amounts[3])
}

// oracleFactor widens a scatter that few readings show.
func oracleFactor(n int) float64 {
	if n < 10 {
		return oracleInflation()[n]
	}
	return 1
}

// uncertainty is the standard one, in %: stated by a lab, or the budget of ISO
// 6789-2:2017 6.
func (c oracleCase) uncertainty(p oraclePoint, k oracleCalibration, read []float64, half float64) (w float64, isKnown bool) {
	if k.Paper != "own" {
		stated := k.W
		if p.W != 0 {
			stated = p.W
		}
		return stated.float() / 2, stated != 0
	}
	if k.Standard.Missing || k.Standard.Uncertainty == 0 && k.Standard.Absolute == 0 {
		return 0, false
	}
	mean := oracleMean(read)
	sum := math.Pow(k.Standard.Uncertainty.float()/2+100/mean*k.Standard.Absolute.float()/2, 2)
	sum += math.Pow(100/mean*c.resolution().float()/math.Sqrt(12), 2)
	spreads := []milli{k.Spreads.Reproducibility, k.Spreads.Drive, k.Spreads.Interface}
	if c.wrench() {
		spreads = append(spreads, k.Spreads.Loading)
	}
	for _, spread := range spreads {
		sum += math.Pow(100/mean*spread.float()/(2*math.Sqrt(3)), 2)
	}
	scatter := 100 / mean * half / 4 // of a single reading nothing is known: assumed
	if len(read) > 1 {
		scatter = 100 / mean * oracleSpread(read)
	}
	repeat := scatter / math.Sqrt(float64(len(read)))
	w = math.Sqrt(sum + repeat*repeat)
	if c.Gauge && len(read) > 1 {
		w *= oracleWidening(w, repeat, len(read)-1)
	}
	return w, true
}
