package due

import (
	"bytes"
	"io"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/apognu/gocal"
	ics "github.com/arran4/golang-ical"

	"pawl/model/dates"
)

// text is the folding row of money-and-statistics 8 (row 36): 124 characters that
// fold to 75 and 52 octets.
const text = "Recalibrate torque wrench 00EKM5; cert 9912, due at end of month.\nAsk José for the ½\" adapter: path C:\\certs"

func written(t *testing.T, events ...Event) string {
	t.Helper()
	return writtenBy(t, WriteCalendar, events...)
}

func writtenBy(t *testing.T, write func(io.Writer, string, string, []Event) error, events ...Event) string {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b, "Due: Demo garage", "0123456789abcdef", events); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// Lines of the calendar with how many octets each piece of them has, the blank of a fold
// in it: RFC 5545 section 3.1, worked out as row 36 of money-and-statistics.
func TestFoldsAtTheseOctets(t *testing.T) {
	for _, write := range []func(io.Writer, string, string, []Event) error{WriteCalendar, WriteTasks} {
		for _, c := range []struct {
			event  Event
			line   string
			octets []int
		}{
			{Event{ID: "T-1/i", Day: "2026-11-30", Details: text}, "DESCRIPTION:", []int{75, 52}},
			{Event{ID: "T-1/i", Day: "2026-11-30", Title: strings.Repeat("é", 40)}, "SUMMARY:", []int{74, 15}},
			{Event{ID: "T-1/i", Day: "2026-11-30", Details: strings.Repeat("x", 63)}, "DESCRIPTION:", []int{75}},
			{Event{ID: "T-1/i", Day: "2026-11-30", Details: strings.Repeat("x", 64)}, "DESCRIPTION:", []int{75, 2}},
		} {
			got := writtenBy(t, write, c.event)
			if strings.Contains(got, "VTODO") && c.line == "SUMMARY:" {
				continue // there the last day follows the title
			}
			at := strings.Index(got, "\r\n"+c.line)
			var octets []int
			for i, piece := range strings.Split(got[at+2:], "\r\n") {
				if i > 0 && !strings.HasPrefix(piece, " ") {
					break
				}
				octets = append(octets, len(piece))
			}
			if !slices.Equal(octets, c.octets) {
				t.Errorf("%s folds to %v octets, want %v", c.line, octets, c.octets)
			}
		}
	}
}

// The last good day 2026-11-30 is an event of that day, whose end would be exclusive
// (RFC 5545 3.6.1), and a to-do that is due before the day after it (3.6.2): row 37 of
// money-and-statistics. So too over a month's, a leap year's and a year's end.
func TestTheLastGoodDay(t *testing.T) {
	for _, c := range []struct {
		day        dates.Date
		event, due string
	}{
		{"2026-11-30", "20261130", "20261201"}, {"2026-12-31", "20261231", "20270101"},
		{"2028-02-28", "20280228", "20280229"}, {"2028-02-29", "20280229", "20280301"}, {"2027-02-28", "20270228", "20270301"},
	} {
		e := Event{ID: "T-1/calibration", Day: c.day, Title: "tool calibration: torque wrench"}
		if got := written(t, e); !strings.Contains(got, "\r\nDTSTART;VALUE=DATE:"+c.event+"\r\n") || strings.Contains(got, "DTEND") || strings.Contains(got, "DURATION") {
			t.Errorf("%s: %s", c.day, got)
		}
		got := writtenBy(t, WriteTasks, e)
		if !strings.Contains(got, "\r\nDUE;VALUE=DATE:"+c.due+"\r\n") || !strings.Contains(got, "\r\nSUMMARY:tool calibration: torque wrench\\, by "+string(c.day)+"\r\n") {
			t.Errorf("%s: %s", c.day, got)
		}
	}
}

