package calibration_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"sync"
	"testing"

	"pawl/model/calibration"
)

// oracleJudge answers a case: yes or not, and the probability stated (NaN = none).
type oracleJudge func(oracleCase) (yes bool, inside float64)

func packageJudges(c oracleCase) (bool, float64) {
	facts, err := c.facts()
	if err != nil {
		panic(err)
	}
	a, err := calibration.Ready(facts, c.asked())
	if err != nil {
		panic(err)
	}
	return a.Verdict == calibration.Yes, a.Inside
}

// wrongJudges is the rule with one part left out: the simulations must catch it.
func wrongJudges(part string) oracleJudge {
	return func(c oracleCase) (bool, float64) {
		a := c.answerWrong(part)
		return a.verdict() == "yes", a.inside
	}
}

// oracleTally counts how often something happened against the sum of the chances
// stated for it.
type oracleTally struct{ trials, happened, expected, variance float64 }

func (t *oracleTally) add(p float64, happened bool) {
	t.trials++
	t.expected += p
	t.variance += p * (1 - p)
	if happened {
		t.happened++
	}
}

// room is how far the count of independent trials strays from its expectation with
// a chance of at most 5e-8 to either side (Bernstein's inequality). The sixteen
// checks of one outcome together fail a right program with a chance below 1e-6.
func (t *oracleTally) room() float64 {
	const l = 16.811 // ln 2e7
	return l/3 + math.Sqrt(l*l/9+2*l*t.variance)
}

func (t *oracleTally) String() string {
	return fmt.Sprintf("%.0f of %.0f, %.1f expected, room %.1f", t.happened, t.trials, t.expected, t.room())
}

// oracleOutcome is what a simulation found.
type oracleOutcome struct {
	bins  [7]oracleTally // by stated probability: how often inside
	limit oracleTally    // among the yeses: how often outside, against 1 − threshold
	total oracleTally    // among the yeses: how often outside, against what was stated
}

var oracleEdges = [7]float64{0.8, 0.9, 0.95, 0.975, 0.99, 0.999, 1}

func (o *oracleOutcome) add(yes bool, inside, threshold float64, isInside bool) {
	for i, edge := range oracleEdges {
		if inside <= edge {
			o.bins[i].add(inside, isInside)
			break
		}
	}
	if yes {
		o.limit.add(1-threshold, !isInside)
		o.total.add(1-inside, !isInside)
	}
}

// faults names what a right program would show with a chance below 1e-6.
func (o *oracleOutcome) faults() (out []string) {
	for i := range o.bins {
		if b := &o.bins[i]; math.Abs(b.happened-b.expected) > b.room() {
			out = append(out, fmt.Sprintf("stated up to %g: inside %s", oracleEdges[i], b))
		}
	}
	if l := &o.limit; l.happened > l.expected+l.room() {
		out = append(out, fmt.Sprintf("outside among the yeses: %s", l))
	}
	if l := &o.total; l.happened > l.expected+l.room() {
		out = append(out, fmt.Sprintf("outside among the yeses against what was stated: %s", l))
	}
	return out
}

// good draws a case in which only the figures decide: a wrench in order, certified
// or compared here, asked for a value on its scale with limits near what it holds.
func (d oracleDraw) good() oracleCase {
	c := oracleCase{Class: "II-A", Scale: oracleScale{"N·m", 40000, 200000, 1000}, Directions: []string{"cw"}, Limit: oracleLimit{Kind: "of reference", Amount: 4000}, Months: 12,
		Cycles: 5000, Counted: d.chance(50), Grip: 400000, Today: 1000, FirstUse: oracleNoDay, LimitUnit: "N·m", TargetUnit: "N·m", Direction: "cw", Method: "torque", NotSafety: d.chance(50)}
	c.SafetyJobs = !c.NotSafety
	c.Count = pick(d, d.Int64N(300), d.Int64N(4900))
	c.Adapter.Due = oracleNoDay
	on := c.Today - oracleDay(pick(d, d.IntN(30), d.IntN(30), d.IntN(365)))
	k := oracleCalibration{On: on, Paper: "certificate", Temperature: 20000, W: pick[milli](d, 700, 1000, 1420, 2000)}
	offset, scatter := (d.Float64()*2-1)*3, pick(d, 0.2, 0.5, 0.7)
	for _, set := range []milli{40000, 120000, 200000} {
		mean := offset + (d.Float64()*2-1)*0.7
		p := oraclePoint{Direction: "cw", Set: set}
		for range pick(d, 5, 5, 10) {
			p.Readings = append(p.Readings, milli(set.float()/(1+(mean+scatter*d.NormFloat64())/100)*1000))
		}
		k.Left = append(k.Left, p)
	}
	c.Calibrations = []oracleCalibration{k}
	c.Target = milli(40+d.IntN(161)) * 1000
	d.near(&c)
	return c
}

