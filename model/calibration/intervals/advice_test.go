package intervals

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pawl/model/calibration"
	"pawl/model/dates"
	"pawl/model/units"
)

// wrench is a setting wrench, clockwise, whose limit of 4 % its own paper states.
func wrench(months int) calibration.Requirement {
	nm := func(v string) units.Quantity { return units.Quantity{Value: v, Unit: units.NewtonMeter} }
	l, err := calibration.ParseLimit("4 % of reference")
	if err != nil {
		panic(err)
	}
	own := calibration.Source{Standing: calibration.OwnPaper, Where: "its declaration, page 1"}
	return calibration.Requirement{Preset: "torque-wrench-setting", Instrument: calibration.TorqueWrench, Class: calibration.SettingWrench,
		Unit: units.NewtonMeter, Scale: calibration.Scale{Low: nm("40"), High: nm("200"), Graduation: nm("1")},
		Directions: []calibration.Direction{calibration.Clockwise}, Limit: l, LimitSource: own, Months: months, IntervalSource: own, Rule: calibration.SimpleRule}
}

// comparison is one as a test writes it: what 120 delivered before and after; "" is
// not compared.
type comparison struct {
	on          dates.Date
	found, left string
	adjusted    bool
}

// history judges comparisons, which are given oldest first.
func history(t *testing.T, number string, all ...comparison) History {
	t.Helper()
	h := History{Number: number}
	for _, c := range all {
		point := func(delivered string) []calibration.Point {
			if delivered == "" {
				return nil
			}
			return []calibration.Point{{Direction: calibration.Clockwise, Set: "120", Readings: []calibration.Decimal{calibration.Decimal(delivered)}}}
		}
		r := calibration.Result{On: c.on, By: "Own words", Paper: calibration.Certificate, Uncertainty: "1.42", Adjusted: c.adjusted,
			AsFound: point(c.found), AsLeft: point(c.left), OnlyUncertainty: true}
		if c.found == "" && c.left == "" {
			r.Paper, r.Claim = calibration.PassOnly, calibration.ClaimsPass
		}
		j, err := calibration.Judge(wrench(12), r, calibration.Around{SafetyJobs: true})
		if err != nil {
			t.Fatal(err)
		}
		h.Calibrations = append([]calibration.Kept{{ID: string(c.on), Judgement: j}}, h.Calibrations...)
	}
	return h
}

// The ages of a tool's lives: they begin at an adjustment, and end at the next or when
// it was found out. 120 delivered as 119 is 0.84 % too much shown, as 112 it is 7.1 %.
func TestLives(t *testing.T) {
	first := comparison{on: "2020-01-01", left: "119.5"}
	ok := func(on dates.Date) comparison { return comparison{on: on, found: "119", left: "119"} }
	for name, c := range map[string]struct {
		all      []comparison
		events   []calibration.Event
		outcomes string
		lives    string // days: last good, found out
	}{
		"one calibration":           {all: []comparison{first}},
		"passed and passed again":   {all: []comparison{first, ok("2021-01-01"), ok("2022-01-01")}, outcomes: "well inside, well inside", lives: "731-"},
		"found out the first time":  {all: []comparison{first, {on: "2021-01-01", found: "112", left: "120", adjusted: true}}, outcomes: "out of tolerance", lives: "0-366"},
		"passed, then found out":    {all: []comparison{first, ok("2021-01-01"), {on: "2022-01-01", found: "112", left: "120"}, ok("2023-01-01")}, outcomes: "well inside, out of tolerance, well inside", lives: "366-731 365-"},
		"adjusted though it passed": {all: []comparison{first, {on: "2021-01-01", found: "119", left: "120", adjusted: true}, ok("2022-01-01")}, outcomes: "well inside, well inside", lives: "366- 365-"},
		"beyond 0.8 of its limit":   {all: []comparison{first, {on: "2021-01-01", found: "116", left: "116"}}, outcomes: "inside", lives: "366-"},
		"adjusted unseen": {all: []comparison{first, ok("2021-01-01"), {on: "2022-01-01", left: "120", adjusted: true}, ok("2023-01-01")},
			outcomes: "well inside, says nothing on drift, well inside", lives: "366- 365-"},
		"a word on paper": {all: []comparison{first, {on: "2021-01-01"}, ok("2022-01-01")}, outcomes: "says nothing on drift, well inside", lives: "731-"},
		"found out after a drop": {all: []comparison{first, ok("2021-01-01"), {on: "2022-01-01", found: "112", left: "120", adjusted: true}, ok("2023-01-01")},
			events: []calibration.Event{{Kind: calibration.Dropped, On: "2021-06-01"}}, outcomes: "well inside, says nothing on drift, well inside", lives: "366- 365-"},
		"failed as reported is drift": {all: []comparison{first, {on: "2021-01-01", found: "112", left: "120"}},
			events: []calibration.Event{{Kind: calibration.FoundFailed, On: "2020-06-01"}}, outcomes: "out of tolerance", lives: "0-366"},
	} {
		h := history(t, "00E-KM5", c.all...)
		h.Events = c.events
		results, lives := h.Results()
		var outcomes, spans []string
		for _, r := range results {
			outcomes = append(outcomes, string(r.Outcome))
		}
		for _, o := range lives {
			span := fmt.Sprintf("%.0f-", o.After*daysOfMonth)
			if o.Failed() {
				span += fmt.Sprintf("%.0f", o.By*daysOfMonth)
			}
			spans = append(spans, span)
		}
		if got := strings.Join(outcomes, ", "); got != c.outcomes {
			t.Errorf("%s: %s, want %s", name, got, c.outcomes)
		}
		if got := strings.Join(spans, " "); got != c.lives {
			t.Errorf("%s: lives %q, want %q", name, got, c.lives)
		}
	}
}

