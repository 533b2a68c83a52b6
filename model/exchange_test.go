package model

import (
	"bytes"
	"encoding/csv"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
)

// sheetShop is a shop for tests of spreadsheets. It is verified at the end.
type sheetShop struct {
	*Shop
	testing.TB
	dir   string
	by    By
	mu    sync.Mutex
	began time.Time // when the last act or view did

	closed bool
}

func openSheetShop(t testing.TB) *sheetShop {
	t.Helper()
	return openSheetShopIn(t, t.TempDir())
}

func openSheetShopIn(t testing.TB, dir string) *sheetShop {
	t.Helper()
	s := newSheetShop(t, dir)
	t.Cleanup(func() { s.verifyAndClose() })
	return s
}

// newSheetShop opens one that its user closes.
func newSheetShop(t testing.TB, dir string) *sheetShop {
	t.Helper()
	now := time.Date(2026, 11, 2, 8, 0, 0, 0, time.UTC)
	s := &sheetShop{TB: t, dir: dir, by: By{Actor: Actor{Role: people.Manager, Via: people.ViaLocal}}}
	var err error
	s.Shop, err = Open(ctx, Options{Dir: dir, Program: "test", Chance: rand.NewChaCha8([32]byte{9}),
		Clock: func() time.Time {
			s.mu.Lock()
			defer s.mu.Unlock()
			s.began, now = time.Now(), now.Add(time.Millisecond)
			return now
		}})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func (s *sheetShop) verifyAndClose() {
	s.Helper()
	if s.closed {
		return
	}
	v, err := s.Verify(ctx, s.by, VerifyQuery{})
	if err != nil || len(v.Problems) > 0 {
		s.Errorf("the shop does not verify: %v %v", v.Problems, err)
	}
	if err := s.Close(); err != nil {
		s.Error(err)
	}
}

func (s *sheetShop) person(name string) {
	s.Helper()
	if _, err := s.AddPerson(ctx, s.by, NewPerson{Name: name, Role: "technician"}); err != nil {
		s.Fatal(err)
	}
}

// lines is the size of the ledger.
func (s *sheetShop) lines() int64 {
	s.Helper()
	v, err := s.Verify(ctx, s.by, VerifyQuery{})
	if err != nil {
		s.Fatal(err)
	}
	return v.Lines
}

func (s *sheetShop) imported(file string, o SheetOptions) SheetReport {
	s.Helper()
	r, err := s.Import(ctx, s.by, strings.NewReader(file), withFormat(o))
	if err != nil {
		s.Fatalf("%v\n%+v", err, fault.Of(err).Fields)
	}
	return r
}

func withFormat(o SheetOptions) SheetOptions {
	if o.Format == "" {
		o.Format = "csv"
	}
	return o
}

func (s *sheetShop) exported(o ExportOptions) string {
	s.Helper()
	var b bytes.Buffer
	if err := s.Export(ctx, s.by, &b, o); err != nil {
		s.Fatal(err)
	}
	return b.String()
}

// A row of cells, as RFC 4180 wants it.
func csvRow(cells ...string) string {
	for i, c := range cells {
		cells[i] = `"` + strings.ReplaceAll(c, `"`, `""`) + `"`
	}
	return strings.Join(cells, ",") + "\r\n"
}

// Serial numbers and texts that spreadsheets and formulas spoil.
var nastySerials = []string{"-0012", "=A1", "'00", "007", "1E5", "123456789012345678", "'=A1", "''00", "'-0012", "+49 1", "@home",
	"1.23E+11", "3-12", "TRUE", "#N/A", "a,b", `a"b`, "a;b", " pad ", "_x0041_", "É1", "1/2", "0x1F", "'", "-", "%00a"}

// Export and import give the same records both ways, for each format: the text
// of the reference is interfaces 4.1.
func TestNastySerialsSurviveBothWays(t *testing.T) {
	var file strings.Builder
	file.WriteString("kind,maker,serial,notes\r\n")
	want := 0
	for i, serial := range nastySerials {
		if strings.Trim(serial, "'-") == "" {
			continue // no letter or digit: no serial
		}
		file.WriteString(csvRow("wrench", fmt.Sprint("Maker ", i), serial, serial))
		want++
	}
	from := openSheetShop(t)
	raw := false
	if r := from.imported(file.String(), SheetOptions{Reading: register.Reading{Guarded: &raw}}); r.Added != want {
		t.Fatalf("%+v", r)
	}
	exact := from.exported(ExportOptions{Format: "csv", Raw: true})
	for _, serial := range []string{"-0012", "=A1", "'00", "007", "1E5", "123456789012345678", "'=A1"} {
		if !strings.Contains(exact, ","+serial+",") {
			t.Errorf("%s is not in the exact file", serial)
		}
	}
	guarded := from.exported(ExportOptions{Format: "csv"})
	for _, serial := range []string{"'-0012", "'=A1", "''00", "007", "''=A1"} {
		if !strings.Contains(guarded, ","+serial+",") {
			t.Errorf("%s is not in the guarded file", serial)
		}
	}
	for _, o := range []ExportOptions{{Format: "csv", Raw: true}, {Format: "csv"}, {Format: "csv", BOM: true}, {Format: "xlsx"}} {
		to := openSheetShop(t)
		if r := to.imported(from.exported(o), SheetOptions{Format: o.Format}); r.Added != want {
			t.Fatalf("%+v: %+v", o, r)
		}
		if again := to.exported(ExportOptions{Format: "csv", Raw: true}); again != exact {
			t.Errorf("%+v: out again it is\n%s\nwas\n%s", o, again, exact)
		}
		lines := to.lines()
		if r := to.imported(from.exported(o), SheetOptions{Format: o.Format}); r.Added+r.Updated != 0 || r.Unchanged != want || to.lines() != lines || len(r.Said) == 0 {
			t.Errorf("%+v: again %+v", o, r)
		}
	}
}

// sized gives the number of cases: quick unless PAWL_SIZE says otherwise.
func sized(quick, full int) int {
	if os.Getenv("PAWL_SIZE") == "full" {
		return full
	}
	return quick
}

// words are texts that people and spreadsheets write into cells.
var words = rapid.OneOf(
	rapid.SampledFrom(append([]string{"", "left side", "3/8\" drive", "a,b;c|d\te", "two\nlines", "=HYPERLINK(1)", "ÄÖÜ ß", "🔧 good", "NULL", "0", "  x  "}, nastySerials...)),
	rapid.StringOfN(rapid.SampledFrom([]rune("ab 01'=+-@\",;|._é")), 0, 12, -1))

// generated is a register as a CSV of keys; it is whatever of it is acceptable.
func generated(t *rapid.T) string {
	optional := func(name string, values ...string) string {
		return rapid.SampledFrom(append([]string{"", ""}, values...)).Draw(t, name)
	}
	file, given := csvRow(append([]string{}, register.Keys...)...), []string{}
	var rows []string
	for i := range rapid.IntRange(1, 8).Draw(t, "tools") {
		row := map[string]string{
			"kind": rapid.SampledFrom([]string{"impact wrench", "jack", "Meßuhr", "=kind"}).Draw(t, "kind"), "maker": optional("maker", "Brindle", "-Maker", "Brindle & Co."),
			"model": words.Draw(t, "model"), "serial": rapid.SampledFrom(append([]string{""}, nastySerials...)).Draw(t, "serial"), "lot": words.Draw(t, "lot"),
			"owner": optional("owner", "shop", "Tech A", "=Tech B"), "place": optional("place", "Bay 1", "Bay 1/Cart", "Cart", "-Van/'Box"), "usage": optional("usage", "daily", "rare"),
			"marking": optional("marking", "printed", "cast"), "pieces": optional("pieces", "a", "a;b*2", "x*3*1\ny", "p;q\n"), "bought": optional("bought", "2026-01-15", "1999-12-31"),
			"price": optional("price", "289", "0", "1234567.89"), "tax": optional("tax", "0.01"), "seller": words.Draw(t, "seller"), "bought_as": optional("bought_as", "new", "used"), "terms": optional("terms", "paid", "on account"),
			"owed": optional("owed", "12.5"), "owed_to": words.Draw(t, "owed_to"), "owed_on": optional("owed_on", "2026-02-01"), "warranty_months": optional("months", "24"),
			"warranty_from": optional("from", "2026-03-01", "2030-01-01"), "notes": words.Draw(t, "notes"),
		}
		if row["marking"] != "" {
			row["protection"], row["marking_where"] = optional("protection", "lacquer"), words.Draw(t, "where")
		}
		if rapid.Bool().Draw(t, "borrowed") {
			row["owner"], row["owner_outside"], row["deposit"], row["due_back"] = "", "+Neighbor", optional("deposit", "50"), optional("due", "2027-01-01")
			row["deposit_currency"] = optional("deposit_currency", "JPY")
		}
		if rapid.Bool().Draw(t, "numbered") {
			n, err := numbers.FromCounter(int64(40 + 3*i))
			other, err2 := numbers.FromCounter(int64(41 + 3*i))
			if err != nil || err2 != nil {
				t.Fatal(err, err2)
			}
			row["number"] = n.String()
			if rapid.Bool().Draw(t, "twice") {
				row["other_numbers"] = other.String()
			}
			given = append(given, row["number"])
		}
		row["wrong"] = optional("wrong", "dropped", "dropped: off the cart\n \n over two lines", "label gone\noverloaded: =1+1")
		if rapid.Bool().Draw(t, "gone") {
			row["gone"] = rapid.SampledFrom([]string{"sold", "exchanged", "traded in", "lost", "handed to its owner"}).Draw(t, "why")
			row["gone_on"], row["gone_note"] = optional("gone_on", "2026-05-06"), words.Draw(t, "gone_note")
		}
		row["currency"] = optional("currency", "EUR")
		// Another tool of the file by its number, whichever of the two comes first.
		if n := len(given); n > 0 && row["number"] != given[n-1] {
			row[rapid.SampledFrom([]string{"came_with", "exchanged_from"}).Draw(t, "link")] = rapid.SampledFrom(given).Draw(t, "linked")
		}
		cells := make([]string, len(register.Keys))
		for j, key := range register.Keys {
			cells[j] = row[key]
		}
		rows = append(rows, csvRow(cells...))
	}
	if rapid.Bool().Draw(t, "backwards") {
		slices.Reverse(rows)
	}
	return file + strings.Join(rows, "")
}

// Into an empty folder and out again gives identical records: over generated
// registers, 200 of them, or 10,000 at full size. Shops are kept from one case
// to the next and emptied.
func TestGeneratedRegistersSurvive(t *testing.T) {
	empty := t.TempDir()
	s := openSheetShopIn(t, empty)
	s.person("Tech A")
	s.person("=Tech B")
	s.verifyAndClose()
	s.closed = true
	was := flag.Lookup("rapid.checks").Value.String()
	defer flag.Set("rapid.checks", was)
	if err := flag.Set("rapid.checks", strconv.Itoa(sized(200, 10_000))); err != nil {
		t.Fatal(err)
	}
	formats := []ExportOptions{{Format: "csv", Raw: true}, {Format: "csv"}, {Format: "xlsx"}, {Format: "json"}}
	tools, gone, linked, reported := 0, 0, 0, 0
	rapid.Check(t, func(rt *rapid.T) {
		from, into := copyOf(t, empty), copyOf(t, empty)
		defer from.done()
		defer into.done()
		r := from.imported(generated(rt), SheetOptions{Partial: true, CreatePlaces: true})
		if tools += r.Added; r.Added == 0 {
			return
		}
		exact := from.exported(ExportOptions{Format: "csv", Raw: true})
		gone, linked, reported = gone+columnsHolding(rt, exact, "gone"), linked+columnsHolding(rt, exact, "came_with")+columnsHolding(rt, exact, "exchanged_from"), reported+columnsHolding(rt, exact, "wrong")
		o := rapid.SampledFrom(formats).Draw(rt, "format")
		file := from.exported(o)
		got := into.imported(file, SheetOptions{Format: o.Format, CreatePlaces: true})
		if again := into.exported(ExportOptions{Format: "csv", Raw: true}); got.Added != r.Added || again != exact {
			rt.Fatalf("%+v: out again it is\n%s\nwas\n%s", o, again, exact)
		}
		lines := into.size()
		if got := into.imported(file, SheetOptions{Format: o.Format, CreatePlaces: true}); got.Unchanged != r.Added || got.Added+got.Updated != 0 || into.size() != lines {
			rt.Fatalf("again: %+v", got)
		}
	})
	t.Logf("%d tools went round, %d of them gone, %d linked with another, %d with reports", tools, gone, linked, reported)
	least := []int{100, 20, 20, 20}
	if testing.Short() { // the property tries a fifth of its cases
		least = []int{20, 4, 1, 4}
	}
	if tools < least[0] || gone < least[1] || linked < least[2] || reported < least[3] {
		t.Error("too few went round to say anything")
	}
}

// holding counts the rows of a CSV that hold something in a column.
func columnsHolding(t *rapid.T, file, key string) (n int) {
	rows, err := csv.NewReader(strings.NewReader(file)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	at := slices.Index(rows[0], key)
	for _, row := range rows[1:] {
		if row[at] != "" {
			n++
		}
	}
	return n
}

// copyOf opens a copy of a shop's folder.
func copyOf(t *testing.T, dir string) *sheetShop {
	t.Helper()
	to, err := os.MkdirTemp("", "pawl")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.CopyFS(to, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	return newSheetShop(t, to)
}

// done takes a copy away again.
func (s *sheetShop) done() {
	if err := errors.Join(s.Close(), os.RemoveAll(s.dir)); err != nil {
		s.Error(err)
	}
}

// size is the number of lines in the ledger.
func (s *sheetShop) size() (n int64) {
	s.Helper()
	if err := s.db.Read(ctx, func(rx *store.Rx) (err error) { n, err = rx.Size(); return err }); err != nil {
		s.Fatal(err)
	}
	return n
}

func troubles(all []fault.Field) string {
	var out []string
	for _, f := range all {
		out = append(out, fmt.Sprintf("%d %s %s", f.Row, f.Column, f.Code))
	}
	return strings.Join(out, ", ")
}

// Duplicates within the file and against the store, by maker and serial number
// or by number (interfaces 5.9).
func TestDuplicates(t *testing.T) {
	const here = "number,kind,maker,serial,notes\n,wrench,Brindle,KD-1,old\n"
	for name, c := range map[string]struct {
		file, on string
		want     string // added updated unchanged skipped, or the errors
		notes    string // of the first tool
	}{
		"the same":                  {"kind,maker,serial,notes\nwrench,Brindle,KD-1,old\n", "", "0 0 1 0", "old"},
		"folded the same":           {"kind,maker,serial\nwrench,BRINDLE,KD-1\n", "", "2 serial duplicate", "old"},
		"says less":                 {"maker,serial\nBrindle,KD-1\n", "", "0 0 1 0", "old"},
		"an empty cell":             {"maker,serial,notes\nBrindle,KD-1,\n", "update", "0 0 1 0", "old"},
		"differs":                   {"maker,serial,notes\nBrindle,KD-1,new\n", "", "2 serial duplicate", "old"},
		"differs, skip":             {"maker,serial,notes\nBrindle,KD-1,new\n", "skip", "0 0 0 1", "old"},
		"differs, update":           {"maker,serial,notes\nBrindle,KD-1,new\n", "update", "0 1 0 0", "new"},
		"another maker":             {"kind,maker,serial\nwrench,Other,KD-1\n", "", "1 0 0 0", "old"},
		"by number":                 {"number,notes\n000-01Y,new\n", "update", "0 1 0 0", "new"},
		"another's number":          {"number,kind,maker,serial\n000-01Y,wrench,Brindle,KD-2\n", "update", "2 number duplicate", "old"},
		"twice in the file":         {"kind,maker,serial\nwrench,B,1\nwrench,B,1\n", "", "3 serial duplicate", "old"},
		"twice, skip":               {"kind,maker,serial,notes\nwrench,B,1,x\nwrench,B,1,y\n", "skip", "1 0 0 1", "old"},
		"twice, update":             {"kind,maker,serial,notes\nwrench,B,1,x\nwrench,B,1,y\n", "update", "1 1 0 0", "old"},
		"there and back":            {"maker,serial,notes\nBrindle,KD-1,new\nBrindle,KD-1,old\n", "update", "0 0 2 0", "old"},
		"no serial is no duplicate": {"kind\nwrench\nwrench\n", "", "2 0 0 0", "old"},
	} {
		t.Run(name, func(t *testing.T) {
			s := openSheetShop(t)
			s.imported(here, SheetOptions{})
			lines := s.size()
			r, err := s.Import(ctx, s.by, strings.NewReader(c.file), SheetOptions{Format: "csv", OnDuplicate: c.on})
			got := fmt.Sprint(r.Added, r.Updated, r.Unchanged, r.Skipped)
			if err != nil {
				got = troubles(fault.Of(err).Fields)
			}
			if got != c.want {
				t.Errorf("%s, want %s (%v)", got, c.want, err)
			}
			if changed := s.size() != lines; changed != (r.Added+r.Updated > 0) {
				t.Errorf("%d lines were added", s.size()-lines)
			}
			v, err := s.Tool(ctx, s.by, "000-01Y")
			if err != nil || v.Tool.Notes != c.notes {
				t.Errorf("the first tool says %q, %v", v.Tool.Notes, err)
			}
		})
	}
}

// Rows by which no tool can be known again are known by the file they came in.
func TestTheSameImportAgainChangesNothing(t *testing.T) {
	s := openSheetShop(t)
	const file = "kind,place\nhammer,\nhammer,\nsaw,Nowhere\n"
	if r := s.imported(file, SheetOptions{Partial: true}); r.Added != 2 || r.LeftOut != 1 || troubles(r.Errors) != "4 place place" {
		t.Fatalf("%+v", r)
	}
	lines := s.size()
	if r := s.imported(file, SheetOptions{Partial: true}); r.Added != 0 || r.Unchanged != 2 || r.LeftOut != 1 || s.size() != lines {
		t.Fatalf("again: %+v", r)
	}
	if _, err := s.AddPlace(ctx, s.by, "Nowhere"); err != nil {
		t.Fatal(err)
	}
	if r := s.imported(file, SheetOptions{}); r.Added != 1 || r.Unchanged != 2 {
		t.Fatalf("once the place is there: %+v", r)
	}
	lines = s.size()
	if r := s.imported(file, SheetOptions{}); r.Unchanged != 3 || s.size() != lines || len(r.Said) != 2 {
		t.Fatalf("at last: %+v", r)
	}
	if r := s.imported(file+"hammer,\n", SheetOptions{}); r.Added != 4 {
		t.Fatalf("another file is another: %+v", r)
	}
}

// A row that is wrong stops all of them, and everything that is wrong is said at
// once, up to a limit.
func TestAllOrNothingWithEveryErrorAtOnce(t *testing.T) {
	s := openSheetShop(t)
	lines := s.size()
	file := "kind,serial,owner,place,bought,price,usage,marking,warranty_months,pieces,number,terms,wrong,gone\n" +
		"wrench,A1,Nobody,Nowhere,13/14/2024,\"1,234\",often,glued,two,a*0,00E-KM6,later,broken,away\n,!!,,,2027-01-01,12.345,,,,,\nwrench,A2,,,,,,,,,\n"
	r, err := s.Import(ctx, s.by, strings.NewReader(file), SheetOptions{Format: "csv"})
	const want = "2 bought date, 2 price ambiguous, 2 warranty_months value, 2 pieces value, 2 number number, 2 owner owner, 2 place place, 2 usage value, 2 terms value, 2 marking value, 2 wrong value, 2 gone value, " +
		"3 bought future, 3 price ambiguous, 3 kind value, 3 serial value"
	if err == nil || troubles(fault.Of(err).Fields) != want || s.size() != lines {
		t.Errorf("%+v\n%s\nwant\n%s", r, troubles(fault.Of(err).Fields), want)
	}
	r, err = s.Import(ctx, s.by, strings.NewReader("kind,bought\n"+strings.Repeat("wrench,x\n", MaxTroubles+5)), SheetOptions{Format: "csv", DryRun: true})
	if err != nil || len(r.Errors) != MaxTroubles || r.More != 5 || r.LeftOut != MaxTroubles+5 {
		t.Errorf("%d errors, %d more, %v", len(r.Errors), r.More, err)
	}
}

// Numbers are drawn after all that were given out or are claimed; an issued one
// is claimed, a void or wild one refused.
func TestNumbersOfImportedTools(t *testing.T) {
	s := openSheetShop(t)
	issued, err := s.IssueNumbers(ctx, s.by, 2)
	if err != nil {
		t.Fatal(err)
	}
	far, err := numbers.FromCounter(50)
	if err != nil {
		t.Fatal(err)
	}
	r := s.imported("kind,number\nwrench,\njack,"+far.String()+"\nsaw,"+issued[1].String()+"\n", SheetOptions{})
	next, err := numbers.FromCounter(51)
	if err != nil || len(r.Tools) != 3 || r.Tools[0].Number != next || r.Tools[1].Number != far || r.Tools[2].Number != issued[1] {
		t.Errorf("%+v, %v", r.Tools, err)
	}
	wild, err := numbers.FromCounter(numbers.MaxCounter - 7)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Import(ctx, s.by, strings.NewReader("kind,number\nwrench,"+wild.String()+"\n"), SheetOptions{Format: "csv"}); troubles(fault.Of(err).Fields) != "2 number number" {
		t.Errorf("a wild number: %v", err)
	}
}

// A technician imports own tools and the shop's, and neither those of others nor
// what they cost.
func TestImportAsTechnician(t *testing.T) {
	s := openSheetShop(t)
	s.person("Tech A")
	s.person("Tech B")
	actor, err := s.ActorNamed(ctx, "Tech A")
	if err != nil {
		t.Fatal(err)
	}
	manager := s.by
	s.by = By{Actor: actor}
	if r := s.imported("kind,owner,serial,price\nwrench,Tech A,1,10\njack,shop,2,20\n", SheetOptions{}); r.Added != 2 {
		t.Errorf("%+v", r)
	}
	_, err = s.Import(ctx, s.by, strings.NewReader("kind,owner\nwrench,Tech B\n"), SheetOptions{Format: "csv"})
	if troubles(fault.Of(err).Fields) != "2 owner forbidden" {
		t.Errorf("another's: %v", err)
	}
	_, err = s.Import(ctx, s.by, strings.NewReader("serial,price\n2,21\n"), SheetOptions{Format: "csv", OnDuplicate: "update"})
	if f := fault.Of(err); len(f.Fields) != 1 || f.Fields[0].Code != "forbidden" {
		t.Errorf("what the shop's cost: %v", err)
	}
	if _, err = s.Import(ctx, s.by, strings.NewReader("kind\nx\n"), SheetOptions{Format: "csv", CreatePlaces: true}); !fault.Is(err, fault.Forbidden) {
		t.Errorf("places: %v", err)
	}
	if text := s.exported(ExportOptions{Format: "csv", Raw: true}); strings.Contains(text, "20.00") || !strings.Contains(text, "10.00") {
		t.Errorf("exported: %s", text)
	}
	s.by = manager
}

// A mapping is kept with the import that it was made for, and used again.
func TestMappingIsKept(t *testing.T) {
	s := openSheetShop(t)
	reading := register.Reading{Map: map[string]string{"Nr": "serial", "Sorte": "kind"}, Ignore: []string{"Farbe"}, DateOrder: "dmy"}
	s.imported("Nr;Sorte;Farbe;bought\n1;Hammer;rot;03/04/2024\n", SheetOptions{Reading: reading, SaveMapping: "Theirs"})
	r := s.imported("Sorte;Nr;Farbe;bought\nSäge;2;blau;05/04/2024\n", SheetOptions{Mapping: "theirs"})
	if r.Added != 1 || r.Columns[1].Key != "serial" {
		t.Errorf("%+v", r)
	}
	v, err := s.Tool(ctx, s.by, r.Tools[0].Number.String())
	if err != nil || v.Tool.Bought != "2024-04-05" || v.Tool.Serial != "2" {
		t.Errorf("%+v, %v", v.Tool, err)
	}
	if _, err := s.Import(ctx, s.by, strings.NewReader("kind\nx\n"), SheetOptions{Format: "csv", Mapping: "none"}); !fault.Is(err, fault.Invalid) {
		t.Errorf("no such mapping: %v", err)
	}
}

// What changes between the plan and the act is seen: two imports of the same
// new tools at once leave one of each.
func TestImportsThatMeet(t *testing.T) {
	s := openSheetShop(t)
	var file strings.Builder
	file.WriteString("kind,maker,serial\n")
	for i := range 200 {
		fmt.Fprintf(&file, "wrench,Brindle,K%d\n", i)
	}
	var all sync.WaitGroup
	added := make([]int, 4)
	for i := range added {
		all.Go(func() {
			r, err := s.Import(ctx, s.by, strings.NewReader(file.String()), SheetOptions{Format: "csv"})
			if err != nil {
				t.Error(err)
			}
			added[i] = r.Added
		})
	}
	all.Wait()
	if sum := added[0] + added[1] + added[2] + added[3]; sum != 200 {
		t.Errorf("added %v", added)
	}
}

// A tool that was photographed and not yet typed has no kind; an export of ours
// takes it along all the same, and no other file makes one.
func TestUntypedToolGoesRound(t *testing.T) {
	from, into := openSheetShop(t), openSheetShop(t)
	from.imported("kind,number,notes\nwrench,000-01Y,x\n", SheetOptions{})
	_, err := store.Write(ctx, from.db, store.Act{Verb: "test", Actor: "shop via local"}, func(tx *store.Tx) (bool, error) {
		n, err := numbers.ParseNumber("000-01Y")
		if err != nil {
			return false, err
		}
		row, _, err := tx.Number(n)
		if err != nil {
			return false, err
		}
		tool, _, err := store.Change[register.Tool](tx, row.Tool)
		tool.Kind = ""
		return true, errors.Join(err, store.Put(tx, &tool))
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range []ExportOptions{{Format: "csv", Raw: true}, {Format: "csv"}, {Format: "xlsx"}} {
		file := from.exported(o)
		into.imported(file, SheetOptions{Format: o.Format})
		if out := into.exported(o); o.Format == "csv" && out != file {
			t.Errorf("%s\nwas\n%s", out, file)
		}
	}
	if _, err := into.Import(ctx, into.by, strings.NewReader("maker,serial\nBrindle,1\n"), SheetOptions{Format: "csv"}); troubles(fault.Of(err).Fields) != "2  value" {
		t.Errorf("a row without a kind: %v", err)
	}
}
