package intervals

import (
	"math"

	"pawl/model/dates"
)

// Used is how often a tool was used on one day.
type Used struct {
	On    dates.Date
	Count int64
}

// Next is when a tool is next due: the earlier of its months and its cycles.
type Next struct {
	Due      dates.Date // the last day in date; "" where nothing is known to end it
	Because  string     // "months" or "cycles"; "" with no day
	ByMonths dates.Date
	Cycles   int64 // allowed; 0 = none stated
	Counted  bool  // any use was recorded
	AtLeast  int64 // cycles recorded: a floor, since uses that nobody recorded are not in it
	Reached  dates.Date
	Expected dates.Date // when the recorded pace reaches them; an estimate, at best right
}

// NextDue takes the day that the interval runs from, the interval in months and cycles
// (0: none stated), the uses since, oldest first, and today. A month that has no such
// day ends on its last: twelve months from 2028-02-29 end on 2029-02-28.
func NextDue(from dates.Date, months int, cycles int64, uses []Used, today dates.Date) (n Next) {
	n.Cycles = cycles
	if months > 0 {
		n.ByMonths = from.AddMonths(months)
		n.Due, n.Because = n.ByMonths, "months"
	}
	for _, u := range uses {
		n.Counted, n.AtLeast = true, n.AtLeast+u.Count
		if cycles > 0 && n.AtLeast >= cycles && n.Reached == "" {
			n.Reached = u.On
		}
	}
	switch days := dates.DaysBetween(from, today); {
	case n.Reached != "":
		if n.Due == "" || n.Reached.Before(n.Due) {
			n.Due, n.Because = n.Reached, "cycles"
		}
	case cycles > 0 && n.AtLeast > 0 && days > 0:
		if all := math.Ceil(float64(cycles) / float64(n.AtLeast) * float64(days)); all < 365*100 {
			n.Expected = from.AddDays(int(all))
		}
	}
	return n
}
