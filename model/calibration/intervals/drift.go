package intervals

import (
	"math"

	"pawl/model/calibration"
	"pawl/model/dates"
)

// furthest is how far past the last result a line is drawn and asked, as a multiple of
// the time between the last two: a rule of this project.
const furthest = 2.0

// boundProbability is that of the prediction bound, one-sided.
const boundProbability = 0.95

// fewestResults is how many as-found results in a row a longer interval needs: a rule
// of this project.
const fewestResults = 3

// bandSteps is in how many steps a band is given from the last result to the furthest.
const bandSteps = 8

// Trace is the drift of a tool at one point: every comparison there since the record
// can be followed without a gap.
type Trace struct {
	Direction calibration.Direction
	Set       calibration.Decimal
	SetValue  float64
	From      dates.Date // day 0 of its months
	Marks     []Mark     // oldest first
	Limit     float64    // either way, percent; of the newest calibration
	Guarded   float64    // the limit less the expanded uncertainty; NaN where none is stated
	Line      *Line      // of the cumulated drift; nil under three results or where all are at one time
	Reach     Reach      // meaningful with a Line and a Guarded limit
}

// Mark is one comparison at a point. Percents are (set − delivered)/delivered.
type Mark struct {
	On        dates.Date
	Months    float64
	Found     float64 // mean as found; NaN at the first
	Left      float64 // mean as left
	Adjusted  bool
	Cumulated float64 // the error as it would be had nobody ever adjusted since the first
}

// Reach is when the tool's error reaches the guarded limit, in months after the last
// result, and never past twice the last gap: Horizon stands where it is not reached by
// then.
type Reach struct {
	Nominal, Conservative            float64 // the line; its prediction bound
	NominalReached, ConservativeSoon bool    // before the horizon
	Horizon                          float64
}

// Offset is what the line is moved by so that it goes on from how the tool was last
// left.
func (t Trace) Offset() float64 { return t.shift(len(t.Marks) - 1) }

// shift moves the line to where the tool stood after one comparison: an adjustment
// starts it anew from there.
func (t Trace) shift(i int) float64 { return t.Marks[i].Left - t.Marks[i].Cumulated }

// Last is the month of the newest comparison.
func (t Trace) Last() float64 { return t.Marks[len(t.Marks)-1].Months }

// Traces follows a tool's drift at every point that its newest calibration has.
func (h History) Traces() (out []Trace) {
	if len(h.Calibrations) == 0 {
		return nil
	}
	newest := h.Calibrations[0]
	for _, d := range []calibration.Direction{calibration.NoDirection, calibration.Clockwise, calibration.Counterclockwise} {
		for _, p := range newest.Left(d) {
			if t := (Trace{Direction: d, Set: p.Set, SetValue: p.SetValue, Limit: p.LimitPercent}); h.follow(&t) {
				t.Guarded = math.Max(0, p.LimitPercent-p.ExpandedPercent) // NaN stays NaN
				t.fit()
				out = append(out, t)
			}
		}
	}
	return out
}

// follow gathers the marks, oldest first. What an accident or an adjustment without
// as-found did is not known: the trace begins anew after it.
func (h History) follow(t *Trace) bool {
	for i := len(h.Calibrations) - 1; i >= 0; i-- {
		k := h.Calibrations[i]
		found, left := t.at(k.Found(t.Direction)), t.at(k.Left(t.Direction))
		if math.IsNaN(left) && !k.Adjusted {
			left = found
		}
		if math.IsNaN(left) && !k.Adjusted {
			continue // this point was not compared
		}
		broken := math.IsNaN(found) || i < len(h.Calibrations)-1 && h.accident(h.Calibrations[i+1].On, k.On) != ""
		t.add(k, found, left, broken)
	}
	return len(t.Marks) > 0
}

// at is the mean deviation at the trace's point; NaN where it was not compared.
func (t *Trace) at(points []calibration.JudgedPoint) float64 {
	for _, p := range points {
		if math.Abs(p.SetValue-t.SetValue) <= 1e-9*math.Abs(t.SetValue) {
			return p.MeanPercent
		}
	}
	return math.NaN()
}

func (t *Trace) add(k calibration.Kept, found, left float64, broken bool) {
	switch {
	case math.IsNaN(left):
		t.Marks = nil // adjusted, and not compared afterwards
		return
	case broken || len(t.Marks) == 0:
		t.From, t.Marks = k.On, []Mark{{On: k.On, Found: math.NaN(), Left: left, Adjusted: k.Adjusted, Cumulated: left}}
		return
	}
	before := t.Marks[len(t.Marks)-1]
	m := Mark{On: k.On, Months: MonthsBetween(t.From, k.On), Found: found, Left: left, Adjusted: k.Adjusted}
	m.Cumulated = before.Cumulated + found - before.Left
	t.Marks = append(t.Marks, m)
}

// fit draws the line through the cumulated drift and asks when it, and its bound, reach
// the guarded limit.
func (t *Trace) fit() {
	x, y := make([]float64, len(t.Marks)), make([]float64, len(t.Marks))
	for i, m := range t.Marks {
		x[i], y[i] = m.Months, m.Cumulated
	}
	l, err := FitLine(x, y)
	if err != nil {
		return
	}
	last := t.Last()
	gap := last - t.Marks[len(t.Marks)-2].Months
	if !(gap > 0) {
		return
	}
	t.Line, t.Reach.Horizon = &l, furthest*gap
	if math.IsNaN(t.Guarded) {
		return
	}
	r := &t.Reach
	met := 0.0
	if met, r.NominalReached = l.Meets(t.Guarded, t.Offset(), 0.5, last, last+r.Horizon); r.NominalReached {
		r.Nominal = met - last
	} else {
		r.Nominal = r.Horizon
	}
	if met, r.ConservativeSoon = l.Meets(t.Guarded, t.Offset(), boundProbability, last, last+r.Horizon); r.ConservativeSoon {
		r.Conservative = met - last
	} else {
		r.Conservative = r.Horizon
	}
}

// Piece is a stretch of the line between two comparisons, moved to how the tool was
// left at the first of them.
type Piece struct{ From, To, AtFrom, AtTo float64 }

// Pieces are the stretches of the line up to the newest comparison.
func (t Trace) Pieces() (out []Piece) {
	for i := 0; t.Line != nil && i+1 < len(t.Marks); i++ {
		from, to := t.Marks[i].Months, t.Marks[i+1].Months
		out = append(out, Piece{from, to, t.Line.At(from) + t.shift(i), t.Line.At(to) + t.shift(i)})
	}
	return out
}

// Ahead is what is expected at one time after the newest comparison: the line, and its
// one-sided prediction bound of 95 % either way.
type Ahead struct{ Months, Line, Low, High float64 }

// Band is the line and its bounds from the newest comparison to the furthest time that
// is asked.
func (t Trace) Band() (out []Ahead) {
	for i := 0; t.Line != nil && i <= bandSteps; i++ {
		x := t.Last() + t.Reach.Horizon*float64(i)/bandSteps
		line, margin := t.Line.At(x)+t.Offset(), t.Line.Margin(x, boundProbability)
		out = append(out, Ahead{x, line, line - margin, line + margin})
	}
	return out
}
