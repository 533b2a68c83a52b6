package api

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"io"
	"io/fs"
	"mime/multipart"
	"net/http"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/xuri/excelize/v2"

	"pawl/api/wire"
	"pawl/model/evidence"
	"pawl/model/people"
	"pawl/model/sheets"
)

// tortureHeap is the most that the heap may grow by under any of these.
const tortureHeap = 256 << 20

// torment sends each request of a table. None may fail inside, each refusal must say
// what it is about, and memory stays below the bound over all of them.
func torment(t *testing.T, all []torture, send func(torture) reply) {
	t.Helper()
	grown := heapPeak(func() {
		for _, c := range all {
			r := send(c)
			if r.Code >= 500 || c.status != 0 && r.Code != c.status {
				t.Errorf("%s: %d, want %d\n%.300s", c.name, r.Code, c.status, r.Body)
			}
			if r.Code >= 400 {
				if p := r.refused(r.Code); len(p.Detail) < 10 || len(p.Detail) > 600 || strings.ContainsAny(p.Detail, "\r\x00") || !strings.Contains(p.Detail+said(p), c.names) {
					t.Errorf("%s: it is told %q %v, want %q in it", c.name, p.Detail, p.Errors, c.names)
				}
			}
		}
	})
	t.Logf("%d cases; the heap grew by %d MB at most", len(all), grown>>20)
	if grown > tortureHeap {
		t.Errorf("the heap grew by %d MB; the most is %d", grown>>20, tortureHeap>>20)
	}
}

// torture is one request that nobody sends in good faith.
type torture struct {
	name    string
	body    []byte
	headers []string
	status  int    // 0: any but a failure inside
	names   string // what a refusal speaks of
}

func said(p wire.Problem) string {
	var out strings.Builder
	for _, e := range p.Errors {
		fmt.Fprintf(&out, " %s %s", e.Code, e.Detail)
	}
	return out.String()
}

// withExif puts an APP1 segment of Exif with one ASCII field as long as fits behind the
// SOI of a JPEG (CIPA DC-008, 4.5.4 and 4.6: tag 0x010F is the maker).
func withExif(photo []byte, text int) []byte {
	var tiff bytes.Buffer
	tiff.WriteString("Exif\x00\x00II*\x00\x08\x00\x00\x00\x01\x00")
	for _, v := range []any{uint16(0x010f), uint16(2), uint32(text), uint32(26), uint32(0)} {
		_ = binary.Write(&tiff, binary.LittleEndian, v)
	}
	tiff.Write(bytes.Repeat([]byte("A"), text))
	segment := binary.BigEndian.AppendUint16([]byte{0xff, 0xe1}, uint16(tiff.Len()+2))
	return bytes.Join([][]byte{photo[:2], segment, tiff.Bytes(), photo[2:]}, nil)
}

// pngOf is a PNG that says it has that size, with its checksum right (PNG, 11.2.1).
func pngOf(width, height uint32) []byte {
	chunk := []byte("IHDR")
	chunk = binary.BigEndian.AppendUint32(chunk, width)
	chunk = binary.BigEndian.AppendUint32(chunk, height)
	chunk = append(chunk, 8, 2, 0, 0, 0)
	out := append([]byte("\x89PNG\r\n\x1a\n\x00\x00\x00\x0d"), chunk...)
	out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(chunk))
	return append(out, "\x00\x00\x00\x00IEND\xae\x42\x60\x82"...)
}

