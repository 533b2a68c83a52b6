package dates

import (
	"bufio"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

// vectors reads the rows of a table in testdata/vectors; lines with # say where
// it comes from.
func vectors(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "vectors", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var rows [][]string
	for lines := bufio.NewScanner(f); lines.Scan(); {
		if line := lines.Text(); !strings.HasPrefix(line, "#") {
			rows = append(rows, strings.Fields(line))
		}
	}
	if len(rows) == 0 {
		t.Fatalf("%s holds no rows", name)
	}
	return rows
}

func number(t *testing.T, s string) int {
	t.Helper()
	n, err := strconv.Atoi(s)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func TestParseDate(t *testing.T) {
	for _, good := range []string{"1900-01-01", "2024-02-29", "2026-11-25", "2200-12-31"} {
		if d, err := ParseDate(good); err != nil || string(d) != good || !d.Valid() {
			t.Errorf("ParseDate(%q) = %q, %v", good, d, err)
		}
	}
	// 1900, 2100 and 2200 are not leap years, 2000 is: Gregorian rule
	for _, bad := range []string{"", "2026-02-29", "1900-02-29", "2100-02-29", "2026-13-01", "2026-00-10", "2026-11-31",
		"1899-12-31", "2201-01-01", "2026-1-05", "2026-11-25 ", "20261125", "2026/11/25", "11-25-2026", "２０２6-11"} {
		if d, err := ParseDate(bad); d != "" || !fault.Is(err, fault.Invalid) {
			t.Errorf("ParseDate(%q) = %q, %v; want an invalid fault", bad, d, err)
		}
	}
}

func TestAddMonthsFollowsThePublishedTable(t *testing.T) {
	for _, row := range vectors(t, "months.txt") {
		if got := Date(row[0]).AddMonths(number(t, row[1])); string(got) != row[2] {
			t.Errorf("%s + %s months = %s, want %s", row[0], row[1], got, row[2])
		}
	}
}

func TestCompleteMonthsFollowsThePublishedTable(t *testing.T) {
	for _, row := range vectors(t, "complete-months.txt") {
		if got := CompleteMonths(Date(row[0]), Date(row[1])); got != number(t, row[2]) {
			t.Errorf("complete months %s to %s = %d, want %s", row[0], row[1], got, row[2])
		}
	}
}

func TestNoDateStaysNone(t *testing.T) {
	for _, d := range []Date{"", "2026-02-30", "soon"} {
		if d.AddMonths(1) != "" || d.AddDays(1) != "" || d.EndIn(time.UTC) != 0 {
			t.Errorf("arithmetic on %q makes a date", d)
		}
		if CompleteMonths(d, "2026-01-01") != 0 || DaysBetween("2026-01-01", d) != 0 {
			t.Errorf("a span from %q is not 0", d)
		}
	}
	if Date("").Before("2026-01-01") || Date("2026-01-01").After("") {
		t.Error("none is before or after a day")
	}
	for _, n := range []int{1e9, -1e9, 1 << 62, -1 << 62, 12 * 400} {
		if got := Date("2026-01-01").AddMonths(n); got != "" {
			t.Errorf("AddMonths(%d) = %s, want none: outside 1900 to 2200", n, got)
		}
		if got := Date("2026-01-01").AddDays(n * 31); got != "" && n != 1<<62 && n != -1<<62 {
			t.Errorf("AddDays(%d) = %s, want none", n*31, got)
		}
	}
	if got := DaysBetween("1900-01-01", "2200-12-31"); got != 109937 { // 301 years, 72 of them leap
		t.Errorf("days from first to last date = %d, want 109937", got)
	}
}

// anyDate draws a day that a Date can hold.
func anyDate() *rapid.Generator[Date] {
	return rapid.Custom(func(t *rapid.T) Date {
		return Date("1900-01-01").AddDays(rapid.IntRange(0, 109937).Draw(t, "day"))
	})
}

func TestMonthArithmeticHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := anyDate().Draw(t, "date")
		n := rapid.IntRange(-3700, 3700).Draw(t, "months")
		later := d.AddMonths(n)
		if later == "" {
			return
		}
		months := func(d Date) int { y, m, _ := split(d); return y*12 + m }
		if months(later)-months(d) != n {
			t.Fatalf("%s + %d months = %s: another month", d, n, later)
		}
		_, _, want := split(d)
		y, m, day := split(later)
		if last := daysIn(y, m); want > last {
			want = last
		}
		if day != want {
			t.Fatalf("%s + %d months = %s, want day %d", d, n, later, want)
		}
		if got := CompleteMonths(d, later); got != n {
			t.Fatalf("complete months %s to %s = %d, want %d", d, later, got, n)
		}
		if eve := later.AddDays(-1); eve != "" && CompleteMonths(d, eve) >= n {
			t.Fatalf("month %d from %s is complete on the eve %s of its last day", n, d, eve)
		}
	})
}

