package calibration_test

import (
	"math/rand/v2"
	"slices"
)

// oracleDraw draws cases: every class and paper, and edges far more often than chance
// would hit them.
type oracleDraw struct{ *rand.Rand }

func (d oracleDraw) chance(percent int) bool { return d.IntN(100) < percent }

func pick[T any](d oracleDraw, from ...T) T { return from[d.IntN(len(from))] }

func newOracleDraw(seed uint64) oracleDraw {
	return oracleDraw{rand.New(rand.NewPCG(seed, 6789))}
}

// question draws one case.
func (d oracleDraw) question() oracleCase {
	var c oracleCase
	c.Today = oracleDay(700 + d.IntN(1500))
	d.tool(&c)
	d.interval(&c)
	d.history(&c)
	d.since(&c)
	d.asks(&c)
	if d.chance(1) {
		c.Today = oracleNoDay
	}
	return c
}

func (d oracleDraw) tool(c *oracleCase) {
	c.Class = pick(d, "II-A", "II-A", "II-A", "II-A", "II-B", "II-C", "II-D", "II-E", "II-F", "II-G", "I-A", "I-B", "I-C", "I-D", "I-E", "")
	c.Gauge = c.Class == ""
	c.Electronic = c.Class == "I-C" || c.Class == "I-E" || d.chance(5)
	c.NoRequirement = d.chance(1)
	c.FromMemory = d.chance(3)
	c.Rule, c.SafetyJobs = pick(d, "", "", "", "simple", "guarded", "four-zone"), d.chance(50)
	c.Directions = []string{"cw"}
	if d.chance(60) {
		c.Directions = []string{"cw", "ccw"}
	}
	c.Limit = oracleLimit{Kind: "of reference", Amount: pick[milli](d, 4000, 4000, 4000, 6000, 2000, 1000)}
	switch {
	case c.Gauge:
		d.gauge(c)
	case c.Class == "II-B" || c.Class == "II-E":
		value := pick[milli](d, 108000, 104000, 26000, 6500)
		c.Scale = oracleScale{pick(d, "N·m", "ft-lb"), value, value, 0}
	default:
		d.scale(c)
	}
	if !c.Gauge && d.chance(8) {
		c.Limit = pick(d, oracleLimit{Kind: "of indicated", Amount: 4000}, oracleLimit{Kind: "of span", Amount: 1000}, oracleLimit{Kind: "absolute", Amount: c.Scale.High / 100})
		if c.Scale.Low == c.Scale.High {
			c.Limit = oracleLimit{Kind: "of indicated", Amount: 4000}
		}
	}
	c.Grip = pick[milli](d, 400000, 400000, 305000, 120000, 0)
	if c.Electronic && d.chance(85) {
		c.AmbientLow, c.AmbientHigh = 5000, 40000
	}
	c.Reliability = pick[milli](d, 0, 0, 0, 950, 900, 850)
}

func (d oracleDraw) gauge(c *oracleCase) {
	c.Directions, c.Scale = nil, pick(d, oracleScale{"psi", 0, 200000, 2000}, oracleScale{"bar", 0, 10000, 100})
	if d.chance(25) {
		c.Vacuum, c.Scale = true, oracleScale{"inHg", 0, 30000, 500}
	}
	fine := c.Scale.High / 100
	c.Limit = pick(d, oracleLimit{Kind: "of reference", Amount: 3000}, oracleLimit{Kind: "of span", Amount: 2000}, oracleLimit{Kind: "of indicated", Amount: 4000},
		oracleLimit{Kind: "absolute", Amount: 2 * fine}, oracleLimit{Kind: "quarters", Amount: 3000, Other: 2000},
		oracleLimit{Kind: "sum", Amount: 1000, Other: fine}, oracleLimit{Kind: "larger", Amount: 3000, Other: fine})
	if !c.Vacuum && d.chance(15) {
		c.Limit = oracleLimit{Kind: "steps", Amount: fine, Other: 2 * fine, To: 40 * fine}
	}
}