func badUploads(t *testing.T) (all []torture) {
	photo, shot := aPhoto(t, 48, asPNG), aPhoto(t, 48, asJPEG)
	add := func(status int, name, names string, body []byte, headers ...string) {
		all = append(all, torture{name, append(body[:len(body):len(body)], byte(len(all))), headers, status, names})
	}
	named := func(name string) string { return "Content-Disposition: attachment; filename*=UTF-8''" + name }
	for kind, body := range map[string]string{
		"HTML": "<!doctype html><script>alert(1)</script>", "SVG": `<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"/>`,
		"a ZIP": "PK\x03\x04aaaaaaaaaaaaaaaaaaaaaaaaaaaaaa", "a program": "\x7fELF\x02\x01\x01\x00\x00\x00\x00\x00\x00\x00\x00\x00",
		"GIF that is script": "GIF89a=1;alert(1)//", "a shell script": "#!/bin/sh\nrm -rf /\n", "one byte": "\xff", "zeros": strings.Repeat("\x00", 4096),
	} {
		add(http.StatusUnsupportedMediaType, kind, "", []byte(body), "Content-Type: image/jpeg", named("plate.jpg"))
	}
	add(http.StatusUnsupportedMediaType, "a PNG said to be PDF", "application/pdf", photo, "Content-Type: application/pdf")
	add(http.StatusUnsupportedMediaType, "a PDF said to be a photo", "", []byte(aPDF), "Content-Type: image/png")
	add(http.StatusUnsupportedMediaType, "a PNG named .exe", "", photo, named("plate.exe"))
	add(http.StatusCreated, "a JPEG with a ZIP behind it", "", append(shot[:len(shot):len(shot)], "PK\x03\x04<script>alert(1)</script>"...), "Content-Type: image/jpeg")
	add(http.StatusCreated, "a PNG with HTML behind it", "", append(photo[:len(photo):len(photo)], "<script>alert(1)</script>"...))
	add(http.StatusUnsupportedMediaType, "HTML with a PDF within", "", []byte("<html>"+strings.Repeat(" ", 2000)+aPDF))
	add(http.StatusUnprocessableEntity, "60,000 x 60,000 pixels", "60000", pngOf(60000, 60000))
	add(http.StatusUnprocessableEntity, "a side of 70,000", "70000", pngOf(70000, 1))
	add(0, "sides of 2^31 - 1", "", pngOf(1<<31-1, 1<<31-1))
	add(0, "no pixels", "", pngOf(0, 0))
	for _, text := range []int{1, 60, 40_000, 65_400} {
		add(http.StatusCreated, fmt.Sprintf("an Exif string of %d bytes", text), "", withExif(shot, text))
	}
	for _, file := range [][]byte{photo, shot, aWebP, []byte(aPDF), heic("heic")} {
		for cut := 1; cut < len(file)-1; cut += max(1, len(file)/sized(6, 20, 200)) {
			add(0, fmt.Sprintf("%.4q cut at %d", file, cut), "", file[:cut])
			turned := append([]byte{}, file...)
			turned[cut] ^= 0xff
			add(0, fmt.Sprintf("%.4q with byte %d turned", file, cut), "", turned)
		}
	}
	for _, name := range []string{"..%2F..%2F..%2Fetc%2Fpasswd.png", "%2Fetc%2Fshadow.png", "C%3A%5Cx.png", "a%00b.png", "%0D%0ASet-Cookie%3A%20a%3Db.png", "CON.png", "%E2%80%AEgnp.exe.png", "%FF%FE.png", ".png", "~.png", strings.Repeat("n", 60_000) + ".png", "%3Cscript%3E.png"} {
		add(0, "a file named "+name[:min(len(name), 40)], "", photo, named(name))
	}
	add(0, "a disposition of nothing but quotes", "", photo, `Content-Disposition: attachment; filename="""""`)
	add(0, "a type of 8 kB", "", photo, "Content-Type: image/"+strings.Repeat("x", 8000))
	return all
}

