package calibration_test

// asks draws the question itself.
func (d oracleDraw) asks(c *oracleCase) {
	d.target(c)
	d.adapter(c)
	d.limits(c)
	c.Direction = pick(d, "", "cw", "cw", "cw", "ccw")
	if c.Gauge {
		c.Direction = ""
	}
	c.Method, c.AngleKnown = "torque", d.chance(50)
	if !c.Gauge && d.chance(5) {
		c.Method = pick(d, "torque+angle", "yield")
	}
	c.NotSafety = d.chance(50)
	c.Unchanged = pick(d, saidYes, saidYes, saidYes, saidYes, saidNo, unsaid)
	c.Zero = pick(d, saidYes, saidYes, saidYes, saidYes, saidYes, saidNo, unsaid)
	c.Entered = pick(d, saidNo, saidNo, saidYes, unsaid)
	c.UnitRight = pick(d, unsaid, unsaid, unsaid, saidYes)
	if d.chance(1) {
		c.UnitRight = saidNo
	}
	c.Ambient = pick[milli](d, 20000, 20000, 20000, 5000, 40000, 4900, 41000)
	c.NoAmbient = d.chance(10)
}

// target is mostly a graduation, often an edge, at times in another unit.
func (d oracleDraw) target(c *oracleCase) {
	s := c.Scale
	if c.Second != nil && d.chance(50) {
		s = *c.Second
	}
	step := s.Step
	if step == 0 {
		step = max(1, s.High/50)
	}
	steps := int64((s.High - s.Low) / step)
	c.Target, c.TargetUnit = s.Low+step*milli(d.Int64N(steps+1)), s.Unit
	switch d.IntN(16) {
	case 0:
		c.Target = pick(d, s.Low, s.High, s.Low-step, s.High+step, s.High+1, s.Low-1)
	case 1:
		c.Target += step / 2
	case 2:
		c.Target += milli(d.IntN(3) - 1)
	case 3, 4:
		c.Target = 104000 * s.High / 200000 / 26 * 26
	}
	if s.Step == 0 && len(c.Calibrations) > 0 && d.chance(80) && c.left1() != 0 {
		c.Target = c.left1()
	}
	if d.chance(15) && !c.Gauge {
		unit := pick(d, "N·m", "ft-lb", "in-lb", "kgf·cm", "kgf·m")
		if d.chance(85) { // else the number is read in the wrong unit
			c.Target = milli(oracleConvert(c.Target.float(), c.TargetUnit, unit) * 1000)
			c.Target -= c.Target % pick[milli](d, 1, 100, 500, 1000)
		}
		c.TargetUnit = unit
	}
	c.Target = max(c.Target, 1)
	if c.Gauge {
		c.Target = max(c.Target, s.High/10)
	}
}

// left1 is the first value that the newest calibration left.
func (c oracleCase) left1() milli {
	if left := c.left(c.Calibrations[0]); len(left) > 0 {
		return left[0].Set
	}
	return 0
}

func (d oracleDraw) adapter(c *oracleCase) {
	a := &c.Adapter
	a.Due = oracleNoDay
	if c.Gauge || d.chance(75) {
		return
	}
	a.Kind = pick(d, "extension", "offset adapter", "offset adapter", "offset adapter", "offset adapter", "torque-limiting", "universal joint", "multiplier")
	switch a.Kind {
	case "extension":
	case "offset adapter":
		a.Length = pick[milli](d, 50000, 25000, 76200, 100000)
		a.Angle = pick[milli](d, 0, 0, 30000, 45000, 90000, 90000, 135000, 180000, milli(d.IntN(180001)))
		if d.chance(15) {
			a.OwnHalves, a.Halves = true, [3]milli{5000, 500, 2000}
		}
	default:
		a.Certificate = d.chance(60)
		a.Factor, a.Uncertainty = pick[milli](d, 1000, 950, 3000, 4000), pick[milli](d, 500, 2000, 4000)
		a.Due = c.Today + pick[oracleDay](d, -1, 0, 0, 1, 100)
	}
	if k := c.roughFactor(); d.chance(80) { // ask for what the tool can reach through it
		c.Target = max(1, milli(c.Target.float()*k*1000))
		c.Target -= c.Target % pick[milli](d, 1, 100, 500, 1000)
		c.Target = max(c.Target, 1)
	}
}

func (c oracleCase) roughFactor() float64 {
	switch {
	case c.Adapter.Kind == "offset adapter" && c.Grip > 0:
		k, _ := c.Adapter.offset(c.Grip)
		return k
	case c.Adapter.Certificate:
		return c.Adapter.Factor.float()
	}
	return 1
}

// limits stand about the target: wide, narrow, off to a side, open, or exactly at
// what the tolerance allows.
func (d oracleDraw) limits(c *oracleCase) {
	c.LimitUnit = c.TargetUnit
	if d.chance(15) {
		if d.chance(30) {
			c.Default = pick[milli](d, 5000, 10000, 4000)
		}
		return
	}
	below, above := pick(d, 5, 6, 7, 8, 10, 12, 15, 20, 3), pick(d, 5, 6, 7, 8, 10, 12, 15, 20, 3)
	if d.chance(5) {
		below = -below
	}
	c.LimitLow = c.Target * milli(100-below) / 100
	c.LimitHigh = max(c.Target*milli(100+above)/100, c.LimitLow)
	if d.chance(20) && c.Target%26 == 0 {
		c.LimitLow = c.Target / 26 * 25
	}
	if d.chance(20) && c.Target%24 == 0 {
		c.LimitHigh = max(c.LimitLow, c.Target/24*25)
	}
	both := d.IntN(10)
	c.HasLow, c.HasHigh = both != 0, both != 1
	if d.chance(3) {
		c.LimitUnit = pick(d, "N·m", "ft-lb")
		if c.Gauge {
			c.LimitUnit = pick(d, "bar", "inHg")
		}
	}
	c.HasLow = c.HasLow && c.LimitLow > 0
}