func (d oracleDraw) scale(c *oracleCase) {
	unit := pick(d, "N·m", "N·m", "ft-lb", "in-lb", "kgf·cm")
	high := pick[milli](d, 200000, 200000, 100000, 10000, 340000, 60000)
	step := pick(d, high/200, high/200, high/100, high/100, high/40, high/20)
	if d.chance(3) {
		step = high / 8
	}
	c.Scale = oracleScale{unit, high / 5, high, step}
	if d.chance(10) {
		c.Scale.Low = high/5 + step/2
	}
	if d.chance(10) {
		c.Scale.Low = pick(d, 0, high/10)
	}
	if c.Class == "II-C" || c.Class == "II-F" || d.chance(3) {
		c.Scale.Step = 0
	}
	if d.chance(8) {
		c.Resolution = pick(d, step, step/2)
	}
	if c.Scale.Step != 0 && d.chance(25) {
		d.second(c)
	}
}

func (d oracleDraw) second(c *oracleCase) {
	unit := "ft-lb"
	if c.Scale.Unit == "ft-lb" {
		unit = "N·m"
	}
	in := func(m milli) milli { return milli(oracleConvert(m.float(), c.Scale.Unit, unit) * 1000) }
	step := pick[milli](d, 1000, 500, 100)
	low := (in(c.Scale.Low)/step + 1) * step
	if high := in(c.Scale.High) / step * step; high > low+10*step {
		c.Second = &oracleScale{unit, low, high, step}
	}
}

func (d oracleDraw) interval(c *oracleCase) {
	c.Months = pick(d, 12, 12, 12, 12, 6, 24, 3, 1)
	if d.chance(2) {
		c.Months = 0
	}
	c.Cycles = pick[int64](d, 5000, 5000, 100, 0)
	c.Counted = d.chance(60)
	c.Count = pick(d, 0, c.Cycles/6, c.Cycles/2, c.Cycles*9/10)
	if d.chance(12) {
		c.Count = max(0, c.Cycles+pick[int64](d, -1, 0, 1))
	}
	c.FirstUse = oracleNoDay
	if d.chance(20) {
		for range d.IntN(14) {
			c.Pairs = append(c.Pairs, oraclePair{milli(d.IntN(2500)), milli(d.IntN(600)), pick(d, 180, 365, 400)})
		}
	}
}

// age is how long ago the calibration was, with the due day and its neighbors.
func (d oracleDraw) age(c *oracleCase) oracleDay {
	switch d.IntN(12) {
	case 0:
		return 0
	case 1:
		return oracleDay(d.IntN(3))
	case 2, 3: // the day that makes today the due day, or next to it
		if c.Months > 0 {
			for on := c.Today - 760; on <= c.Today; on++ {
				if on.months(c.Months) >= c.Today {
					return c.Today - on + oracleDay(d.IntN(3)-1)
				}
			}
		}
	case 4:
		return oracleDay(d.IntN(800))
	}
	return oracleDay(d.IntN(max(1, c.Months*27)))
}

func (d oracleDraw) history(c *oracleCase) {
	if d.chance(2) {
		return
	}
	on := c.Today - d.age(c)
	if d.chance(2) {
		on = c.Today + oracleDay(1+d.IntN(3))
	}
	c.Calibrations = []oracleCalibration{d.calibration(c, on)}
	if d.chance(15) {
		c.FirstUse = on + oracleDay(d.IntN(60))
	}
	if d.chance(5) { // another paper of the same day, perhaps of the other direction only
		c.Calibrations = append(c.Calibrations, d.calibration(c, on))
	}
	if d.chance(25) {
		c.Calibrations = append(c.Calibrations, d.calibration(c, on-oracleDay(1+d.IntN(400))))
	}
}

