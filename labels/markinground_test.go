package labels

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"pawl/model/fault"
)

func markingRound(paper string, places ...RoundPlace) MarkingRound {
	return MarkingRound{Shop: "Demo garage", As: "2026-11-28 09:14", Month: "November 2026", Paper: paper, Of: "2 of 143 markings", Places: places,
		Cautions: []string{"High voltage: an accurate meter does not clear the work."}}
}

var (
	wornRow = RoundRow{Symbol: "T/00EKM5", Number: "00E-KM5", What: "impact wrench, Brindle BX-900", Marking: "printed, below the handle; protection: none", Rank: 1,
		Last: "2026-10-02: grade 2, KD408B2?7 was read", Forecast: "expected to lose a character by 2026-12-14; 1 in 3 that it has already", Do: "protect it, or add an owner's number, now"}
	newRow = RoundRow{Symbol: "T/00FLN6", Number: "00F-LN6", What: "cordless drill", Marking: "printed", Rank: 2}
)

// roundText is what a round says, its pages parted by form feeds.
func roundText(t *testing.T, s MarkingRound) string {
	t.Helper()
	var b bytes.Buffer
	if err := s.PDF(&b); err != nil {
		t.Fatal(err)
	}
	return outputOf(t, "pdftotext", "-layout", keep(t, b.Bytes()), "-")
}

// Each place with its rows in their order, what is known of each marking, a box for every
// grade and for the reading; what nobody looked at is said to be not known.
func TestMarkingRound(t *testing.T) {
	for _, paper := range []string{"letter", "a4"} {
		raw := roundText(t, markingRound(paper, RoundPlace{"Bay 1/Cart", []RoundRow{wornRow}}))
		text, pages := strings.Join(strings.Fields(raw), " "), strings.Count(raw, "\f")
		at := 0
		for _, want := range []string{"Round of markings, November 2026", "To be looked at: 2 of 143 markings.", "before anything is cleaned", "clean, dry marking", "beside the maker's serial", "stays as it is",
			"never re-cut, restamped", "both are photographed", "! High voltage", "4 crisp", "3 worn, every character certain at a glance", "0 unreadable", "Looked at by", "Bay 1/Cart",
			"00E-KM5", "impact wrench, Brindle BX-900", "protection: none", "Last look 2026-10-02: grade 2, KD408B2?7 was read", "by 2026-12-14; 1 in 3", "Most to lose: no. 1.",
			"TO DO: protect it", "photo 4 crisp 3 worn, sure 2 with care 1 one lost 0 unreadable", "What can be read"} {
			i := strings.Index(text[at:], want)
			if i < 0 {
				t.Errorf("%s: %q does not come next in %q", paper, want, text[at:])
				continue
			}
			at += i
		}
		if pages != 1 || strings.Contains(text, "NOT KNOWN") || strings.Contains(text, "KD408B217") {
			t.Errorf("%s, %d pages: %s", paper, pages, text)
		}
	}
	text := roundText(t, markingRound("a4", RoundPlace{"Van", []RoundRow{newRow}}))
	for _, want := range []string{"Nobody has looked at it yet.", "NOT KNOWN how long it stays readable."} {
		if !strings.Contains(text, want) {
			t.Errorf("a marking that nobody looked at: %q is missing in %q", want, text)
		}
	}
}

// A long round takes more pages; no row is lost or parted from its boxes, no heading is
// the last on its page, and every page says how many there are.
func TestMarkingRoundOnManyPages(t *testing.T) {
	var places []RoundPlace
	for i := range 12 {
		place := RoundPlace{Title: fmt.Sprintf("Bay %d", i)}
		for k := range 4 {
			row := wornRow
			row.What = fmt.Sprintf("impact wrench %d", 100+4*i+k)
			place.Rows = append(place.Rows, row)
		}
		places = append(places, place)
	}
	raw := roundText(t, markingRound("letter", places...))
	pages := strings.Split(strings.TrimSuffix(raw, "\f"), "\f")
	rows := 0
	for i, page := range pages {
		text := strings.Join(strings.Fields(page), " ")
		here := strings.Count(text, "impact wrench 1")
		if boxes := strings.Count(text, "What can be read"); boxes != here || here == 0 {
			t.Errorf("page %d has %d rows and %d boxes for a reading", i+1, here, boxes)
		}
		if want := fmt.Sprintf("page %d of %d", i+1, len(pages)); !strings.Contains(text, want) {
			t.Errorf("page %d does not say %q", i+1, want)
		}
		last := text[:strings.Index(text, "A chance is a guess")]
		if !strings.HasSuffix(strings.TrimSpace(last), "What can be read") {
			t.Errorf("page %d ends with %q", i+1, last[max(0, len(last)-60):])
		}
		rows += here
	}
	if rows != 48 || len(pages) < 5 {
		t.Errorf("%d rows on %d pages", rows, len(pages))
	}
}

// An empty round does not say that all is well; a paper that is none and a number that
// cannot be printed are refused; letters that the type lacks are told.
func TestMarkingRoundAtItsEnds(t *testing.T) {
	if text := roundText(t, markingRound("a4")); !strings.Contains(text, "That says nothing of markings that are not recorded.") {
		t.Errorf("an empty round: %s", text)
	}
	odd := wornRow
	odd.Number = "扳"
	for name, s := range map[string]MarkingRound{"paper": markingRound("foolscap"), "number": markingRound("a4", RoundPlace{"Van", []RoundRow{odd}})} {
		if err := s.PDF(&bytes.Buffer{}); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: %v", name, err)
		}
	}
	foreign := wornRow
	foreign.What = "扳手"
	if text := roundText(t, markingRound("a4", RoundPlace{"Van", []RoundRow{foreign}})); !strings.Contains(text, "U+6273") {
		t.Errorf("what cannot be printed is not told: %q", text)
	}
	long := wornRow
	long.What, long.Marking, long.Symbol = strings.Repeat("a very long name ", 30), strings.Repeat("below the handle ", 60), "HTTPS://"+strings.Repeat("TOOLS.", 20)+"EXAMPLE/T/00EKM5"
	if text, pages := drawnText(t, markingRound("a4", RoundPlace{strings.Repeat("Bay ", 80), []RoundRow{long}}).PDF, long.Symbol); pages > 2 || !strings.Contains(text, "What can be read") {
		t.Errorf("long texts, %d pages: %s", pages, text)
	}
}
