package due

import (
	"encoding/json"
	"testing"
	"time"

	"pawl/model/calibration"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/inspections"
	"pawl/model/names"
	"pawl/model/register"
	"pawl/model/units"
)

func zone(t *testing.T, name string) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return loc
}

func instant(t *testing.T, s string) dates.Instant {
	t.Helper()
	at, err := time.Parse(time.RFC3339, s)
	if err != nil {
		t.Fatal(err)
	}
	return dates.InstantOf(at)
}

// dayOf is the day of one sort of what is due; "" is none.
func dayOf(f Facts, s Sort) dates.Date {
	for _, r := range Of(f) {
		if r.Sort == s {
			return r.Day
		}
	}
	return ""
}

// compared is what must be held for so many months by a gauge that was good on a day.
func compared(t *testing.T, on dates.Date, months int) Facts {
	t.Helper()
	limit, err := calibration.ParseLimit("2 % of span")
	if err != nil {
		t.Fatal(err)
	}
	bar := func(v string) units.Quantity { return units.Quantity{Value: v, Unit: units.Bar} }
	own := calibration.Source{Standing: calibration.OwnPaper, Where: "its dial"}
	q := calibration.Requirement{Instrument: calibration.PressureGauge, Unit: units.Bar, Scale: calibration.Scale{Low: bar("0"), High: bar("10")},
		Limit: limit, LimitSource: own, Months: months, IntervalSource: own, Rule: calibration.SimpleRule}
	r := calibration.Result{On: on, By: "Own words", Paper: calibration.Certificate, Uncertainty: "0.5",
		AsLeft: []calibration.Point{{Set: "5", Readings: []calibration.Decimal{"5"}}, {Set: "10", Readings: []calibration.Decimal{"10"}}}, OnlyUncertainty: true}
	body, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	return Facts{Zone: time.UTC, Requirement: &q, Results: []calibration.ResultRow{{OnDay: on, Body: string(body)}}}
}

// Months are counted from the day itself and held to a month's end, for every sort that
// has months: rows 12 and 13 of money-and-statistics, S-03 of calibration.md 11, and the
// rows of money-and-statistics 3.1.
func TestMonthsAreHeldToTheMonthsEnd(t *testing.T) {
	for _, c := range []struct {
		from   dates.Date
		months int
		want   dates.Date
	}{
		{"2024-01-31", 1, "2024-02-29"}, {"2024-02-29", 12, "2025-02-28"}, {"2026-08-31", 6, "2027-02-28"}, // row 12
		{"2026-01-31", 1, "2026-02-28"},  // row 13: not 2026-03-03
		{"2028-02-29", 12, "2029-02-28"}, // S-03
		{"2024-02-29", 48, "2028-02-29"}, {"2025-11-30", 3, "2026-02-28"}, {"2026-01-31", 2, "2026-03-31"},
	} {
		key := names.Key("oil change")
		f := Facts{Zone: time.UTC, Plans: []inspections.Plan{{Name: "oil change", NameKey: key, Months: c.months}},
			Inspections: []inspections.Inspection{{ID: "I", Name: "oil change", NameKey: key, OnDay: c.from, Result: inspections.Passed}}}
		f.Tool.WarrantyFrom, f.Tool.WarrantyMonths = c.from, int64(c.months)
		for s, f := range map[Sort]Facts{Inspection: f, Warranty: f, Calibration: compared(t, c.from, c.months)} {
			if got := dayOf(f, s); got != c.want {
				t.Errorf("%s: %s and %d months is %s, want %s", s, c.from, c.months, got, c.want)
			}
		}
	}
}

// A day is one of the shop's zone, also where its clocks go forward or back on it, and
// where another zone has another day by then.
func TestDaysAreThoseOfTheShop(t *testing.T) {
	chicago, auckland := zone(t, "America/Chicago"), zone(t, "Pacific/Auckland")
	for _, c := range []struct {
		at   string
		zone *time.Location
		want dates.Date
	}{
		{"2026-03-08T05:59:59Z", chicago, "2026-03-07"}, {"2026-03-08T06:00:00Z", chicago, "2026-03-08"}, // a day of 23 hours
		{"2026-03-09T04:59:59Z", chicago, "2026-03-08"}, {"2026-03-09T05:00:00Z", chicago, "2026-03-09"},
		{"2026-11-01T04:59:59Z", chicago, "2026-10-31"}, {"2026-11-01T05:00:00Z", chicago, "2026-11-01"}, // of 25
		{"2026-11-02T05:59:59Z", chicago, "2026-11-01"}, {"2026-11-02T06:00:00Z", chicago, "2026-11-02"},
		{"2026-11-01T12:00:00Z", chicago, "2026-11-01"}, {"2026-11-01T12:00:00Z", auckland, "2026-11-02"},
	} {
		f := Facts{Zone: c.zone, Loan: custody.Loan{ID: "O", State: custody.Out, Since: 1, Due: instant(t, c.at)}}
		if got := dayOf(f, Return); got != c.want {
			t.Errorf("to be back at %s, %s: on %s, want %s", c.at, c.zone, got, c.want)
		}
		// None is on record since the day on which it was registered there.
		f = Facts{Zone: c.zone, Tool: register.Tool{Kind: "floor jack", Created: instant(t, c.at)}}
		if got := dayOf(f, Inspection); got != c.want {
			t.Errorf("registered at %s, %s: on %s, want %s", c.at, c.zone, got, c.want)
		}
		// A report is of its day there, too.
		f.Happened = Happened([]custody.Wrong{{ID: "W", What: "dropped", At: instant(t, c.at)}}, nil, nil, c.zone)
		f.Inspections = []inspections.Inspection{{ID: "I", Name: "jack six-month", NameKey: names.Key("jack six-month"), OnDay: "2026-02-01", Result: inspections.Passed}}
		if got := dayOf(f, Inspection); got != min(c.want, "2026-08-01") {
			t.Errorf("dropped at %s, %s: due on %s, want %s", c.at, c.zone, got, c.want)
		}
	}
}

// The end of a day that is due is its last instant, whatever hours it has: what is to be
// back that day is due on it.
func TestTheEndOfADayIsOnIt(t *testing.T) {
	chicago := zone(t, "America/Chicago")
	for _, day := range []dates.Date{"2026-03-07", "2026-03-08", "2026-03-09", "2026-10-31", "2026-11-01", "2026-11-02", "2028-02-29", "2026-12-31"} {
		f := Facts{Zone: chicago, Loan: custody.Loan{ID: "O", State: custody.Out, Since: 1, Due: day.EndIn(chicago)}}
		if got := dayOf(f, Return); got != day {
			t.Errorf("the end of %s is on %s", day, got)
		}
	}
}
