package calibration

import (
	"math"

	"pawl/model/dates"
)

// Facts is everything that is on record of one tool and matters for an answer.
type Facts struct {
	Number      string       // only to name and order it
	Kind        string       // what it is, in the register's words
	Requirement *Requirement // nil: nothing is recorded of what it must hold
	Today       dates.Date   // in the shop's zone; "" is not known
	Doubtful    bool         // the clock is

	Gone     string // why it left for good; "" = it did not
	DoNotUse string // why it is out of use; "" = it is not
	Holder   string // who has it; "" = in place
	Mine     bool   // the holder is who asks
	Away     string // where it is away to; "" = it is not

	Calibrations []Kept   // newest first
	Checks       []Kept   // bench checks, newest first
	Events       []Event  // what ends trust, in any order
	Cycles       Cycles   // since the newest calibration
	Pairs        []Pair   // changes of tools like this one between calibrations
	Unreadable   []string // what of the record could not be read
}

// Kept is a calibration or bench check on record, judged.
type Kept struct {
	ID string
	At dates.Instant // when it was done; 0 where only the day is known
	Judgement
}

// Cycles is how often the tool was used since its calibration: a floor, since uses
// that nobody recorded are not in it.
type Cycles struct {
	Counted bool
	AtLeast int64
}

// Pair is what one calibration found against how the one before left the same tool: the
// largest |as found − previous as left| over the points that both have.
type Pair struct {
	Days   int     // between the two
	Change float64 // in percent of the reference; NaN where it shows zero at each of them
	Share  float64 // of the smaller of both limits there; NaN where there was none
}

// Pairs gathers the changes between calibrations of one tool, newest first as in
// Facts. Two calibrations without a point in common, or on one day, make none.
func Pairs(newestFirst []Kept) (out []Pair) {
	for i := 0; i+1 < len(newestFirst); i++ {
		later, earlier := newestFirst[i].Judgement, newestFirst[i+1].Judgement
		days := dates.DaysBetween(earlier.On, later.On)
		change, share := largestChange(later, earlier)
		if days > 0 && !(math.IsNaN(change) && math.IsNaN(share)) {
			out = append(out, Pair{Days: days, Change: change, Share: share})
		}
	}
	return out
}

func largestChange(later, earlier Judgement) (change, share float64) {
	change, share = math.NaN(), math.NaN()
	grow := func(largest *float64, to float64) {
		if to = math.Abs(to); !math.IsInf(to, 0) && (to > *largest || math.IsNaN(*largest)) {
			*largest = to // where the limit is none, a change is no share of it
		}
	}
	for _, d := range []Direction{NoDirection, Clockwise, Counterclockwise} {
		left := earlier.Left(d)
		for _, found := range later.Found(d) {
			for _, before := range left {
				if same(found.SetValue, before.SetValue) {
					grow(&change, found.MeanPercent-before.MeanPercent)
					grow(&share, (found.MeanError-before.MeanError)/math.Min(found.Limit, before.Limit))
				}
			}
		}
	}
	return change, share
}
