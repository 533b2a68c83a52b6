package calibration

import (
	"math"
	"strings"

	"pawl/model/fault"
	"pawl/model/units"
)

// Method is how a fastener is tightened.
type Method string

const (
	ByTorque      Method = "torque"
	ByTorqueAngle Method = "torque+angle"
	ByYield       Method = "yield"
)

// Reply is an answer to something that only the person at the tool can see; "" is
// not asked or not answered.
type Reply string

const (
	Unanswered Reply = ""
	RepliedYes Reply = "yes"
	RepliedNo  Reply = "no"
)

// Limits is what the job permits; an end that is none is open. Both none: nobody
// gave limits.
type Limits struct {
	Low  units.Quantity `json:"low,omitzero"`
	High units.Quantity `json:"high,omitzero"`
}

// IsZero says whether there are no limits.
func (l Limits) IsZero() bool { return l == Limits{} }

// String writes the limits as ParseLimits reads them: "100..116 N·m", "25.4.. mm".
func (l Limits) String() string {
	switch {
	case l.IsZero():
		return ""
	case l.Low.IsZero():
		return ".." + l.High.String()
	case l.High.IsZero():
		return l.Low.Value + ".. " + string(l.Low.Unit)
	case l.Low.Unit == l.High.Unit:
		return l.Low.Value + ".." + l.High.String()
	}
	return l.Low.String() + ".." + l.High.String()
}

// ParseLimits reads "100..116", "25.4.." or "..116": the ends in the unit given, or
// in one that stands behind them ("74..86 ft-lb"). Both ends open, a low end above
// the high one, or anything else is fault.Invalid; "" is none.
func ParseLimits(s string, unit units.Unit) (Limits, error) {
	text := strings.TrimSpace(s)
	if text == "" {
		return Limits{}, nil
	}
	below, above, two := strings.Cut(text, "..")
	if !two {
		return Limits{}, notLimits(s, "write both ends with two points between them: 100..116; leave out an end that is open: 25.4..")
	}
	below, above = strings.TrimSpace(below), strings.TrimSpace(above)
	if end := strings.TrimLeft(above, "-−0123456789. "); end != "" {
		stated, err := units.ParseUnit(end)
		if err != nil {
			return Limits{}, err
		}
		unit, above = stated, strings.TrimSpace(strings.TrimSuffix(above, end))
	}
	l, err := limitsOf(below, above, unit)
	if err != nil {
		return Limits{}, notLimits(s, fault.Of(err).Error())
	}
	if l.IsZero() {
		return Limits{}, notLimits(s, "at least one end is needed")
	}
	if err := l.Check(); err != nil {
		return Limits{}, err
	}
	return l, nil
}

func limitsOf(below, above string, unit units.Unit) (l Limits, err error) {
	for _, end := range []struct {
		text string
		to   *units.Quantity
	}{{below, &l.Low}, {above, &l.High}} {
		if end.text == "" {
			continue
		}
		d, err := ParseDecimal(end.text)
		if err != nil {
			// An end may carry a unit of its own, as on "74 ft-lb..120 N·m".
			if *end.to, err = units.ParseQuantity(end.text); err != nil {
				return Limits{}, err
			}
			continue
		}
		*end.to = units.Quantity{Value: string(d), Unit: unit}
	}
	return l, nil
}

func notLimits(s, hint string) error {
	return fault.New(fault.Invalid, "%q are not limits", fault.Clip(s)).WithHint("%s", hint)
}

// Check refuses limits that cannot be: ends of different dimensions, or a low end
// above the high one.
func (l Limits) Check() error {
	if l.Low.IsZero() || l.High.IsZero() {
		return nil
	}
	order, err := l.Low.Compare(l.High)
	if err != nil {
		return err
	}
	if order > 0 {
		return fault.New(fault.Invalid, "limits %s: the low end is above the high one", l).WithHint("write the low end first, such as 100..116")
	}
	return nil
}

