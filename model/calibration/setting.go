package calibration

import (
	"math"
	"strconv"

	"pawl/model/fault"
	"pawl/model/units"
)

// value finds what to set, and weighs it against the scale. The only error is an
// adapter that cannot be on this tool.
func (a *asking) value() error {
	if a.q.Target.Unit.Dimension() != a.r.Unit.Dimension() {
		a.add(ReasonQuantity, No, "%s is a %s, and this %s is for %s", a.q.Target.Words(), a.q.Target.Unit.Dimension(), a.out.noun, a.r.Unit.Dimension())
		return nil
	}
	if len(a.p.scales) == 0 {
		a.add(ReasonFigures, CannotConfirm, "its range is not known")
		return nil
	}
	k, known, err := a.factor()
	if err != nil || !known {
		return err
	}
	scale := a.scale()
	a.own = a.q.Target.Unit == scale.unit && !a.changes()
	shown, err := a.conv.in(a.q.Target, scale.unit)
	if err != nil {
		return err
	}
	if a.out.Measures {
		if a.q.Adapter.Changes() {
			a.add(ReasonAdapter, CannotConfirm, "it only measures: how a %s changes what it shows is not known", a.q.Adapter.Kind.words())
		}
		l, err := a.conv.between(a.q.Target.Unit, a.r.Unit)
		if err != nil {
			return err
		}
		a.out.Target, a.at, a.located, a.zero = a.target, scale.toTool.do(shown), true, l.undo(0)
		a.inScale(scale, shown, 1)
		return nil
	}
	if a.lengthInWrench() {
		return a.place(scale, shown, 1, k)
	}
	return a.place(scale, shown/k, k, 1)
}

// changes says whether an adapter stands between that changes the torque.
func (a *asking) changes() bool { return !a.out.Measures && a.q.Adapter.Changes() }

// lengthInWrench says whether the wrench itself corrects for the adapter.
func (a *asking) lengthInWrench() bool {
	return a.r.electronic() && a.q.Adapter.Kind == Crowfoot && a.q.LengthInWrench == RepliedYes
}

// factor gives K, and adds what the adapter leaves open.
func (a *asking) factor() (k float64, known bool, err error) {
	if !a.changes() {
		return 1, true, nil
	}
	ad := a.q.Adapter
	switch {
	case ad.needsCertificate() && ad.Certificate == nil:
		a.add(ReasonAdapter, CannotConfirm, "a %s changes the torque by an amount that only its own certificate tells, and none is given", ad.Kind.words())
		return 1, false, nil
	case ad.needsCertificate() && (!ad.Certificate.Due.Valid() || !a.today.Valid() || a.today.After(ad.Certificate.Due)):
		a.add(ReasonAdapter, CannotConfirm, "the certificate of the %s is not in date, so nothing tells how it changes the torque", ad.Kind.words())
		return 1, false, nil
	case ad.Kind == Crowfoot && a.r.GripToDrive.IsZero():
		a.add(ReasonGrip, CannotConfirm, "the length from the center of its grip to the center of its drive is not known; measure it and enter it")
		return 1, false, nil
	}
	if k, err = ad.Factor(a.r.GripToDrive); err != nil {
		return 1, false, err
	}
	a.k = k
	if k != 1 { // square to the wrench an offset adapter changes nothing
		a.out.Adapter = ad.Words()
	}
	a.adapter, err = ad.Uncertainty(a.r.GripToDrive)
	return k, err == nil, err
}

// words is the adapter in a sentence.
func (k AdapterKind) words() string {
	if k == TorqueBar {
		return "torque-limiting bar or socket"
	}
	return string(k)
}

// scale is the one to set or read: the one in the target's unit if there is one,
// else the tool's own.
func (a *asking) scale() marked {
	for _, s := range a.p.scales {
		if s.unit == a.q.Target.Unit {
			return s
		}
	}
	return a.p.scales[0]
}

