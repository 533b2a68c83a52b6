package page_test

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"pawl/api"
	"pawl/api/client"
	"pawl/model"
	"pawl/model/people"
	"pawl/model/register"
)

// house is a shop with its pages, asked as one person by a browser without
// script.
type house struct {
	*testing.T
	shop *model.Shop
	url  string
	http *http.Client
}

// open serves a new shop; every request is by the given actor, as if over the
// in-process transport.
func open(t *testing.T, as people.Actor) *house {
	t.Helper()
	shop, err := model.Open(t.Context(), model.Options{Dir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := shop.Close(); err != nil {
			t.Error(err)
		}
	})
	inner := api.New(shop, api.Options{Log: slog.New(slog.DiscardHandler), Version: "test"})
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		inner.ServeHTTP(w, r.WithContext(client.WithActor(r.Context(), as)))
	}))
	t.Cleanup(server.Close)
	return &house{t, shop, server.URL, server.Client()}
}

var computer = people.Actor{Role: people.Manager, Via: people.ViaLocal}

// get loads a page and expects a status.
func (h *house) get(path string, want int) *html.Node {
	h.Helper()
	r, err := http.NewRequestWithContext(context.Background(), http.MethodGet, h.url+path, nil)
	if err != nil {
		h.Fatal(err)
	}
	return h.do(r, want)
}

func (h *house) do(r *http.Request, want int) *html.Node {
	h.Helper()
	answer, err := h.http.Do(r)
	if err != nil {
		h.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		h.Fatal(err)
	}
	if answer.StatusCode != want {
		h.Fatalf("%s %s: status %d, want %d\n%s", r.Method, r.URL.Path, answer.StatusCode, want, body)
	}
	page, err := html.Parse(strings.NewReader(string(body)))
	if err != nil {
		h.Fatal(err)
	}
	return page
}

// text is what a person reads on a page.
func text(n *html.Node) string {
	var b strings.Builder
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.ElementNode && (n.Data == "script" || n.Data == "style" || n.Data == "head") {
			return
		}
		if n.Type == html.TextNode {
			b.WriteString(n.Data)
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(n)
	return strings.Join(strings.Fields(b.String()), " ")
}

// Every part of which pages are made renders; a code that was typed leads to the
// tool; nobody known is told how to come in.
func TestPagesRender(t *testing.T) {
	h := open(t, computer)
	for path, says := range map[string]string{
		"/parts": "A field that was refused", "/today": "No copy was ever made", "/find": "Find a tool",
		"/find?text=nothing": "No tool fits", "/scan": "Scan a label", "/scan?code=" + url.QueryEscape("hello there"): "not a",
	} {
		if got := text(h.get(path, 200+222*b2i(strings.HasPrefix(path, "/scan?")))); !strings.Contains(got, says) {
			t.Errorf("%s does not say %q: %s", path, says, got)
		}
	}
}

// A tool that is gone is found by its number, and its page leads there; where only gone
// tools fit, the page counts them and shows them at a tap.
func TestFindAGoneTool(t *testing.T) {
	h := open(t, computer)
	kind := "heat gun"
	done, err := h.shop.Register(t.Context(), model.By{Actor: computer}, register.New{Change: register.Change{Kind: &kind}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := h.shop.Gone(t.Context(), model.By{Actor: computer}, string(done.Number), model.Gone{Why: "sold"}); err != nil {
		t.Fatal(err)
	}
	for path, says := range map[string]string{
		"/find?text=" + done.Number.String(): done.Number.String() + " gone: sold",
		"/find?text=heat":                    "Tools that fit and are gone: 1.Show them",
		"/find?gone=yes&text=heat":           "gone: sold",
		"/find?text=heat&kind=heat+gun":      "Tools that fit and are gone: 1.Show them",
		"/find?text=jack":                    "No tool fits",
	} {
		if got := text(h.get(path, http.StatusOK)); !strings.Contains(got, says) {
			t.Errorf("%s does not say %q: %s", path, says, got)
		}
	}
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// A refusal says its times as the page does, not as programs write them.
func TestRefusalsSayTimesInWords(t *testing.T) {
	h := open(t, computer)
	kind := "ratchet"
	done, err := h.shop.Register(t.Context(), model.By{Actor: computer}, register.New{Change: register.Change{Kind: &kind}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := h.shop.AddPerson(t.Context(), model.By{Actor: computer}, model.NewPerson{Name: "Tech A", Role: "technician"}); err != nil {
		t.Fatal(err)
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, h.url+"/t/"+string(done.Number)+"/take", strings.NewReader(url.Values{"to": {"Tech A"}, "due": {"2001-01-02"}}.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	said := text(h.do(r, http.StatusUnprocessableEntity))
	if !strings.Contains(said, "2 Jan 2001 23:59") || strings.Contains(said, "T23:59") {
		t.Errorf("the refusal reads %s", said)
	}
}