// The line goes through what was cumulated, and starts anew where the tool was left.
func TestTraces(t *testing.T) {
	// Errors worked by hand: 120 delivered as 119.52, 118.81, 118.23, 117.42 is 0.4016,
	// 1.0016, 1.4971, 2.1972 % too much shown.
	steady := history(t, "00E-KM5", comparison{on: "2020-01-01", left: "119.52"}, comparison{on: "2021-01-01", found: "118.81", left: "118.81"},
		comparison{on: "2022-01-01", found: "118.23", left: "118.23"}, comparison{on: "2023-01-01", found: "117.42", left: "117.42"}).Traces()[0]
	// The same drifts with an adjustment to 120 after the second.
	adjusted := history(t, "00E-KM5", comparison{on: "2020-01-01", left: "119.52"}, comparison{on: "2021-01-01", found: "118.81", left: "120", adjusted: true},
		comparison{on: "2022-01-01", found: "119.4175", left: "119.4175"}, comparison{on: "2023-01-01", found: "118.5914", left: "118.5914"}).Traces()[0]
	for i, want := range []float64{0.401606, 1.001599, 1.497082, 2.197241} {
		equal(t, "cumulated", steady.Marks[i].Cumulated, want, 1e-6)
		equal(t, "cumulated over an adjustment", adjusted.Marks[i].Cumulated, want, 0.02)
	}
	equal(t, "slope", adjusted.Line.Slope/steady.Line.Slope, 1, 0.02)
	equal(t, "the limit less uncertainty", steady.Guarded, 2.58, 1e-9)
	if steady.Offset() != 0 || math.Abs(adjusted.Offset()+1.001599) > 1e-6 {
		t.Errorf("moved by %g and %g", steady.Offset(), adjusted.Offset())
	}
	// 0.0491667 % a month and 2.58 % left: reached 8.5 months after the last (by hand 8.542
	// with months of a twelfth of 365 days).
	equal(t, "reached after", steady.Reach.Nominal, 8.55, 0.15)
	if !(steady.Reach.Conservative < steady.Reach.Nominal && steady.Reach.Conservative > 0) || adjusted.Reach.Nominal < steady.Reach.Nominal {
		t.Errorf("%+v, and adjusted %+v", steady.Reach, adjusted.Reach)
	}
	pieces := adjusted.Pieces()
	if len(pieces) != 3 || math.Abs(pieces[1].AtFrom-(adjusted.Line.At(pieces[1].From)-1.001599)) > 1e-6 {
		t.Errorf("pieces %+v", pieces)
	}
	band := steady.Band()
	if len(band) != bandSteps+1 || band[bandSteps].Months-steady.Last() != steady.Reach.Horizon || band[0].Low >= band[0].Line || band[0].High <= band[0].Line {
		t.Errorf("band %+v", band)
	}
	equal(t, "never further than twice the last gap", steady.Reach.Horizon, 2*MonthsBetween("2022-01-01", "2023-01-01"), 1e-9)
}

