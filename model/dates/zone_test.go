package dates

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

func TestLocalTimesAroundTheChangeOfClocks(t *testing.T) {
	for _, row := range vectors(t, "local-times.txt") {
		loc, typed, offset, how := zone(t, row[0]), row[1], row[2], row[3]
		got, err := ParseTime(typed, loc)
		if how == "-" {
			full := typed
			if len(full) == len("2006-01-02T15:04") {
				full += ":00"
			}
			want, err2 := time.Parse(time.RFC3339, full+offset)
			if err != nil || err2 != nil || got != InstantOf(want) {
				t.Errorf("%s in %s = %s, %v; want %s", typed, loc, got, err, want.UTC())
			}
			continue
		}
		if got != 0 || !fault.Is(err, fault.Invalid) {
			t.Errorf("%s in %s = %s, %v; want it refused", typed, loc, got, err)
			continue
		}
		word := map[string]string{"gap": "does not exist", "twice": "happens twice"}[how]
		for _, part := range []string{typed, word, "offset " + offset, row[4]} {
			if message := fault.Of(err).Message; !strings.Contains(message, part) {
				t.Errorf("message %q does not say %q", message, part)
			}
		}
	}
}

// Whoever is refused and writes what the hint offers gets through.
func TestHintOfARefusedTimeCanBeTyped(t *testing.T) {
	for _, typed := range []string{"2026-03-08T02:30", "2026-11-01T01:30:15"} {
		loc := zone(t, "America/Chicago")
		_, err := ParseTime(typed, loc)
		first, second, ok := strings.Cut(fault.Of(err).Hint[strings.LastIndex(fault.Of(err).Hint, ": ")+2:], " or ")
		a, err1 := ParseTime(first, loc)
		b, err2 := ParseTime(second, loc)
		if !ok || err1 != nil || err2 != nil || (b-a).abs() != 3600e6 {
			t.Errorf("%s: hints %q and %q give %s, %v and %s, %v; want an hour between", typed, first, second, a, err1, b, err2)
		}
	}
}

func (i Instant) abs() Instant { return max(i, -i) }

func TestEndOfADay(t *testing.T) {
	for _, row := range vectors(t, "day-ends.txt") {
		loc := zone(t, row[0])
		if got := Date(row[1]).EndIn(loc).String(); got != row[2] {
			t.Errorf("end of %s in %s = %s, want %s", row[1], loc, got, row[2])
		}
	}
}

var zones = []string{"UTC", "America/Chicago", "Australia/Lord_Howe", "America/Sao_Paulo", "America/St_Johns",
	"Pacific/Apia", "America/Havana", "Asia/Beirut", "Europe/London", "Asia/Kathmandu", "Pacific/Kiritimati", "Africa/Monrovia"}

func TestEndOfADayIsTheLastOne(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		loc := zone(t, rapid.SampledFrom(zones).Draw(rt, "zone"))
		d := Date("1980-01-01").AddDays(rapid.IntRange(0, 30000).Draw(rt, "day"))
		if _, change := d.EndIn(time.UTC).Time().In(loc).ZoneBounds(); rapid.Bool().Draw(rt, "near a change") && !change.IsZero() {
			d = Of(change, loc).AddDays(rapid.IntRange(-2, 1).Draw(rt, "days from it"))
		}
		end := d.EndIn(loc)
		if day := end.Day(loc); day > d {
			rt.Fatalf("end of %s in %s is %s, already %s", d, loc, end, day)
		}
		for step := Instant(1); step < 30*3600e6; step += 600e6 {
			if day := (end + step).Day(loc); day <= d {
				rt.Fatalf("%s in %s is said to end at %s, but %s is still %s", d, loc, end, end+step, day)
			}
		}
	})
}

// The oracle looks at every minute of 32 hours for those when a clock shows the time.
func TestLocalTimeMatchesASearchMinuteByMinute(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		loc := zone(t, rapid.SampledFrom(zones).Draw(rt, "zone"))
		at := time.Date(1980, 1, 1, 0, rapid.IntRange(0, 60*24*365*60).Draw(rt, "minute"), 0, 0, time.UTC)
		if start, end := at.In(loc).ZoneBounds(); rapid.Bool().Draw(rt, "near a change") && !start.IsZero() && !end.IsZero() {
			at = end.Add(time.Duration(rapid.IntRange(-90, 90).Draw(rt, "minutes from it")) * time.Minute)
		}
		typed := at.In(loc).Add(time.Duration(rapid.IntRange(-70, 70).Draw(rt, "shift")) * time.Minute).Format("2006-01-02T15:04")
		wall, err := time.Parse("2006-01-02T15:04", typed)
		if err != nil {
			rt.Fatal(err)
		}
		var found []time.Time
		for u := wall.Add(-16 * time.Hour); u.Before(wall.Add(16 * time.Hour)); u = u.Add(time.Minute) {
			if u.In(loc).Format("2006-01-02T15:04") == typed {
				found = append(found, u)
			}
		}
		got, err := ParseTime(typed, loc)
		if len(found) == 1 && (err != nil || got != InstantOf(found[0])) {
			rt.Fatalf("%s in %s = %s, %v; want %s", typed, loc, got, err, found[0])
		}
		if len(found) != 1 && !fault.Is(err, fault.Invalid) {
			rt.Fatalf("%s in %s happens %d times, but is taken as %s, %v", typed, loc, len(found), got, err)
		}
	})
}
