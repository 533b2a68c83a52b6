package calibration

import (
	"math"
	"slices"

	"pawl/model/fault"
	"pawl/model/units"
)

const (
	maxPoints   = 200
	maxReadings = 100
)

// Check says what is not acceptable in a result for a requirement that is itself
// acceptable: every field of it at once.
func (r Result) Check(q Requirement) error {
	var bad []fault.Field
	at := func(pointer string, err error) {
		if err != nil {
			bad = append(bad, fault.Field{Pointer: pointer, Detail: fault.Of(err).Error()})
		}
	}
	if !r.On.Valid() {
		at("#/on", fault.New(fault.Invalid, "%q is not the day of the comparison", fault.Clip(string(r.On))).WithHint("write it as YYYY-MM-DD"))
	}
	at("#/paper", r.checkPaper())
	at("#/as_found", checkPoints(q, r.AsFound))
	at("#/as_left", checkPoints(q, r.AsLeft))
	at("#/uncertainty", checkExpanded(r.Uncertainty))
	at("#/standard", r.Standard.check(q))
	at("#/temperature", checkTemperature(r.Temperature))
	at("#/humidity", checkHumidity(r.Humidity))
	at("#/budget", r.Budget.check())
	if r.Declared != nil {
		at("#/declared", r.Declared.check(q))
	}
	if len(bad) == 0 {
		return nil
	}
	f := fault.New(fault.Invalid, "%s", bad[0].Detail)
	f.Fields = bad
	return f
}

func (r Result) checkPaper() error {
	points := len(r.AsFound) + len(r.AsLeft)
	switch {
	case !slices.Contains([]Paper{Certificate, Declaration, PassOnly, Own}, r.Paper):
		return fault.New(fault.Invalid, "%q is not a sort of paper", fault.Clip(string(r.Paper))).WithHint("certificate, declaration, pass only or own")
	case !slices.Contains([]Claim{NoClaim, ClaimsPass, ClaimsFail}, r.Claim):
		return fault.New(fault.Invalid, "%q is not what a paper says", fault.Clip(string(r.Claim))).WithHint("pass, fail, or nothing")
	case r.Paper == PassOnly && points > 0, r.Paper == Declaration && points > 0:
		return fault.New(fault.Invalid, "a paper that is %s has no readings", r.Paper).WithHint("a paper with readings is a certificate")
	case r.Paper == PassOnly && r.Claim == NoClaim:
		return fault.New(fault.Invalid, "the paper says neither pass nor fail").WithHint("say which, or enter its readings")
	case r.Paper == Own && points == 0:
		return fault.New(fault.Invalid, "a comparison made here has readings").WithHint("give them as set=delivered, such as 40=39.7,39.8,39.6")
	case r.Declared != nil && r.Paper != Declaration:
		return fault.New(fault.Invalid, "only a declaration names a class in place of readings").WithHint("say that the paper is a declaration, or leave the class out")
	case r.BenchCheck && (r.Paper != Own || r.Adjusted):
		return fault.New(fault.Invalid, "a bench check is made here, and adjusts nothing").WithHint("enter an adjustment as a tool calibration")
	}
	return nil
}

func checkPoints(q Requirement, points []Point) error {
	if len(points) > maxPoints {
		return fault.New(fault.Invalid, "%d points are more than %d", len(points), maxPoints).WithHint("leave some out")
	}
	low, high, err := q.Scale.ends(q.Unit)
	if err != nil {
		return err
	}
	type place struct {
		Direction
		set float64
	}
	seen := make(map[place]bool, len(points))
	for _, p := range points {
		if err := p.check(q, low, high); err != nil {
			return err
		}
		key := place{p.Direction, p.Set.Float()}
		if seen[key] {
			return fault.New(fault.Invalid, "the point %s%s is there twice", prefix(p.Direction), p.Set).WithHint("put all its readings in one point")
		}
		seen[key] = true
	}
	return nil
}

// prefix is a direction as the readings' grammar writes it.
func prefix(d Direction) string {
	if d == NoDirection {
		return ""
	}
	return string(d) + ":"
}

func (p Point) check(q Requirement, low, high float64) error {
	switch {
	case q.Instrument.Turns() && p.Direction == NoDirection:
		return fault.New(fault.Invalid, "the point %s has no direction", p.Set).WithHint("write cw: or ccw: before it")
	case q.Instrument.Turns() && !slices.Contains(q.Directions, p.Direction):
		return fault.New(fault.Invalid, "the point %s is %s, in which this tool is not asked to be compared", p.Set, p.Direction.Words()).
			WithHint("correct the direction, or add it to what is asked of the tool")
	case !q.Instrument.Turns() && p.Direction != NoDirection:
		return fault.New(fault.Invalid, "a %s has no direction of turning", q.Instrument).WithHint("leave the direction out")
	case !p.Set.valid():
		return fault.New(fault.Invalid, "%q is not a value", fault.Clip(string(p.Set))).WithHint("%s", decimalHint(string(p.Set)))
	case len(p.Readings) == 0 || len(p.Readings) > maxReadings:
		return fault.New(fault.Invalid, "the point %s has %d readings", p.Set, len(p.Readings)).WithHint("give 1 to %d", maxReadings)
	}
	set := p.Set.Float()
	if !atMost(low, set) || !atMost(set, high) || q.Instrument.Turns() && set <= 0 {
		return fault.New(fault.Invalid, "the point %s is not on the scale %s", p.Set, q.Scale).WithHint("check the value, its unit, or the tool's range")
	}
	for _, r := range p.Readings {
		if !r.valid() {
			return fault.New(fault.Invalid, "%q is not a reading", fault.Clip(string(r))).WithHint("%s", decimalHint(string(r)))
		}
		if q.Instrument.Turns() && r.Float() <= 0 {
			return fault.New(fault.Invalid, "a reading of %s at %s is no torque", r, p.Set).WithHint("leave out a reading that did not come about; name the direction instead of a sign")
		}
	}
	return checkExpanded(p.Uncertainty)
}

