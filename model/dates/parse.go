package dates

import (
	"time"

	"pawl/model/fault"
	"pawl/model/pattern"
)

var (
	shapeOffset = pattern.Late(`^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,9})?(Z|[+-]([01]\d|2[0-3]):[0-5]\d)$`)
	shapeLocal  = pattern.Late(`^\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d)?$`)
)

// ParseTime reads RFC 3339 with an offset, or `YYYY-MM-DDTHH:MM[:SS]` on the
// clocks of loc, in the years 1900 to 2200. A local time that the clocks there
// skip or show twice is refused with both offsets in the message. Digits beyond
// the microsecond are cut off. Every refusal is fault.Invalid.
func ParseTime(s string, loc *time.Location) (Instant, error) {
	if !shapeLocal().MatchString(s) {
		return parseOffset(s)
	}
	layout := "2006-01-02T15:04:05"
	wall, err := time.Parse(layout[:len(s)], s)
	if err != nil {
		return 0, notATime(s)
	}
	if y := wall.Year(); y < firstYear || y > lastYear {
		return 0, yearOut(s)
	}
	return onClock(wall, loc, s)
}

// ParseDue reads a time as ParseTime does, or a day as ParseDate does, which
// means the end of that day in loc.
func ParseDue(s string, loc *time.Location) (Instant, error) {
	if len(s) > len(layoutDate) {
		return ParseTime(s, loc)
	}
	day, err := ParseDate(s)
	if err != nil {
		return 0, err
	}
	return day.EndIn(loc), nil
}

func parseOffset(s string) (Instant, error) {
	if !shapeOffset().MatchString(s) {
		return 0, notATime(s)
	}
	t, err := time.Parse(time.RFC3339Nano, s)
	if err != nil {
		return 0, notATime(s)
	}
	if y := t.UTC().Year(); y < firstYear || y > lastYear {
		return 0, yearOut(s)
	}
	return told(InstantOf(t), s)
}

// told refuses the one microsecond that would read as "none".
func told(i Instant, s string) (Instant, error) {
	if i == 0 {
		return 0, fault.New(fault.Invalid, "time %q cannot be kept: it is how Pawl writes \"none\"", s).WithHint("check the time")
	}
	return i, nil
}

func yearOut(s string) error {
	return fault.New(fault.Invalid, "time %q is outside the years %d to %d", s, firstYear, lastYear).WithHint("check the year")
}

func notATime(s string) error {
	return fault.New(fault.Invalid, "%q is not a time", fault.Clip(s)).
		WithHint("write 2026-11-25T16:30 for a time in the shop's zone, or 2026-11-25T16:30:00-06:00 with its offset")
}
