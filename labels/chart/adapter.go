package chart

import (
	"fmt"
	"html"
	"io"
	"math"
	"strings"

	"pawl/model/fault"
	"pawl/model/units"
)

// Adapter is the drawing of an offset adapter on a wrench, seen along the fastener,
// true to scale: the wrench lies from grip to drive, the adapter leads from the
// drive to the fastener.
type Adapter struct {
	Grip   units.Quantity // L: center of the grip to center of the drive
	Length units.Quantity // E: center of the drive to center of the fastener
	Angle  float64        // θ in degrees: 0 straight ahead of the grip, 90 square, 180 pointing back
	Target units.Quantity // wanted at the fastener
	Set    units.Quantity // T·L/(L + E·cos θ), as computed elsewhere
}

// Lengths of the drawing in its own units, as in a chart.
const (
	adapterWide, adapterHigh = 360, 330
	fieldLeft, fieldRight    = 24, 336 // the wrench and its adapter lie between
	fieldTop, fieldBottom    = 30, 130
	sideY                    = 268 // the second sketch
)

// drawing is an adapter on its way into a document.
type drawing struct {
	canvas
	grip, drive, nut [2]float64 // centers
}

// lengths gives L and E in millimeters.
func (a Adapter) lengths() (grip, length float64, err error) {
	for _, l := range []struct {
		q  units.Quantity
		to *float64
	}{{a.Grip, &grip}, {a.Length, &length}} {
		r, err := l.q.In(units.Millimeter)
		if err != nil {
			return 0, 0, err
		}
		*l.to, _ = r.Float64()
	}
	switch {
	case !(grip > 0), !(length > 0), grip+length*math.Cos(a.Angle*math.Pi/180) <= 0:
		err = fault.New(fault.Invalid, "an adapter of %s on a wrench of %s cannot be drawn", a.Length, a.Grip).WithHint("measure both lengths again")
	case math.IsNaN(a.Angle), a.Angle < 0, a.Angle > 180:
		err = fault.New(fault.Invalid, "an angle of %v degrees is outside 0 to 180", a.Angle).WithHint("to either side counts the same: give it without a sign")
	}
	return grip, length, err
}

// SVG draws it: L, E and the angle where they are measured, the formula of the
// setting with its figures (the moments of TM 9-254 fig. 46), and below, what is not
// an offset adapter.
func (a Adapter) SVG(w io.Writer) error {
	grip, length, err := a.lengths()
	if err != nil {
		return err
	}
	v := a.placed(grip, length)
	fmt.Fprintf(v, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" role="img" font-family="sans-serif" font-size="%d" fill="currentColor" stroke="none">`+"\n",
		adapterWide, adapterHigh, letters)
	fmt.Fprintf(v, "<title>Offset adapter, seen along the fastener</title>\n<desc>%s</desc>\n", html.EscapeString(strings.Join(a.Caption(), " ")))
	v.wrench(a)
	for i, line := range a.Caption() {
		v.text(4, float64(170+13*i), "start", line)
	}
	v.straight()
	v.WriteString("</svg>\n")
	_, err = io.WriteString(w, v.String())
	return err
}

// placed finds the scale at which both fit, and where their centers come.
func (a Adapter) placed(grip, length float64) *drawing {
	sin, cos := math.Sincos(a.Angle * math.Pi / 180)
	low, high := math.Min(0, grip+length*cos), math.Max(grip, grip+length*cos)
	scale := (fieldRight - fieldLeft) / (high - low)
	if up := length * sin; up*scale > fieldBottom-fieldTop {
		scale = (fieldBottom - fieldTop) / up
	}
	x0 := fieldLeft - low*scale
	v := &drawing{grip: [2]float64{x0, fieldBottom}, drive: [2]float64{x0 + grip*scale, fieldBottom}}
	v.nut = [2]float64{v.drive[0] + length*cos*scale, fieldBottom - length*sin*scale}
	return v
}

