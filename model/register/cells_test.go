package register

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/units"
)

const today = dates.Date("2026-11-02")

// readDay reads one cell of a column that holds others too.
func readDay(value string, r Reading, others ...string) (string, string) {
	clean, code, err := reader{Reading: r, order: orderOf(append(others, value), r.DateOrder), today: today}.day(value)
	if err != nil {
		return err.Error(), code
	}
	return clean, code
}

// interfaces 5.6.
func TestDays(t *testing.T) {
	for _, c := range []struct {
		value string
		r     Reading
		other string
		want  string // a day, or the code of the fault
	}{
		{"2024-03-04", Reading{}, "", "2024-03-04"},
		{"2024/3/4", Reading{}, "", "2024-03-04"},
		{"2024-03-04 00:00:00", Reading{}, "", "2024-03-04"},
		{"2024-03-04T00:00:00Z", Reading{}, "", "2024-03-04"},
		{"03/04/2024", Reading{}, "", "ambiguous"},
		{"03/04/2024", Reading{DateOrder: "dmy"}, "", "2024-04-03"},
		{"03/04/2024", Reading{DateOrder: "mdy"}, "", "2024-03-04"},
		{"03/04/2024", Reading{}, "31.12.2023", "2024-04-03"},
		{"03/04/2024", Reading{}, "12/31/2023", "2024-03-04"},
		{"04.04.2024", Reading{}, "", "2024-04-04"},
		{"31/12/2023", Reading{}, "", "2023-12-31"},
		{"31/12/2023", Reading{DateOrder: "mdy"}, "", "date"},
		{"13/14/2024", Reading{}, "", "date"},
		{"2024-02-30", Reading{}, "", "date"},
		{"3/4/24", Reading{}, "", "two-digit year"},
		{"3/4/24", Reading{Century: 2000, DateOrder: "mdy"}, "", "2024-03-04"},
		{"31/12/99", Reading{Century: 1900}, "", "1999-12-31"},
		{"4 Mar 2024", Reading{}, "", "2024-03-04"},
		{"Mar 4, 2024", Reading{}, "", "2024-03-04"},
		{"04-MAR-2024", Reading{}, "", "2024-03-04"},
		{"4 Sept 2024", Reading{}, "", "2024-09-04"},
		{"4 Foo 2024", Reading{}, "", "date"},
		{"45000", Reading{}, "", "day number"},
		{"45000", Reading{DayNumbers: true}, "", "2023-03-15"},
		{"45000.75", Reading{DayNumbers: true}, "", "2023-03-15"},
		{"36526", Reading{DayNumbers: true}, "", "2000-01-01"}, // ECMA-376 part 1, 18.17.4.3: 1-Jan-2000 is 36526
		{"60", Reading{DayNumbers: true}, "", "date"},
		{"2024", Reading{DayNumbers: true}, "", "date"},
		{"2026-11-03", Reading{}, "", "future"},
		{"46329", Reading{DayNumbers: true}, "", "future"},
		{"yesterday", Reading{}, "", "date"},
	} {
		got, code := readDay(c.value, c.r, c.other)
		if code != "" {
			got = code
		}
		if got != c.want {
			t.Errorf("%q with %+v beside %q: %s, want %s", c.value, c.r, c.other, got, c.want)
		}
	}
	// A value for each order leaves the others open.
	if _, code := readDay("03/04/2024", Reading{}, "31/12/2023", "12/31/2023"); code != codeAmbiguous {
		t.Errorf("beside both orders it is %q", code)
	}
	if said, _ := readDay("03/04/2024", Reading{}); !strings.Contains(said, "2024-03-04") || !strings.Contains(said, "2024-04-03") {
		t.Errorf("not both readings: %s", said)
	}
	if d, _, err := (reader{Reading: Reading{DayNumbers: true}, today: today, date1904: true}).day("43538"); err != nil || d != "2023-03-15" {
		t.Errorf("from 1904: %s, %v", d, err)
	}
	for from1904, want := range map[bool]string{false: "2023-03-15", true: "2027-03-16"} { // 1,462 days apart
		tab := ReadTable(sheet("kind|bought", "wrench|45000"), from1904, Reading{DayNumbers: true}, "USD", "2028-01-01")
		if got := tab.Entries[0].New.Bought; len(tab.Bad) > 0 || got == nil || *got != want {
			t.Errorf("a table from 1904 (%v): %v, want %s; %+v", from1904, got, want, tab.Bad)
		}
	}
}

// interfaces 5.7.
func TestMoneyCells(t *testing.T) {
	for _, c := range []struct{ value, currency, decimal, want string }{
		{"$1,234.50", "USD", "", "1234.50"},
		{"1.234,50 €", "EUR", "", "1234.50"},
		{"1234.5", "USD", "", "1234.5"},
		{"1234", "USD", "", "1234"},
		{"1,234", "USD", "", "ambiguous"},
		{"1.234", "EUR", "", "ambiguous"},
		{"1,234", "USD", ".", "1234"},
		{"1.234", "EUR", ",", "1234"},
		{"1,234", "USD", ",", "money"}, // three decimals
		{"1,234,567", "USD", "", "1234567"},
		{"12,34", "EUR", "", "12.34"},
		{"1234,567", "USD", "", "money"},
		{"0,50", "EUR", "", "0.50"},
		{"0.500", "USD", "", "0.50"},
		{".50", "USD", "", "0.50"},
		{"1 234,50", "EUR", "", "1234.50"},
		{"1\u202f234,50 EUR", "EUR", "", "1234.50"},
		{"1’234.50", "CHF", "", "1234.50"},
		{"CHF 12.-", "CHF", "", "money"},
		{"USD 12.00", "USD", "", "12.00"},
		{"US$12.00", "USD", "", "12.00"},
		{"€ 12.00", "USD", "", "currency"},
		{"12.00 kr", "SEK", "", "12.00"},
		{"¥1200", "JPY", "", "1200"},
		{"-5.00", "USD", "", "money"},
		{"(5.00)", "USD", "", "money"},
		{"1,23,456.00", "USD", "", "money"},
		{"1,234.56.78", "USD", "", "money"},
		{"12.345", "KWD", ".", "12.345"},
		{"1234.5599999999999", "USD", "", "1234.56"},
		{"289.00000000000006", "USD", "", "289"},
		{"289.5000", "USD", "", "289.50"},
		{"12.", "USD", "", "money"},
		{"about 12", "USD", "", "currency"},
		{"twelve", "USD", "", "money"},
		{"12a3", "USD", "", "money"},
		{"9999999999999999", "USD", "", "money"},
	} {
		got, code, err := readMoney(c.value, c.currency, c.decimal)
		if err != nil {
			got = code
		}
		if got != c.want {
			t.Errorf("%q in %s with %q: %s %v, want %s", c.value, c.currency, c.decimal, got, err, c.want)
		}
	}
}

