package calibration_test

import (
	"math"
	"slices"
	"sync"
)

// Newton meters in one of each torque unit, exact by definition (NIST SP 811,
// appendix B); kilopascals for pressures.
var oracleFactors = map[string]float64{
	"N·m": 1, "ft-lb": 1.3558179483314004, "in-lb": 0.1129848290276167, "kgf·m": 9.80665, "kgf·cm": 0.0980665,
	"bar": 100, "psi": 6.89475729316836133, "kPa": 1, "inHg": 3.386388640341,
}

func oracleConvert(x float64, from, to string) float64 {
	if from == to {
		return x
	}
	return x * oracleFactors[from] / oracleFactors[to]
}

// oracleUsed is the tool as it would be used: the scale that is set, the torque at
// the fastener per torque set, what the adapter adds in doubt (%).
type oracleUsed struct {
	scale     oracleScale
	k, uext   float64
	entered   bool // the wrench itself reckons with the adapter: what is set is at the fastener
	unchanged bool // unit as on the scale, and no adapter
}

// value weighs the value itself: what is set, whether the tool reaches it, whether
// the limits hold.
func (r *oracleRule) value() {
	used, ok := r.use()
	if !ok {
		return
	}
	x, ok := r.onScale(used)
	if !ok {
		return
	}
	r.setting = x
	atDrive := x
	if used.entered {
		atDrive = x / used.k
	}
	r.target = oracleConvert(atDrive*used.k, used.scale.Unit, r.TargetUnit)
	main := oracleConvert(atDrive, used.scale.Unit, r.Scale.Unit)
	r.reaches(x, atDrive, used)
	figures, known := r.figures(main)
	r.gates(main)
	if known {
		r.probability(figures, used)
	}
}

// use chooses the scale and the adapter's factor.
func (r *oracleRule) use() (oracleUsed, bool) {
	u := oracleUsed{scale: r.Scale, k: 1}
	if r.Second != nil && r.TargetUnit == r.Second.Unit && r.TargetUnit != r.Scale.Unit {
		u.scale = *r.Second
	}
	a := r.Adapter
	u.unchanged = u.scale.Unit == r.TargetUnit && (a.Kind == "" || a.Kind == "extension")
	switch a.Kind {
	case "offset adapter":
		if r.Electronic {
			r.doubt(r.Entered == unsaid, "length in the wrench?")
			u.entered = r.Entered == saidYes
		}
		if r.Grip == 0 {
			r.doubt(true, "grip")
			return u, false
		}
		u.k, u.uext = a.offset(r.Grip)
	case "torque-limiting", "universal joint", "multiplier":
		if !a.Certificate || r.Today == oracleNoDay || r.Today > a.Due {
			r.doubt(true, "adapter")
			return u, false
		}
		u.k, u.uext = a.Factor.float(), a.Uncertainty.float()/2
	}
	return u, true
}

// offset is K = (L + E cos θ)/L from the moments about the drive, and the standard
// uncertainty of K by small changes of each length, taken as rectangular (JCGM
// 100:2008 5.1.2 and 4.3.7); the derivatives are differences, not formulas.
func (a oracleAdapter) offset(grip milli) (k, uext float64) {
	factor := func(l, e, degrees float64) float64 { return (l + e*math.Cos(degrees*math.Pi/180)) / l }
	l, e, degrees := grip.float(), a.Length.float(), a.Angle.float()
	k = factor(l, e, degrees)
	halves := [3]float64{10, 1, 5}
	if a.OwnHalves {
		halves = [3]float64{a.Halves[0].float(), a.Halves[1].float(), a.Halves[2].float()}
	}
	const h = 1e-4
	slopes := [3]float64{
		(factor(l+h, e, degrees) - factor(l-h, e, degrees)) / (2 * h),
		(factor(l, e+h, degrees) - factor(l, e-h, degrees)) / (2 * h),
		(factor(l, e, degrees+h) - factor(l, e, degrees-h)) / (2 * h),
	}
	for i, slope := range slopes {
		uext += math.Pow(slope*halves[i]/math.Sqrt(3)/k*100, 2)
	}
	return k, math.Sqrt(uext)
}

