package api

import (
	"bytes"
	"encoding/csv"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"pawl/api/wire"
	"pawl/model/people"
	"pawl/model/sheets"
)

func (a asker) imports(query, file string, headers ...string) reply {
	a.Helper()
	if len(headers) == 0 {
		headers = []string{"Content-Type: text/csv"}
	}
	return a.send(http.MethodPost, Prefix+"/imports"+query, strings.NewReader(file), headers...)
}

const threeTools = "Kind,Maker,S/N,Location,Cost\r\n" +
	"impact wrench,Brindle,=A1,Bay 1/Cart,\"$1,234.50\"\r\n" +
	"ratchet,Brindle,-0012,Bay 1/Cart,10\r\n" +
	"jack,Brindle,'00,,\r\n"

func TestImportAndExport(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	var r wire.SheetReport
	m.imports("?dry_run=true&create_places=true&file=tools.csv", threeTools, "Content-Type: text/csv; charset=utf-8; header=present").want(200).into(&r)
	if !r.DryRun || r.Rows != 3 || r.Added != 3 || len(r.Places) != 1 || len(r.Tools) != 0 || len(r.Errors) != 0 {
		t.Errorf("a dry run: %+v", r)
	}
	var none wire.Tools
	if m.get("/tools").want(200).into(&none); len(none.Tools) != 0 {
		t.Errorf("a dry run left %v", none)
	}
	m.imports("?create_places=true", threeTools, "Content-Type: text/csv", "Idempotency-Key: one").want(200).into(&r)
	if r.Added != 3 || len(r.Tools) != 3 || r.Tools[0].Row != 2 || r.Tools[0].Number == "" {
		t.Errorf("%+v", r)
	}
	if again := m.imports("?create_places=true", threeTools, "Content-Type: text/csv", "Idempotency-Key: one").want(200); again.header("Idempotency-Replayed") != "true" {
		t.Error("a repeat is done again")
	}
	m.imports("", threeTools).want(200).into(&r)
	if r.Added != 0 || r.Unchanged != 3 || len(r.Said) == 0 {
		t.Errorf("again: %+v", r)
	}
	for query, want := range map[string]string{"?format=csv&raw=1": "=A1 -0012 '00", "?format=csv": "'=A1 '-0012 ''00", "?format=csv&bom=1&raw=0": "'=A1 '-0012 ''00"} {
		got := m.get("/tools/export" + query).want(200)
		text := strings.TrimPrefix(got.Body.String(), "\ufeff")
		if (len(text) != got.Body.Len()) != strings.Contains(query, "bom") {
			t.Errorf("%s: byte order mark", query)
		}
		rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
		if err != nil || len(rows) != 4 {
			t.Fatalf("%v %q", err, rows)
		}
		if at := 5; rows[1][at]+" "+rows[2][at]+" "+rows[3][at] != want {
			t.Errorf("%s: %q, want %s", query, rows, want)
		}
		if got.header("Content-Type") != "text/csv; charset=utf-8; header=present" || got.header("Content-Disposition") != `attachment; filename="tools.csv"` {
			t.Errorf("%v", got.Header())
		}
	}
	var tools struct{ Tools []map[string]*string }
	if m.get("/tools/export", "Accept: application/json").want(200).into(&tools); len(tools.Tools) != 3 || *tools.Tools[0]["price"] != "1234.50" || tools.Tools[2]["price"] != nil {
		t.Errorf("%v", tools)
	}
	m.send(http.MethodHead, Prefix+"/tools/export?format=csv", nil).want(200)
	if p := m.get("/tools/export?format=pdf&raw=x").refused(422); len(p.Errors) != 2 {
		t.Errorf("%+v", p)
	}
}