func TestTracesBeginAnew(t *testing.T) {
	first, ok := comparison{on: "2020-01-01", left: "119.5"}, comparison{on: "2021-01-01", found: "119", left: "119"}
	for name, c := range map[string]struct {
		all    []comparison
		events []calibration.Event
		from   dates.Date
		marks  int
	}{
		"two":              {all: []comparison{first, ok}, from: "2020-01-01", marks: 2},
		"adjusted unseen":  {all: []comparison{first, ok, {on: "2022-01-01", left: "120", adjusted: true}}, from: "2022-01-01", marks: 1},
		"dropped between":  {all: []comparison{first, ok, {on: "2022-01-01", found: "119", left: "119"}}, events: []calibration.Event{{Kind: calibration.Dropped, On: "2021-06-01"}}, from: "2022-01-01", marks: 1},
		"a word on paper":  {all: []comparison{first, {on: "2020-06-01"}, ok}, from: "2020-01-01", marks: 2},
		"dropped long ago": {all: []comparison{first, ok, {on: "2022-01-01", found: "119", left: "119"}}, events: []calibration.Event{{Kind: calibration.Dropped, On: "2019-06-01"}}, from: "2020-01-01", marks: 3},
	} {
		h := history(t, "00E-KM5", c.all...)
		h.Events = c.events
		got := h.Traces()
		if len(got) != 1 || got[0].From != c.from || len(got[0].Marks) != c.marks || got[0].Line != nil != (c.marks >= 3) {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

// yearly are calibrations a year apart that found what is given delivered for 120; it
// was left so.
func yearly(t *testing.T, number string, delivered ...string) History {
	t.Helper()
	var all []comparison
	for i, d := range delivered {
		c := comparison{on: dates.Date("2018-01-01").AddMonths(12 * i), found: d, left: d}
		if i == 0 {
			c.found = ""
		}
		if d == "112" {
			c.left = "120"
		}
		all = append(all, c)
	}
	return history(t, number, all...)
}

func TestAdvise(t *testing.T) {
	steady := []string{"120", "120.1", "119.9", "120"} // no drift to speak of
	failing := []string{"120", "112", "112", "112"}
	for name, c := range map[string]struct {
		months, maximum int
		own             []string
		like            [][]string
		what            What
		advised         int
		because         string
	}{
		"nothing known":                       {months: 12, own: steady[:1], what: Insufficient},
		"two results":                         {months: 12, own: steady[:3], what: Keep, advised: 12, because: "2 as-found results in a row in tolerance; a longer interval needs 3"},
		"three well inside":                   {months: 12, own: steady, what: Lengthen, advised: 13, because: "the newest 3 results in a row"},
		"scattered, with a bound too near":    {months: 12, own: []string{"120", "118", "122", "120"}, what: Keep, advised: 12, because: "drift: the conservative figure is 0 months"},
		"not past a maximum":                  {months: 12, maximum: 12, own: steady, what: Keep, advised: 12, because: "no longer than 12 months: contract 12-B"},
		"the interval was not run":            {months: 18, own: steady, what: Keep, advised: 18, because: "before the interval was over"},
		"never past 24":                       {months: 24, own: steady, what: Keep, advised: 24},
		"a longer one is not cut":             {months: 36, own: steady, what: Keep, advised: 36},
		"found out":                           {months: 12, own: []string{"120", "120", "120", "112"}, what: Shorten, advised: 6, because: "staircase: 6 months, and 12 are in force"},
		"found out, and shortened since":      {months: 6, own: []string{"120", "120", "120", "112"}, what: Keep, advised: 6},
		"the last beyond 0.8":                 {months: 12, own: []string{"120", "120", "120", "116"}, what: Shorten, because: "drift: "},
		"drifting":                            {months: 12, own: []string{"119.52", "118.81", "118.23", "117.42"}, what: Shorten, advised: 8, because: "drift: 8."},
		"drifting, and the bound is too near": {months: 8, own: []string{"119.52", "118.81", "118.23", "117.42"}, what: Keep, advised: 8},
		"like tools alone never lengthen":     {months: 6, own: steady[:2], like: [][]string{steady, steady, steady, failing, steady, steady, steady, steady, steady, steady, steady, steady}, what: Keep, advised: 6},
		"like tools stand against a longer":   {months: 12, own: steady, like: [][]string{failing, failing}, what: Shorten, because: "like tools: "},
		"no interval in months":               {own: steady, what: Insufficient, because: "no interval in months is recorded"},
		"every like tool failed at once":      {months: 12, own: steady[:1], like: [][]string{failing, failing}, what: Shorten, advised: 6, because: "every one was found out"},
	} {
		q := wrench(c.months)
		if c.maximum > 0 {
			q.MaximumMonths, q.MaximumWhy = c.maximum, "contract 12-B"
		}
		own := yearly(t, "00E-KM5", c.own...)
		like := []History{own}
		for i, l := range c.like {
			like = append(like, yearly(t, fmt.Sprintf("00F-%03d", i), l...))
		}
		got := Advise(Question{Requirement: q, Own: own, Like: like, Today: "2026-11-29"})
		if got.What != c.what || c.advised != 0 && (got.Months == nil || *got.Months != c.advised) || !strings.Contains(strings.Join(got.Because, "; "), c.because) {
			months := 0
			if got.Months != nil {
				months = *got.Months
			}
			t.Errorf("%s: %s %d because %q, want %s %d because %q", name, got.What, months, got.Because, c.what, c.advised, c.because)
		}
		if change := got.What == Shorten || got.What == Lengthen; change != (got.Accept != nil) || got.What == Insufficient && got.Months != nil {
			t.Errorf("%s: %+v", name, got)
		}
		if got.Interval.MaximumMonths != nil && got.Months != nil && *got.Months > *got.Interval.MaximumMonths {
			t.Errorf("%s: %d months, past the maximum", name, *got.Months)
		}
	}
}

// The same figures stand in the advice as in the models.
func TestAdviseShowsWhatItRestsOn(t *testing.T) {
	own := yearly(t, "00E-KM5", "120", "120", "120")
	like := []History{own, yearly(t, "00F-LN6", "120", "112", "112"), yearly(t, "00G-MP7", "120", "112", "119")}
	got := Advise(Question{Requirement: wrench(12), Own: own, Like: like, Today: "2026-11-29"}).Like
	if got.Calibrations != 6 || got.InTolerance != 3 || got.Failures != 3 || got.Lives != 5 || len(got.Tools) != 3 || got.Tools[1] != (LikeTool{"00F-LN6", 2, 2}) {
		t.Errorf("%+v", got)
	}
	lives := all(pass(12, 0), []Observation{{24 * 365.25 / 365.2425, math.Inf(1)}}, pass(12, 1), fail(12, 3))
	e, _ := FitExponential(lives)
	nominal, conservative := e.Until(0.95)
	equal(t, "nominal", *got.NominalMonths, nominal, 0.01)
	equal(t, "conservative", *got.ConservativeMonths, conservative, 0.01)
	if got.Chosen != "exponential" || got.Exponential == nil || got.Insufficient != "" || !(*got.ConservativeMonths < *got.NominalMonths) {
		t.Errorf("%+v", got)
	}
}

// The earlier of months and cycles. The first is the date of a leap day.
func TestNextDue(t *testing.T) {
	uses := []Used{{"2028-04-01", 3000}, {"2028-06-01", 1500}, {"2028-08-01", 600}}
	for name, c := range map[string]struct {
		from     dates.Date
		months   int
		cycles   int64
		uses     []Used
		due      dates.Date
		because  string
		expected dates.Date
	}{
		"months end on the last day of a month": {from: "2028-02-29", months: 12, due: "2029-02-28", because: "months"},
		"cycles reached first":                  {from: "2028-02-29", months: 12, cycles: 5000, uses: uses, due: "2028-08-01", because: "cycles"},
		"months first":                          {from: "2028-02-29", months: 3, cycles: 5000, uses: uses, due: "2028-05-29", because: "months"},
		"cycles alone":                          {from: "2028-02-29", cycles: 4000, uses: uses, due: "2028-06-01", because: "cycles"},
		"not yet": {from: "2028-02-29", months: 12, cycles: 10200, uses: uses, due: "2029-02-28", because: "months",
			expected: dates.Date("2028-02-29").AddDays(2 * dates.DaysBetween("2028-02-29", "2028-11-01"))}, // half of them by today
		"nothing stated": {from: "2028-02-29"},
	} {
		n := NextDue(c.from, c.months, c.cycles, c.uses, "2028-11-01")
		if n.Due != c.due || n.Because != c.because || n.Expected != c.expected {
			t.Errorf("%s: %+v", name, n)
		}
	}
	if n := NextDue("2028-02-29", 12, 5000, nil, "2028-11-01"); n.Counted || n.AtLeast != 0 || n.Expected != "" {
		t.Errorf("without uses: %+v", n)
	}
	own := yearly(t, "00E-KM5", "120")
	kept := &own.Calibrations[0]
	kept.NextDueFrom, kept.IntervalEnds = "2018-06-01", "2019-01-01" // first used in June; a contract allows twelve months
	if due := Advise(Question{Requirement: wrench(12), Own: own, Today: "2018-07-01"}).NextDue; due.Day == nil || *due.Day != "2019-01-01" || *due.ByMonths != "2019-01-01" {
		t.Errorf("past what a contract allows: %+v", due)
	}
}