// onScale finds what is set. A value in the scale's own unit without adapter must
// itself be a graduation; else the nearest one is taken, the lower of two.
func (r *oracleRule) onScale(u oracleUsed) (x float64, ok bool) {
	x = oracleConvert(r.Target.float(), r.TargetUnit, u.scale.Unit)
	if !u.entered {
		x /= u.k
	}
	switch {
	case r.Gauge:
		return x, true
	case u.scale.Low == u.scale.High:
		return r.only(x, u.scale.Low.float(), u)
	case r.Class == "II-C" || r.Class == "II-F":
		return r.leftAtOne(x, u)
	case u.scale.Step == 0 && u.scale.Unit == r.Scale.Unit && r.Resolution != 0:
		u.scale.Step = r.Resolution
	case u.scale.Step == 0:
		r.doubt(true, "graduation?")
		return x, false
	}
	step, from := u.scale.Step.float(), u.scale.Low.float()
	steps := (x - from) / step
	margin := oracleSlack * math.Max(1, math.Abs(x/step))
	nearest := math.Floor(steps + margin)
	if steps-nearest > 0.5+margin {
		nearest++
	}
	if u.unchanged && !same(x, from+nearest*step) {
		r.forbid(true, "graduation")
		return x, true
	}
	return from + nearest*step, true
}

// only is a tool that has one value: it must be the one asked for, or within 1 % of
// it where a unit or an adapter came between.
func (r *oracleRule) only(x, one float64, u oracleUsed) (float64, bool) {
	if u.unchanged {
		r.forbid(!same(x, one), "one value")
		return x, same(x, one)
	}
	near := atMost(math.Abs(one/x-1), 0.01)
	r.forbid(!near, "one value")
	return one, near
}

// leftAtOne is a tool without scale: it stands where its calibration left it.
func (r *oracleRule) leftAtOne(x float64, u oracleUsed) (float64, bool) {
	k := r.inForce()
	if k == nil {
		return x, false
	}
	var at []milli
	for _, p := range r.left(*k) {
		if p.Direction == r.turn() {
			at = append(at, p.Set)
		}
	}
	switch {
	case k.Paper == "declaration", len(at) > 1:
		r.doubt(true, "where it stands")
		return x, false
	case len(at) == 0:
		return x, false
	}
	return r.only(x, oracleConvert(at[0].float(), r.Scale.Unit, u.scale.Unit), u)
}

// reaches asks whether the setting lies on the scale and its graduation is fine
// enough for it.
func (r *oracleRule) reaches(x, atDrive float64, u oracleUsed) {
	low, high := u.scale.Low.float(), u.scale.High.float()
	on := atMost(low, x) && atMost(x, high) && atMost(low, atDrive) && atMost(atDrive, high)
	r.forbid(!on, "range")
	if u.scale.Step == 0 && u.scale.Unit == r.Scale.Unit && r.Class != "II-C" && r.Class != "II-F" {
		u.scale.Step = r.Resolution
	}
	if u.scale.Step > 0 && !r.Gauge {
		r.forbid(!atMost(u.scale.Step.float(), atDrive/10), "coarse")
	}
}

// oracleFigures are the deviation, its bend between two points and the standard
// deviations, all in percent of the value.
type oracleFigures struct {
	mean, w, s, between, drift float64
	limit                      float64
}

// inForce is the comparison that the figures are from: the last calibration, or the
// bench check that gave trust back after something since.
func (r *oracleRule) inForce() *oracleCalibration {
	if len(r.Calibrations) == 0 {
		return nil
	}
	k := &r.Calibrations[0]
	for _, e := range r.Events {
		if !r.passedSince(e.On, e.Hour) {
			if check := r.restoring(e.On, e.Hour); check != nil {
				return check
			}
		}
	}
	for _, c := range r.Checks {
		if outcome, _ := r.judge(c); outcome == "fail" && !r.passedSince(c.On, c.Hour) {
			if check := r.restoring(c.On, c.Hour); check != nil {
				return check
			}
		}
	}
	return k
}