func TestMonthEnd(t *testing.T) {
	for d, want := range map[Date]Date{"2028-02-01": "2028-02-29", "2026-02-28": "2026-02-28", "2026-12-31": "2026-12-31", "2026-04-05": "2026-04-30", "": ""} {
		if got := d.MonthEnd(); got != want {
			t.Errorf("end of the month of %q: %s, want %s", d, got, want)
		}
	}
}

func TestDayArithmeticIsAdditive(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := anyDate().Draw(t, "a"), anyDate().Draw(t, "b")
		n := DaysBetween(a, b)
		if a.AddDays(n) != b || DaysBetween(b, a) != -n {
			t.Fatalf("%s + %d days = %s, want %s", a, n, a.AddDays(n), b)
		}
		if a.Before(b) != (n > 0) || a.After(b) != (n < 0) {
			t.Fatalf("order of %s and %s disagrees with %d days", a, b, n)
		}
	})
}

// split and daysIn are the calendar written out a second time, without package time.
func split(d Date) (y, m, day int) {
	_, _ = fmt.Sscanf(string(d), "%d-%d-%d", &y, &m, &day)
	return y, m, day
}

func daysIn(y, m int) int {
	if m == 2 && (y%4 == 0 && y%100 != 0 || y%400 == 0) {
		return 29
	}
	return []int{0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}[m]
}

func FuzzParseDate(f *testing.F) {
	for _, s := range []string{"2026-11-25", "2024-02-29", "2023-02-29", "1900-02-29", "2200-12-31", "2026-1-05", "", "2026-04-31"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		d, err := ParseDate(s)
		if want := calendarHas(s); (err == nil) != want {
			t.Fatalf("ParseDate(%q) = %v, want accepted %v", s, err, want)
		}
		if err == nil && string(d) != s {
			t.Fatalf("ParseDate(%q) = %q: changed", s, d)
		}
	})
}

func calendarHas(s string) bool {
	if len(s) != 10 || s[4] != '-' || s[7] != '-' || strings.Trim(s[:4]+s[5:7]+s[8:], "0123456789") != "" {
		return false
	}
	y, m, d := split(Date(s))
	return y >= 1900 && y <= 2200 && m >= 1 && m <= 12 && d >= 1 && d <= daysIn(y, m)
}

func TestDateTravels(t *testing.T) {
	type page struct{ On Date }
	for _, c := range []struct {
		date Date
		json string
	}{{"2026-11-25", `{"On":"2026-11-25"}`}, {"", `{"On":null}`}} {
		data, err := json.Marshal(page{c.date})
		if err != nil || string(data) != c.json {
			t.Errorf("%q as JSON is %s, %v; want %s", c.date, data, err, c.json)
		}
		back := page{"2000-01-01"}
		if err := json.Unmarshal(data, &back); err != nil || back.On != c.date {
			t.Errorf("%s reads as %q, %v", data, back.On, err)
		}
		stored, err := c.date.Value()
		scanned := Date("2000-01-01")
		if err2 := scanned.Scan(stored); err != nil || err2 != nil || scanned != c.date {
			t.Errorf("%q comes back from the database as %q", c.date, scanned)
		}
	}
	for _, bad := range []string{`""`, `20261125`, `"2026-02-30"`, `{}`, `true`} {
		d := Date("2026-01-01")
		if err := d.UnmarshalJSON([]byte(bad)); !fault.Is(err, fault.Invalid) || d != "2026-01-01" {
			t.Errorf("JSON %s gives %q, %v; want an invalid fault and no change", bad, d, err)
		}
	}
}

func TestDateScansWhatEnginesGive(t *testing.T) {
	chicago := zone(t, "America/Chicago")
	for _, src := range []any{"2026-11-25", []byte("2026-11-25"),
		time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC), time.Date(2026, 11, 25, 23, 0, 0, 0, chicago)} {
		var d Date
		if err := d.Scan(src); err != nil || d != "2026-11-25" {
			t.Errorf("Scan(%v) = %q, %v", src, d, err)
		}
	}
	for _, src := range []any{int64(20261125), 1.5, "25 Nov", []byte{0xff}, ""} {
		var d Date
		if err := d.Scan(src); err == nil || d != "" {
			t.Errorf("Scan(%v) = %q without a fault", src, d)
		}
	}
}

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return loc
}
