// Package chart draws what a calibration shows, as SVG and as a table of the same
// figures. A chart is read in black and white: what differs has another shape and
// is named in words. It takes figures as they are and computes none; the same data
// give the same bytes. Ink is the color of the text around it.
package chart

import (
	"math"
	"sort"
	"strconv"
	"strings"

	"pawl/model/fault"
)

// Phase is when a point was taken.
type Phase string

const (
	AsFound Phase = "as found"
	AsLeft  Phase = "as left"
)

// Direction is the sense of turning; empty where there is none.
type Direction string

const (
	NoDirection      Direction = ""
	Clockwise        Direction = "clockwise"
	Counterclockwise Direction = "counterclockwise"
)

// Point is one value of a comparison. Percents are of the reference's reading, and
// positive where the tool shows more than there is; nil is what is not known.
type Point struct {
	Phase      Phase      `json:"phase"`
	Direction  Direction  `json:"direction"`
	Set        float64    `json:"set"`                // in the unit of the chart
	Deviations []*float64 `json:"deviations_percent"` // of every reading
	Mean       *float64   `json:"mean_percent"`
	Limit      *float64   `json:"limit_percent"`         // either way
	Guarded    *float64   `json:"guarded_limit_percent"` // the limit less the uncertainty; 0 where that is larger
	Words      string     `json:"words"`
	Decision   string     `json:"decision"`
}

// Calibration is the chart of one calibration.
type Calibration struct {
	Title  string  `json:"title"`
	Unit   string  `json:"unit"`
	Points []Point `json:"points"`

	Caution string `json:"caution"` // stands under the picture, in at most three lines

	Say func(english string) string `json:"-"` // what is written into the picture, in another language; nil: as it is
}

// say is a text of ours as the picture has it.
func (c Calibration) say(english string) string {
	if c.Say == nil {
		return english
	}
	return c.Say(english)
}

// check refuses a chart without a dot.
func (c Calibration) check() error {
	for _, p := range c.Points {
		if math.IsNaN(p.Set) || math.IsInf(p.Set, 0) {
			return fault.At("#/points", "a point at %v %s", p.Set, c.Unit)
		}
	}
	if len(c.drawn()) == 0 {
		return fault.New(fault.Conflict, "there are no readings to draw").WithHint("only a comparison with readings has a chart")
	}
	return nil
}

// drawn are the points that have a deviation, from the smallest set value up.
func (c Calibration) drawn() (out []Point) {
	for _, p := range c.Points {
		if p.Mean != nil {
			out = append(out, p)
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Set < out[j].Set })
	return out
}

// bound is the narrowest limit at each set value.
type bound struct{ set, percent float64 }

func bounds(points []Point, of func(Point) *float64) (out []bound) {
	for _, p := range points {
		v := of(p)
		switch last := len(out) - 1; {
		case v == nil:
		case last >= 0 && out[last].set == p.Set:
			out[last].percent = min(out[last].percent, *v)
		default:
			out = append(out, bound{p.Set, *v})
		}
	}
	return out
}

// axis is a scale in figures that people count in.
type axis struct {
	low, high, step float64
	decimals        int
}

// axisOf covers low to high in at most n steps of 1, 2 or 5 times a power of ten.
func axisOf(low, high float64, n int) axis {
	if high <= low {
		wide := max(math.Abs(low)/2, 1)
		low, high = low-wide, high+wide
	}
	power := math.Pow(10, math.Floor(math.Log10((high-low)/float64(n))))
	for _, m := range []float64{1, 2, 5, 10, 20, 50} {
		a := axis{step: m * power}
		a.low, a.high = a.step*math.Floor(low/a.step+1e-9), a.step*math.Ceil(high/a.step-1e-9)
		if math.Round((a.high-a.low)/a.step) <= float64(n) {
			a.decimals = max(0, -int(math.Floor(math.Log10(a.step)+1e-9)))
			return a
		}
	}
	panic("chart: no step holds a range") // 50 powers of ten hold any
}

// ticks are the marks of an axis.
func (a axis) ticks() (out []float64) {
	for i := range int(math.Round((a.high-a.low)/a.step)) + 1 {
		out = append(out, a.low+float64(i)*a.step)
	}
	return out
}

// label writes a mark of an axis, with the minus sign of print.
func (a axis) label(v float64) string {
	s := strconv.FormatFloat(math.Abs(v), 'f', a.decimals, 64)
	if v < -a.step/2 {
		return "−" + s
	}
	return s
}

// percent writes a figure as it was given.
func percent(v *float64) string {
	if v == nil {
		return "not known"
	}
	return figure(*v) + " %"
}

func figure(v float64) string {
	return strings.Replace(strconv.FormatFloat(v, 'f', -1, 64), "-", "−", 1)
}