func (d oracleDraw) calibration(c *oracleCase, on oracleDay) oracleCalibration {
	k := oracleCalibration{On: on, Hour: d.hour(), Temperature: 20000}
	k.Paper = pick(d, "certificate", "certificate", "certificate", "certificate", "certificate", "own", "own", "own", "declaration", "pass only")
	k.Claim = pick(d, "", "pass", "pass")
	if d.chance(2) {
		k.Claim = "fail"
	}
	switch k.Paper {
	case "pass only":
		if k.Claim == "" {
			k.Claim = "pass"
		}
		return k
	case "declaration":
		d.declaration(c, &k)
		return k
	case "own":
		k.Claim = ""
		d.bench(c, &k)
	default:
		k.W = pick[milli](d, 1420, 1420, 1000, 700, 500, c.Limit.Amount/2, c.Limit.Amount/2+1)
		if c.Limit.Kind == "absolute" || d.chance(4) {
			k.W = pick[milli](d, 0, 800, 1000)
		}
		k.OnlyW = d.chance(8)
	}
	d.comparison(c, &k)
	return k
}

// comparison fills in what was found and left.
func (d oracleDraw) comparison(c *oracleCase, k *oracleCalibration) {
	k.Adjusted = d.chance(15)
	lab := k.Paper == "certificate"
	found, left := d.points(c, lab), d.points(c, lab)
	switch {
	case d.chance(3) && k.Paper != "own":
	case !k.Adjusted && d.chance(60):
		k.Found = found
	case k.Adjusted && d.chance(15):
		k.Found = found
	case k.Adjusted && d.chance(80):
		k.Found, k.Left = found, left
	case len(found) > 3 && d.chance(30): // only one direction compared again
		k.Found, k.Left = found, left
		if d.chance(70) {
			k.Left = slices.Clone(found[:len(found)/2])
		}
	default:
		k.Left = left
	}
}

func (d oracleDraw) declaration(c *oracleCase, k *oracleCalibration) {
	k.Declared = oracleDeclared{c.Scale.Low, c.Scale.High, pick(d, 3, 3, 3, 5, 2), 0, c.Directions}
	if d.chance(15) {
		k.Declared.Low = c.Scale.Low + (c.Scale.High-c.Scale.Low)/4
	}
	if d.chance(15) {
		k.Declared.Directions = c.Directions[:min(1, len(c.Directions))]
	}
	if c.Limit.Kind == "of reference" && d.chance(20) {
		k.Declared.Limit = pick[milli](d, 4000, 6000)
	}
}

// bench is a comparison made here, with its standard and spreads.
func (d oracleDraw) bench(c *oracleCase, k *oracleCalibration) {
	k.Standard = oracleStandard{Uncertainty: pick[milli](d, 500, 250, 200), Low: 0, High: c.Scale.High * 2, BiasSaid: true, On: k.On - 100, Due: k.On + 200}
	s := &k.Standard
	switch d.IntN(24) {
	case 0:
		s.Missing = true
	case 1:
		s.Uncertainty = 0
	case 2:
		s.Uncertainty = c.Limit.Amount/4 + milli(d.IntN(3)-1)
	case 3:
		s.High = c.Scale.High
	case 4:
		s.High = c.Scale.High * 9 / 10
	case 5:
		s.BiasSaid = false
	case 6:
		s.Bias = pick[milli](d, 100, -200, 1500)
	case 7:
		s.On = k.On + oracleDay(d.IntN(3)-1)
	case 8:
		s.Due = k.On + oracleDay(d.IntN(3)-1)
	case 9:
		s.OutOfUse = true
	case 10:
		k.NoTemp = true
	case 11:
		k.Temperature = pick[milli](d, 18000, 28000, 17900, 28100)
	case 12:
		s.Due = oracleNoDay
	case 13, 14:
		s.Uncertainty, s.Absolute = 0, max(1, pick(d, c.Scale.High/1000, c.Scale.High/500, c.Scale.Low/100))
	}
	unit := max(1, c.Scale.High/2000)
	k.Spreads = oracleSpreads{milli(d.IntN(3)) * unit, milli(d.IntN(3)) * unit, milli(d.IntN(3)) * unit, milli(d.IntN(3)) * unit}
}

