package claims

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/register"
)

func TestWords(t *testing.T) {
	for _, c := range []struct {
		line Line
		want string
	}{
		{Line{Kind: "impact wrench", Maker: "Brindle", Model: "BX-900"}, "impact wrench, Brindle BX-900"},
		{Line{Kind: " impact\n wrench ", Maker: "Brindle"}, "impact wrench, Brindle"},
		{Line{Maker: "Brindle", Model: "BX-900"}, "Brindle BX-900, kind not recorded"},
		{Line{Kind: "jack"}, "jack, maker and model not recorded"},
		{Line{}, "a tool of which kind, maker and model are not recorded"},
	} {
		if got := c.line.Words(); got != c.want {
			t.Errorf("%+v: %q, want %q", c.line, got, c.want)
		}
	}
}

// A serial number is shown as it was read; what is not certain is marked in it and in its
// normalized form, and never guessed or left out.
func TestSerialMarked(t *testing.T) {
	for _, c := range []struct{ serial, key, said, marked, normalized, sure string }{
		{"KD-408 B217", "KD408B217", "by sight and from the photo", "KD-408 B217", "KD408B217", "by sight and from the photo"},
		{"KD-4?8 B217", "KD48B217", "", "KD-4[?]8 B217", "KD4[?]8B217", "[?] is a character that could not be read with certainty"},
		{"KD-*?2", "KD2", "", "KD-[*][?]2", "KD[*][?]2", "[?] is a character that could not be read with certainty; [*] is any number of characters that could not be read"},
		{"??x", "X", "worn", "[?][?]x", "[?][?]X", "worn; [?] is a character that could not be read with certainty"},
		{"", "", "worn off", "", "", "worn off"},
		{"", "", "", "", "", "not recorded"},
	} {
		l := Line{Serial: c.serial, SerialKey: c.key, SerialSaid: c.said}
		if l.SerialMarked() != c.marked || l.Normalized() != c.normalized || l.SerialSure() != c.sure {
			t.Errorf("%q: %q, %q, %q; want %q, %q, %q", c.serial, l.SerialMarked(), l.Normalized(), l.SerialSure(), c.marked, c.normalized, c.sure)
		}
	}
}