// near sets limits about the target that the gates pass and the probability decides.
func (d oracleDraw) near(c *oracleCase) {
	c.HasLow, c.HasHigh = !d.chance(10), !d.chance(10)
	room := pick(d, 0.002, 0.01, 0.02, 0.06)
	c.LimitLow = milli(float64(c.Target) / (1.04 + room*d.Float64()))
	c.LimitHigh = milli(float64(c.Target)/(0.96-room*d.Float64())) + 1
}

// stated draws one use from what is known of the tool, as the rule states it: the
// true deviation about that of the certificate, the bend between the points evenly,
// drift, and the scatter of a single use.
func (d oracleDraw) stated(a oracleAnswer) (applied float64) {
	f := a.parts
	deviation := f.mean + f.w*d.NormFloat64() + f.s*d.NormFloat64() + f.drift*d.NormFloat64()
	deviation += f.between * math.Sqrt(3) * (2*d.Float64() - 1)
	return a.target / (1 + deviation/100)
}

// permits says whether what was applied (in the unit of the question) is permitted.
func (c oracleCase) permits(applied float64) bool {
	return (!c.HasLow || applied >= c.LimitLow.float()) && (!c.HasHigh || applied <= c.LimitHigh.float())
}

// simulate asks the judge about n cases and draws uses of each.
func simulate(judge oracleJudge, n, uses int) *oracleOutcome {
	out := &oracleOutcome{}
	var mutex sync.Mutex
	oracleShare(n, func(i int) {
		d := newOracleDraw(uint64(i) + 1<<50)
		c := d.good()
		yes, inside := judge(c)
		truth := c.answer()
		if math.IsNaN(inside) || math.IsNaN(truth.inside) {
			return
		}
		mutex.Lock()
		defer mutex.Unlock()
		for range uses {
			out.add(yes, inside, truth.threshold, c.permits(d.stated(truth)))
		}
	})
	return out
}

// oracleTruths is the number of simulated tools by PAWL_SIZE.
func oracleTruths() int {
	if os.Getenv("PAWL_SIZE") == "full" {
		return 200_000
	}
	if testing.Short() {
		return 4_000
	}
	return 20_000
}

// The stated probability is right, by bins, and the yeses keep their promise.
func TestOracleTruthOfStatedProbabilities(t *testing.T) {
	o := simulate(packageJudges, oracleTruths(), 10)
	for _, fault := range o.faults() {
		t.Error(fault)
	}
	for i := range o.bins {
		t.Logf("stated up to %g: inside %s", oracleEdges[i], &o.bins[i])
		if o.bins[i].trials < float64(oracleTruths())/20 {
			t.Errorf("only %.0f trials with up to %g stated", o.bins[i].trials, oracleEdges[i])
		}
	}
	t.Logf("outside among the yeses: %s", &o.limit)
	if o.limit.trials < 5000 {
		t.Errorf("only %.0f uses of tools that got a yes", o.limit.trials)
	}
}

// A rule that leaves something out is found by the same simulation.
func TestOracleTruthFindsAWrongRule(t *testing.T) {
	if faults := simulate(wrongJudges(""), 8_000, 10).faults(); len(faults) > 0 {
		t.Errorf("the second implementation itself: %v", faults)
	}
	for _, wrong := range []string{"no drift", "no scatter", "no uncertainty", "sign"} {
		faults := simulate(wrongJudges(wrong), 8_000, 10).faults()
		t.Logf("%s: %v", wrong, faults)
		if len(faults) == 0 {
			t.Errorf("a rule with %s passes", wrong)
		}
	}
}