func (r *oracleRule) figures(main float64) (f oracleFigures, ok bool) {
	k := r.inForce()
	if k == nil || k.Paper == "pass only" {
		return f, false
	}
	f.limit = 100 * r.Limit.at(main, main, r.Scale) / main
	if k.Paper == "declaration" {
		ok = r.declared(*k, main, &f)
	} else {
		ok = r.between(*k, main, &f)
	}
	if !ok || r.Months == 0 || r.Today == oracleNoDay {
		return f, false
	}
	f.drift = r.drifted(f.limit)
	return f, true
}

// declared is paper without readings: the whole limit, evenly.
func (r *oracleRule) declared(k oracleCalibration, main float64, f *oracleFigures) bool {
	if !r.declares(k) {
		return false
	}
	inside := atMost(k.Declared.Low.float(), main) && atMost(main, k.Declared.High.float())
	r.forbid(!inside, "calibrated range")
	f.limit = math.Max(f.limit, k.Declared.Limit.float())
	f.mean, f.s, f.between = 0, f.limit/4, 0
	f.w = math.Sqrt(f.limit*f.limit/3 + f.limit*f.limit/64)
	return inside
}

// direction asks whether the comparison speaks of the direction at all.
func (r *oracleRule) direction() {
	k := r.inForce()
	if k == nil || len(r.Directions) == 0 {
		return
	}
	var spoken []string
	if r.declares(*k) {
		spoken = append(spoken, k.Declared.Directions...)
	}
	for _, p := range r.left(*k) {
		spoken = append(spoken, p.Direction)
	}
	r.forbid(len(spoken) > 0 && !slices.Contains(spoken, r.turn()), "direction")
}

func (c oracleCase) turn() string {
	switch {
	case len(c.Directions) == 0:
		return ""
	case c.Direction == "":
		return "cw"
	}
	return c.Direction
}

// between takes the two points about the setting, never beyond them.
func (r *oracleRule) between(k oracleCalibration, main float64, f *oracleFigures) bool {
	points := r.left(k)
	if len(points) == 0 {
		return false
	}
	var below, above *oraclePointFacts
	any := false
	for _, p := range points {
		if p.Direction != r.turn() {
			continue
		}
		any = true
		facts := r.relativeTo(main, r.point(p, k))
		if atMost(facts.set, main) && (below == nil || facts.set > below.set) {
			below = &facts
		}
		if atMost(main, facts.set) && (above == nil || facts.set < above.set) {
			above = &facts
		}
	}
	if !any {
		return false
	}
	r.forbid(below == nil || above == nil, "calibrated range")
	if below == nil || above == nil {
		return false
	}
	if same(below.set, main) {
		above = below
	} else if same(above.set, main) {
		below = above
	}
	return r.interpolate(below, above, main, f)
}

// relativeTo makes a gauge's figures percents of the value in question instead of
// percents at its points: a share of the span is the same amount everywhere.
func (r *oracleRule) relativeTo(main float64, f oraclePointFacts) oraclePointFacts {
	if !r.Gauge || r.Limit.Kind == "of reference" {
		return f
	}
	f.mean = 100 * f.amounts[0] / main
	f.w = 100 * f.amounts[1] / main
	f.scatter = 100 * f.amounts[2] / main
	return f
}

func (r *oracleRule) interpolate(below, above *oraclePointFacts, main float64, f *oracleFigures) bool {
	share := 0.0
	if above != below {
		share = (main - below.set) / (above.set - below.set)
	}
	bend := math.Abs(above.mean - below.mean)
	f.mean = below.mean + share*(above.mean-below.mean)
	f.w, f.s = math.Max(below.w, above.w), math.Max(below.scatter, above.scatter)
	f.between = 2 * share * (1 - share) * bend / math.Sqrt(3)
	r.doubt(!atMost(bend, f.limit/2), "add a point")
	return below.known && above.known
}

