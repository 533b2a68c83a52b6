package sheets

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"io"
	"maps"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

// byHand makes an XLSX of parts, as another program would: ECMA-376 part 1,
// 12.3 and 18.3, and part 2.
func byHand(t testing.TB, parts map[string]string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, name := range slices.Sorted(maps.Keys(parts)) {
		w, err := z.Create(name)
		if err == nil {
			_, err = w.Write([]byte(parts[name]))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// theirs is a workbook with shared and inline texts, numbers, a day, a formula,
// a gap of rows, and a second sheet.
func theirs(t testing.TB) map[string]string {
	t.Helper()
	const ns = `xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"`
	return map[string]string{
		"[Content_Types].xml": `<?xml version="1.0" encoding="UTF-8"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">
<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/>
<Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>
<Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/>
<Override PartName="/xl/worksheets/sheet2.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/>
<Override PartName="/xl/sharedStrings.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"/>
<Override PartName="/xl/styles.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.styles+xml"/></Types>`,
		"_rels/.rels": `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>`,
		"xl/workbook.xml": `<workbook ` + ns + ` xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets>
<sheet name="Tools" sheetId="1" r:id="rId1"/><sheet name="Other" sheetId="2" r:id="rId2"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">
<Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/>
<Relationship Id="rId2" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet2.xml"/>
<Relationship Id="rId3" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings" Target="sharedStrings.xml"/>
<Relationship Id="rId4" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/styles" Target="styles.xml"/></Relationships>`,
		"xl/sharedStrings.xml": `<sst ` + ns + ` count="2" uniqueCount="2"><si><t>kind</t></si><si><r><t>se</t></r><r><t>rial</t></r></si></sst>`,
		"xl/styles.xml": `<styleSheet ` + ns + `><fonts count="1"><font/></fonts><fills count="1"><fill/></fills><borders count="1"><border/></borders><cellStyleXfs count="1"><xf/></cellStyleXfs>
<cellXfs count="2"><xf/><xf numFmtId="14" applyNumberFormat="1"/></cellXfs></styleSheet>`,
		"xl/worksheets/sheet1.xml": `<worksheet ` + ns + `><sheetData>
<row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" t="s"><v>1</v></c><c r="C1" t="inlineStr"><is><t>bought</t></is></c><c r="D1" t="inlineStr"><is><t>price</t></is></c></row>
<row r="2"><c r="A2" t="inlineStr"><is><t>wrench</t></is></c><c r="B2"><v>123456789012345680</v></c><c r="C2" s="1"><v>45000</v></c><c r="D2"><v>1234.5599999999999</v></c></row>
<row r="5"><c r="A5" t="str"><f>"jack"</f><v>jack</v></c><c r="C5" s="1"><v>36526</v></c></row></sheetData></worksheet>`,
		"xl/worksheets/sheet2.xml": `<worksheet ` + ns + `><sheetData><row r="1"><c r="A1"><v>7</v></c></row></sheetData></worksheet>`,
	}
}

func TestReadXLSXOfAnotherProgram(t *testing.T) {
	parts := theirs(t)
	rows, _, err := all(ReadXLSX(bytes.NewReader(byHand(t, parts)), Options{}))
	want := []string{"1: kind|serial|bought|price", "2: wrench|123456789012345680|45000|1234.5599999999999", "5: jack||36526"}
	if err != nil || !slices.Equal(rows, want) {
		t.Errorf("%q, %v\nwant %q", rows, err, want)
	}
	if rows, _, err := all(ReadXLSX(bytes.NewReader(byHand(t, parts)), Options{Sheet: "Other"})); err != nil || !slices.Equal(rows, []string{"1: 7"}) {
		t.Errorf("the other sheet: %q, %v", rows, err)
	}
	if _, err := ReadXLSX(bytes.NewReader(byHand(t, parts)), Options{Sheet: "None"}); !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), "Tools, Other") {
		t.Errorf("no such sheet: %v", err)
	}
	parts["xl/workbook.xml"] = strings.Replace(parts["xl/workbook.xml"], "<sheets>", `<workbookPr date1904="1"/><sheets>`, 1)
	r, err := ReadXLSX(bytes.NewReader(byHand(t, parts)), Options{})
	if err != nil || !r.Date1904 {
		t.Errorf("days from 1904: %v, %v", r, err)
	}
}

// What the text of a cell does not tell is told: a formula whose result is not in the file, as
// in one that no spreadsheet has opened; an error; TRUE. The result of a formula may be an
// empty text.
func TestReadXLSXTellsCellsApart(t *testing.T) {
	parts := theirs(t)
	for name, c := range map[string]struct{ cell, want string }{
		"no result":             {`<c r="B2"><f>"KD"&amp;"408"</f><v></v></c>`, "2: wrench|?formula||1"},
		"no result at all":      {`<c r="B2"><f>A1</f></c>`, "2: wrench|?formula||1"},
		"no result of a number": {`<c r="B2" t="n"><f>1+1</f><v/></c>`, "2: wrench|?formula||1"},
		"an empty text":         {`<c r="B2" t="str"><f>IF(1,"")</f><v></v></c>`, "2: wrench|||1"},
		"a result":              {`<c r="B2"><f>1+1</f><v>2</v></c>`, "2: wrench|2||1"},
		"an error":              {`<c r="B2" t="e"><f>1/0</f><v>#DIV/0!</v></c>`, "2: wrench|?error #DIV/0!||1"},
		"true":                  {`<c r="B2" t="b"><v>1</v></c>`, "2: wrench|TRUE||1"},
		"false":                 {`<c r="B2" t="b"><v>0</v></c>`, "2: wrench|FALSE||1"},
		"in a prefix":           {`<x:c xmlns:x="http://schemas.openxmlformats.org/spreadsheetml/2006/main" r="B2"><x:f>A1</x:f></x:c>`, "2: wrench|?formula||1"},
		"without references":    {`<c><f>A1</f></c>`, "2: wrench|?formula||1"},
	} {
		a := ` r="A2"`
		if name == "without references" {
			a = ""
		}
		parts["xl/worksheets/sheet1.xml"] = `<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>` + strings.Repeat(" ", 64<<10-60) + `<row r="1"><c r="A1" t="inlineStr"><is><t>kind</t></is></c></row>
<row r="2"><c` + a + ` t="inlineStr"><is><t>wrench</t></is></c>` + c.cell + `<c r="D2"><v>1</v></c></row><row r="3"><c r="A3"><f>A1</f></c></row></sheetData></worksheet>`
		r, err := ReadXLSX(bytes.NewReader(byHand(t, parts)), Options{Sheet: "Tools"})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		var got []string
		for {
			row, err := r.Next()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			for _, b := range row.Bad {
				row.Cells[b.Index] += strings.TrimSpace("?" + b.Code + " " + b.Value)
			}
			got = append(got, whole(row.Number)+": "+strings.Join(row.Cells, "|"))
		}
		if want := []string{"1: kind", c.want, "3: ?formula"}; !slices.Equal(got, want) {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
		r.Close()
	}
}

// A cell that was drawn over several rows holds its value in the first; in the others it is
// told and not taken for nothing. One that is empty, or lies in one row, says nothing, and a
// row in which nothing else stands is none.
func TestReadXLSXTellsMergedCells(t *testing.T) {
	parts := theirs(t)
	parts["xl/worksheets/sheet1.xml"] = strings.Replace(parts["xl/worksheets/sheet1.xml"], "</sheetData>", `</sheetData><mergeCells count="3"><mergeCell ref="B2:B5"/><mergeCell ref="E2:E5"/><mergeCell ref="C2:D2"/></mergeCells>`, 1)
	r, err := ReadXLSX(bytes.NewReader(byHand(t, parts)), Options{Sheet: "Tools"})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	var got []string
	for {
		row, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		for _, b := range row.Bad {
			got = append(got, whole(row.Number)+"/"+whole(b.Index)+" "+b.Code+" "+b.Value)
		}
	}
	if want := []string{"5/1 merged 123456789012345680"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// Which sheet was read is said where there are others, and a sheet that nobody sees is not
// the first.
func TestReadXLSXSaysWhichSheet(t *testing.T) {
	const tools, other = `name="Tools"`, `name="Other"`
	for name, c := range map[string]struct {
		hide  []string // of the sheets
		sheet string
		first string
		said  string
	}{
		"the first":     {nil, "", "1: kind|serial|bought|price", "the sheet Tools was read, and no other; there is also Other (--sheet NAME reads another)"},
		"as asked":      {nil, "Other", "1: 7", ""},
		"one is hidden": {[]string{tools}, "", "1: 7", "the sheet Other was read, and no other; there is also Tools, which is hidden (--sheet NAME reads another)"},
		"all are":       {[]string{tools, other}, "", "1: kind|serial|bought|price", "the sheet Tools was read, and no other; there is also Other, which is hidden (--sheet NAME reads another)"},
	} {
		parts := theirs(t)
		for _, of := range c.hide {
			parts["xl/workbook.xml"] = strings.Replace(parts["xl/workbook.xml"], of, of+` state="hidden"`, 1)
		}
		rows, said, err := all(ReadXLSX(bytes.NewReader(byHand(t, parts)), Options{Sheet: c.sheet}))
		if err != nil || rows[0] != c.first || strings.Join(said, "\n") != c.said {
			t.Errorf("%s: %q, %q, %v", name, rows, said, err)
		}
	}
	parts := theirs(t)
	parts["xl/worksheets/sheet2.xml"] = `<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData/></worksheet>`
	if _, said, err := all(ReadXLSX(bytes.NewReader(byHand(t, parts)), Options{})); err != nil || len(said) > 0 {
		t.Errorf("a sheet without anything: %q, %v", said, err)
	}
}

// A blank cell far to the right is none; one with something in it is told, with its row.
func TestFarCells(t *testing.T) {
	parts := theirs(t)
	for _, c := range []struct {
		value string
		wide  bool
	}{{" ", false}, {"x", true}} {
		parts["xl/worksheets/sheet1.xml"] = strings.Replace(theirs(t)["xl/worksheets/sheet1.xml"], `<c r="D2"><v>1234.5599999999999</v></c>`, `<c r="XFD2" t="inlineStr"><is><t xml:space="preserve">`+c.value+`</t></is></c>`, 1)
		_, _, err := all(ReadXLSX(bytes.NewReader(byHand(t, parts)), Options{}))
		if (err != nil) != c.wide || c.wide && !strings.Contains(err.Error(), "row 2: it has over 200 columns (delete what stands to the right") {
			t.Errorf("XLSX, %q: %v", c.value, err)
		}
		rows, _, err := all(ReadCSV(strings.NewReader("kind,serial"+strings.Repeat(",", 300)+"\nwrench,1"+strings.Repeat(",", 300)+c.value+"\n"), Options{}))
		if (err != nil) != c.wide || c.wide && !strings.Contains(err.Error(), "row 2: it has over 200 columns (delete what stands to the right") {
			t.Errorf("CSV, %q: %v, %q", c.value, err, rows)
		}
	}
}

// What is too much is refused by what the file says of itself, before anything
// is unpacked (ASVS 5.0 5.2.3).
func TestReadXLSXRefuses(t *testing.T) {
	parts := theirs(t)
	many := theirs(t)
	for i := range maxEntries {
		many["xl/media/"+whole(i)] = ""
	}
	bomb := theirs(t)
	bomb["xl/bomb.xml"] = strings.Repeat(" ", maxUnpacked)
	wide := theirs(t)
	wide["xl/worksheets/sheet1.xml"] = strings.Replace(wide["xl/worksheets/sheet1.xml"], `r="D2"`, `r="XFD2"`, 1)
	far := theirs(t)
	far["xl/worksheets/sheet1.xml"] = strings.Replace(far["xl/worksheets/sheet1.xml"], `<row r="5">`, `<row r="1048576">`, 1)
	long := theirs(t)
	long["xl/worksheets/sheet1.xml"] = strings.Replace(long["xl/worksheets/sheet1.xml"], "wrench", strings.Repeat("x", MaxField+1), 1)
	delete(parts, "xl/workbook.xml")
	for name, c := range map[string]struct {
		file []byte
		kind fault.Kind
	}{
		"no ZIP":       {[]byte("kind,serial\n"), fault.Invalid},
		"nothing":      {nil, fault.Invalid},
		"half of it":   {byHand(t, theirs(t))[:900], fault.Invalid},
		"no workbook":  {byHand(t, parts), fault.Invalid},
		"many parts":   {byHand(t, many), fault.TooLarge},
		"a bomb":       {byHand(t, bomb), fault.TooLarge},
		"many columns": {byHand(t, wide), fault.Invalid},
		"a long cell":  {byHand(t, long), fault.Invalid},
		"far down":     {byHand(t, far), fault.TooLarge},
		"many bytes":   {make([]byte, MaxBytes+1), fault.TooLarge},
	} {
		if _, _, err := all(ReadXLSX(bytes.NewReader(c.file), Options{})); !fault.Is(err, c.kind) {
			t.Errorf("%s: %v, want %s", name, err, c.kind)
		}
	}
}

// sheetXML is as much of a sheet as tells its cells, read by encoding/xml.
type sheetXML struct {
	Rows []struct {
		Cells []struct {
			Ref     string  `xml:"r,attr"`
			Type    string  `xml:"t,attr"`
			Inline  string  `xml:"is>t"`
			Value   string  `xml:"v"`
			Formula *string `xml:"f"`
		} `xml:"c"`
	} `xml:"sheetData>row"`
}

// Every cell that is written is text and no formula, as another reader sees it.
func TestWriteXLSXIsTextForOthers(t *testing.T) {
	var b bytes.Buffer
	w, err := NewXLSX(&b, "Tools")
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"=A1", "-0012", "007", "1E5", "123456789012345678", "'00", " pad ", "two\nlines", "<&>"}
	for _, row := range [][]string{{"kind", "serial"}, want} {
		if err := w.Write(row); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil {
		t.Fatal(err)
	}
	f, err := z.Open("xl/worksheets/sheet1.xml")
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(f)
	if err != nil {
		t.Fatal(err)
	}
	var sheet sheetXML
	if err := xml.Unmarshal(text, &sheet); err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, c := range sheet.Rows[1].Cells {
		got = append(got, c.Inline)
		if c.Type != "inlineStr" || c.Formula != nil || c.Value != "" {
			t.Errorf("%s is a %q with value %q", c.Ref, c.Type, c.Value)
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestRowsSurviveXLSX(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cell := rapid.StringOf(rapid.SampledFrom([]rune("'=+-_x0041\n\t \"<&>aé🔧")))
		rows := rapid.SliceOfN(rapid.SliceOfN(cell, 3, 3), 1, 5).Draw(t, "rows")
		var b bytes.Buffer
		w, err := NewXLSX(&b, "Tools")
		if err != nil {
			t.Fatal(err)
		}
		var want []string
		for i, row := range rows {
			if err := w.Write(row); err != nil {
				t.Fatal(err)
			}
			if !blank(row) {
				want = append(want, strings.TrimRight(whole(i+1)+": "+strings.Join(row, "|"), "|"))
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		got, _, err := all(ReadXLSX(&b, Options{}))
		for i := range got {
			got[i] = strings.TrimRight(got[i], "|")
		}
		if err != nil || !slices.Equal(got, want) {
			t.Fatalf("read %q\nwant %q, %v", got, want, err)
		}
	})
}

// FuzzXLSX puts anything into the place of one part, or of the whole file: what
// cannot be read is a fault, and the limits hold.
func FuzzXLSX(f *testing.F) {
	names := []string{"", "xl/workbook.xml", "xl/sharedStrings.xml", "xl/worksheets/sheet1.xml", "xl/styles.xml", "[Content_Types].xml", "xl/_rels/workbook.xml.rels"}
	parts := theirs(f)
	for i, name := range names[1:] {
		f.Add(byte(i+1), []byte(parts[name]))
	}
	f.Add(byte(0), byHand(f, parts))
	f.Add(byte(3), []byte(`<worksheet><sheetData><row r="1048577"><c r="XFE1"/></row><row r="-1"/></sheetData></worksheet>`))
	f.Fuzz(func(t *testing.T, which byte, text []byte) {
		file := text
		if name := names[int(which)%len(names)]; name != "" {
			parts := theirs(t)
			parts[name] = string(text)
			file = byHand(t, parts)
		}
		r, err := ReadXLSX(bytes.NewReader(file), Options{})
		if err != nil {
			if fault.Of(err).Kind == fault.Internal {
				t.Fatal(err)
			}
			return
		}
		defer r.Close()
		last := 0
		for rows := 0; ; rows++ {
			row, err := r.Next()
			if err == io.EOF {
				return
			}
			if err != nil {
				if fault.Of(err).Kind == fault.Internal {
					t.Fatal(err)
				}
				return
			}
			if row.Number <= last || len(row.Cells) > MaxColumns || rows > MaxRows || blank(row.Cells) {
				t.Fatalf("row %d after %d, with %q", row.Number, last, row.Cells)
			}
			for _, c := range row.Cells {
				if len(c) > MaxField {
					t.Fatalf("a cell of %d bytes", len(c))
				}
			}
			last = row.Number
		}
	})
}
