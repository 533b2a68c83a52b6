package due

import (
	"strings"
	"testing"
	"unicode/utf8"

	ics "github.com/arran4/golang-ical"
)

// FuzzCalendar: whatever stands in an event, the library reads back what was written, and
// no line is longer than 75 octets (RFC 5545 section 3.1). Texts at the door are UTF-8.
func FuzzCalendar(f *testing.F) {
	f.Add("tool calibration: torque wrench", text)
	f.Add(`ends in \`, "a\r\nb")
	f.Add("0", `\,`)
	f.Add("\x07", "BEGIN:VEVENT\nEND:VCALENDAR")
	f.Add(strings.Repeat("漢", 80), " two  blanks ")
	f.Fuzz(func(t *testing.T, title, details string) {
		if !utf8.ValidString(title) || !utf8.ValidString(details) {
			return
		}
		got := written(t, Event{ID: "T-1/calibration", Day: "2026-11-30", Known: 1764288000_000000, Title: title, Details: details})
		for line := range strings.SplitSeq(strings.TrimSuffix(got, "\r\n"), "\r\n") {
			if len(line) > lineOctets || strings.ContainsAny(line, "\r\n") {
				t.Fatalf("%q: %d octets in %q", title, len(line), line)
			}
		}
		c, err := ics.ParseCalendar(strings.NewReader(got))
		if err != nil || len(c.Events()) != 1 {
			t.Fatalf("%q is not read back: %v", got, err)
		}
		for name, want := range map[ics.ComponentProperty]string{ics.ComponentPropertySummary: title, ics.ComponentPropertyDescription: details} {
			p, read := c.Events()[0].GetProperty(name), ""
			if p != nil {
				read = p.Value // unescaped when it was read
			}
			if read != plain(want) {
				t.Fatalf("%s %q is read back as %q", name, want, read)
			}
		}
	})
}