// place puts the tool on a value of the scale. wanted is what it would be set to,
// in the scale's unit; up turns a setting into the torque at the fastener, and inner
// is what the wrench divides by itself.
func (a *asking) place(s marked, wanted, up, inner float64) error {
	set, ok := a.snap(s, wanted)
	if !ok {
		return nil
	}
	named := set * up
	l, err := a.conv.between(a.q.Target.Unit, s.unit)
	if err != nil {
		return err
	}
	if a.out.Target = l.undo(named); a.own {
		a.out.Target = a.target
	}
	a.at, a.located = s.toTool.do(set/inner), true
	a.out.Setting = units.Quantity{Value: strconv.FormatFloat(set, 'f', s.decimals, 64), Unit: s.unit}
	if a.r.fixed() { // the value it stands at has decimals of its own
		a.out.Setting.Value = string(decimalOf(set))
	}
	a.inScale(s, set, inner)
	a.moved()
	return nil
}

// moved weighs how far the nearest graduation is from the value asked for.
func (a *asking) moved() {
	off := a.out.Target/a.target - 1
	if a.own || same(a.out.Target, a.target) {
		return
	}
	a.add(ReasonNearest, "", "the nearest graduation gives %s at the fastener for %s", Rounded(a.out.Target, a.out.Unit).Words(), a.q.Target.Words())
	if a.noLimits() && math.Abs(off) > 0.01*(1+slack) {
		a.add(ReasonSettingOff, CannotConfirm, "the nearest graduation is %.1f %% off the value, and you gave no limits", 100*math.Abs(off))
	}
}

// snap gives the value of the scale that is set for a wanted one.
func (a *asking) snap(s marked, wanted float64) (float64, bool) {
	if a.r.fixed() {
		return a.snapFixed(s, wanted)
	}
	if s.step <= 0 {
		a.add(ReasonNoGraduation, CannotConfirm, "its graduation is not known, so nobody can say whether it can be set to that")
		return 0, false
	}
	n := (wanted - s.low) / s.step
	below := math.Floor(n)
	near := below
	if (n-below-0.5)*s.step > slack*math.Abs(wanted) {
		near++
	}
	set := s.low + near*s.step
	if a.own && !same(set, wanted) {
		a.inScale(s, wanted, 1)
		a.add(ReasonGraduation, No, "%s is not a graduation: the marks go by %s from %s", a.q.Target.Words(),
			Rounded(s.step, s.unit).Words(), Rounded(s.low, s.unit).Words())
		return 0, false
	}
	return set, true
}

// snapFixed is snap for a tool with one value, or without a scale: the value that it
// was made or calibrated at.
func (a *asking) snapFixed(s marked, wanted float64) (float64, bool) {
	value := s.low
	if a.r.Class.NonGraduated() {
		at, ok := a.calibratedAt()
		if !ok {
			return 0, false
		}
		value = s.toTool.undo(at)
	}
	off := math.Abs(value/wanted - 1)
	if a.own && !same(value, wanted) || off > 0.01*(1+slack) {
		a.add(ReasonOneValue, No, "it can be used at %s only", Rounded(value, s.unit).Words())
		return 0, false
	}
	return value, true
}

// calibratedAt is the one value at which a tool without a scale was left, in the
// tool's unit.
func (a *asking) calibratedAt() (float64, bool) {
	if a.figures == nil || a.figures.ClassBound != nil {
		a.add(ReasonAskSetting, CannotConfirm, "nothing on record says what it is set to")
		return 0, false
	}
	points := a.figures.Left(a.out.Direction)
	for _, p := range points {
		if !same(p.SetValue, points[0].SetValue) {
			a.add(ReasonAskSetting, CannotConfirm, "it was calibrated at several settings, and nothing says which of them it has now")
			return 0, false
		}
	}
	if len(points) == 0 {
		a.add(ReasonAskSetting, CannotConfirm, "nothing on record says what it is set to")
		return 0, false
	}
	return points[0].SetValue, true
}

