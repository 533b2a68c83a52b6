package api

import (
	"bytes"
	"image/png"
	"net/http"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"

	"pawl/api/wire"
	"pawl/model/fault"
)

func TestIssueNumbers(t *testing.T) {
	s := openShop(t)
	var out wire.Issued
	s.manager().post("/numbers", wire.Issue{Count: 3}).want(http.StatusCreated).into(&out)
	if len(out.Numbers) != 3 || !strings.Contains(out.Numbers[0], "-") {
		t.Errorf("issued %v", out.Numbers)
	}
	in := aTool("KD408B217")
	in.Number = out.Numbers[1]
	if tool := s.manager().registered(in); tool.Number != out.Numbers[1] {
		t.Errorf("claimed %s, got %s", out.Numbers[1], tool.Number)
	}
	for _, body := range []string{`{"count":0}`, `{"count":1000000}`, `{"count":1.5}`, `{"count":"3"}`, `{"count":1e1}`, `{"count":null}`, `{"count":99999999999999999999}`} {
		s.manager().post("/numbers", body).refused(http.StatusUnprocessableEntity)
	}
}

// The picture of a label reads as the tool it is for; the reader is gozxing.
func TestLabelReads(t *testing.T) {
	s := openShop(t)
	number := s.manager().registered(aTool("KD408B217")).Number
	for _, dpi := range []string{"203", "300", "600"} {
		r := s.manager().get("/labels/" + number + "?format=png&dpi=" + dpi).want(http.StatusOK)
		img, err := png.Decode(bytes.NewReader(r.Body.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		bits, err := gozxing.NewBinaryBitmapFromImage(img)
		if err != nil {
			t.Fatal(err)
		}
		read, err := qrcode.NewQRCodeReader().Decode(bits, nil)
		if err != nil || read.GetText() != "T/"+strings.ReplaceAll(number, "-", "") {
			t.Errorf("%s dpi reads %v, %v", dpi, read, err)
		}
	}
}

func TestLabelFormats(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	number := m.registered(aTool("KD408B217")).Number
	at := "/labels/" + number
	for name, c := range map[string]struct{ query, accept, kind, begins string }{
		"no wish":             {"", "", pngType, "\x89PNG"},
		"any":                 {"", "*/*", pngType, "\x89PNG"},
		"by Accept":           {"", "application/pdf, image/png;q=0.5", pdfType, "%PDF-"},
		"one refused":         {"", "image/png;q=0, image/*", svgType, "<"},
		"by format":           {"?format=svg", "", svgType, "<"},
		"format before all":   {"?format=pdf", "text/plain", pdfType, "%PDF-"},
		"on a sheet":          {"?format=pdf&sheet=a4-3x7&start=5&dx=-0.3&dy=1", "", pdfType, "%PDF-"},
		"for a coarse device": {"?dpi=203&dots=6&level=m", "", pngType, "\x89PNG"},
	} {
		var headers []string
		if c.accept != "" {
			headers = []string{"Accept: " + c.accept}
		}
		r := m.get(at+c.query, headers...).want(http.StatusOK)
		if r.header("Content-Type") != c.kind || !strings.HasPrefix(r.Body.String(), c.begins) || !strings.Contains(r.header("Content-Disposition"), number) {
			t.Errorf("%s: %v", name, r.Header())
		}
		m.get(at+c.query, append(headers, "If-None-Match: "+r.header("ETag"))...).want(http.StatusNotModified)
	}
	for query, status := range map[string]int{
		"?format=gif": 422, "?dpi=72": 422, "?dpi=x": 422, "?dots=1": 422, "?level=z": 422, "?format=pdf&sheet=foolscap": 422,
		"?format=pdf&start=99": 422, "?format=pdf&dx=9": 422, "?format=pdf&dx=0.25": 422, "?format=pdf&dx=1e0": 422, "?paper=a4": 400,
	} {
		if r := m.get(at + query); r.refused(r.Code).Status != status {
			t.Errorf("%s: %d, want %d\n%s", query, r.Code, status, r.Body)
		}
	}
	m.get("/labels/00E-KM5").refused(http.StatusNotFound)
	m.get("/labels/x").refused(http.StatusUnprocessableEntity)
}

func TestLabelSheet(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	var out wire.Issued
	m.post("/numbers", wire.Issue{Count: 2}).want(http.StatusCreated).into(&out)
	query := "/labels?number=" + strings.Join(out.Numbers, "&number=")
	r := m.get(query + "&sheet=letter-2x5&start=3&dx=0.1&dy=-0.2").want(http.StatusOK)
	if !strings.HasPrefix(r.Body.String(), "%PDF-") || r.header("Content-Disposition") != `inline; filename="labels.pdf"` {
		t.Errorf("a sheet: %v", r.Header())
	}
	m.get(query+"&sheet=letter-2x5&start=3&dx=0.1&dy=-0.2", "If-None-Match: "+r.header("ETag")).want(http.StatusNotModified)
	etag := m.get("/settings").header("ETag")
	before := m.get(query).want(http.StatusOK).header("ETag")
	m.patch("/settings", etag, `{"paper":"a4"}`).want(http.StatusOK)
	if after := m.get(query).want(http.StatusOK).header("ETag"); after == before {
		t.Error("the sheet is not of the shop's paper")
	}
	for path, status := range map[string]int{
		"/labels": 422, "/labels?number=00E-KM5": 404, query + "&number=x": 422, query + "&start=0": 422,
		"/labels?number=" + strings.Repeat("1&number=", maxLabels): 422,
	} {
		if r := m.get(path); r.refused(r.Code).Status != status {
			t.Errorf("%s: %d, want %d\n%s", fault.Clip(path), r.Code, status, r.Body)
		}
	}
	if p := m.get(query + "&sheet=letter-4x20&start=1000").refused(422); len(p.Errors) == 0 {
		t.Errorf("a place that is not on the sheet: %+v", p)
	}
}
