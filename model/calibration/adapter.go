package calibration

import (
	"math"
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/units"
)

// AdapterKind is what stands between the drive of a torque tool and the fastener.
type AdapterKind string

const (
	NoAdapter      AdapterKind = ""                // a socket on the drive
	Extension      AdapterKind = "extension"       // a straight bar along the axis of the drive
	Crowfoot       AdapterKind = "offset adapter"  // a crowfoot: the fastener stands beside the drive
	TorqueBar      AdapterKind = "torque-limiting" // a bar or socket that bends at a torque of its own
	UniversalJoint AdapterKind = "universal joint"
	Multiplier     AdapterKind = "multiplier"
)

// AdapterKinds are the words taken.
var AdapterKinds = []AdapterKind{Extension, Crowfoot, TorqueBar, UniversalJoint, Multiplier}

// Half-widths of the three lengths of an offset adapter where nobody states other
// ones, each taken as rectangular (JCGM 100:2008 4.3.7). Common practice, no source.
const (
	gripHalfWidth   = 10.0 // mm
	lengthHalfWidth = 1.0  // mm
	angleHalfWidth  = 5.0  // degrees
)

// Adapter is an attachment as the one who asks describes it.
type Adapter struct {
	Kind   AdapterKind    `json:"kind,omitempty"`
	Length units.Quantity `json:"length,omitzero"` // offset adapter: center of drive to center of fastener
	Angle  Decimal        `json:"angle,omitempty"` // degrees from straight ahead (0) over square (90) to pointing back (180)

	// Half-widths of what was measured; none stands for 10 mm, 1 mm and 5 degrees.
	GripHalf   units.Quantity `json:"grip_half_width,omitzero"`
	LengthHalf units.Quantity `json:"length_half_width,omitzero"`
	AngleHalf  Decimal        `json:"angle_half_width,omitempty"`

	Certificate *AdapterCertificate `json:"certificate,omitempty"`
}

// AdapterCertificate is the own certificate of a multiplier, a torque-limiting bar
// or a universal joint.
type AdapterCertificate struct {
	Number      string     `json:"number,omitempty"`
	Factor      Decimal    `json:"factor"`      // torque at the fastener over torque at the drive
	Uncertainty Decimal    `json:"uncertainty"` // expanded (k = 2), % of the factor
	Due         dates.Date `json:"due"`         // last day on which it is in date
}

// ParseCrowfoot reads an offset adapter from its length, "50mm", and its angle,
// "30deg", "30°" or "30", from 0 (in line, away from the grip) to 180 (pointing back
// to it). Anything else is fault.Invalid.
func ParseCrowfoot(length, angle string) (Adapter, error) {
	q, err := units.ParseQuantity(length)
	if err != nil {
		return Adapter{}, err
	}
	text := strings.TrimSpace(angle)
	for _, end := range []string{"degrees", "deg", "°"} {
		text = strings.TrimSpace(strings.TrimSuffix(text, end))
	}
	if text == "" {
		return Adapter{}, noAngle()
	}
	degrees, err := ParseDecimal(text)
	if err != nil {
		return Adapter{}, fault.New(fault.Invalid, "%q is not an angle", fault.Clip(angle)).WithHint("write degrees, such as 45deg")
	}
	a := Adapter{Kind: Crowfoot, Length: q, Angle: degrees}
	return a, a.Check()
}

func noAngle() error {
	return fault.New(fault.Invalid, "an offset adapter needs its angle").
		WithHint("0deg straight ahead of the grip, 90deg square to the wrench, 180deg pointing back")
}

// Words names the adapter with its measures; "" where there is none.
func (a Adapter) Words() string {
	if a.Kind == Crowfoot {
		return string(a.Kind) + " " + a.Length.Words() + " at " + string(a.Angle) + "°"
	}
	return string(a.Kind)
}

// Check refuses an adapter that cannot be: fault.Invalid names the value.
func (a Adapter) Check() error {
	switch a.Kind {
	case NoAdapter, Extension, TorqueBar, UniversalJoint, Multiplier:
		return a.checkCertificate()
	case Crowfoot:
		return a.checkOffset()
	}
	words := make([]string, len(AdapterKinds))
	for i, k := range AdapterKinds {
		words[i] = string(k)
	}
	return fault.New(fault.Invalid, "%q is not an adapter", fault.Clip(string(a.Kind))).WithHint("use one of: %s", strings.Join(words, ", "))
}

func (a Adapter) checkOffset() error {
	length, err := amountIn(a.Length, units.Millimeter)
	switch {
	case err != nil || !(length > 0):
		return fault.New(fault.Invalid, "the offset adapter's length is %q", a.Length).
			WithHint("give the distance from the center of the drive to the center of the fastener, such as 50mm")
	case a.Angle == "":
		return noAngle()
	case !a.Angle.valid() || a.Angle.Float() < 0 || a.Angle.Float() > 180:
		return fault.New(fault.Invalid, "an angle of %s degrees is outside 0 to 180", fault.Clip(string(a.Angle))).
			WithHint("to either side counts the same: give it without a sign")
	}
	for _, half := range []units.Quantity{a.GripHalf, a.LengthHalf} {
		if half.IsZero() {
			continue
		}
		if mm, err := amountIn(half, units.Millimeter); err != nil || mm < 0 {
			return fault.New(fault.Invalid, "%q is no half-width of a length", half).WithHint("such as 10mm")
		}
	}
	if a.AngleHalf != "" && !(a.AngleHalf.Float() >= 0) {
		return fault.New(fault.Invalid, "%q is no half-width of an angle", fault.Clip(string(a.AngleHalf))).WithHint("give degrees, such as 5")
	}
	return nil
}

