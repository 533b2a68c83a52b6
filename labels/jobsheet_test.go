package labels

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"pawl/model/fault"
)

func jobSheet(paper string) JobSheet {
	return JobSheet{Symbol: "JOB:1042", Number: "1042", About: []string{"gray wagon", "a safety job", "open since 2026-11-28 08:05"}, Shop: "Demo garage",
		As: "2026-11-28 09:14", Paper: paper, Words: "2 recorded takes are back; tools nobody scanned are not covered", Foot: "The vehicle maker's service information governs the work.",
		Parts: []JobSheetPart{
			{Title: "Tell the vehicle's owner", Loud: true, Lines: []JobSheetLine{{Text: "SEARCHED AND NOT FOUND: a fragment of tip"}}},
			{Title: "Nothing stands here"},
			{Title: "What did not add up", Lines: []JobSheetLine{{Text: "Z-2H4K9Q7M: 00E-KM5 ratchet is still out to Tech A", Blank: true}, {Text: "Z-XNX4YVCF: bit", More: "found: on the cart"}}},
		}}
}

func (s JobSheet) text(t *testing.T) (string, int) {
	t.Helper()
	return drawnText(t, s.PDF, s.Symbol)
}

// TestJobSheet: all that is told is there, a heading with nothing under it is not, and
// what is open leaves room to write.
func TestJobSheet(t *testing.T) {
	for _, paper := range []string{"letter", "a4"} {
		text, pages := jobSheet(paper).text(t)
		for _, want := range []string{"Job 1042", "gray wagon", "a safety job", "2 recorded takes are back; tools nobody scanned are not covered", "Tell the vehicle's owner",
			"SEARCHED AND NOT FOUND", "still out to Tech A", "Found where, with whom, or searched by whom and where:", "found: on the cart", "Page 1 of 1.", "service information governs"} {
			if !strings.Contains(text, want) {
				t.Errorf("%s: %q is not in %q", paper, want, text)
			}
		}
		if strings.Contains(text, "Nothing stands here") || strings.Count(text, "Found where") != 1 || pages != 1 {
			t.Errorf("%s, %d pages: %q", paper, pages, text)
		}
	}
}

// TestLongJobSheet: many lines go on as many pages as they need, each with the number of
// the job, and none is lost; long texts are cut where they would fill a page.
func TestLongJobSheet(t *testing.T) {
	s := jobSheet("letter")
	for i := range 120 {
		s.Parts[2].Lines = append(s.Parts[2].Lines, JobSheetLine{Text: fmt.Sprintf("line %03d of many", i), More: "more", Blank: i%3 == 0})
	}
	s.Parts[2].Lines = append(s.Parts[2].Lines, JobSheetLine{Text: strings.Repeat("very long words ", 400)}, JobSheetLine{Text: "the last line"})
	text, pages := s.text(t)
	for i := range 120 {
		if !strings.Contains(text, fmt.Sprintf("line %03d of many", i)) {
			t.Errorf("line %d is lost", i)
		}
	}
	if pages < 4 || strings.Count(text, "Job 1042") < 2*pages || !strings.Contains(text, fmt.Sprintf("Page %d of %d.", pages, pages)) || !strings.Contains(text, "the last line") || !strings.Contains(text, ellipsis) {
		t.Errorf("%d pages: %.400q", pages, text)
	}
	if err := jobSheet("foolscap").PDF(&bytes.Buffer{}); !fault.Is(err, fault.Invalid) {
		t.Errorf("a paper that is none: %v", err)
	}
}