func TestXLSXBothWays(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	m.imports("?create_places=true", threeTools).want(200)
	file := m.get("/tools/export?format=xlsx").want(200).Body.String()
	if byAccept := m.get("/tools/export", "Accept: "+xlsxType).want(200); byAccept.header("Content-Type") != xlsxType {
		t.Errorf("by Accept it is a %s", byAccept.header("Content-Type"))
	}
	book, err := excelize.OpenReader(strings.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	if cell, err := book.GetCellValue("Tools", "F2"); err != nil || cell != "=A1" {
		t.Errorf("F2 is %q, %v", cell, err)
	}
	if formula, err := book.GetCellFormula("Tools", "F2"); err != nil || formula != "" {
		t.Errorf("F2 has the formula %q, %v", formula, err)
	}
	var r wire.SheetReport
	m.imports("", file, "Content-Type: "+xlsxType).want(200).into(&r)
	if r.Unchanged != 3 || r.Added != 0 {
		t.Errorf("%+v", r)
	}
	other := openShop(t).manager()
	other.imports("?create_places=true", file, "Content-Type: "+xlsxType).want(200).into(&r)
	if r.Added != 3 || other.get("/tools/export?format=csv&raw=1").Body.String() != m.get("/tools/export?format=csv&raw=1").Body.String() {
		t.Errorf("into an empty shop: %+v", r)
	}
}

// Each value at fault is listed with the row and column that a person sees.
func TestImportRefuses(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	bad := "Kind,Serial,Purchase date,Owner\nwrench,A1,13/14/2024,\nwrench,A2,2024-01-02,Nobody\n"
	p := m.imports("", bad).refused(422)
	if len(p.Errors) != 2 || p.Errors[0].Row != 2 || p.Errors[0].Column != "Purchase date" || p.Errors[0].Value != "13/14/2024" || p.Errors[0].Code != "date" ||
		p.Errors[1].Row != 3 || p.Errors[1].Code != "owner" || p.Errors[1].Pointer != "#/rows/3/owner" {
		t.Errorf("%+v", p)
	}
	var r wire.SheetReport
	m.imports("?dry_run=true", bad).want(200).into(&r)
	if r.LeftOut != 2 || len(r.Errors) != 2 || r.Errors[0].Detail == "" {
		t.Errorf("%+v", r)
	}
	m.imports("?partial=true", bad+"wrench,A3,2024-01-02,\n").want(200).into(&r)
	if r.Added != 1 || r.LeftOut != 2 || len(r.Errors) != 2 {
		t.Errorf("%+v", r)
	}
	if p := m.imports("", "Kind,Color\nwrench,red\n").refused(422); len(p.Errors) != 1 || p.Errors[0].Column != "Color" {
		t.Errorf("%+v", p)
	}
	m.imports("?map="+url.QueryEscape("Color=notes"), "Kind,Color\nwrench,red\n").want(200)
	m.imports("?ignore=Color&map=What+is+it=kind", "What is it,Color\nhammer,red\n").want(200)
	for _, query := range []string{"?map=x", "?map==kind", "?map=a=nothing", "?century=1950", "?century=x", "?date_order=ymd", "?decimal=x", "?delimiter=x", "?on_duplicate=x", "?mapping=none", "?partial=1", "?sheet=x&guarded=2"} {
		m.imports(query, "Kind\nwrench\n").refused(422)
	}
	m.imports("", "PK", "Content-Type: "+xlsxType).refused(422)
	m.imports("", "Kind\n", "Content-Type: text/plain").refused(415)
	m.imports("", "Kind\n", "Content-Type: text/csv", "Content-Encoding: gzip").refused(415)
	if p := m.imports("", "Kind\n\"open\n").refused(422); len(p.Errors) != 1 || p.Errors[0].Row != 2 {
		t.Errorf("%+v", p)
	}
}

// A body that is too large is refused before it is read where it says so, and
// when it turns out so where it does not.
func TestImportOfTooMuch(t *testing.T) {
	s := openShop(t)
	read := &counted{r: bytes.NewReader(make([]byte, sheets.MaxBytes+1))}
	for _, length := range []int64{sheets.MaxBytes + 1, -1} {
		r, err := http.NewRequest(http.MethodPost, Prefix+"/imports", read)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", xlsxType)
		r.ContentLength = length
		if s.handler = New(s.Shop, Options{}); length > 0 {
			s.manager().sent(r).refused(413)
			if read.n != 0 {
				t.Errorf("%d bytes were read", read.n)
			}
			continue
		}
		s.manager().sent(r).refused(413)
	}
	s.handler = agreed.hold(t, New(s.Shop, Options{}))
	s.manager().imports("", "Kind\n"+strings.Repeat("wrench\n", sheets.MaxRows+1)).refused(413)
}

// Who may not see the money of a tool finds its columns empty.
func TestExportHidesMoney(t *testing.T) {
	s := openShop(t)
	m, a, b := s.manager(), s.person("Tech A", people.Technician), s.person("Tech B", people.Technician)
	m.imports("", "kind,serial,owner,price,bought,seller,notes\nwrench,S1,Tech A,289,2026-01-02,Counter sale,mine\n").want(200)
	for name, c := range map[string]struct {
		who  asker
		sees bool
	}{"the owner": {a, true}, "another": {b, false}, "at the computer": {m, true}} {
		for _, format := range []string{"csv", "json"} {
			text := c.who.get("/tools/export?format=" + format).want(200).Body.String()
			for _, hidden := range []string{"289", "2026-01-02", "Counter sale", "USD"} {
				if strings.Contains(text, hidden) != c.sees {
					t.Errorf("%s sees %s in %s: %v", name, hidden, format, !c.sees)
				}
			}
			if !strings.Contains(text, "mine") {
				t.Errorf("%s does not see the notes", name)
			}
		}
	}
	if p := b.imports("?on_duplicate=update", "serial,price\nS1,1\n").refused(422); p.Errors[0].Code != "forbidden" {
		t.Errorf("%+v", p)
	}
	b.imports("?create_places=true", "kind\nx\n").refused(403)
}

// A printed label is scanned and then the serial number of an imported tool: one
// request joins them.
func TestJoinBySerial(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	m.imports("", "kind,maker,serial,owner\nwrench,Brindle,KD-1,\nwrench,Brindle,KD 2,\njack,Brindle,77,\njack,Other,77,\nhammer,Brindle,H9,\n").want(200)
	own := s.person("Tech A", people.Technician)
	stranger := s.person("Tech B", people.Technician)
	theirs := aTool("KD408B219")
	theirs.Owner = new(string)
	*theirs.Owner = "Tech A"
	m.registered(theirs)
	var issued wire.Issued
	m.post("/numbers", wire.Issue{Count: 5}).want(http.StatusCreated).into(&issued)
	n := issued.Numbers
	m.post("/tools/000-05M/gone", wire.Gone{Why: "sold"}).want(http.StatusOK)

	var done wire.Done
	m.post("/numbers/"+url.PathEscape("HTTPS://TOOLS.EXAMPLE/T/"+n[0])+"/join", wire.JoinSerial{Serial: "kd1"}, "Idempotency-Key: scan-1").want(http.StatusOK).into(&done)
	if done.Number != n[0] || done.Kind != "wrench" {
		t.Errorf("joined: %+v", done)
	}
	if again := m.post("/numbers/"+url.PathEscape("HTTPS://TOOLS.EXAMPLE/T/"+n[0])+"/join", wire.JoinSerial{Serial: "kd1"}, "Idempotency-Key: scan-1").want(http.StatusOK); again.header("Idempotency-Replayed") != "true" {
		t.Error("a repeat is done again")
	}
	m.post("/numbers/"+n[1]+"/join", wire.JoinSerial{Serial: "77", Maker: "OTHER"}).want(http.StatusOK)
	for name, c := range map[string]struct {
		label  string
		in     wire.JoinSerial
		status int
	}{
		"that label is on it": {n[0], wire.JoinSerial{Serial: "KD-1"}, 409},
		"on another":          {n[0], wire.JoinSerial{Serial: "KD 2"}, 409},
		"two makers":          {n[2], wire.JoinSerial{Serial: "77"}, 409},
		"a tool that is gone": {n[2], wire.JoinSerial{Serial: "H9"}, 404},
		"no such serial":      {n[2], wire.JoinSerial{Serial: "KD"}, 404},
		"no such maker":       {n[2], wire.JoinSerial{Serial: "KD 2", Maker: "Other"}, 404},
		"no serial":           {n[2], wire.JoinSerial{}, 422},
		"no letter or digit":  {n[2], wire.JoinSerial{Serial: "--"}, 422},
		"never issued":        {"00E-KM5", wire.JoinSerial{Serial: "KD 2"}, 422},
		"no number":           {"x", wire.JoinSerial{Serial: "KD 2"}, 422},
	} {
		t.Run(name, func(t *testing.T) {
			m.post("/numbers/"+c.label+"/join", c.in).refused(c.status)
		})
	}
	stranger.post("/numbers/"+n[3]+"/join", wire.JoinSerial{Serial: "KD408B219"}).refused(http.StatusForbidden)
	own.post("/numbers/"+n[3]+"/join", wire.JoinSerial{Serial: "KD408B219"}).want(http.StatusOK)
}

// The JSON of an export is taken in again, into another shop too.
func TestJSONBothWays(t *testing.T) {
	m, other := openShop(t).manager(), openShop(t).manager()
	m.imports("?create_places=true", threeTools+"case,,,Bay 1/Cart,\r\n").want(200)
	m.post("/tools/000-04P/gone", wire.Gone{Why: "sold"}).want(http.StatusOK)
	file := m.get("/tools/export?format=json").want(200).Body.String()
	var r wire.SheetReport
	other.imports("?create_places=true&file=tools.json", file, "Content-Type: application/json").want(200).into(&r)
	if r.Added != 4 || len(r.Errors) != 0 {
		t.Errorf("%+v", r)
	}
	if again := other.get("/tools/export?format=json").want(200).Body.String(); again != file || !strings.Contains(file, `"gone":"sold"`) {
		t.Errorf("out again it is\n%s\nwas\n%s", again, file)
	}
	for text, status := range map[string]int{`{"tools":[{"kind":1}]}`: 422, `{"tools":[`: 422, `[]`: 422, "": 422, `{"tools":[]}`: 422} {
		other.imports("", text, "Content-Type: application/json").refused(status)
	}
}
