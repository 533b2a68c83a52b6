package calibration_test

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// What a shop has on record of one tool, in plain numbers: days from the first of
// January, minutes from its midnight on the clock of the shop. The second implementation
// of recheck (recheck_oracle_test.go) reads nothing else.

const dayMinutes = 24 * 60

// doubtTime is a time; minute is -1 where only the day is known.
type doubtTime struct{ day, minute int }

var noTime = doubtTime{day: -1 << 30, minute: -1}

func atMinute(minute int) doubtTime {
	return doubtTime{int(math.Floor(float64(minute) / dayMinutes)), minute}
}

// doubtPoint is a value with what the reference showed there.
type doubtPoint struct {
	direction string
	set       float64
	read      []float64
}

// doubtCompared is a calibration or bench check as entered.
type doubtCompared struct {
	id           string
	at           doubtTime
	entered      int // minute, later than at
	paper        string
	bench        bool
	adjusted     bool
	found, left  []doubtPoint
	w            float64 // expanded uncertainty, % of reading; 0: nobody states it
	claim        string
	unfit        bool // its temperature was not recorded
	points       int  // of a declaration
	withStandard bool // compared with the standard of the case
	standardOut  bool // made with a standard that was out of use that day
}

// doubtUse is a tightening or a measurement.
type doubtUse struct {
	id, job         string
	minute          int
	direction       string
	set, target     float64 // set: NaN not recorded
	low, high       float64 // ±Inf: open
	limited         bool
	unit            string  // of the target and the limits
	reach, angle    float64 // of an offset adapter, mm and degrees; 0 none
	lengthInWrench  bool
	measured, bound bool // bound: judged by a plain extension too, that changes nothing
}

type doubtStretch struct {
	id, job  string
	from, to int // to: -1 still out
}

type doubtMishap struct {
	kind             string
	at, out, cleared int // cleared: -1 it is not
}

// doubtTool is one tool.
type doubtTool struct {
	sort       string // wrench, one value, electronic, gauge
	noDemand   bool   // nothing is recorded of what it must hold
	grip       float64
	directions []string
	compared   []doubtCompared
	mishaps    []doubtMishap
	changed    []int
	gone       int // -1: here
	lost       bool
	uses       []doubtUse
	stretches  []doubtStretch
}

// doubtCase is a tool and the standard that some of it was compared with.
type doubtCase struct {
	doubtTool
	standard doubtTool
	now      int
}

func (t doubtTool) turns() bool { return t.sort != "gauge" }

// half is the limit of the tool about a value: 4 % of what the reference shows; of the
// gauge 1.6 % of 0 to 160 psi.
func (t doubtTool) half(reference float64) float64 {
	if t.sort == "gauge" {
		return 0.016 * 160
	}
	return 0.04 * math.Abs(reference)
}

type doubtDraw struct{ *rand.Rand }

func (d doubtDraw) chance(percent int) bool { return d.IntN(100) < percent }

func newDoubtCase(seed uint64) (c doubtCase) {
	d := doubtDraw{rand.New(rand.NewPCG(seed, 71))}
	c.now = 330*dayMinutes + 12*60
	c.standard = d.tool("R", "wrench", 1+d.IntN(3))
	c.standard.uses, c.standard.stretches, c.standard.noDemand = nil, nil, false
	c.doubtTool = d.tool("A", pick(oracleDraw(d), "wrench", "wrench", "wrench", "wrench", "wrench", "one value", "electronic", "gauge"), 1+d.IntN(6))
	return c
}

func (d doubtDraw) tool(name, sort string, comparisons int) (t doubtTool) {
	t = doubtTool{sort: sort, gone: -1, noDemand: d.chance(2), grip: pick[float64](oracleDraw(d), 400, 400, 400, 305, 0)}
	if t.turns() {
		t.directions = pick(oracleDraw(d), []string{"cw"}, []string{"cw", "ccw"}, []string{"cw", "ccw"})
	} else {
		t.directions = []string{""}
	}
	error := d.Float64()*8 - 4
	for i := range comparisons {
		t.compared = append(t.compared, d.comparison(t, fmt.Sprintf("%s-%d", name, i), &error))
	}
	d.events(&t)
	for i := range 1 + d.IntN(6) {
		d.use(&t, i)
	}
	for i := range d.IntN(3) {
		t.stretches = append(t.stretches, d.stretch(fmt.Sprintf("O-x%d", i), pick(oracleDraw(d), "", "", "J-1", "J-9"), d.moment(t)))
	}
	return t
}

