package page_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"pawl/model"
	"pawl/model/register"
)

// What was scanned leads to what it stands for, or the page asks. Looking
// changes nothing, not even on this phone.
func TestScanLeads(t *testing.T) {
	h := open(t, computer)
	kind := "ratchet"
	done, err := h.shop.Register(t.Context(), model.By{Actor: computer}, register.New{Change: register.Change{Kind: &kind}})
	if err != nil {
		t.Fatal(err)
	}
	n := string(done.Number)
	host := strings.TrimPrefix(h.url, "http://")
	for code, want := range map[string]struct {
		status int
		says   string
	}{
		"T/" + n:                                {200, "ratchet"},
		"http://" + host + "/T/" + n + "?x=1":   {200, "ratchet"},
		strings.ToLower(done.Number.String()):   {200, "ratchet"},
		"HTTPS://SOMEWHERE.EXAMPLE/T/" + n:      {200, "somewhere.example, which is not this shop's"},
		"JOB:1042":                              {200, "Take the next tools for job 1042"},
		n[:5] + string('0'+(n[5]-'0'+1)%10):     {422, "check"},
		"http://somewhere.example/elsewhere":    {422, "not a"},
		"B/0123456Z":                            {422, "the code of a badge"},
		"=cmd|' /C calc'!A0<script>alert(1)//'": {422, "not a"},
	} {
		if got := text(h.get("/scan?code="+url.QueryEscape(code), want.status)); !strings.Contains(got, want.says) {
			t.Errorf("%s: the page does not say %q: %s", code, want.says, got)
		}
	}
}

// send posts a form to a page, as its script does where headers say so.
func (h *house) send(path string, form url.Values, want int, headers ...string) string {
	h.Helper()
	r, err := http.NewRequestWithContext(h.Context(), http.MethodPost, h.url+path, strings.NewReader(form.Encode()))
	if err != nil {
		h.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	for _, each := range headers {
		name, value, _ := strings.Cut(each, ": ")
		r.Header.Set(name, value)
	}
	return text(h.do(r, want))
}

// An act that waited on a phone is not done in the name of whoever is let in
// there later.
func TestAnotherPersonsActWaits(t *testing.T) {
	h := open(t, computer)
	kind := "ratchet"
	done, err := h.shop.Register(t.Context(), model.By{Actor: computer}, register.New{Change: register.Change{Kind: &kind}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := h.shop.AddPerson(t.Context(), model.By{Actor: computer}, model.NewPerson{Name: "Tech A", Role: "technician"}); err != nil {
		t.Fatal(err)
	}
	take := url.Values{"to": {"Tech A"}, "key": {"k1"}}
	said := h.send("/t/"+string(done.Number)+"/take", take, http.StatusConflict, "Pawl-Script: waited", "Pawl-Who: D-1")
	if !strings.Contains(said, "somebody else did this") {
		t.Errorf("the refusal reads %s", said)
	}
	v, err := h.shop.Tool(t.Context(), model.By{Actor: computer}, string(done.Number))
	if err != nil || v.Custody.State != "in place" {
		t.Fatalf("the tool is %s, %v", v.Custody.State, err)
	}
	h.send("/t/"+string(done.Number)+"/take", take, http.StatusOK, "Pawl-Script: waited", "Pawl-Who: local")
}

// A person gets a page for an address that is none; a program a problem. Forms
// are sent from an origin that a browser names, over plain HTTP too (Fetch
// standard, "Origin" header): with no-referrer it would be "null".
func TestNoSuchPage(t *testing.T) {
	h := open(t, computer)
	for path, wants := range map[string]string{"/nothing": "text/html", "/t/00001Y/": "text/html", "/scan/job": "text/html", "/api/v1/nothing": "application/problem+json"} {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, h.url+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Accept", "text/html,application/xhtml+xml;q=0.9,*/*;q=0.8")
		answer, err := h.http.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		answer.Body.Close()
		if got := answer.Header.Get("Content-Type"); !strings.HasPrefix(got, wants) || answer.StatusCode != 404 && answer.StatusCode != 405 {
			t.Errorf("%s: %d %s, want %s", path, answer.StatusCode, got, wants)
		}
		if wants == "text/html" && answer.Header.Get("Referrer-Policy") != "same-origin" {
			t.Errorf("%s: Referrer-Policy %q", path, answer.Header.Get("Referrer-Policy"))
		}
	}
}