// wrench draws the wrench, the adapter, and the lengths between their centers.
func (v *drawing) wrench(a Adapter) {
	const thin = `stroke-width="0.8"`
	fmt.Fprintf(v, `<path id="L" d="M%s %sL%s %s" fill="none" stroke="currentColor" stroke-width="5" stroke-opacity="0.55"/>`+"\n", short(v.grip[0]), short(v.grip[1]), short(v.drive[0]), short(v.drive[1]))
	fmt.Fprintf(v, `<path id="E" d="M%s %sL%s %s" fill="none" stroke="currentColor" stroke-width="3"/>`+"\n", short(v.drive[0]), short(v.drive[1]), short(v.nut[0]), short(v.nut[1]))
	fmt.Fprintf(v, `<circle cx="%s" cy="%s" r="6" fill="none" stroke="currentColor" stroke-width="2"/>`+"\n", short(v.grip[0]), short(v.grip[1]))
	fmt.Fprintf(v, `<rect x="%s" y="%s" width="9" height="9"/>`+"\n", short(v.drive[0]-4.5), short(v.drive[1]-4.5))
	v.hexagon(v.nut[0], v.nut[1], 7)
	v.line(v.grip[0], fieldBottom+13, v.drive[0], fieldBottom+13, thin)
	for _, x := range []float64{v.grip[0], v.drive[0]} {
		v.line(x, fieldBottom+9, x, fieldBottom+17, thin)
	}
	v.text((v.grip[0]+v.drive[0])/2, fieldBottom+25, "middle", "L = "+a.Grip.String())
	v.text(4, 12, "start", "○ middle of the grip   ■ drive   ⬡ fastener, E = "+a.Length.String())
	v.angle(a.Angle)
}

// angle draws it from straight ahead to the adapter.
func (v *drawing) angle(degrees float64) {
	const r = 22.0
	x, y := v.drive[0], v.drive[1]
	v.line(x, y, x+r+6, y, `stroke-width="0.8" stroke-dasharray="3 2"`)
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	fmt.Fprintf(v, `<path id="angle" d="M%s %sA%s %s 0 0 0 %s %s" fill="none" stroke="currentColor" stroke-width="0.8"/>`+"\n",
		short(x+r), short(y), short(r), short(r), short(x+r*cos), short(y-r*sin))
	v.text(math.Min(x+r+3, adapterWide-22), y-8, "start", figure(degrees)+"°")
}

func (v *drawing) hexagon(x, y, r float64) {
	var d strings.Builder
	for i := range 6 {
		sin, cos := math.Sincos(float64(i) * math.Pi / 3)
		d.WriteString(string("ML"[min(i, 1)]) + short(x+r*cos) + " " + short(y+r*sin))
	}
	fmt.Fprintf(v, `<path d="%sZ" fill="none" stroke="currentColor" stroke-width="2"/>`+"\n", d.String())
}

// Caption says what is drawn: the formula with its figures, and what to take care
// of.
func (a Adapter) Caption() []string {
	return []string{
		"Set = target · L / (L + E · cos " + figure(a.Angle) + "°)",
		fmt.Sprintf("%s · %s / (%s + %s · cos %s°) = %s", a.Target.Words(), a.Grip, a.Grip, a.Length, figure(a.Angle), a.Set.Words()),
		"Pull at the middle of the grip, where L was measured to.",
		"The vehicle maker's service information governs the value.",
	}
}

// straight is a bar along the drive, seen from the side: it looks like an adapter in
// words, and changes nothing.
func (v *drawing) straight() {
	v.line(0, sideY-38, adapterWide, sideY-38, `stroke-width="0.4" stroke-opacity="0.4"`)
	v.text(4, sideY-24, "start", "Not this: a straight bar on the drive, from the side.")
	v.line(60, sideY-8, 200, sideY-8, `stroke-width="5" stroke-opacity="0.55"`)
	v.line(200, sideY-8, 200, sideY+30, `stroke-width="3"`)
	fmt.Fprintf(v, `<circle cx="60" cy="%d" r="6" fill="none" stroke="currentColor" stroke-width="2"/>`+"\n", sideY-8)
	fmt.Fprintf(v, `<path d="M192 %dh16v12h-16z" fill="none" stroke="currentColor" stroke-width="2"/>`+"\n", sideY+30)
	v.text(216, sideY+18, "start", "It changes nothing:")
	v.text(216, sideY+31, "start", "set the target itself.")
}