// What nobody sends in good faith is kept as what it is or refused by name. Nothing is
// written but originals, whatever a file is called.
func TestTortureOfUploads(t *testing.T) {
	if testing.Short() {
		t.Skip("figures of memory mean nothing under the race detector, which CI runs with -short")
	}
	s := openShop(t)
	s.handler = New(s.Shop, Options{})
	m := s.manager()
	kept := 0
	torment(t, badUploads(t), func(c torture) reply {
		r := m.upload(c.body, c.headers...)
		if r.Code == http.StatusCreated {
			kept++
			got := m.get("/evidence/" + shaOf(c.body)).want(http.StatusOK)
			if !bytes.Equal(got.Body.Bytes(), c.body) || got.header("X-Content-Type-Options") != "nosniff" || !strings.HasPrefix(got.header("Content-Security-Policy"), "sandbox") ||
				strings.ContainsAny(got.header("Content-Disposition"), "\r\n/\\") {
				t.Errorf("%s is given as %v", c.name, got.Header())
			}
		}
		return r
	})
	found := 0
	err := filepath.WalkDir(filepath.Join(s.dir, "originals"), func(path string, e fs.DirEntry, err error) error {
		if err == nil && !e.IsDir() {
			found++
		}
		return err
	})
	if err != nil || found != kept || kept == 0 {
		t.Errorf("%d files lie among the originals, and %d uploads were taken; %v", found, kept, err)
	}
	// Byte by byte and without a length, within the limit and beyond it.
	photo := aPhoto(t, 40, asPNG)
	for _, c := range []struct {
		body   io.Reader
		sha    string
		status int
	}{
		{iotest.OneByteReader(bytes.NewReader(photo)), shaOf(photo), http.StatusCreated},
		{io.MultiReader(bytes.NewReader(photo), io.LimitReader(endless{}, evidence.MaxBytes)), strings.Repeat("a", 64), http.StatusRequestEntityTooLarge},
	} {
		r, err := http.NewRequest(http.MethodPut, Prefix+"/evidence/"+c.sha, c.body)
		if err != nil {
			t.Fatal(err)
		}
		r.ContentLength = -1
		if got := m.sent(r); got.Code != c.status {
			t.Errorf("a body without length: %d, want %d\n%s", got.Code, c.status, got.Body)
		}
	}
}

// endless is a reader that never ends.
type endless struct{}

func (endless) Read(p []byte) (int, error) { clear(p); return len(p), nil }

