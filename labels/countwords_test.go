package labels

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"pawl/model/counts"
	"pawl/model/dates"
)

// instant is a time on the day of the count, in UTC.
func instant(t *testing.T, clock string) dates.Instant {
	t.Helper()
	at, err := time.Parse("2006-01-02 15:04", "2026-11-25 "+clock)
	if err != nil {
		t.Fatal(err)
	}
	return dates.InstantOf(at)
}

// closedCount is a count of four listed tools and one more, of which each ended
// differently.
func closedCount(t *testing.T) counts.Report {
	t.Helper()
	said, err := counts.State(counts.Tally{Listed: 4, Looked: 4, Seen: 2, ByWord: 0, Right: 1, Confidence: .95})
	if err != nil {
		t.Fatal(err)
	}
	seven := int64(7)
	lines := []counts.ReportLine{
		{Number: "00EKM5", Kind: "impact wrench", Maker: "Brindle", Model: "BX-900", Serial: "KD408B217", Bucket: counts.Seen, Look: true, Place: "Bay 1/Cart",
			Expected: "in Bay 1/Cart", SeenAt: instant(t, "08:31"), SeenBy: "Tech B", SeenIn: "Bay 1/Cart", Label: counts.LabelUnreadable},
		{Number: "00F3T8", Kind: "torque wrench", Bucket: counts.NotSeen, Look: true, Place: "Bay 1/Cart", Expected: "in Bay 1/Cart",
			LastSeen: instant(t, "07:00"), LastSeenHow: "returned", Settled: counts.Missing, SettledNote: "Bay 1 searched", SettledBy: "Tech A", SettledAt: instant(t, "11:00")},
		{Number: "00GPPA", Kind: "socket set", Bucket: counts.Incomplete, Look: true, Place: "Bay 2", Expected: "in Bay 2", SeenAt: instant(t, "08:40"), SeenBy: "Tech B",
			Missing: []string{"10 mm socket (1)"}, Condition: "case cracked"},
		{Number: "00HM9F", Kind: "jack", Bucket: counts.Moved, Look: true, Expected: "in place; no place is recorded", Moved: "out to Tech B since 2026-11-25T09:00:00.5Z"},
		{Number: "00JVR2", Kind: "caliper", SeenAt: instant(t, "08:50"), SeenBy: "Tech B", SeenIn: "Bay 2", Why: "it is not on the list of this count"},
	}
	n := counts.Numbers{Extra: 1, Unsettled: 2}
	for _, l := range lines[:4] {
		n.Add(l.Bucket, nil)
	}
	return counts.Report{Shop: "Gull Lane Garage", Paper: "a4", Zone: time.FixedZone("shop", -8*3600), Made: instant(t, "20:00"), ID: "N-7K2M4Q9XC", Scope: "place:Bay 1",
		How: counts.BySample, Started: instant(t, "08:00"), StartedBy: "Tech A", Closed: instant(t, "12:00"), ClosedBy: "Tech A", Counted: []string{"Tech B"},
		Digest: strings.Repeat("ab", 32), Redraw: "N-2222222AA", Draw: &counts.DrawRow{Chosen: &seven, Seed: strings.Repeat("cd", 32), Drawn: instant(t, "08:00")},
		Numbers: n, Statement: &said, Lines: lines}
}

func TestCountPaper(t *testing.T) {
	r := closedCount(t)
	text, _ := countText(t, CountPaper(r))
	for _, want := range []string{"Bay 1 and what is in it, a sample", "Started 2026-11-25 00:00 by Tech A", "Closed 2026-11-25 04:00 by Tech A", "Counted by Tech B",
		"CHOSEN SEED 7", "DRAWN AGAIN", "in count N-2222222AA", "Listed 4", "Not seen 1", "Not complete 1", "Moved meanwhile 1", "Seen and not listed 1",
		"Listed tools only: 4 tools were on the list", "Differences, and how each was settled (3)", "00F-3T8 torque wrench NOT SEEN", "Settled: missing; Bay 1 searched. Tech A, 2026-11-25 03:00",
		"00J-VR2 caliper EXTRA", "it is not on the list of this count", "NOT SETTLED", "Not accounted for, and when last seen (2)", "Last on record 2026-11-24 23:00: returned",
		"Pieces missing (1)", "Missing: 10 mm socket (1)", "condition: case cracked", "Bay 1/Cart (2)", "Bay 2 (1)", "No place on record (1)", "Moved meanwhile: out to Tech B since 2026-11-25 01:00",
		"Brindle BX-900, impact wrench, serial number KD408B217 seen", "label unreadable"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in %q", want, text)
		}
	}
	// Open, and with nothing to tell.
	r.Closed, r.Statement, r.Draw, r.How, r.Lines, r.Numbers, r.Counted = 0, nil, nil, counts.InFull, r.Lines[:1], counts.Numbers{}, nil
	text, _ = countText(t, CountPaper(r))
	for _, want := range []string{"THIS COUNT IS NOT CLOSED", "in full", "Counted by nobody", "Nothing differed.", "Every tool that was looked for is accounted for.", "No piece was found missing."} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in %q", want, text)
		}
	}
	var b bytes.Buffer
	if err := CountPDF(&b, r); err != nil || b.Len() == 0 {
		t.Error(err)
	}
}

func TestScopeWords(t *testing.T) {
	for scope, want := range map[string]string{"everything": "Everything", "place:Bay 1/Cart": "Bay 1/Cart and what is in it",
		"person:Tech A": "What belongs to Tech A, and what they have", "kind:jack": "All of the kind jack"} {
		if got := ScopeWords(scope); got != want {
			t.Errorf("%s: %s", scope, got)
		}
	}
}