func TestPiecesCells(t *testing.T) {
	for _, p := range []Pieces{{{"10 mm socket", 1}}, {{"a;b", 1}}, {{"a*3", 1}, {"b", 3}}, {{"a;b", 2}, {"c", 1}}} {
		cell := pieces(Record{Tool: Tool{Pieces: p}})
		got, err := readPieces(cell)
		if err != nil || len(got) != len(p) || got[0] != p[0] || got[len(got)-1] != p[len(p)-1] {
			t.Errorf("%v is written %q and read %v, %v", p, cell, got, err)
		}
	}
	if got, err := readPieces("10 mm socket; extension*2 ;"); err != nil || len(got) != 2 || got[1].Count != 2 {
		t.Errorf("with semicolons: %v, %v", got, err)
	}
	if _, err := readPieces("a*0"); err == nil {
		t.Error("no pieces at all are pieces")
	}
}

// FuzzDate: what is read is a day of the calendar, not in the future, and the
// day that time.Parse finds in the same order.
func FuzzDate(f *testing.F) {
	for _, s := range []string{"2024-03-04", "3/4/2024", "31.12.99", "45000", "Mar 4, 2024", "4-Mar-24", "2024-02-30", "0001-01-01", "١/٢/٢٠٢٤"} {
		f.Add(s, true)
	}
	f.Fuzz(func(t *testing.T, s string, month bool) {
		order, layout := "dmy", "2/1/2006"
		if month {
			order, layout = "mdy", "1/2/2006"
		}
		clean, code, err := reader{Reading: Reading{DateOrder: order, Century: 2000, DayNumbers: true}, order: dayOrder(order), today: today}.day(s)
		if err != nil {
			if code == "" || fault.Of(err).Kind != fault.Invalid {
				t.Fatalf("%q: %q %v", s, code, err)
			}
			return
		}
		if d, err := dates.ParseDate(clean); err != nil || d.After(today) {
			t.Fatalf("%q is read as %s, %v", s, clean, err)
		}
		if m := shapeTwo().FindStringSubmatch(plainDay(s)); m != nil && len(m[3]) == 4 {
			want, err := time.Parse(layout, m[1]+"/"+m[2]+"/"+m[3])
			if err != nil || want.Format("2006-01-02") != clean {
				t.Fatalf("%q is read as %s; time.Parse: %v, %v", s, clean, want, err)
			}
		}
	})
}

// FuzzMoney: what is read is plain, is the same again, and has the figures of
// the cell in their order, less zeros at the end.
func FuzzMoney(f *testing.F) {
	for _, s := range []string{"$1,234.50", "1.234,50 €", "1 234", "1'234.5", ".5", "1,234", "12..3", "1234.5599999999999", "USD 5"} {
		f.Add(s, "")
		f.Add(s, ".")
		f.Add(s, ",")
	}
	f.Fuzz(func(t *testing.T, s, decimal string) {
		if decimal != "" && decimal != "." && decimal != "," {
			return
		}
		clean, code, err := readMoney(s, "USD", decimal)
		if err != nil {
			if code == "" || fault.Of(err).Kind != fault.Invalid {
				t.Fatalf("%q: %q %v", s, code, err)
			}
			return
		}
		if _, err := units.ParseMoney(clean, "USD"); err != nil {
			t.Fatalf("%q became %q: %v", s, clean, err)
		}
		if again, _, err := readMoney(clean, "USD", "."); err != nil || again != clean {
			t.Fatalf("%q became %q and then %q, %v", s, clean, again, err)
		}
		figures := func(s string) string {
			return strings.Map(func(r rune) rune {
				if isDigit(r) {
					return r
				}
				return -1
			}, s)
		}
		got, was := strings.Trim(figures(clean), "0"), strings.Trim(figures(s), "0")
		if got != was && len(was) <= significant {
			t.Fatalf("%q became %q", s, clean)
		}
	})
}

// FuzzPieces: pieces that are read from a cell come back from the one that is written.
func FuzzPieces(f *testing.F) {
	for _, s := range []string{"10 mm socket; extension*2", "a;b\n", "one\r\ntwo*3\r\n", "*", "a*b*2", ";;", "a*1", "a*99999999999"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		read, err := readPieces(s)
		if err != nil {
			if !fault.Is(err, fault.Invalid) {
				t.Fatalf("%q: %v", s, err)
			}
			return
		}
		written := pieces(Record{Tool: Tool{Pieces: read}})
		if again, err := readPieces(written); err != nil || !slices.Equal(again, read) {
			t.Fatalf("%q is %v, written as %q and read as %v, %v", s, read, written, again, err)
		}
	})
}