// inScale weighs a shown or set value against the ends of the scale and the
// coarseness of its marks. The torque at the drive is the value over inner.
func (a *asking) inScale(s marked, value, inner float64) {
	if a.r.Class.NonGraduated() {
		return
	}
	drive := value / inner
	a.onScale = true
	for _, v := range []float64{value, drive} {
		if !atMost(s.low, v) || !atMost(v, s.high) {
			a.add(ReasonRange, No, "%s is outside its scale of %s to %s", Rounded(v, s.unit).Words(), Rounded(s.low, s.unit).Words(), Rounded(s.high, s.unit).Words())
			a.onScale = false
			break
		}
	}
	// TM 1-1500-204-23-9 8-3: the smallest graduation is at most a tenth of the torque.
	if a.r.Instrument.Turns() && !a.r.fixed() && s.step > 0 && !atMost(s.step, 0.1*drive) {
		a.add(ReasonCoarse, No, "a graduation of %s is over 10 %% of %s", Rounded(s.step, s.unit).Words(), Rounded(drive, s.unit).Words())
	}
}

// class weighs what the type and class of the tool ask of the person at it.
func (a *asking) class() {
	if a.r.Class.NonGraduated() {
		switch a.q.SettingUnchanged {
		case Unanswered:
			a.add(ReasonAskSetting, CannotConfirm, "is the setting unchanged since it was calibrated? Its calibration ends when the setting is changed")
		case RepliedNo:
			a.add(ReasonSettingMoved, No, "its setting was changed, which ends its calibration")
		}
	}
	if a.r.electronic() {
		a.power()
		a.ambient()
		if a.q.Adapter.Kind == Crowfoot && a.changes() && a.q.LengthInWrench == Unanswered {
			a.add(ReasonAskLength, CannotConfirm, "is the adapter's length already entered in the %s? If it is, the value must not be corrected twice", a.out.noun)
		}
	}
	a.slips()
}

func (a *asking) power() {
	switch a.q.ZeroAndBattery {
	case Unanswered:
		a.add(ReasonAskZero, CannotConfirm, "was it zeroed at power-on, and is its battery good?")
	case RepliedNo:
		a.add(ReasonZeroBattery, No, "zero or battery is not in order: put it right and ask again")
	}
}

func (a *asking) ambient() {
	low, errLow := amountIn(a.r.AmbientLow, units.Celsius)
	high, errHigh := amountIn(a.r.AmbientHigh, units.Celsius)
	now, errNow := amountIn(a.q.Ambient, units.Celsius)
	switch {
	case errLow != nil || errHigh != nil:
		a.add(ReasonAskAmbient, CannotConfirm, "the temperatures that its maker permits are not recorded")
	case errNow != nil:
		a.add(ReasonAskAmbient, CannotConfirm, "how warm is it where you use it? Its maker permits %s to %s", a.r.AmbientLow.Words(), a.r.AmbientHigh.Words())
	case !atMost(low, now) || !atMost(now, high):
		a.add(ReasonAmbient, No, "%s is outside the %s to %s that its maker permits", a.q.Ambient.Words(), a.r.AmbientLow.Words(), a.r.AmbientHigh.Words())
	}
}

// Drawing is what tells a straight bar and an offset adapter apart: the numbers that
// a picture of the wrench needs, in millimeters and degrees.
type Drawing struct {
	GripToDrive, Length, Angle float64
	Factor                     float64
}

// Draw gives the numbers of the picture. Errors are those of Adapter.Factor; anything
// but an offset adapter has no picture and is fault.Invalid.
func (a Adapter) Draw(gripToDrive units.Quantity) (Drawing, error) {
	if a.Kind != Crowfoot {
		return Drawing{}, fault.New(fault.Invalid, "only an offset adapter has a drawing").WithHint("a straight bar along the drive changes nothing")
	}
	k, err := a.Factor(gripToDrive)
	if err != nil {
		return Drawing{}, err
	}
	g, err := a.geometry(gripToDrive)
	return Drawing{g.grip, g.length, a.Angle.Float(), k}, err
}
