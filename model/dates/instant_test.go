package dates

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

func TestInstantWritesRFC3339(t *testing.T) {
	for _, c := range []struct {
		at   time.Time
		want string
	}{
		{time.Date(2026, 11, 25, 16, 30, 0, 0, time.UTC), "2026-11-25T16:30:00Z"},
		{time.Date(2026, 11, 25, 16, 30, 0, 1999, time.UTC), "2026-11-25T16:30:00.000001Z"},
		{time.Date(2026, 11, 25, 16, 30, 0, 999, time.UTC), "2026-11-25T16:30:00Z"},
		{time.Date(2026, 11, 25, 16, 30, 0, 0, time.FixedZone("", -6*3600)), "2026-11-25T22:30:00Z"},
		{time.Date(1969, 12, 31, 23, 59, 59, 999_999_999, time.UTC), "1969-12-31T23:59:59.999999Z"},
		{time.Time{}, ""},
	} {
		if got := InstantOf(c.at).String(); got != c.want {
			t.Errorf("InstantOf(%s) = %q, want %q", c.at, got, c.want)
		}
	}
}

func TestParseTimeRefuses(t *testing.T) {
	for _, bad := range []string{"", "now", "2026-11-25", "2026-11-25 16:30", "2026-11-25T16:30Z", "2026-11-25t16:30:00z",
		"2026-11-25T24:00", "2026-11-25T16:60", "2026-11-25T16:30:60Z", "2026-02-30T10:00", "2026-11-25T6:30:00Z",
		"2026-11-25T16:30:00,5Z", "2026-11-25T16:30:00.1234567890Z", "2026-11-25T16:30:00+24:00", "2026-11-25T16:30:00+05:60",
		"1899-12-31T10:00", "2201-01-01T00:00:00Z", "2200-12-31T23:00:00-06:00", "1970-01-01T00:00:00Z", "1970-01-01T00:00"} {
		got, err := ParseTime(bad, time.UTC)
		if got != 0 || !fault.Is(err, fault.Invalid) || fault.Of(err).Hint == "" {
			t.Errorf("ParseTime(%q) = %s, %v; want an invalid fault with a hint", bad, got, err)
		}
	}
}

func TestParseDue(t *testing.T) {
	chicago := zone(t, "America/Chicago")
	for _, c := range []struct{ typed, want string }{
		{"2026-11-25", "2026-11-26T05:59:59.999999Z"},
		{"2026-11-25T17:00", "2026-11-25T23:00:00Z"},
		{"2026-11-25T17:00:30", "2026-11-25T23:00:30Z"},
		{"2026-11-25T17:00:00+01:00", "2026-11-25T16:00:00Z"},
	} {
		if got, err := ParseDue(c.typed, chicago); err != nil || got.String() != c.want {
			t.Errorf("ParseDue(%q) = %s, %v; want %s", c.typed, got, err, c.want)
		}
	}
	for _, bad := range []string{"", "2026-02-29", "friday", "2026-03-08T02:30"} {
		if got, err := ParseDue(bad, chicago); got != 0 || !fault.Is(err, fault.Invalid) {
			t.Errorf("ParseDue(%q) = %s, %v; want an invalid fault", bad, got, err)
		}
	}
}

func TestInstantTravels(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// 1900 to 2200 in microseconds, none and its neighbors often
		at := Instant(rapid.OneOf(rapid.Int64Range(-2208988800000000, 7289654399999999), rapid.Int64Range(-2, 2)).Draw(t, "at"))
		data, err := json.Marshal(at)
		back := Instant(7)
		if err2 := json.Unmarshal(data, &back); err != nil || err2 != nil || back != at {
			t.Fatalf("%d as JSON is %s, read as %d (%v, %v)", at, data, back, err, err2)
		}
		if (at == 0) != (string(data) == "null") || strings.Contains(string(data), ".000000") {
			t.Fatalf("%d as JSON is %s", at, data)
		}
		stored, err := at.Value()
		scanned := Instant(7)
		if err2 := scanned.Scan(stored); err != nil || err2 != nil || scanned != at || (stored == nil) != (at == 0) {
			t.Fatalf("%d is stored as %v, read as %d", at, stored, scanned)
		}
		if got := InstantOf(at.Time().Add(999 * time.Nanosecond)); at != 0 && got != at {
			t.Fatalf("nanoseconds after %d are %d, not cut off", at, got)
		}
	})
	for _, bad := range []string{`""`, `1`, `"2026-11-25"`, `"2026-11-25T10:00"`, `[]`} {
		i := Instant(7)
		if err := json.Unmarshal([]byte(bad), &i); !fault.Is(err, fault.Invalid) || i != 7 {
			t.Errorf("JSON %s gives %d, %v; want an invalid fault and no change", bad, i, err)
		}
	}
	var i Instant
	for _, src := range []any{"2026-11-25T16:30:00Z", 1.5, time.Unix(1, 0)} {
		if err := i.Scan(src); err == nil {
			t.Errorf("Scan takes a %T", src)
		}
	}
}