// moment draws a minute, often of a day on which something was compared.
func (d doubtDraw) moment(t doubtTool) int {
	day := d.IntN(340) - 20
	if len(t.compared) > 0 && d.chance(25) {
		day = t.compared[d.IntN(len(t.compared))].at.day + d.IntN(3) - 1
	}
	return day*dayMinutes + d.IntN(dayMinutes)
}

func (d doubtDraw) comparison(t doubtTool, id string, error *float64) (c doubtCompared) {
	day := d.IntN(300)
	if len(t.compared) > 0 && d.chance(25) {
		day = t.compared[d.IntN(len(t.compared))].at.day
	}
	c = doubtCompared{id: id, at: doubtTime{day, -1}, paper: "certificate", w: pick[float64](oracleDraw(d), 0.5, 1, 1, 2, 2, 3, 0), withStandard: d.chance(20)}
	c.entered = day*dayMinutes + 20*60 + d.IntN(30*dayMinutes)
	if d.chance(60) {
		c.at.minute = day*dayMinutes + d.IntN(dayMinutes)
	}
	if *error += d.NormFloat64() * 1.2; d.chance(18) {
		*error += d.Float64()*20 - 10
	}
	switch k := d.IntN(100); {
	case k < 35:
		c.paper, c.bench, c.w, c.unfit = "own", true, pick(oracleDraw(d), 0.5, 0.8), d.chance(25)
		c.found = d.points(t, *error)
	case k < 42:
		c.paper, c.w, c.claim, c.adjusted = "pass only", 0, pick(oracleDraw(d), "pass", "fail", "fail"), d.chance(20)
	case k < 48:
		c.paper, c.w, c.points, c.claim = "declaration", 0, pick(oracleDraw(d), 3, 3, 3, 2), pick(oracleDraw(d), "", "pass", "fail")
	default:
		if c.paper = pick(oracleDraw(d), "certificate", "certificate", "certificate", "own"); c.paper == "own" {
			c.w, c.unfit = 0.8, d.chance(30)
		}
		d.readings(t, &c, error)
		if d.chance(4) {
			c.claim = pick(oracleDraw(d), "pass", "fail")
		}
	}
	c.standardOut = (c.paper == "own" || c.paper == "certificate") && d.chance(12)
	return c
}

// readings draws how it was found and how it was left.
func (d doubtDraw) readings(t doubtTool, c *doubtCompared, error *float64) {
	switch k := d.IntN(100); {
	case k < 40:
		c.found, c.adjusted = d.points(t, *error), true
	case k < 60:
		c.adjusted = true
	case k < 80:
		c.found = d.points(t, *error)
		return
	default:
		c.left = d.points(t, *error)
		return
	}
	if *error = d.NormFloat64() * 0.8; d.chance(90) {
		if d.chance(5) {
			*error = 6
		}
		c.left = d.points(t, *error)
	}
	if len(c.left) == 0 && len(c.found) == 0 {
		c.left = d.points(t, *error)
	}
}

// points draws points about an error in percent.
func (d doubtDraw) points(t doubtTool, error float64) (out []doubtPoint) {
	sets := pick(oracleDraw(d), []float64{40, 120, 200}, []float64{40, 120, 200}, []float64{40, 120, 200}, []float64{40, 120}, []float64{120, 200}, []float64{120})
	if t.sort == "one value" {
		sets = []float64{108}
	}
	if t.sort == "gauge" {
		sets = pick(oracleDraw(d), []float64{20, 80, 140}, []float64{20, 80})
	}
	for _, direction := range t.directions {
		if len(t.directions) == 2 && d.chance(20) && (direction == "ccw" || d.chance(30)) && (len(out) > 0 || direction == "cw") {
			continue
		}
		shift := d.NormFloat64() * 0.5
		if direction == "ccw" && d.chance(30) {
			shift += d.Float64()*12 - 6
		}
		for _, set := range sets {
			p := doubtPoint{direction: direction, set: set}
			for range 1 + d.IntN(3) {
				a := error + shift + d.NormFloat64()*0.3
				read := set / (1 + a/100)
				if t.sort == "gauge" {
					read = set - a*0.8
				}
				p.read = append(p.read, math.Round(100*read)/100)
			}
			out = append(out, p)
		}
	}
	if len(out) == 0 {
		return d.points(t, error)
	}
	return out
}