// The label is told apart from the permanent number.
func TestNumbersInWords(t *testing.T) {
	one, two := Line{Number: "00E-KM5", Numbers: []string{"00E-KM5"}}, Line{Number: "00E-KM5", Numbers: []string{"00E-KM5", "00F-LN6"}, OwnersNo: "GLG-0417", OwnersNoAt: "engraved, left"}
	for got, want := range map[string]string{
		one.LabelWords(): "00E-KM5 (a printed label: it peels off)", two.LabelWords(): "00E-KM5, 00F-LN6 (printed labels: they peel off)",
		one.OwnersNumberWords(): "none recorded", two.OwnersNumberWords(): "GLG-0417, engraved, left", Line{OwnersNo: "7A"}.OwnersNumberWords(): "7A (where on the tool: not recorded)",
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// The rules on owner-applied numbers are those of the Wisconsin DOJ TIME manual
// (identity-labels-evidence 6.1): 1 to 20 letters and digits, not letters alone, not
// zeros alone, not the serial number again.
func TestRegisterDoubts(t *testing.T) {
	for number, want := range map[string]int{"": 0, "GLG-0417": 0, "GLG": 1, "000": 1, "0": 1, "A1": 0, strings.Repeat("7", 20): 0, strings.Repeat("7", 21): 1, "KD-408": 1, "--": 2} {
		if got := (Line{OwnersNo: number, SerialKey: "KD408"}).RegisterDoubts(); len(got) != want {
			t.Errorf("%q: %q, want %d doubts", number, got, want)
		}
	}
}

// Covered through the last day of the calendar months, counted from the first day and
// inclusive (money-and-statistics 3.1, its table of starts).
func TestWarrantyWords(t *testing.T) {
	for _, c := range []struct {
		from   dates.Date
		months int64
		on     dates.Date
		want   string
	}{
		{"2024-02-29", 12, "2025-02-28", "through 2025-02-28. The fault of 2025-02-28 is INSIDE it."},
		{"2024-02-29", 12, "2025-03-01", "OUTSIDE it by 1 day."},
		{"2024-02-29", 12, "2025-03-02", "OUTSIDE it by 2 days."},
		{"2024-02-29", 48, "2028-02-29", "INSIDE"},
		{"2026-08-31", 6, "2027-02-28", "INSIDE"},
		{"2026-08-31", 6, "2026-08-30", "BEFORE it began"},
		{"2026-08-31", 6, "", "it is not known"},
		{"", 6, "2026-08-30", "when it began is not recorded: it is not known"},
		{"2026-08-31", 0, "2026-08-30", "it is not known"},
		{"2199-08-31", 600, "2199-09-30", "its last day cannot be told"},
	} {
		if got := (ClaimPart{From: c.from, Months: c.months, FaultOn: c.on}).WarrantyWords(); !strings.Contains(got, c.want) {
			t.Errorf("%s + %d on %s: %q, want %q", c.from, c.months, c.on, got, c.want)
		}
	}
}

// Ages are the complete months of the worked table of money-and-statistics 1.2: 68, 28
// and 178 at a loss on 2026-11-25.
func TestAge(t *testing.T) {
	s := Statement{Zone: "America/Chicago", Loss: &LossPart{Found: dates.InstantOf(time.Date(2026, 11, 26, 3, 0, 0, 0, time.UTC))}} // the 25th there
	for bought, want := range map[dates.Date]string{"2021-03-15": "5 years 8 months on 2026-11-25", "2024-06-30": "2 years 4 months on 2026-11-25", "2012-01-10": "14 years 10 months on 2026-11-25",
		"2025-12-20": "11 months on 2026-11-25", "2026-11-25": "0 months on 2026-11-25", "": NotRecorded, "2026-11-26": NotRecorded} {
		if got := s.Age(Line{Bought: bought, Money: true}); got != want {
			t.Errorf("%s: %q, want %q", bought, got, want)
		}
	}
}

func TestClaimedWords(t *testing.T) {
	received := dates.InstantOf(time.Date(2026, 3, 2, 15, 14, 0, 0, time.UTC))
	for said, want := range map[string]string{"": "", "2026-03-02T09:12:44-06:00": "2026-03-02 09:12 -06:00", "2026-02-28T09:12:44-06:00": "2026-02-28 09:12 -06:00, over a day apart",
		"2026-03-02T09:12:44": "2026-03-02 09:12", "2027-03-02T09:12:44": "2027-03-02 09:12, over a day apart", "a while ago": "a while ago"} {
		if got := (File{Claimed: said, Received: received}).ClaimedWords(); got != want {
			t.Errorf("%q: %q, want %q", said, got, want)
		}
	}
}

func TestParseSize(t *testing.T) {
	for text, want := range map[string]int64{"10MB": 10_000_000, "10 mb": 10_000_000, "500kB": 500_000, "200000": 200_000, "1GB": 1_000_000_000, "1073741824": MostPart, "300000B": 300_000, "1": 1} {
		if got, err := ParseSize(text); err != nil || got != want {
			t.Errorf("%q: %d, %v; want %d", text, got, err, want)
		}
	}
	for _, text := range []string{"", "MB", "10MiB", "1.5MB", "-1MB", "+1MB", "0", "2GB", "1073741825", "9223372036854775807GB", "10 M", "ten"} {
		if got, err := ParseSize(text); !fault.Is(err, fault.Malformed) || fault.Of(err).Hint == "" {
			t.Errorf("%q: %d, %v", text, got, err)
		}
	}
}

func sound() Statement {
	n := int64(64900)
	return Statement{Format: Format, Kind: Insurance, Zone: "America/Chicago", Currency: "USD", Supplement: 1, Lines: []Line{{Line: 1, Replacement: &n, Files: []File{{Ref: "P1", SHA256: "a"}}}, {Line: 2}}}
}

func TestCheck(t *testing.T) {
	if err := sound().Check(); err != nil {
		t.Error(err)
	}
	below, huge := int64(-1), int64(math.MaxInt64)
	for name, change := range map[string]func(*Statement){
		"format":       func(s *Statement) { s.Format = "pawl statement 2" },
		"zone":         func(s *Statement) { s.Zone = "Mars/Base" },
		"no zone":      func(s *Statement) { s.Zone = "" },
		"machine zone": func(s *Statement) { s.Zone = "Local" },
		"currency":     func(s *Statement) { s.Currency = "usd" },
		"kind":         func(s *Statement) { s.Kind = "" },
		"line 0":       func(s *Statement) { s.Lines[0].Line = 0 },
		"line twice":   func(s *Statement) { s.Lines[1].Line = 1 },
		"below zero":   func(s *Statement) { s.Lines[1].Claimed = &below },
		"too much":     func(s *Statement) { s.Lines[0].Replacement, s.Lines[1].Replacement = &huge, &huge },
		"actual cash":  func(s *Statement) { s.Lines[0].ActualCash = s.Lines[0].Replacement },
		"market":       func(s *Statement) { s.Lines[0].Market = s.Lines[0].Replacement },
		"nameless":     func(s *Statement) { s.Files = []File{{SHA256: "b"}} },
		"two files":    func(s *Statement) { s.Files = []File{{Ref: "P1", SHA256: "b"}} },
	} {
		s := sound()
		change(&s)
		if err := s.Check(); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: %v", name, err)
		}
	}
	s := sound()
	s.Added = []Addition{AddActualCash}
	s.Lines[0].ActualCash, s.Files = s.Lines[0].Replacement, []File{{Ref: "P1", SHA256: "a"}}
	if err := s.Check(); err != nil {
		t.Error(err)
	}
}

// Each sum is that of the lines with an amount, and the lines without one are counted.
func TestTotals(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := sound()
		s.Lines = nil
		var want int64
		without := 0
		for i := range rapid.IntRange(0, 30).Draw(t, "lines") {
			l := Line{Line: int64(i + 1)}
			if n := rapid.Int64Range(-1, 1e12).Draw(t, "amount"); n >= 0 {
				l.Replacement = &n
				want += n
			} else {
				without++
			}
			s.Lines = append(s.Lines, l)
		}
		got := s.Totals()
		if got.Replacement != (Sum{want, len(s.Lines) - without, without}) || got.Lines != len(s.Lines) || got.Claimed != (Sum{0, 0, len(s.Lines)}) {
			t.Fatalf("%+v, want %d of %d", got, want, len(s.Lines))
		}
	})
}