// Forms of ten thousand parts, of headers without end and of parts within parts.
func TestTortureOfForms(t *testing.T) {
	if testing.Short() {
		t.Skip("figures of memory mean nothing under the race detector, which CI runs with -short")
	}
	s := openShop(t)
	s.handler = New(s.Shop, Options{})
	m := s.manager()
	photo := aPhoto(t, 16, asPNG)
	form := func(parts int, file bool, field string, body []byte) (string, []byte) {
		var b bytes.Buffer
		w := multipart.NewWriter(&b)
		for i := range parts {
			part, err := w.CreateFormField(fmt.Sprint(field, i))
			if file {
				part, err = w.CreateFormFile("plate", fmt.Sprintf("p%d.png", i))
			}
			if err == nil {
				_, err = part.Write(body)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		w.Close()
		return w.FormDataContentType(), b.Bytes()
	}
	whole := map[string]struct {
		kind string
		body []byte
	}{}
	put := func(name, kind string, body []byte) {
		whole[name] = struct {
			kind string
			body []byte
		}{kind, body}
	}
	for name, c := range map[string]struct {
		file  bool
		parts int
		field string
	}{"10,000 fields": {false, 10_000, "f"}, "10,000 files": {true, 10_000, ""}, "900 files": {true, 900, ""}, "a name of 100 kB": {false, 1, strings.Repeat("n", 100_000)}} {
		kind, body := form(c.parts, c.file, c.field, photo)
		put(name, kind, body)
	}
	kind, body := form(1, true, "", photo)
	put("cut in the middle", kind, body[:len(body)/2])
	put("another boundary", "multipart/form-data; boundary=other", body)
	put("no boundary", "multipart/form-data", body)
	put("a boundary of 10 kB", "multipart/form-data; boundary="+strings.Repeat("b", 10_000), body)
	put("nothing", kind, nil)
	put("a header without end", kind, []byte("--"+strings.TrimPrefix(kind, "multipart/form-data; boundary=")+"\r\nContent-Disposition: form-data; name=\"a\"\r\nX: "+strings.Repeat("x", 1<<20)))
	put("not UTF-8", "application/x-www-form-urlencoded", []byte("kind=%ff%fe&key=a"))
	put("a million fields", "application/x-www-form-urlencoded", bytes.Repeat([]byte("a=&"), 1_000_000))
	refused := 0
	grown := heapPeak(func() {
		for name, c := range whole {
			for _, path := range []string{"/add", "/scan", "/import"} {
				r := m.send(http.MethodPost, path, bytes.NewReader(c.body), "Content-Type: "+c.kind, "Accept: text/html")
				if r.Code >= 500 || r.Body.Len() == 0 && r.Code != http.StatusSeeOther {
					t.Errorf("%s at %s: %d\n%.300s", name, path, r.Code, r.Body)
				}
				if r.Code >= 400 {
					refused++
				}
			}
		}
	})
	t.Logf("%d forms, %d answers refuse; the heap grew by %d MB at most", len(whole), refused, grown>>20)
	if refused < len(whole) || grown > tortureHeap {
		t.Errorf("%d of %d were refused; the heap grew by %d MB, the most is %d", refused, 3*len(whole), grown>>20, tortureHeap>>20)
	}
}

// book is an XLSX whose one sheet has that XML, packed by compression.
func book(t *testing.T, sheet func(io.Writer), edit func(z *zip.Writer)) []byte {
	t.Helper()
	file := excelize.NewFile()
	var plain bytes.Buffer
	if err := file.Write(&plain); err != nil {
		t.Fatal(err)
	}
	from, err := zip.NewReader(bytes.NewReader(plain.Bytes()), int64(plain.Len()))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, f := range from.File {
		w, err := z.Create(f.Name)
		if err != nil {
			t.Fatal(err)
		}
		if f.Name == "xl/worksheets/sheet1.xml" && sheet != nil {
			sheet(w)
			continue
		}
		r, err := f.Open()
		if err == nil {
			_, err = io.Copy(w, r)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if edit != nil {
		edit(z)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

const sheetHead = `<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>`

func badSheets(t *testing.T) (all []torture) {
	csv := func(status int, name, names, body string) {
		all = append(all, torture{name, []byte(body), []string{"Content-Type: text/csv"}, status, names})
	}
	xlsx := func(status int, name, names string, body []byte) {
		all = append(all, torture{name, body, []string{"Content-Type: " + xlsxType}, status, names})
	}
	text := func(s string) func(io.Writer) { return func(w io.Writer) { io.WriteString(w, s) } }
	csv(0, "nothing", "", "")
	csv(0, "a mark and no more", "", "\xef\xbb\xbf")
	csv(0, "a head and no rows", "", "Kind,Serial\n")
	csv(422, "a quote that never ends", "", "Kind,Serial\nratchet,\""+strings.Repeat("x\n", 2000))
	csv(0, "half of a UTF-16 character", "", "\xff\xfeK\x00i\x00n\x00d\x00\n")
	csv(0, "NUL", "", "Kind,Serial\nratchet,A\x00B\n")
	csv(422, "too many columns", fmt.Sprint(sheets.MaxColumns), "Kind"+strings.Repeat(",a", sheets.MaxColumns+1)+"\n")
	csv(422, "a field too long", fmt.Sprint(sheets.MaxField), "Kind\n"+strings.Repeat("x", sheets.MaxField+1)+"\n")
	csv(413, "too many rows", "rows", "Kind\n"+strings.Repeat("jack\n", sheets.MaxRows+1))
	csv(422, "one head twice", "", "Kind,Serial,S/N\nratchet,A,B\n")
	csv(422, "an ambiguous day", "date", "Kind,Serial,Purchase date\nratchet,A1,03/04/2024\n")
	csv(422, "an ambiguous amount", "ambiguous", "Kind,Serial,Price\nratchet,A1,\"1,234\"\n")
	csv(422, "a purchase to come", "", "Kind,Serial,Purchase date\nratchet,A1,2199-01-01\n")
	csv(422, "one serial twice", "", "Kind,Maker,Serial\nratchet,Brindle,A1\nratchet,Brindle,A1\n")
	csv(0, "formulas", "", "Kind,Serial\nratchet,\"=cmd|' /C calc'!A0\"\nratchet,@SUM(1)\n")
	csv(0, "only line ends", "", strings.Repeat("\r\n", 50_000))
	csv(0, "only commas", "", strings.Repeat(strings.Repeat(",", 90)+"\n", 500))
	xlsx(422, "no ZIP", "XLSX", []byte("hello"))
	xlsx(422, "a ZIP with nothing", "", []byte("PK\x05\x06"+strings.Repeat("\x00", 18)))
	xlsx(413, "10,000 parts", "10", book(t, nil, func(z *zip.Writer) {
		for i := range 10_000 {
			if _, err := z.Create(fmt.Sprintf("xl/media/%d.png", i)); err != nil {
				t.Fatal(err)
			}
		}
	}))
	unpacks := int64(sized(210, 210, 4000)) << 20
	xlsx(413, "a bomb of zeros", "MiB", book(t, nil, func(z *zip.Writer) {
		w, err := z.Create("xl/media/bomb.png")
		if err == nil {
			_, err = io.CopyN(w, endless{}, unpacks)
		}
		if err != nil {
			t.Fatal(err)
		}
	}))
	xlsx(0, "a cell of 20 MB", "", book(t, func(w io.Writer) {
		io.WriteString(w, sheetHead+`<row r="1"><c r="A1" t="inlineStr"><is><t>`)
		w.Write(bytes.Repeat([]byte("x"), 20<<20))
		io.WriteString(w, `</t></is></c></row></sheetData></worksheet>`)
	}, nil))
	xlsx(0, "a row far down", "", book(t, text(sheetHead+`<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData></worksheet>`), nil))
	xlsx(0, "a row beyond the last", "", book(t, text(sheetHead+`<row r="99999999999"><c r="ZZZZ9"><v>1</v></c></row></sheetData></worksheet>`), nil))
	xlsx(0, "entities within entities", "", book(t, text(`<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]>`+sheetHead[21:]+`<row r="1"><c r="A1" t="inlineStr"><is><t>&c;</t></is></c></row></sheetData></worksheet>`), nil))
	xlsx(0, "XML that ends nowhere", "", book(t, text(sheetHead+`<row r="1"><c r="A1"><v>1`), nil))
	xlsx(0, "a shared string that is not there", "", book(t, text(sheetHead+`<row r="1"><c r="A1" t="s"><v>99999999</v></c></row></sheetData></worksheet>`), nil))
	good := book(t, text(sheetHead+`<row r="1"><c r="A1" t="inlineStr"><is><t>Kind</t></is></c></row></sheetData></worksheet>`), nil)
	for cut := 30; cut < len(good); cut += max(1, len(good)/sized(5, 20, 300)) {
		xlsx(422, fmt.Sprintf("an XLSX cut at %d", cut), "", good[:cut])
		turned := append([]byte{}, good...)
		turned[cut] ^= 0x55
		xlsx(0, fmt.Sprintf("an XLSX with byte %d turned", cut), "", turned)
	}
	all = append(all, torture{"JSON in a million brackets", bytes.Repeat([]byte("["), 1_000_000), []string{"Content-Type: application/json"}, 0, ""})
	return all
}

// Spreadsheets that no program wrote to be read: none fails inside, each refusal names
// what it is about, and neither a refusal nor a dry run leaves anything behind.
func TestTortureOfSpreadsheets(t *testing.T) {
	if testing.Short() {
		t.Skip("figures of memory mean nothing under the race detector, which CI runs with -short")
	}
	s := openShop(t)
	s.handler = New(s.Shop, Options{})
	m := s.as(people.Manager)
	before := lineCount(t, s)
	torment(t, badSheets(t), func(c torture) reply {
		r := m.send(http.MethodPost, Prefix+"/imports?dry_run=true", bytes.NewReader(c.body), c.headers...)
		if r.Code == http.StatusOK && c.status >= 400 { // it lists them, and doing it is refused
			r = m.send(http.MethodPost, Prefix+"/imports", bytes.NewReader(c.body), c.headers...)
		}
		return r
	})
	if after := lineCount(t, s); after != before {
		t.Errorf("they left %d lines", after-before)
	}
}