// drifted is the standard deviation of what the tool may have moved since, in %.
func (r *oracleRule) drifted(limit float64) float64 {
	if r.wrong == "no drift" {
		return 0
	}
	k := r.Calibrations[0]
	t, period := float64(r.Today-k.On), float64(r.due()-k.On)
	age := t / period
	if r.Cycles > 0 && r.Counted {
		age = math.Max(age, float64(r.Count)/float64(r.Cycles))
	}
	age = math.Sqrt(math.Min(1, math.Max(0, age)))
	if len(r.Pairs) >= 10 {
		sum := 0.0
		for _, p := range r.Pairs {
			change := p.Change.float()
			if r.Gauge && r.Limit.Kind != "of reference" {
				change = p.Share.float() * limit // an error that is an amount
			}
			d := change / math.Sqrt(float64(p.Days)/period)
			sum += d * d
		}
		return math.Sqrt(sum/float64(len(r.Pairs))) * age
	}
	reliability := 0.95
	if r.Reliability != 0 {
		reliability = r.Reliability.float()
	}
	return limit / oracleNormal(reliability) * age
}

var oracleQuantiles sync.Map

// oracleNormal is the quantile of (1+share)/2, kept.
func oracleNormal(share float64) float64 {
	z, ok := oracleQuantiles.Load(share)
	if !ok {
		z = oracleNormalQuantile((1 + share) / 2)
		oracleQuantiles.Store(share, z)
	}
	return z.(float64)
}

// limits are the job's in the question's unit; an open end is infinite.
func (r *oracleRule) limits() (low, high float64, given bool) {
	low, high = math.Inf(-1), math.Inf(1)
	if r.HasLow {
		low = oracleConvert(r.LimitLow.float(), r.LimitUnit, r.TargetUnit)
	}
	if r.HasHigh {
		high = oracleConvert(r.LimitHigh.float(), r.LimitUnit, r.TargetUnit)
	}
	given = r.HasLow || r.HasHigh
	if !given && r.Default != 0 {
		share := r.Default.float() / 100
		return r.Target.float() * (1 - share), r.Target.float() * (1 + share), true
	}
	return low, high, given
}

// gates are those that need the limit alone: the tolerance about the setting stays
// inside the job's limits.
func (r *oracleRule) gates(main float64) {
	low, high, given := r.limits()
	if !given {
		r.doubt(!atMost(math.Abs(r.target/r.Target.float()-1), 0.01), "off the value")
		return
	}
	p := r.Limit.at(main, main, r.Scale) / main
	least := r.target / (1 + p)
	if r.byAmount() {
		least = r.target - p*r.target
	}
	r.forbid(!atMost(low, least) || !atMost(r.target/(1-p), high), "too narrow")
}

// byAmount says whether an error is an amount, and no percent of what the reference shows:
// then there is what is shown less the error.
func (c oracleCase) byAmount() bool { return c.Gauge && c.Limit.Kind != "of reference" }

// probability is that of one fastener, and the interval of what is applied.
func (r *oracleRule) probability(f oracleFigures, u oracleUsed) {
	switch r.wrong {
	case "no scatter":
		f.s = 0
	case "no uncertainty":
		f.w = 0
	case "sign":
		f.mean = -f.mean
	}
	v := math.Sqrt(f.w*f.w + f.s*f.s + f.drift*f.drift + f.between*f.between + u.uext*u.uext)
	r.parts, r.uext = f, u.uext
	r.mean, r.spread = f.mean, 1.96*v
	r.low = r.target / (1 + (f.mean+1.96*v)/100)
	r.high = r.target / (1 + (f.mean-1.96*v)/100)
	if r.byAmount() {
		r.low = r.target - r.target*(f.mean+1.96*v)/100
	}
	if f.mean-1.96*v <= -100 { // an error as large as the value itself: nothing is shown
		r.low, r.high = math.NaN(), math.NaN()
		r.doubt(true, "figures")
	}
	low, high, given := r.limits()
	if !given {
		return
	}
	inside := 1.0
	if !math.IsInf(low, 0) {
		inside = oraclePhi((100*(r.target/low-1) - f.mean) / v)
	}
	if !math.IsInf(high, 0) {
		inside -= oraclePhi((100*(r.target/high-1) - f.mean) / v)
	}
	if r.byAmount() { // the error that is permitted goes from what is shown less the upper limit to it less the lower
		amount, spread := r.target*f.mean/100, r.target*v/100
		inside = math.Min(inside, oraclePhi((r.target-low-amount)/spread)-oraclePhi((r.target-high-amount)/spread))
	}
	r.inside = inside
	r.forbid(r.high < low || r.low > high, "wholly outside")
	r.doubt(!atMost(r.threshold, inside), "probability")
}