// points compares the scale at three values, or fewer, in the directions asked.
func (d oracleDraw) points(c *oracleCase, lab bool) (out []oraclePoint) {
	low, high := c.Scale.Low, c.Scale.High
	if c.Gauge {
		low = high / 10
	}
	low = max(low, high/20)
	sets := []milli{low, (low + high) / 2, high}
	switch n := d.IntN(20); {
	case low == high:
		sets = []milli{low}
	case c.Class == "II-C" || c.Class == "II-F":
		sets = []milli{pick(d, low, high, (low+high)/2, 104000*high/200000)}
		if n == 0 {
			sets = []milli{low, high}
		}
	case n == 0:
		sets = sets[:1]
	case n < 3:
		sets = sets[:2]
	case n < 5:
		sets = sets[1:]
	case n < 7:
		sets = []milli{low, low + (high-low)/4, (low + high) / 2, low + (high-low)*3/4, high}
	case n == 7:
		sets = []milli{high, low, (low + high) / 2}
	}
	directions := c.Directions
	if len(directions) == 0 {
		directions = []string{""}
	} else if d.chance(8) {
		directions = directions[d.IntN(len(directions)):][:1]
	}
	for _, direction := range directions {
		out = append(out, d.readings(c, direction, sets, lab)...)
	}
	return out
}

func (d oracleDraw) readings(c *oracleCase, direction string, sets []milli, lab bool) (out []oraclePoint) {
	share := pick(d, 0, 0.3, 0.5, 0.5, 0.7, 0.9)
	if d.chance(4) {
		share = 1.3
	}
	slope, offset := (d.Float64()*2-1)*share*0.7, (d.Float64()*2-1)*share
	scatter := pick(d, 0.02, 0.05, 0.1, 0.2) * d.Float64()
	n := pick(d, 5, 5, 5, 1, 2, 3, 9, 10, 11)
	for i, set := range sets {
		limit := c.Limit.at(set.float(), set.float(), c.Scale)
		p := oraclePoint{Direction: direction, Set: set}
		for range n {
			e := limit * (offset + slope*float64(i)/2 + scatter*d.NormFloat64())
			p.Readings = append(p.Readings, milli((set.float()-e)*1000))
		}
		if d.chance(2) && set*25%26 == 0 { // exactly on a limit of 4 % of the reference
			p.Readings[0] = set * 25 / 26
		}
		if lab && d.chance(3) {
			p.W = pick[milli](d, 600, 1420, c.Limit.Amount/2)
		}
		out = append(out, p)
	}
	return out
}

// since draws what happened after the calibration, or about its day.
func (d oracleDraw) since(c *oracleCase) {
	c.Doubtful, c.Gone, c.DoNotUse, c.Unreadable = d.chance(1), d.chance(1), d.chance(1), d.chance(1)
	c.Held = d.chance(10)
	if len(c.Calibrations) == 0 {
		return
	}
	on := c.Calibrations[0].On
	day := func() oracleDay {
		return min(c.Today, pick(d, on-1, on, on+1, on+10, c.Today-1, c.Today, c.Today-20))
	}
	if d.chance(12) {
		c.Events = append(c.Events, oracleEvent{pick(d, "dropped", "overloaded", "used to break a fastener loose", "repaired", "damaged", "failed", "doubtful",
			"back from the lab without paper", "back from the lab with another serial number"), day(), d.hour()})
	}
	if d.chance(2) {
		c.Events = append(c.Events, oracleEvent{"dropped", day(), d.hour()})
	}
	if len(c.Calibrations) > 1 && c.Calibrations[1].On == on && d.chance(40) { // three things of one day
		c.Events = append(c.Events, oracleEvent{"dropped", min(on, c.Today), d.hour()})
	}
	for range 3 {
		if d.chance(10 + 40*len(c.Events)) {
			d.check(c, day())
		}
	}
}

// hour is when on its day something was, where anybody noted it.
func (d oracleDraw) hour() int { return pick(d, 0, 0, 8, 12, 12, 17) }

// check adds a bench check; the newest stands first.
func (d oracleDraw) check(c *oracleCase, on oracleDay) {
	if len(c.Checks) > 0 && on >= c.Checks[len(c.Checks)-1].On {
		return
	}
	k := oracleCalibration{On: on, Hour: d.hour(), Paper: "own", Bench: true, Temperature: 20000}
	d.bench(c, &k)
	k.Found = d.points(c, false)
	c.Checks = append(c.Checks, k)
}