// What is left out is named, and what is never in a packet.
func TestLeftOut(t *testing.T) {
	s := sound()
	if got := s.LeftOut(); !strings.Contains(got, "Not asked for: actual cash value, market value, tightenings, rechecks, overrides, jobs, customers, originals. Never in it") {
		t.Errorf("%q", got)
	}
	s.Added = Additions
	if got := s.LeftOut(); strings.Contains(got, "Not asked for") || !strings.Contains(got, "Never in it") {
		t.Errorf("%q", got)
	}
}

// A serial number that nobody recorded is not said to be none; when a tool was seen last, and
// its age, read as words.
func TestWordsForAStranger(t *testing.T) {
	for _, c := range []struct {
		serial string
		why    register.NoSerial
		want   string
	}{{"KD4?8B217", "", "KD4[?]8B217"}, {"", register.NeverMarked, "none"}, {"", register.Unreadable, "cannot be read"}, {"", "", NotRecorded}} {
		tool := register.Tool{Serial: c.serial, NoSerial: c.why}
		if got := (Line{Serial: c.serial, SerialSaid: serialSaid(tool)}).SerialRead(); got != c.want {
			t.Errorf("%q, %q: %q, want %q", c.serial, c.why, got, c.want)
		}
	}
	s := Statement{Zone: "America/Chicago", Created: dates.InstantOf(time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC))}
	for how, want := range map[string]string{"": "2026-11-25 06:00", "custody": "2026-11-25 06:00, when it was taken, returned or handed over", "Tech B saw it": "2026-11-25 06:00, Tech B saw it"} {
		if got := s.SeenWords(Line{LastSeen: s.Created, SeenHow: how}); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if got := s.Age(Line{Bought: "2025-10-02", Money: true}); got != "1 year 1 month on 2026-11-25" {
		t.Error(got)
	}
}
