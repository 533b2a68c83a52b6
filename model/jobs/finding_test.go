package jobs

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/dates"
	"pawl/model/fault"
)

// The sentence claims no more than the record has: it always says what is not covered,
// and never that all tools are back.
func TestTallyWords(t *testing.T) {
	for _, c := range []struct {
		tally Tally
		want  string
		back  bool
	}{
		{Tally{}, "nothing is recorded as taken to this job", false},
		{Tally{Open: 1}, "nothing is recorded as taken to this job; 1 finding not answered for", false},
		{Tally{Takes: 1, Back: 1}, "1 recorded take is back", true},
		{Tally{Takes: 6, Back: 6, Sets: 2, Looked: 2}, "6 recorded takes are back; 2 sets looked at", true},
		{Tally{Takes: 6, Back: 6, Sets: 2, Looked: 1, Open: 1}, "6 recorded takes are back; 1 of 2 sets looked at; 1 finding not answered for", false},
		{Tally{Takes: 6, Back: 6, Sets: 2, Looked: 1}, "6 recorded takes are back; 1 of 2 sets looked at", false},
		{Tally{Takes: 6, Back: 6, Flagged: 1}, "6 recorded takes are back; 1 searched for and not found", false},
		{Tally{Takes: 3, Back: 2, Elsewhere: 1}, "2 of 3 recorded takes are back; 1 elsewhere by the record: handed on, away or gone", true},
		{Tally{Takes: 2, Back: 1, Out: []string{"00E-KM5 ratchet (Tech A)"}, Flagged: 1}, "NOT BACK: 00E-KM5 ratchet (Tech A); 1 of 2 recorded takes are back; 1 searched for and not found", false},
	} {
		if got, want := c.tally.Words(), c.want+"; tools nobody scanned are not covered"; got != want || c.tally.AllBack() != c.back {
			t.Errorf("%q, %v; want %q, %v", got, c.tally.AllBack(), want, c.back)
		}
		if unknown := c.tally.Takes == 0 && c.tally.Open == 0; c.tally.Unknown() != unknown {
			t.Errorf("%+v: that it is unknown is %v", c.tally, !unknown)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 9)
		tally := Tally{Back: n.Draw(t, "back"), Elsewhere: n.Draw(t, "elsewhere"), Sets: n.Draw(t, "sets"), Open: n.Draw(t, "open")}
		for range n.Draw(t, "out") {
			tally.Out = append(tally.Out, "one")
		}
		tally.Takes, tally.Looked = tally.Back+tally.Elsewhere+len(tally.Out), rapid.IntRange(0, tally.Sets).Draw(t, "looked")
		words := tally.Words()
		if !strings.HasSuffix(words, "tools nobody scanned are not covered") || strings.Contains(words, "all tools") ||
			tally.AllBack() != (tally.Takes > 0 && len(tally.Out) == 0 && tally.Open == 0 && tally.Looked == tally.Sets) || strings.Contains(words, "NOT BACK") != (len(tally.Out) > 0) {
			t.Errorf("%+v: %q", tally, words)
		}
	})
}

// Whatever is answered, in whatever order: a finding that was once searched for and not
// found flags its job for ever, what was found stays found, and a refused answer changes
// nothing.
func TestAnswersStay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := Finding{ID: "Z-1", Sort: rapid.SampledFrom([]Sort{ToolMissing, PieceMissing, FragmentMissing, Extra, StillHeld}).Draw(t, "sort")}
		missed := false
		for at := range rapid.IntRange(1, 8).Draw(t, "answers") {
			text := rapid.SampledFrom([]string{"", "words"})
			r := Reply{Answer: rapid.SampledFrom(append([]Answer{""}, Answers...)).Draw(t, "answer"), Spot: text.Draw(t, "where"), Whom: text.Draw(t, "who"), Told: text.Draw(t, "told")}
			was := f
			err := f.Take(r, "H-1", dates.Instant(at+1))
			switch {
			case err != nil && f != was:
				t.Fatalf("%+v is refused (%v), and changed %+v to %+v", r, err, was, f)
			case err == nil && was.Answer == Found && f.Answer != Found:
				t.Fatalf("what was found is %q", f.Answer)
			case err != nil && !fault.Is(err, fault.Invalid) && !fault.Is(err, fault.Conflict):
				t.Fatal(err)
			}
			missed = missed || f.Answer == NotFound
			if f.Flags() != missed || f.Open() != (f.Says() == "") {
				t.Fatalf("%+v: flags %v, was missed %v; says %q", f, f.Flags(), missed, f.Says())
			}
		}
	})
}

// An id that follows from another leads back to it, and to no other sort of row.
func TestFindingIDs(t *testing.T) {
	if id := FindingID("O-2H4K9Q7M"); id != "Z-2H4K9Q7M" || SourceID('O', id) != "O-2H4K9Q7M" || SourceID('Y', id) != "Y-2H4K9Q7M" {
		t.Error(id)
	}
	for _, no := range []string{"", "Z", "O-2H4K9Q7M"} {
		if SourceID('O', no) != "" {
			t.Errorf("%q has a source", no)
		}
	}
}

func TestParseWords(t *testing.T) {
	for in, want := range map[string]Answer{"Found": Found, " searched  and not found": NotFound, "KNOWN ELSEWHERE": KnownElsewhere} {
		if got, err := ParseAnswer(in); got != want || err != nil {
			t.Errorf("%q: %q, %v", in, got, err)
		}
	}
	if _, err := ParseAnswer("gone"); !fault.Is(err, fault.Invalid) {
		t.Error(err)
	}
	for in, want := range map[string]Moment{"": "", "Engine": BeforeEngine, "handover ": BeforeHandover} {
		if got, err := ParseMoment(in); got != want || err != nil {
			t.Errorf("%q: %q, %v", in, got, err)
		}
	}
	if _, err := ParseMoment("noon"); !fault.Is(err, fault.Invalid) {
		t.Error(err)
	}
}
