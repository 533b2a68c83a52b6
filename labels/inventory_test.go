package labels

import (
	"bytes"
	"fmt"
	"io"
	"math/big"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/needs"
	"pawl/model/sheets"
)

func cells(t testing.TB, r *sheets.Reader, err error) (rows [][]string) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	for {
		row, err := r.Next()
		if err == io.EOF {
			return rows
		}
		if err != nil {
			t.Fatal(err)
		}
		rows = append(rows, row.Cells)
	}
}

// openpyxl reads what was written as numbers and texts, not as formulas.
const openpyxl = `
import sys, openpyxl
book = openpyxl.load_workbook(sys.argv[1])
sheet = book.worksheets[0]
for row in sheet.iter_rows():
    print("\t".join(f"{type(c.value).__name__}:{'' if c.value is None else c.value}:{c.data_type}" for c in row))
`

// pythonWithOpenpyxl finds one that has it; without it the test is skipped, in CI it fails.
func pythonWithOpenpyxl(t *testing.T) string {
	t.Helper()
	for _, python := range []string{"/usr/bin/python3", "python3"} {
		if exec.Command(python, "-c", "import openpyxl").Run() == nil {
			return python
		}
	}
	needs.Missing(t, "openpyxl is not installed (Debian: python3-openpyxl)")
	return ""
}

// The inventory as XLSX and CSV has the same words and amounts; amounts are numbers,
// dates ISO texts, and nothing is a formula. Our own reader and openpyxl agree.
func TestInventory(t *testing.T) {
	s := theft("letter")
	s.Lines[2].Maker = "=HYPERLINK(\"x\")"
	s.Lines[2].Owner, s.Lines[2].LeftBehind, s.Lines[2].Notes = "+1", "-2", "@sum\r\nnext"
	var asXLSX, again, asCSV bytes.Buffer
	if err := InventoryXLSX(&asXLSX, s); err != nil {
		t.Fatal(err)
	}
	if err := InventoryXLSX(&again, s); err != nil || !bytes.Equal(asXLSX.Bytes(), again.Bytes()) {
		t.Errorf("written again, it is another file: %v", err)
	}
	if err := InventoryCSV(&asCSV, s); err != nil {
		t.Fatal(err)
	}
	r, err := sheets.ReadXLSX(bytes.NewReader(asXLSX.Bytes()), sheets.Options{})
	fromXLSX := cells(t, r, err)
	r, err = sheets.ReadCSV(bytes.NewReader(asCSV.Bytes()), sheets.Options{})
	fromCSV := cells(t, r, err)
	if len(fromCSV) != 6 || len(fromXLSX) != 6 {
		t.Fatalf("%d and %d rows, want a head, 4 lines and a total", len(fromXLSX), len(fromCSV))
	}
	column := func(title string) int { return slices.Index(fromCSV[0], title) }
	for i, row := range fromCSV {
		for k, cell := range row {
			x := ""
			if k < len(fromXLSX[i]) {
				x = fromXLSX[i][k]
			}
			if cell = sheets.Unguard(cell); cell != x && !sameAmount(cell, x) {
				t.Errorf("row %d, %s: CSV %q, XLSX %q", i+1, fromCSV[0][k], cell, x)
			}
		}
	}
	for title, want := range map[string]string{"line": "1", "quantity": "1", "description": "impact wrench, Brindle BX-900", "serial as read": "KD4[?]8B217", "serial normalized": "KD4[?]8B217",
		"owner's number": "GLG-0417", "date acquired": "2021-03-15", "price before tax": "599.00", "receipt": "P4 receipt", "age": "5 years 8 months on 2026-11-23", "replacement cost": "649.00",
		"replacement cost is from": "quote, Gannet Tool Counter, 2026-11-25", "amount claimed": "649.00", "currency": "USD", "owner": "Gull Lane Garage", "condition before the loss": "good, 2026-10-30"} {
		if got := fromCSV[1][column(title)]; got != want {
			t.Errorf("%s: %q, want %q", title, got, want)
		}
	}
	if got := fromCSV[5]; got[column("replacement cost")] != "4059.00" || got[column("amount claimed")] != "649.00" || got[column("tax")] != "49.42" || got[column("line")] != "" {
		t.Errorf("the total is %q", got)
	}
	if column("actual cash value") >= 0 || column("market value") >= 0 {
		t.Error("values that nobody asked for have columns")
	}
	if files := fromCSV[1][column("files in the annex")]; !strings.HasPrefix(files, "P3 photos/P3.jpg sha256:") {
		t.Errorf("files: %q", files)
	}
	readByOpenpyxl(t, asXLSX.Bytes(), fromCSV)
}