// oracleTool is a tool whose truth is drawn first: its deviation at each point, a lab
// with an error of its own, drift since, and how much single uses scatter.
type oracleTool struct {
	truth   [3]float64
	scatter float64
	drift   float64
	bend    float64
}

// calibrated draws a tool and what a lab then finds on it. Before the comparison
// nothing is known of its deviation: it is drawn from far wider than the limit.
func (d oracleDraw) calibrated() (oracleTool, oracleCase) {
	c := d.good()
	c.Calibrations[0].On = c.Today - oracleDay(200+d.IntN(166)) // old: much may have moved since
	room := pick(d, 0.002, 0.002, 0.002, 0.05)
	c.LimitLow, c.LimitHigh = milli(float64(c.Target)/(1.04+room)), milli(float64(c.Target)/(0.96-room))+1
	tool := oracleTool{scatter: 0.1 + 0.5*d.Float64(), bend: 2*d.Float64() - 1}
	k := &c.Calibrations[0]
	n, offset, systematic := pick(d, 5, 10), (d.Float64()*2-1)*10, 0.2+0.6*d.Float64()
	k.W = milli(math.Ceil(2000 * math.Sqrt(systematic*systematic+tool.scatter*tool.scatter/float64(n))))
	lab := systematic * d.NormFloat64()
	for i := range k.Left {
		tool.truth[i] = offset + 0.5*d.NormFloat64()
		k.Left[i].Readings = nil
		for range n {
			seen := tool.truth[i] + lab + tool.scatter*d.NormFloat64()
			k.Left[i].Readings = append(k.Left[i].Readings, milli(math.Round(k.Left[i].Set.float()/(1+seen/100)*1000)))
		}
	}
	age := float64(c.Today-k.On) / 365
	if c.Counted {
		age = math.Max(age, float64(c.Count)/5000)
	}
	tool.drift = 4 / 1.959964 * math.Sqrt(math.Min(1, age)) * d.NormFloat64()
	return tool, c
}

// use is what one use applies.
func (t oracleTool) use(d oracleDraw, x float64) float64 {
	i := 0
	if x >= 120 {
		i = 1
	}
	f := (x - 40 - 80*float64(i)) / 80
	deviation := t.truth[i] + f*(t.truth[i+1]-t.truth[i]) + t.bend*2*f*(1-f)*math.Abs(t.truth[i+1]-t.truth[i])
	return x / (1 + (deviation+t.drift+t.scatter*d.NormFloat64())/100)
}

// simulateTools draws n tools, judges them by their certificates and uses them once.
func simulateTools(judge oracleJudge, n int) *oracleTally {
	out := &oracleTally{}
	var mutex sync.Mutex
	oracleShare(n, func(i int) {
		d := oracleDraw{rand.New(rand.NewPCG(uint64(i), 106))}
		tool, c := d.calibrated()
		yes, _ := judge(c)
		threshold := 0.975
		if c.NotSafety {
			threshold = 0.95
		}
		mutex.Lock()
		defer mutex.Unlock()
		if yes {
			out.add(1-threshold, !c.permits(tool.use(d, c.Target.float())))
		}
	})
	return out
}

// With the truth drawn first: among the tools that got a yes, the share that then
// applies a torque outside the limits is at most 1 − threshold.
func TestOracleTruthOfYeses(t *testing.T) {
	o := simulateTools(packageJudges, 2*oracleTruths())
	t.Logf("outside among the yeses: %s", o)
	if o.happened > o.expected+o.room() {
		t.Errorf("outside among the yeses: %s", o)
	}
	if o.trials < float64(oracleTruths())/10 {
		t.Errorf("only %.0f yeses", o.trials)
	}
	if o := simulateTools(wrongJudges("no drift"), 20_000); o.happened <= o.expected+o.room() {
		t.Errorf("a rule without drift passes: %s", o)
	}
}
