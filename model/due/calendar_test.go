package due

import (
	"bytes"
	"strings"
	"testing"

	"github.com/apognu/gocal"

	"pawl/model/dates"
)

// text is the folding row of money-and-statistics 8 (row 36): 124 characters that
// fold to 75 and 52 octets.
const text = "Recalibrate torque wrench 00EKM5; cert 9912, due at end of month.\nAsk José for the ½\" adapter: path C:\\certs"

func written(t *testing.T, events ...Event) string {
	t.Helper()
	var b bytes.Buffer
	if err := WriteCalendar(&b, "Due: Demo garage", "0123456789abcdef", events); err != nil {
		t.Fatal(err)
	}
	return b.String()
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
