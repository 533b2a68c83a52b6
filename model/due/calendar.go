package due

import (
	"io"
	"math"
	"strings"
	"unicode/utf8"

	ics "github.com/arran4/golang-ical"

	"pawl/model/dates"
)

// Event is a row as a calendar shows it.
type Event struct {
	ID      string // of the row
	Day     dates.Date
	Known   dates.Instant // when the fact behind it was recorded
	Title   string
	Details string // lines
	Link    string // of the tool's page; empty: none
}

// WriteCalendar writes events as iCalendar (RFC 5545): all-day events of one day, in
// their order. The UID is that of the thing that is due, so that a day that moved
// takes the place of the old one; DTSTAMP is when the fact was recorded, so that the
// same facts give the same bytes. Lines end in CRLF and fold at 75 octets. Origin
// names the register, in the UIDs.
func WriteCalendar(w io.Writer, name, origin string, events []Event) error {
	c := calendar(name)
	for _, e := range events {
		v := c.AddEvent(e.ID + "@" + origin)
		v.SetDtStampTime(e.Known.Time())
		v.SetProperty(ics.ComponentPropertyDtStart, strings.ReplaceAll(string(e.Day), "-", ""), ics.WithValue(string(ics.ValueDataTypeDate)))
		v.SetSummary(plain(e.Title))
		if e.Details != "" {
			v.SetDescription(plain(e.Details))
		}
		if e.Link != "" {
			v.SetURL(e.Link)
		}
		v.SetTimeTransparency(ics.TransparencyTransparent)
	}
	return write(w, c)
}

// WriteTasks writes the same as to-dos, for programs that keep those (many that show
// events do not). A to-do with a day is to be finished before that day begins (RFC 5545
// section 3.6.2), so it is the one after the last good day, and the last one stands in the summary.
func WriteTasks(w io.Writer, name, origin string, events []Event) error {
	c := calendar(name)
	for _, e := range events {
		v := c.AddTodo(e.ID + "@" + origin)
		v.SetDtStampTime(e.Known.Time())
		v.SetProperty(ics.ComponentPropertyDue, strings.ReplaceAll(string(e.Day.AddDays(1)), "-", ""), ics.WithValue(string(ics.ValueDataTypeDate)))
		v.SetSummary(plain(e.Title + ", by " + string(e.Day)))
		if e.Details != "" {
			v.SetDescription(plain(e.Details))
		}
		if e.Link != "" {
			v.SetURL(e.Link)
		}
	}
	return write(w, c)
}

func calendar(name string) *ics.Calendar {
	c := &ics.Calendar{}
	c.SetVersion("2.0")
	c.SetProductId("-//pawl//due//EN")
	c.SetXWRCalName(plain(name))
	return c
}

func write(w io.Writer, c *ics.Calendar) error {
	var unfolded strings.Builder
	if err := c.SerializeTo(&unfolded, ics.WithNewLineWindows, ics.WithLineLength(math.MaxInt32)); err != nil {
		return err
	}
	_, err := io.WriteString(w, folded(unfolded.String()))
	return err
}

// lineOctets is the most octets of a line without its end (RFC 5545 section 3.1).
const lineOctets = 75

// folded breaks lines that are longer, within no letter: the library breaks at blanks,
// which some readers take for part of the fold.
func folded(lines string) string {
	var out strings.Builder
	for line := range strings.SplitSeq(strings.TrimSuffix(lines, "\r\n"), "\r\n") {
		for most := lineOctets; len(line) > most; most = lineOctets - 1 {
			cut := most
			for !utf8.RuneStart(line[cut]) {
				cut--
			}
			out.WriteString(line[:cut] + "\r\n ")
			line = line[cut:]
		}
		out.WriteString(line + "\r\n")
	}
	return out.String()
}

// plain leaves line feeds as the only control characters.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		if r == '\n' || r >= ' ' && r != 0x7f {
			return r
		}
		return ' '
	}, strings.ReplaceAll(s, "\r\n", "\n"))
}