func (a Adapter) checkCertificate() error {
	c := a.Certificate
	if c == nil {
		return nil
	}
	if !c.Factor.valid() || !(c.Factor.Float() > 0) {
		return fault.New(fault.Invalid, "the adapter's factor is %q", fault.Clip(string(c.Factor))).
			WithHint("give the torque at the fastener over the torque at the drive, from its certificate")
	}
	if !c.Uncertainty.valid() || c.Uncertainty.Float() < 0 {
		return fault.New(fault.Invalid, "the adapter's uncertainty is %q", fault.Clip(string(c.Uncertainty))).WithHint("give the expanded one (k = 2) in percent")
	}
	return nil
}

// Changes says whether the torque at the fastener is another than at the drive.
func (a Adapter) Changes() bool { return a.Kind != NoAdapter && a.Kind != Extension }

// needsCertificate says whether nothing but its own certificate tells its factor.
func (a Adapter) needsCertificate() bool {
	return a.Kind == TorqueBar || a.Kind == UniversalJoint || a.Kind == Multiplier
}

// Factor gives K, the torque at the fastener over the torque that the tool is set
// to: (L + E·cos θ)/L for an offset adapter, with L from the center of the grip to
// the center of the drive (the moments of TM 9-254 fig. 46 and Navy 14008), 1 for a
// straight bar, the certificate's for others. An adapter that reaches back to the
// hand or beyond it (L + E·cos θ <= 0), no grip-to-drive length where one is needed,
// or no certificate is fault.Invalid.
func (a Adapter) Factor(gripToDrive units.Quantity) (float64, error) {
	if err := a.Check(); err != nil {
		return 0, err
	}
	switch {
	case !a.Changes():
		return 1, nil
	case a.needsCertificate() && a.Certificate == nil:
		return 0, fault.New(fault.Invalid, "a %s has no factor without its own certificate", a.Kind)
	case a.needsCertificate():
		return a.Certificate.Factor.Float(), nil
	}
	g, err := a.geometry(gripToDrive)
	if err != nil {
		return 0, err
	}
	return g.reach() / g.grip, nil
}

// offset is the geometry of an offset adapter: millimeters and radians.
type offset struct {
	grip, length, angle          float64
	gripHalf, lengthHalf, angleH float64
}

// reach is L + E·cos θ.
func (g offset) reach() float64 { return g.grip + g.length*math.Cos(g.angle) }

func (a Adapter) geometry(gripToDrive units.Quantity) (offset, error) {
	grip, err := amountIn(gripToDrive, units.Millimeter)
	if err != nil || !(grip > 0) {
		return offset{}, fault.New(fault.Invalid, "the length from the center of the grip to the center of the drive is not known").
			WithHint("measure it and enter it with --grip-to-drive, such as 400mm")
	}
	length, err := amountIn(a.Length, units.Millimeter)
	if err != nil {
		return offset{}, err
	}
	g := offset{grip: grip, length: length, angle: a.Angle.Float() * math.Pi / 180,
		gripHalf: gripHalfWidth, lengthHalf: lengthHalfWidth, angleH: angleHalfWidth}
	if !a.GripHalf.IsZero() {
		g.gripHalf, _ = amountIn(a.GripHalf, units.Millimeter)
	}
	if !a.LengthHalf.IsZero() {
		g.lengthHalf, _ = amountIn(a.LengthHalf, units.Millimeter)
	}
	if a.AngleHalf != "" {
		g.angleH = a.AngleHalf.Float()
	}
	if g.reach() <= slack*grip {
		return offset{}, fault.New(fault.Invalid, "an adapter of %s at %s degrees reaches back to the hand on a wrench of %s", a.Length, a.Angle, gripToDrive).
			WithHint("turn it forward, or use another adapter")
	}
	return g, nil
}

// Uncertainty gives the standard uncertainty that the adapter adds to the torque at
// the fastener, in percent: the first-order propagation (JCGM 100:2008 5.1.2) of the
// three lengths through K. Errors are those of Factor.
func (a Adapter) Uncertainty(gripToDrive units.Quantity) (float64, error) {
	if _, err := a.Factor(gripToDrive); err != nil {
		return 0, err
	}
	switch {
	case !a.Changes():
		return 0, nil
	case a.needsCertificate():
		return a.Certificate.Uncertainty.Float() / 2, nil
	}
	g, err := a.geometry(gripToDrive)
	if err != nil {
		return 0, err
	}
	rect := func(half float64) float64 { return half / math.Sqrt(3) }
	sin, cos := math.Sincos(g.angle)
	grip := g.length * cos * rect(g.gripHalf) / (g.grip * g.reach())
	length := cos * rect(g.lengthHalf) / g.reach()
	angle := g.length * sin * rect(g.angleH*math.Pi/180) / g.reach()
	return 100 * math.Sqrt(grip*grip+length*length+angle*angle), nil
}

// SetFor gives what to set for a torque at the fastener, T/K, in the torque's own
// unit; Applied gives what a setting applies there, x·K. Errors are those of Factor.
func (a Adapter) SetFor(target float64, gripToDrive units.Quantity) (float64, error) {
	k, err := a.Factor(gripToDrive)
	return target / k, err
}

// Applied is the inverse of SetFor.
func (a Adapter) Applied(set float64, gripToDrive units.Quantity) (float64, error) {
	k, err := a.Factor(gripToDrive)
	return set * k, err
}
