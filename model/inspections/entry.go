package inspections

import (
	"math"
	"strconv"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/names"
)

// MayRecord asks whether an inspection says all that its check asks for: who did it,
// the paper, the day on the tag. Every value at fault is named.
func (c Check) MayRecord(d Inspection, paper bool) error {
	var bad fault.Problems
	if c.NeedsPerson && d.Inspector == "" {
		bad.Add("#/by", "%s is done by %s: say who, and their number", c.Name, orSomebody(c.Does))
	}
	if c.NeedsPaper && !paper {
		bad.Add("#/evidence", "%s needs its paper: %s", c.Name, "give the report or certificate with it")
	}
	if c.NeedsTag && d.Result == Passed && d.TagDay == "" {
		bad.Add("#/next", "%s has no interval of ours: give the next day as the tag says", c.Name)
	}
	if d.TagDay != "" && !d.OnDay.Before(d.TagDay) {
		bad.Add("#/next", "the next day %s is not after %s, when it was done", d.TagDay, d.OnDay)
	}
	if c.TwelveYear && (c.Plan == nil || !c.Plan.TwelveYear) {
		bad.Add("#/check", "%s is only for stored-pressure dry chemical with a 12-year hydrostatic test; say first that it is one", c.Name)
	}
	return bad.Err()
}

func orSomebody(does string) string {
	if does == "" {
		return "somebody named"
	}
	return does
}

// CheckPlan refuses what does not go together in a plan: the longest interval is 13
// years, what is of gloves is for gloves, and a check of the trade is never made
// rarer than its rule.
func CheckPlan(p Plan) error {
	var bad fault.Problems
	r, known := Named(p.Name)
	every := Every{p.Months, p.Days}
	switch {
	case p.Months < 0 || p.Months > MaxMonths || p.Days < 0 || p.Days > 366 || p.Months > 0 && p.Days > 0:
		bad.Add("#/plan/every", "every %d months and %d days is not an interval; up to %d months, or up to 366 days, are taken", p.Months, p.Days, MaxMonths)
	case !known && every == (Every{}) && !p.Dropped:
		bad.Add("#/plan/every", "%s is a check of the shop's own: say how often", p.Name)
	case known && every != (Every{}) && r.Every != (Every{}) && every.longer(r.Every):
		bad.Add("#/plan/every", "%s is asked for every %s; a longer interval is not taken", p.Name, r.Every)
	}
	if (p.Strict || p.NotIssued || p.FirstIssued != "") && !r.Gloves {
		bad.Add("#/plan/first_issued", "first issue and the strict rule are for gloves")
	}
	if p.NotIssued && p.FirstIssued != "" {
		bad.Add("#/plan/not_issued", "they were first issued on %s", p.FirstIssued)
	}
	if p.Dropped && p.Why == "" {
		bad.Add("#/plan/why", "say why %s is not held on this tool", p.Name)
	}
	return bad.Err()
}

// longer says whether an interval may end later than another does. Days are held against
// the shortest that so many months can be: six months from the end of August are 181 days.
func (e Every) longer(than Every) bool {
	if e.Days > 0 && than.Months > 0 {
		return e.Days > shortest(than.Months)
	}
	const longestMonth = 31
	return e.Months*longestMonth+e.Days > than.Months*longestMonth+than.Days
}

// shortest is how many days so many months have at the least: they begin on any day of a
// year that has no leap day, and before one that has none.
func shortest(months int) int {
	const yearOfDays = 365
	least := math.MaxInt
	for from, i := dates.Date("2025-01-01"), 0; i < yearOfDays; from, i = from.AddDays(1), i+1 {
		least = min(least, dates.DaysBetween(from, from.AddMonths(months)))
	}
	return least
}

// String is the interval in words.
func (e Every) String() string {
	switch {
	case e.Days == 7:
		return "week"
	case e.Days > 0:
		return strconv.Itoa(e.Days) + " days"
	case e.Months == 1:
		return "month"
	case e.Months > 0:
		return strconv.Itoa(e.Months) + " months"
	}
	return "as its tag says"
}

// CheckName folds the name of a check: that of the catalog, or the shop's own.
func CheckName(text string) (name, key string, err error) {
	if name, err = names.Check(text); err != nil {
		return "", "", err
	}
	if r, known := Named(name); known {
		name = r.Name
	}
	return name, names.Key(name), nil
}