func checkExpanded(d Decimal) error {
	if d == "" {
		return nil
	}
	if f := d.Float(); !d.valid() || f <= 0 || f >= 100 {
		return fault.New(fault.Invalid, "an expanded uncertainty of %q %% is not acceptable", fault.Clip(string(d))).WithHint("more than 0 and less than 100, k = 2")
	}
	return nil
}

func (s Standard) check(q Requirement) error {
	if err := checkExpanded(s.Uncertainty); err != nil {
		return err
	}
	if s.Uncertainty != "" && !s.Absolute.IsZero() {
		return fault.New(fault.Invalid, "the standard's uncertainty is there twice").WithHint("give it in %% of reading or as an amount")
	}
	if !s.Absolute.IsZero() {
		u, err := differenceIn(s.Absolute, q.Unit)
		if err != nil {
			return err
		}
		if !(u > 0) {
			return fault.New(fault.Invalid, "an uncertainty of %s is not acceptable", s.Absolute).WithHint("more than zero, k = 2")
		}
	}
	if s.Bias != "" && (!s.Bias.valid() || math.Abs(s.Bias.Float()) >= 100) {
		return fault.New(fault.Invalid, "a bias of %q %% is not acceptable", fault.Clip(string(s.Bias))).WithHint("what the standard's certificate states, in %% of reading; 0 where its readings were corrected")
	}
	if s.Low.IsZero() != s.High.IsZero() {
		return fault.New(fault.Invalid, "one end of the standard's range is missing").WithHint("give both")
	}
	if !s.Low.IsZero() {
		_, _, err := Scale{Low: s.Low, High: s.High}.ends(q.Unit)
		return err
	}
	return nil
}

// Temperatures in a shop or a laboratory; anything else is a slip of unit or digit.
const coldest, hottest = -30.0, 60.0

func checkTemperature(t units.Quantity) error {
	if t.IsZero() {
		return nil
	}
	c, err := amountIn(t, units.Celsius)
	if err == nil && (c < coldest || c > hottest) {
		err = fault.New(fault.Invalid, "%s is not the temperature of a bench", t).WithHint("check the unit: °C or °F")
	}
	return err
}

func checkHumidity(d Decimal) error {
	if d == "" {
		return nil
	}
	if f := d.Float(); !d.valid() || f < 0 || f > 100 {
		return fault.New(fault.Invalid, "a humidity of %q %% is not acceptable", fault.Clip(string(d))).WithHint("0 to 100")
	}
	return nil
}

func (b Budget) check() error {
	for _, d := range []Decimal{b.Reproducibility, b.OutputDrive, b.Interface, b.LoadingPoint} {
		if d != "" && (!d.valid() || d.Float() < 0) {
			return fault.New(fault.Invalid, "a spread of %q is not acceptable", fault.Clip(string(d))).WithHint("the largest mean less the smallest, in the tool's unit")
		}
	}
	return nil
}

func (d Declared) check(q Requirement) error {
	if d.Class == "" {
		return fault.New(fault.Invalid, "the declaration names no class").WithHint("write the class as the paper has it")
	}
	if d.Points < 0 || d.Points > maxPoints {
		return fault.New(fault.Invalid, "%d points are not acceptable", d.Points).WithHint("how many points the paper names")
	}
	low, high, err := Scale{Low: d.Low, High: d.High}.ends(q.Unit)
	if err != nil {
		return err
	}
	first, last, err := q.Scale.ends(q.Unit)
	if err != nil {
		return err
	}
	if !atMost(first, low) || !atMost(high, last) {
		return fault.New(fault.Invalid, "the declaration speaks of %s to %s, beyond the scale %s", d.Low, d.High, q.Scale).WithHint("check the range or its unit")
	}
	for _, dir := range d.Directions {
		if !slices.Contains(q.Directions, dir) {
			return fault.New(fault.Invalid, "%q is not a direction asked of this tool", fault.Clip(string(dir))).WithHint("cw, ccw or both")
		}
	}
	if d.Limit != nil {
		_, err = d.Limit.Bind(q.Scale, q.Unit)
	}
	return err
}

// adjusted says whether the tool was adjusted: as stated, or because a point was
// left with other readings than it was found with.
func (r Result) adjusted() bool {
	if r.Adjusted {
		return true
	}
	for _, p := range r.AsLeft {
		if i := find(r.AsFound, p.Direction, p.Set); i >= 0 && !slices.Equal(p.Readings, r.AsFound[i].Readings) {
			return true
		}
	}
	return false
}
