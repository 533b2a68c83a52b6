// Package dates holds the two ways in which Pawl speaks of time. A date is a
// day on somebody's calendar, without zone. An instant is a point in time in
// microseconds, the same everywhere. The shop's zone joins the two, and is
// always handed in: this package has no clock and no zone of its own.
package dates

import (
	"database/sql/driver"
	"encoding/json"
	"time"

	"pawl/model/fault"
)

const (
	layoutDate = "2006-01-02"
	firstYear  = 1900
	lastYear   = 2200
)

// Date is a day `YYYY-MM-DD` without zone, in the years 1900 to 2200; "" means
// none. Dates compare as text.
type Date string

// ParseDate reads a strict `YYYY-MM-DD` day that the calendar has, in the years
// 1900 to 2200. Anything else, "" included, is fault.Invalid.
func ParseDate(s string) (Date, error) {
	_, err := midnight(s)
	if err != nil {
		return "", err
	}
	return Date(s), nil
}

// midnight is the start in UTC of a day as ParseDate takes it, for arithmetic on days.
func midnight(s string) (time.Time, error) {
	if len(s) != len(layoutDate) {
		return time.Time{}, notADate(s)
	}
	t, err := time.Parse(layoutDate, s)
	if err != nil {
		return time.Time{}, notADate(s)
	}
	if y := t.Year(); y < firstYear || y > lastYear {
		return time.Time{}, fault.New(fault.Invalid, "date %q is outside the years %d to %d", s, firstYear, lastYear).
			WithHint("check the year")
	}
	return t, nil
}

func notADate(s string) error {
	return fault.New(fault.Invalid, "%q is not a day of the calendar", fault.Clip(s)).WithHint("write it as YYYY-MM-DD, such as 2026-11-25")
}

// Of returns the day that t falls on in loc; "" for the zero time and outside
// the years 1900 to 2200.
func Of(t time.Time, loc *time.Location) Date {
	if t.IsZero() {
		return ""
	}
	return fromTime(t.In(loc))
}

func fromTime(t time.Time) Date {
	if y := t.Year(); y < firstYear || y > lastYear {
		return ""
	}
	return Date(t.Format(layoutDate))
}

// Valid says whether d is a day as ParseDate takes it; none is not.
func (d Date) Valid() bool {
	_, err := ParseDate(string(d))
	return err == nil
}

// midnight is the day's start; false for none.
func (d Date) midnight() (time.Time, bool) {
	t, err := midnight(string(d))
	return t, err == nil
}

// maxSteps keeps day and month arithmetic far from overflow; a step beyond it
// leaves the years of a Date in any case.
const maxSteps = (lastYear - firstYear + 1) * 366

// AddMonths returns the corresponding day n calendar months later, or the last
// day of that month if it has none (money-and-statistics 3.1). For periods
// always count from the original date: chaining loses days. It returns none for
// no date, and where the result leaves the years 1900 to 2200.
func (d Date) AddMonths(n int) Date {
	t, ok := d.midnight()
	if !ok || n > maxSteps || n < -maxSteps {
		return ""
	}
	y, m, day := t.Date()
	first := time.Date(y, m+time.Month(n), 1, 0, 0, 0, 0, time.UTC)
	if last := first.AddDate(0, 1, -1).Day(); day > last {
		day = last
	}
	return fromTime(first.AddDate(0, 0, day-1))
}

// MonthEnd is the last day of the month; none for no date.
func (d Date) MonthEnd() Date {
	if _, ok := d.midnight(); !ok {
		return ""
	}
	return (d[:len("2006-01")] + "-01").AddMonths(1).AddDays(-1)
}

// AddDays returns the day n days later. It returns none for no date, and where
// the result leaves the years 1900 to 2200.
func (d Date) AddDays(n int) Date {
	t, ok := d.midnight()
	if !ok || n > maxSteps || n < -maxSteps {
		return ""
	}
	return fromTime(t.AddDate(0, 0, n))
}

// CompleteMonths counts the whole calendar months from a to b
// (money-and-statistics 3.1); negative when b is before a, 0 when either is none.
func CompleteMonths(a, b Date) int {
	ta, okA := a.midnight()
	tb, okB := b.midnight()
	if !okA || !okB {
		return 0
	}
	n := (tb.Year()-ta.Year())*12 + int(tb.Month()) - int(ta.Month())
	if a.AddMonths(n) > b {
		n--
	}
	return n
}

// DaysBetween counts the days from a to b; negative when b is before a, 0 when
// either is none.
func DaysBetween(a, b Date) int {
	ta, okA := a.midnight()
	tb, okB := b.midnight()
	if !okA || !okB {
		return 0
	}
	return int((tb.Unix() - ta.Unix()) / 86400) // not Sub: a Duration ends at 292 years
}

// Before says whether d is an earlier day than other; none is neither before
// nor after anything.
func (d Date) Before(other Date) bool { return d != "" && other != "" && d < other }

// After says whether d is a later day than other; see Before.
func (d Date) After(other Date) bool { return other.Before(d) }

// EndIn returns the last microsecond of the day in loc: the last one on which a
// clock there shows this day or an earlier one, whatever the clocks do at
// midnight. 0 for no date.
func (d Date) EndIn(loc *time.Location) Instant {
	t, ok := d.midnight()
	if !ok {
		return 0
	}
	return endBefore(t.AddDate(0, 0, 1), loc)
}

// MarshalJSON writes the day as a string; none is null.
func (d Date) MarshalJSON() ([]byte, error) {
	if d == "" {
		return []byte("null"), nil
	}
	return json.Marshal(string(d))
}

// UnmarshalJSON reads a string as ParseDate does; null is none.
func (d *Date) UnmarshalJSON(data []byte) error {
	var s *string
	if err := json.Unmarshal(data, &s); err != nil {
		return fault.New(fault.Invalid, "a date is a string, not %s", fault.Clip(string(data))).WithHint(`write it as "2026-11-25", or null for none`)
	}
	if s == nil {
		*d = ""
		return nil
	}
	parsed, err := ParseDate(*s)
	if err != nil {
		return err
	}
	*d = parsed
	return nil
}

// Value gives the database the text of the day, or NULL for none.
func (d Date) Value() (driver.Value, error) {
	if d == "" {
		return nil, nil
	}
	return string(d), nil
}

// Scan takes what a database gives for a day: text, bytes, NULL, or a time whose
// own calendar day is meant.
func (d *Date) Scan(src any) (err error) {
	switch v := src.(type) {
	case nil:
		*d = ""
	case string:
		*d, err = ParseDate(v)
	case []byte:
		*d, err = ParseDate(string(v))
	case time.Time:
		*d, err = ParseDate(v.Format(layoutDate))
	default:
		err = fault.New(fault.Internal, "a stored date is of type %T", src)
	}
	return err
}