func sameAmount(a, b string) bool {
	x, ok := new(big.Rat).SetString(a)
	y, also := new(big.Rat).SetString(b)
	return ok && also && x.Cmp(y) == 0
}

func readByOpenpyxl(t *testing.T, file []byte, want [][]string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "inventory.xlsx")
	if err := os.WriteFile(path, file, 0o600); err != nil {
		t.Fatal(err)
	}
	rows := strings.Split(strings.TrimRight(outputOf(t, pythonWithOpenpyxl(t), "-c", openpyxl, path), "\n"), "\n")
	if len(rows) != len(want) {
		t.Fatalf("openpyxl reads %d rows, want %d", len(rows), len(want))
	}
	amounts := []string{"line", "supplement", "price before tax", "tax", "money owed on it", "replacement cost", "amount claimed"}
	for i, row := range rows {
		for k, cell := range strings.Split(row, "\t") {
			kind, rest, _ := strings.Cut(cell, ":")
			value := rest[:strings.LastIndex(rest, ":")]
			text := sheets.Unguard(want[i][k])
			number := i > 0 && slices.Contains(amounts, want[0][k]) && text != ""
			switch {
			case strings.HasSuffix(cell, ":f"):
				t.Errorf("row %d, %s is a formula: %q", i+1, want[0][k], cell)
			case number && (kind != "int" && kind != "float" || !sameAmount(value, text)):
				t.Errorf("row %d, %s: %s, want the number %s", i+1, want[0][k], cell, text)
			case !number && value != text:
				t.Errorf("row %d, %s: %q, want %q", i+1, want[0][k], value, text)
			}
		}
	}
}

// The columns that are asked for are there.
func TestInventoryHoldsWhatWasAdded(t *testing.T) {
	s := theft("letter")
	s.Added = []claims.Addition{claims.AddActualCash, claims.AddMarket}
	s.Lines[0].ActualCash, s.Lines[0].Working, s.Lines[0].Market = cents(28123), "649.00 x 52/120", cents(20000)
	s.Lines[0].MarketBy, s.Lines[0].MarketDated = "Gannet used tools", "2026-11-20"
	var b bytes.Buffer
	if err := InventoryCSV(&b, s); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{",actual cash value,arithmetic of the actual cash value,market value,market value is from,", `,281.23,649.00 x 52/120,200.00,"Gannet used tools, 2026-11-20",`} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("%q is not in %q", want, b.String())
		}
	}
}

func TestInventoryRefuses(t *testing.T) {
	s := theft("letter")
	s.Lines[0].Price = cents(1_000_000_000_000_000)
	if err := InventoryXLSX(io.Discard, s); err == nil || !strings.Contains(err.Error(), "15") {
		t.Errorf("more figures than a spreadsheet keeps: %v", err)
	}
	s.Currency = "?"
	for _, write := range []func(io.Writer, claims.Statement) error{InventoryXLSX, InventoryCSV} {
		if write(io.Discard, s) == nil {
			t.Error("a statement that is none is written")
		}
	}
}

// anyClaim draws a statement of some lines with amounts or without.
func anyClaim(t *rapid.T) claims.Statement {
	s := theft("letter")
	s.Lines, s.Files = nil, nil
	s.Currency = rapid.SampledFrom([]string{"USD", "EUR", "JPY", "KWD"}).Draw(t, "currency")
	if rapid.Bool().Draw(t, "added") {
		s.Added = []claims.Addition{claims.AddActualCash, claims.AddMarket}
	}
	amount := rapid.OneOf(rapid.Int64Range(0, 99), rapid.Int64Range(0, 1_000_000), rapid.Int64Range(0, 999_999_999_999))
	maybe := func(name string) *int64 {
		if rapid.IntRange(0, 3).Draw(t, name+" known") == 0 {
			return nil
		}
		n := amount.Draw(t, name)
		return &n
	}
	words := rapid.SampledFrom([]string{"Brindle", "=1+1", "a,b\"c\nd", "-5", "12.50", "Tarn ümlaut", ""})
	for i := range rapid.IntRange(0, 8).Draw(t, "lines") {
		l := claims.Line{Line: int64(3*i + 1), Money: true, Supplement: 1, Number: "00E-KM5", Kind: words.Draw(t, "kind"), Maker: words.Draw(t, "maker"), Owner: words.Draw(t, "owner"), Serial: words.Draw(t, "serial"),
			Price: maybe("price"), Tax: maybe("tax"), Owed: maybe("owed"), Replacement: maybe("replacement"), Claimed: maybe("claimed"), Bought: dates.Date("2021-03-15")}
		if s.Added != nil {
			l.ActualCash, l.Market = maybe("actual cash"), maybe("market")
		}
		s.Lines = append(s.Lines, l)
	}
	return s
}