// The oracle for times with an offset is RFC 3339 section 5.6 written out by hand;
// a time without one must be what a clock there shows.
func FuzzParseTime(f *testing.F) {
	for _, s := range []string{"2026-11-25T16:30:00Z", "2026-11-25T16:30:00.25-06:00", "2026-11-25T16:30", "2026-03-08T02:30",
		"2026-11-01T01:30", "2026-11-25T6:30:00Z", "2026-11-25T16:30:00,5Z", "1970-01-01T00:00:00Z", "2200-12-31T23:59:59-12:00"} {
		f.Add(s)
	}
	chicago := zone(f, "America/Chicago")
	f.Fuzz(func(t *testing.T, s string) {
		got, err := ParseTime(s, chicago)
		if err != nil && (got != 0 || !fault.Is(err, fault.Invalid)) {
			t.Fatalf("ParseTime(%q) = %d, %v; want an invalid fault alone", s, got, err)
		}
		want, ok := rfc3339(s)
		if ok && (err != nil || got != want) || !ok && err == nil && len(s) > len("2026-11-25T16:30:00") {
			t.Fatalf("ParseTime(%q) = %d, %v; by RFC 3339 it is %d, %v", s, got, err, want, ok)
		}
		if !ok && err == nil && !strings.HasPrefix(got.Time().In(chicago).Format("2006-01-02T15:04:05"), s) {
			t.Fatalf("ParseTime(%q) = %s, which clocks in Chicago do not show as that", s, got)
		}
	})
}

// rfc3339 reads a time with offset in our years, with 1 to 9 decimals of a second
// and without leap seconds, using no part of package time.
func rfc3339(s string) (Instant, bool) {
	if len(s) < 20 || !calendarHas(s[:10]) && s[:10] != "1899-12-31" && s[:10] != "2201-01-01" || s[10] != 'T' || s[13] != ':' || s[16] != ':' {
		return 0, false
	}
	ok := true
	two := func(text string, most int) int64 {
		if len(text) != 2 || strings.Trim(text, "0123456789") != "" || int(text[0]-'0')*10+int(text[1]-'0') > most {
			ok = false
			return 0
		}
		return int64(text[0]-'0')*10 + int64(text[1]-'0')
	}
	seconds := two(s[11:13], 23)*3600 + two(s[14:16], 59)*60 + two(s[17:19], 59)
	rest, micros := s[19:], int64(0)
	if rest[0] == '.' {
		digits := len(rest) - 1 - len(strings.TrimLeft(rest[1:], "0123456789"))
		ok = ok && digits >= 1 && digits <= 9
		for _, d := range (rest[1:1+digits] + "000000")[:6] {
			micros = micros*10 + int64(d-'0')
		}
		rest = rest[1+digits:]
	}
	if rest != "Z" {
		if len(rest) != 6 || rest[0] != '+' && rest[0] != '-' || rest[3] != ':' {
			return 0, false
		}
		offset := two(rest[1:3], 23)*3600 + two(rest[4:6], 59)*60
		if rest[0] == '+' {
			offset = -offset
		}
		seconds += offset
	}
	at := Instant((daysSince1970(s[:10])*86400+seconds)*1e6 + micros)
	return at, ok && at != 0 && at >= -2208988800000000 && at <= 7289654399999999
}

// daysSince1970 counts days by the Gregorian rule, year by year and month by month.
func daysSince1970(day string) int64 {
	y, m, d := split(Date(day))
	n := int64(d - 1)
	for month := 1; month < m; month++ {
		n += int64(daysIn(y, month))
	}
	for year := 1970; year < y; year++ {
		n += int64(337 + daysIn(year, 2))
	}
	for year := y; year < 1970; year++ {
		n -= int64(337 + daysIn(year, 2))
	}
	return n
}
