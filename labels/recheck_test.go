package labels

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"pawl/model/fault"
)

func recheckSheet(paper string, lines ...RecheckSheetLine) RecheckSheet {
	return RecheckSheet{Symbol: link, Number: "00E-KM5", What: "Tarn TW-200, torque wrench", Serial: "KD408B217", Shop: "Demo garage", As: "2026-11-28 09:14", Paper: paper,
		Unknown:  "3 tightenings recorded on 1 job; taken to 2 more jobs with none recorded in that time: what it did there is NOT KNOWN.",
		Why:      []string{"the tool calibration of 2026-11-02 found it failing. In doubt: from 2026-01-05 to 2026-11-02, both days included.", "it was reported dropped on 2026-06-01. In doubt: from 2026-01-05 to 2026-06-01, both days included."},
		Lines:    lines,
		Cautions: []string{"A click on a fastener that is already tight does not show its torque.", "The vehicle maker's service information governs."}}
}

var (
	outsideLine = RecheckSheetLine{ID: "U-2H4K9Q7M", Verdict: "OUTSIDE", Open: true, Work: "job 1042: rear wheel nuts (5), 2026-06-01 09:00, Tech A",
		Figures: "set 120 N·m clockwise; limits 118..122 N·m; likeliest 110 N·m ± 2.2; may be 107.8 to 112.2 N·m"}
	custodyLine = RecheckSheetLine{ID: "U-3H4K9Q7N", Verdict: "INDETERMINATE", Open: true, Work: "job 1043: nothing recorded, 2026-06-02 08:00 to 2026-06-02 10:00, Tech B",
		Why: "it was out, and nothing says what it was used for in that time"}
	withinLine  = RecheckSheetLine{ID: "U-5H4K9Q7R", Verdict: "WITHIN", Work: "job 1045: axle bracket, 2026-06-04 08:00, Tech B"}
	settledLine = RecheckSheetLine{ID: "U-4H4K9Q7P", Verdict: "INDETERMINATE", Work: "job 1044: front wheel nuts (5), 2026-06-03 08:00, Tech B",
		Settled: "loosened and tightened again, 108 N·m, with 00F-LN6, Tech A, 2026-11-03 10:00"}
)

func drawnRecheck(t *testing.T, s RecheckSheet) (text string, pages int) {
	t.Helper()
	return drawnText(t, s.PDF, s.Symbol)
}

// What is not known comes first, then why, the cautions, and the lines as they are given;
// a line that is open has room to write, one that is settled says how, and what is within
// needs neither.
func TestRecheckSheet(t *testing.T) {
	for _, paper := range []string{"letter", "a4"} {
		text, pages := drawnRecheck(t, recheckSheet(paper, outsideLine, custodyLine, settledLine, withinLine))
		at := 0
		for _, want := range []string{"Recheck: work in doubt", "00E-KM5", "serial number KD408B217", "What is not known", "NOT KNOWN", "Why", "found it failing", "And", "reported dropped",
			"A click on a fastener", "service information governs", "OUTSIDE", "U-2H4K9Q7M job 1042: rear wheel nuts (5)", "limits 118..122 N·m", "Settled how, with which tool, by whom, when:",
			"INDETERMINATE", "job 1043: nothing recorded", "nothing says what it was used for", "Settled how", "job 1044", "Settled: loosened and tightened again, 108 N·m, with 00F-LN6", "WITHIN", "job 1045",
			"Recheck of 00E-KM5, drawn 2026-11-28 09:14. Page 1 of 1."} {
			i := strings.Index(text[at:], want)
			if i < 0 {
				t.Errorf("%s: %q does not come next in %q", paper, want, text[at:])
				continue
			}
			at += i
		}
		if n := strings.Count(text, "A click on a fastener"); n != 1 || pages != 1 {
			t.Errorf("%s: the click is said %d times on %d pages", paper, n, pages)
		}
		if n := strings.Count(text, "Settled how"); n != 2 {
			t.Errorf("%s: room to write for %d lines, want 2", paper, n)
		}
	}
}

// Many lines take more pages; each says of which tool it is and how many there are, and
// none of the lines is lost.
func TestRecheckSheetOnManyPages(t *testing.T) {
	var lines []RecheckSheetLine
	for i := range 60 {
		l := outsideLine
		l.Work = fmt.Sprintf("job %d: front wheel nuts (5)", 2000+i)
		lines = append(lines, l)
	}
	text, pages := drawnRecheck(t, recheckSheet("letter", lines...))
	if pages < 4 || strings.Count(text, "Recheck of 00E-KM5, drawn") != pages || !strings.Contains(text, fmt.Sprintf("Page %d of %d.", pages, pages)) {
		t.Errorf("%d pages: %s", pages, text)
	}
	for i := range 60 {
		if n := strings.Count(text, fmt.Sprintf("job %d:", 2000+i)); n != 1 {
			t.Errorf("job %d is there %d times", 2000+i, n)
		}
	}
}

// A paper that is none, a number that would change; long texts are cut with a mark, and
// letters that the font lacks are not left out unseen.
func TestRecheckSheetRefuses(t *testing.T) {
	for name, s := range map[string]RecheckSheet{"paper": recheckSheet("foolscap"), "number": {Symbol: link, Number: "扳", Paper: "a4"}} {
		if err := s.PDF(&bytes.Buffer{}); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: %v", name, err)
		}
	}
	long := outsideLine
	long.Work = strings.Repeat("very long words ", 80)
	s := recheckSheet("letter", long)
	s.What, s.Serial = strings.Repeat("a very long name ", 20), "KD408B217"
	if text, pages := drawnRecheck(t, s); !strings.Contains(text, ellipsis) || pages != 1 {
		t.Errorf("%d pages: nothing was cut in %q", pages, text)
	}
	foreign := outsideLine
	foreign.Work = "job 1042: 轮毂螺母"
	if text, _ := drawnRecheck(t, recheckSheet("a4", foreign)); !strings.Contains(text, "job 1042: ????") {
		t.Errorf("what cannot be printed is not marked: %q", text)
	}
}
