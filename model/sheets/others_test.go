package sheets

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pawl/model/fault"
	"pawl/model/needs"
)

// openpyxl finds a Python that has openpyxl (Debian: python3-openpyxl), a reader
// and writer of XLSX that shares nothing with ours.
func openpyxl(t *testing.T) string {
	t.Helper()
	for _, python := range []string{"python3", "/usr/bin/python3"} {
		if exec.Command(python, "-c", "import openpyxl").Run() == nil {
			return python
		}
	}
	needs.Missing(t, "openpyxl is not installed (Debian: python3-openpyxl): XLSX is not checked against another program")
	return ""
}

// python runs a script with a file to read or write and takes its JSON.
func python(t *testing.T, script, file string, out any) {
	t.Helper()
	command := exec.Command(openpyxl(t), "-c", script, file)
	var said bytes.Buffer
	command.Stderr = &said
	printed, err := command.Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, said.String())
	}
	if out != nil {
		if err := json.Unmarshal(printed, out); err != nil {
			t.Fatalf("%v\n%s", err, printed)
		}
	}
}

const writeOthers = `
import sys, datetime, openpyxl
from openpyxl.utils.datetime import CALENDAR_MAC_1904
book = openpyxl.Workbook()
sheet = book.active
sheet.title = "Notes"
sheet.append(["nothing here"])
sheet = book.create_sheet("Tools")
sheet.append(["kind", "serial", "bought", "price", "notes"])
rows = [
  ["wrench", "-0012", datetime.date(2023, 3, 15), 1234.5, "two\nlines"],
  ["jack", "007", datetime.datetime(2000, 1, 1, 12, 0), 289, None],
  ["Me\u00dfuhr \U0001f527", "1E5", None, 0.1, "a;b,\"c\""],
  [None, None, None, None, None],
  ["caliper", "123456789012345678", None, None, True],
  ["gauge", 12345, "2024-01-31", None, "=not a formula"],
]
for row in rows:
  sheet.append(row)
sheet["E7"].data_type = "s"
sheet["B9"] = "=CONCATENATE(\"A\",1)"
sheet["A9"] = "punch"
book.save(sys.argv[1])
`

// What another program writes is read cell by cell, as it keeps it: texts as
// they are, days as their numbers (ECMA-376 part 1, 18.17.4.1: 45000 is
// 2023-03-15, 36526 is 2000-01-01), a formula that nobody has worked out as
// nothing, which TestReadXLSXTellsCellsApart has told beside it.
func TestReadXLSXOfOpenpyxl(t *testing.T) {
	file := filepath.Join(t.TempDir(), "theirs.xlsx")
	python(t, writeOthers, file, nil)
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	rows, warnings, err := all(ReadXLSX(bytes.NewReader(raw), Options{Sheet: "Tools"}))
	want := []string{
		"1: kind|serial|bought|price|notes",
		"2: wrench|-0012|45000|1234.5|two\nlines",
		"3: jack|007|36526.5|289",
		"4: Meßuhr 🔧|1E5||0.1|a;b,\"c\"",
		"6: caliper|123456789012345678|||TRUE",
		"7: gauge|12345|2024-01-31||=not a formula",
		"9: punch",
	}
	for i, row := range rows {
		rows[i] = strings.TrimRight(row, "|")
	}
	if err != nil || len(warnings) > 0 || !slices.Equal(rows, want) {
		t.Errorf("%q, %v, %v\nwant %q", rows, warnings, err, want)
	}
	if rows, _, err := all(ReadXLSX(bytes.NewReader(raw), Options{})); err != nil || !slices.Equal(rows, []string{"1: nothing here"}) {
		t.Errorf("the first sheet: %q, %v", rows, err)
	}
}

const readOurs = `
import sys, json, openpyxl
sheet = openpyxl.load_workbook(sys.argv[1])["Tools"]
print(json.dumps([[[c.value, c.data_type, c.number_format] for c in row] for row in sheet.iter_rows()]))
`

// What we write is text for another program, every character of it, in cells
// that are formatted as text. (A text like _x0041_ is left out: it is written with
// the escape of ECMA-376 part 1, 22.9.2.19, which openpyxl does not undo.)
func TestOurXLSXIsReadByOpenpyxl(t *testing.T) {
	want := [][]string{
		{"serial", "notes"},
		{"-0012", "=1+1"}, {"=A1", "'00"}, {"'00", "+49 1"}, {"007", "@home"}, {"1E5", "1.23E+11"},
		{"123456789012345678", "TRUE"}, {"é🔧", "two\nlines"}, {" pad ", "\ttab"}, {"a<b>&\"c\"", ""}, {"#N/A", "1/2"},
	}
	file := filepath.Join(t.TempDir(), "ours.xlsx")
	var out bytes.Buffer
	w, err := NewXLSX(&out, "Tools")
	for _, row := range want {
		if err == nil {
			err = w.Write(row)
		}
	}
	if err == nil {
		err = w.Close()
	}
	if err == nil {
		err = os.WriteFile(file, out.Bytes(), 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	var got [][][3]*string
	python(t, readOurs, file, &got)
	if len(got) != len(want) {
		t.Fatalf("%d rows, want %d", len(got), len(want))
	}
	for i, row := range got {
		for j, cell := range row {
			value := ""
			if cell[0] != nil {
				value = *cell[0]
			}
			if value != want[i][j] || want[i][j] != "" && *cell[1] != "s" || *cell[2] != "@" {
				t.Errorf("row %d, cell %d is %q of type %s, want the text %q", i+1, j+1, value, *cell[1], want[i][j])
			}
		}
	}
}

// In the columns that are named as amounts, plain decimals are numbers to another reader,
// with their decimals; all else in them, and every other column, is text.
func TestAmountsAreNumbers(t *testing.T) {
	var b bytes.Buffer
	w, err := NewXLSX(&b, "Inventory", 1, 2)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range [][]string{{"serial", "amount", "line"}, {"0012.50", "1234.50", "7"}, {"=1+1", "999999999999.99", "0012"}, {"5", "", "1e3"}, {"-5", "-5.00", "1.250"}} {
		if err := w.Write(row); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Write([]string{"", "1234567890123456"}); !fault.Is(err, fault.Invalid) {
		t.Errorf("16 figures: %v", err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "amounts.xlsx")
	if err := os.WriteFile(file, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	var got [][]any
	python(t, `
import sys, json, openpyxl
sheet = openpyxl.load_workbook(sys.argv[1]).worksheets[0]
print(json.dumps([[[c.value, c.number_format] if not isinstance(c.value, str) else c.value for c in row] for row in sheet.iter_rows()]))
`, file, &got)
	want := `[[serial amount line] [0012.50 [1234.5 0.00] [7 0]] [=1+1 [9.9999999999999e+11 0.00] [12 0]] [5  1e3] [-5 -5.00 [1.25 0.000]]]`
	if text := fmt.Sprint(got); text != want {
		t.Errorf("%s\nwant %s", text, want)
	}
}
