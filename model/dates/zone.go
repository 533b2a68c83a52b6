package dates

import (
	"time"

	"pawl/model/fault"
)

// span is a stretch of time in which a zone keeps one offset from UTC; end is
// exclusive, and a zero start or end is open.
type span struct {
	start, end time.Time
	offset     time.Duration
}

// at returns the point in time at which a clock with the span's offset shows wall
// (a local time written as if it were UTC), which may lie outside the span.
func (s span) at(wall time.Time) time.Time { return wall.Add(-s.offset) }

func (s span) holds(t time.Time) bool {
	return (s.start.IsZero() || !t.Before(s.start)) && (s.end.IsZero() || t.Before(s.end))
}

// spansNear returns, in order, the spans of loc that can matter for a clock that
// shows wall. Two days each way covers every offset and the one day that
// Pacific/Apia left out in 2011.
func spansNear(wall time.Time, loc *time.Location) []span {
	var all []span
	t, last := wall.Add(-48*time.Hour), wall.Add(48*time.Hour)
	for {
		local := t.In(loc)
		start, end := local.ZoneBounds()
		_, seconds := local.Zone()
		all = append(all, span{start, end, time.Duration(seconds) * time.Second})
		if end.IsZero() || end.After(last) {
			return all
		}
		t = end
	}
}

// endBefore returns the last microsecond at which a clock in loc shows a time
// before wall.
func endBefore(wall time.Time, loc *time.Location) Instant {
	var end time.Time
	for _, s := range spansNear(wall, loc) {
		stop := s.at(wall)
		if !s.start.IsZero() && !stop.After(s.start) {
			continue
		}
		if !s.end.IsZero() && s.end.Before(stop) {
			stop = s.end
		}
		if stop.After(end) {
			end = stop
		}
	}
	return InstantOf(end.Add(-time.Microsecond))
}

// onClock finds the one instant at which a clock in loc shows wall; typed is what
// the person wrote, for the message.
func onClock(wall time.Time, loc *time.Location, typed string) (Instant, error) {
	spans := spansNear(wall, loc)
	var found []span
	for _, s := range spans {
		if s.holds(s.at(wall)) {
			found = append(found, s)
		}
	}
	if len(found) == 1 {
		return told(InstantOf(found[0].at(wall)), typed)
	}
	if len(found) > 1 {
		return 0, fault.New(fault.Invalid, "%s happens twice in %s: once at offset %s and once at %s",
			typed, loc, found[0].text(), found[1].text()).
			WithHint("write the one you mean with its offset: %s or %s", withOffset(wall, found[0]), withOffset(wall, found[1]))
	}
	for i := 1; i < len(spans); i++ {
		before, after := spans[i-1], spans[i]
		if !before.at(wall).Before(before.end) && after.at(wall).Before(after.start) {
			return 0, fault.New(fault.Invalid, "%s does not exist in %s: the clocks went from offset %s to %s past it",
				typed, loc, before.text(), after.text()).
				WithHint("write the time with its offset: %s or %s", withOffset(wall, before), withOffset(wall, after))
		}
	}
	return 0, fault.New(fault.Internal, "zone %s has no place for %s", loc, typed)
}

func (s span) text() string { return s.zoned(time.Time{}).Format("-07:00") }

func (s span) zoned(wall time.Time) time.Time {
	y, m, d := wall.Date()
	return time.Date(y, m, d, wall.Hour(), wall.Minute(), wall.Second(), 0, time.FixedZone("", int(s.offset/time.Second)))
}

func withOffset(wall time.Time, s span) string {
	return s.zoned(wall).Format("2006-01-02T15:04:05-07:00")
}