// sums adds the printed lines of an inventory up, without what reckoned them.
func sums(rows [][]string, title string) (sum *big.Rat, total string) {
	sum = new(big.Rat)
	k := slices.Index(rows[0], title)
	for _, row := range rows[1 : len(rows)-1] {
		if k >= 0 && row[k] != "" {
			n, ok := new(big.Rat).SetString(row[k])
			if !ok {
				return nil, row[k]
			}
			sum.Add(sum, n)
		}
	}
	if k < 0 {
		return sum, ""
	}
	return sum, rows[len(rows)-1][k]
}

var printedTotal = regexp.MustCompile(`(Replacement cost|Actual cash value|Market value|Amount claimed) (?:([\d.]+) [A-Z]{3}, the sum of|not recorded or shared on any line)`)

// TestTotalsAreThePrintedLines: in generated claims each total is the sum of the lines as
// they are printed, to the cent: read back from the inventory of all, and from the
// document of some. Claims are 100,000 at full size.
func TestTotalsAreThePrintedLines(t *testing.T) {
	total, printed := 300, 4
	switch os.Getenv("PAWL_SIZE") {
	case "ci":
		total, printed = 2_000, 8
	case "full":
		total, printed = 100_000, 200
	}
	generator := rapid.Custom(anyClaim)
	for i := range total {
		s := generator.Example(i)
		var b bytes.Buffer
		if err := InventoryCSV(&b, s); err != nil {
			t.Fatalf("claim %d: %v", i, err)
		}
		r, err := sheets.ReadCSV(&b, sheets.Options{})
		rows := cells(t, r, err)
		if len(rows) != len(s.Lines)+2 {
			t.Fatalf("claim %d: %d rows of %d lines", i, len(rows), len(s.Lines))
		}
		want := map[string]string{}
		for title, heading := range map[string]string{"price before tax": "", "tax": "", "money owed on it": "", "replacement cost": "Replacement cost", "actual cash value": "Actual cash value",
			"market value": "Market value", "amount claimed": "Amount claimed"} {
			sum, said := sums(rows, title)
			if sum == nil || said != "" && !sameAmount(said, sum.RatString()) || said == "" && sum.Sign() != 0 {
				t.Fatalf("claim %d, %s: the lines add up to %v, the total is %q", i, title, sum, said)
			}
			want[heading] = said
		}
		if i < printed {
			documentTotals(t, s, want)
		}
	}
}

// documentTotals holds the totals of the document against those of the inventory, and
// against the amounts that its lines print.
func documentTotals(t *testing.T, s claims.Statement, want map[string]string) {
	t.Helper()
	text, _ := pdfText(t, claimParts(t, s, smallPhotos(), 0)[0].Bytes())
	found := 0
	for _, m := range printedTotal.FindAllStringSubmatch(text, -1) {
		found++
		if m[2] != want[m[1]] {
			t.Errorf("the document says %s %q, the inventory %q", m[1], m[2], want[m[1]])
		}
	}
	if least := 2 + 2*min(1, len(s.Added)); found != least {
		t.Errorf("%d totals, want %d, in %q", found, least, text)
	}
	_, list, _ := strings.Cut(text, "The list")
	sum := new(big.Rat)
	for _, m := range regexp.MustCompile(fmt.Sprintf(`Amount claimed ([\d.]+) %s`, s.Currency)).FindAllStringSubmatch(list, -1) {
		n, _ := new(big.Rat).SetString(m[1])
		sum.Add(sum, n)
	}
	if said := want["Amount claimed"]; said != "" && !sameAmount(said, sum.RatString()) || said == "" && sum.Sign() != 0 {
		t.Errorf("the printed lines add up to %s, the total says %q", sum.FloatString(4), said)
	}
}