func (d doubtDraw) events(t *doubtTool) {
	for range pick(oracleDraw(d), 0, 0, 0, 1, 1, 2) {
		m := doubtMishap{kind: pick(oracleDraw(d), "dropped", "overloaded"), at: d.moment(*t), cleared: -1}
		if m.out = m.at; d.chance(40) {
			m.out += d.IntN(12 * dayMinutes)
		}
		if d.chance(50) {
			m.cleared = m.out + d.IntN(60*dayMinutes)
		}
		t.mishaps = append(t.mishaps, m)
	}
	if d.chance(10) {
		t.changed = append(t.changed, d.moment(*t))
	}
	if d.chance(10) {
		t.gone, t.lost = d.moment(*t), d.chance(70)
	}
}

// use draws one piece of work, most often while somebody had the tool for its job.
func (d doubtDraw) use(t *doubtTool, i int) {
	u := doubtUse{id: fmt.Sprintf("V-%d", i), job: fmt.Sprintf("J-%d", d.IntN(4)), minute: d.moment(*t), direction: t.directions[d.IntN(len(t.directions))],
		unit: "N·m", low: math.Inf(-1), high: math.Inf(1)}
	u.set = float64(30 + d.IntN(181))
	if d.chance(25) {
		u.set = pick[float64](oracleDraw(d), 40, 120, 200)
	}
	switch t.sort {
	case "one value":
		u.set = 108
	case "gauge":
		u.unit, u.measured, u.set = "psi", true, float64(10+d.IntN(141))
	}
	u.target = u.set
	if t.turns() {
		d.offset(*t, &u)
	}
	d.limits(&u)
	t.uses = append(t.uses, u)
	if d.chance(75) {
		s := d.stretch("O-"+u.id[2:], u.job, u.minute-d.IntN(4*60))
		if d.chance(10) {
			s.job = ""
		}
		t.stretches = append(t.stretches, s)
	}
}

// offset puts an adapter between, or says the target in another unit.
func (d doubtDraw) offset(t doubtTool, u *doubtUse) {
	switch k := d.IntN(100); {
	case k < 22:
		u.reach, u.angle = pick[float64](oracleDraw(d), 50, 60, 150, 380), pick[float64](oracleDraw(d), 0, 0, 45, 90, 135, 180)
		factor := 1.0
		if t.grip > 0 {
			factor = (t.grip + u.reach*math.Cos(u.angle*math.Pi/180)) / t.grip
		}
		u.target = math.Max(1, math.Round(10*u.set*factor)/10)
		if u.lengthInWrench = t.sort == "electronic" && d.chance(60); u.lengthInWrench {
			u.set = u.target // it shows what is at the fastener
		}
		if d.chance(5) {
			u.set = math.NaN()
		}
	case k < 40:
		u.unit, u.target = "ft-lb", math.Round(10*u.set/oracleFactors["ft-lb"])/10
	case k < 50:
		u.bound = true
	}
}

func (d doubtDraw) limits(u *doubtUse) {
	if d.chance(20) {
		return
	}
	round := func(f float64) float64 { return math.Round(10*f) / 10 }
	width := pick[float64](oracleDraw(d), 1.5, 3, 4, 5, 6, 8, 10, 15) / 100
	u.limited = true
	if u.low, u.high = round(u.target*(1-width)), round(u.target*(1+width)); d.chance(20) {
		if d.chance(50) {
			u.low = math.Inf(-1)
		} else {
			u.high = math.Inf(1)
		}
	}
}

func (d doubtDraw) stretch(id, job string, from int) doubtStretch {
	s := doubtStretch{id: id, job: job, from: from, to: from + 30 + d.IntN(2*dayMinutes)}
	if d.chance(10) {
		s.to = from + d.IntN(20*dayMinutes)
	}
	if d.chance(5) {
		s.to = -1
	}
	return s
}

// factor is what the adapter multiplies by; known where it can be told.
func (u doubtUse) factor(t doubtTool) (k float64, known bool) {
	if u.reach == 0 {
		return 1, true
	}
	k = (t.grip + u.reach*math.Cos(u.angle*math.Pi/180)) / t.grip
	return k, t.grip > 0 && k > 1e-9 && !math.IsNaN(u.set)
}