// golang-ical, which writes it, reads both sorts back too.
func TestReadBackByItsWriter(t *testing.T) {
	e := Event{ID: "T-00000001/calibration", Day: "2026-11-30", Known: 1764288000_000000, Title: `lift annual, "Bay 1"; a\b`, Details: text, Link: "https://tools.example/t/00EKM5"}
	c, err := ics.ParseCalendar(strings.NewReader(written(t, e)))
	if err != nil || len(c.Events()) != 1 {
		t.Fatal(err)
	}
	v := c.Events()[0]
	if day, err := v.GetAllDayStartAt(); err != nil || day.Format(time.DateOnly) != string(e.Day) || v.Id() != e.ID+"@0123456789abcdef" {
		t.Errorf("%s on %v, %v", v.Id(), day, err)
	}
	if v.GetProperty(ics.ComponentPropertySummary).Value != e.Title || v.GetProperty(ics.ComponentPropertyDescription).Value != e.Details {
		t.Errorf("%q, %q", v.GetProperty(ics.ComponentPropertySummary).Value, v.GetProperty(ics.ComponentPropertyDescription).Value)
	}
	if c, err = ics.ParseCalendar(strings.NewReader(writtenBy(t, WriteTasks, e))); err != nil || len(c.Components) != 1 {
		t.Fatal(err)
	}
	todo, is := c.Components[0].(*ics.VTodo)
	if !is || todo.GetProperty(ics.ComponentPropertyDue).Value != "20261201" || todo.GetProperty(ics.ComponentPropertySummary).Value != e.Title+", by 2026-11-30" {
		t.Errorf("%+v", c.Components[0])
	}
}

// RFC 5545 section 3.1 and 3.3.11; money-and-statistics 8 has both rows worked out.
func TestFoldingAndEscaping(t *testing.T) {
	got := written(t, Event{ID: "T-1/inspection", Day: "2026-11-30", Known: dates.Instant(1764288000_000000), Title: strings.Repeat("é", 40), Details: text})
	for _, want := range []string{
		"\r\nDESCRIPTION:Recalibrate torque wrench 00EKM5\\; cert 9912\\, due at end of mo\r\n nth.\\nAsk José for the ½\" adapter: path C:\\\\certs\r\n",
		"\r\nSUMMARY:" + strings.Repeat("é", 33) + "\r\n " + strings.Repeat("é", 7) + "\r\n",
		"\r\nDTSTART;VALUE=DATE:20261130\r\n", "\r\nDTSTAMP:20251128T000000Z\r\n", "\r\nUID:T-1/inspection@0123456789abcdef\r\n",
		"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("without %q in\n%s", want, got)
		}
	}
	for line := range strings.SplitSeq(strings.TrimSuffix(got, "\r\n"), "\r\n") {
		if len(line) > 75 || strings.ContainsAny(line, "\r\n") {
			t.Errorf("%d octets in %q", len(line), line)
		}
	}
}

// Another library reads back what was written, whatever is in it.
func TestTheCalendarIsReadBack(t *testing.T) {
	events := []Event{
		{ID: "T-00000001/calibration", Day: "2026-11-30", Known: 1764288000_000000, Title: "tool calibration: torque wrench 00E-KM5", Details: text, Link: "https://tools.example/t/00EKM5"},
		{ID: "T-00000002/inspection/lift annual", Day: "2027-02-28", Known: 1764288000_000000, Title: `lift annual, "Bay 1"; a\b` + "\x07", Details: "line one\r\nline two, and ; more " + strings.Repeat("漢字🔧", 60)},
	}
	c := gocal.NewParser(strings.NewReader(written(t, events...)))
	c.SkipBounds = true
	if err := c.Parse(); err != nil || len(c.Events) != len(events) {
		t.Fatalf("%d events, %v", len(c.Events), err)
	}
	for i, e := range c.Events {
		want := events[i]
		if e.Uid != want.ID+"@0123456789abcdef" || e.Start.Format("2006-01-02") != string(want.Day) || e.RawStart.Params["VALUE"] != "DATE" {
			t.Errorf("%s on %v (%v)", e.Uid, e.Start, e.RawStart)
		}
		if e.Summary != plain(want.Title) || strings.ReplaceAll(e.Description, `\n`, "\n") != plain(want.Details) || e.URL != want.Link {
			// gocal leaves \n as it is; ical.js, in the tests of the API, does not.
			t.Errorf("%q, %q, %q", e.Summary, e.Description, e.URL)
		}
		if !e.Stamp.Equal(want.Known.Time()) {
			t.Errorf("stamped %v", e.Stamp)
		}
	}
}