// Question is what somebody asks of a tool before using it.
type Question struct {
	Target    units.Quantity `json:"target"` // at the fastener, or the value to be measured
	Limits    Limits         `json:"limits,omitzero"`
	Direction Direction      `json:"direction,omitempty"` // none: clockwise
	Method    Method         `json:"method,omitempty"`    // none: torque
	Adapter   Adapter        `json:"adapter,omitzero"`

	NotSafety      bool    `json:"not_safety,omitempty"`      // the job is marked as not safety-critical; unknown counts as safety
	DefaultPercent Decimal `json:"default_percent,omitempty"` // the shop's own ±% where nobody gave limits; "" = none

	SettingUnchanged Reply          `json:"setting_unchanged,omitempty"` // tools without a scale: since the calibration
	ZeroAndBattery   Reply          `json:"zero_and_battery,omitempty"`  // electronic: zeroed at power-on, battery good
	LengthInWrench   Reply          `json:"length_in_wrench,omitempty"`  // electronic with an offset adapter: its length is entered already
	UnitConfirmed    Reply          `json:"unit_confirmed,omitempty"`    // the unit is as read, not a slip
	AngleDevice      bool           `json:"angle_device,omitempty"`      // for torque+angle: an angle device is on record
	Ambient          units.Quantity `json:"ambient,omitzero"`
}

// byDefault gives the ends of the shop's default about a target.
func (q Question) byDefault(target float64) (low, high float64) {
	half := q.DefaultPercent.Float() / 100 * math.Abs(target)
	return target - half, target + half
}

// JobLimits gives the limits that an answer goes by, and whether they are the shop's
// default because nobody gave the job's.
func (q Question) JobLimits() (l Limits, byDefault bool) {
	target, err := amountIn(q.Target, q.Target.Unit)
	if !q.Limits.IsZero() || q.DefaultPercent == "" || err != nil {
		return q.Limits, false
	}
	low, high := q.byDefault(target)
	return Limits{Low: Rounded(low, q.Target.Unit), High: Rounded(high, q.Target.Unit)}, true
}

// Check refuses a question that nothing can answer; every value at fault is named.
func (q Question) Check() error {
	var p fault.Problems
	if q.Target.IsZero() {
		p.Add("#/target", "there is no value to ask for; write it with its unit, such as 108 N·m")
	} else if _, err := q.Target.In(q.Target.Unit); err != nil {
		p.Keep("#/target", err)
	} else {
		q.checkLimits(&p)
	}
	switch q.Direction {
	case NoDirection, Clockwise, Counterclockwise:
	default:
		p.Add("#/direction", "%q is not a direction; use cw or ccw", fault.Clip(string(q.Direction)))
	}
	switch q.Method {
	case "", ByTorque, ByTorqueAngle, ByYield:
	default:
		p.Add("#/method", "%q is not a method; use torque, torque+angle or yield", fault.Clip(string(q.Method)))
	}
	p.Keep("#/adapter", q.Adapter.Check())
	if d := q.DefaultPercent; d != "" && (!d.valid() || !(d.Float() > 0) || d.Float() >= 100) {
		p.Add("#/default_percent", "%q is no percent between 0 and 100", fault.Clip(string(d)))
	}
	q.checkReplies(&p)
	return p.Err()
}

func (q Question) checkLimits(p *fault.Problems) {
	for _, end := range []units.Quantity{q.Limits.Low, q.Limits.High} {
		if !end.IsZero() {
			_, err := end.In(q.Target.Unit)
			p.Keep("#/limits", err)
		}
	}
	p.Keep("#/limits", q.Limits.Check())
	if q.Target.Unit.Dimension() == units.Torque {
		if v, err := amountIn(q.Target, q.Target.Unit); err == nil && !(v > 0) {
			p.Add("#/target", "a torque of %s cannot be set; give it without a sign and its direction by itself", q.Target)
		}
	}
}

func (q Question) checkReplies(p *fault.Problems) {
	for _, r := range []struct {
		name  string
		reply Reply
	}{{"setting_unchanged", q.SettingUnchanged}, {"zero_and_battery", q.ZeroAndBattery},
		{"length_in_wrench", q.LengthInWrench}, {"unit_confirmed", q.UnitConfirmed}} {
		switch r.reply {
		case Unanswered, RepliedYes, RepliedNo:
		default:
			p.Add("#/"+r.name, "%q is no answer; use yes or no", fault.Clip(string(r.reply)))
		}
	}
	if !q.Ambient.IsZero() && q.Ambient.Unit.Dimension() != units.Temperature {
		p.Add("#/ambient", "%s is not a temperature; such as 20 °C", q.Ambient)
	}
}

// Threshold is the probability that a yes needs: 0.975 on a safety job, 0.95 else.
// A rule of the project.
func (q Question) Threshold() float64 {
	if q.NotSafety {
		return 0.95
	}
	return 0.975
}
