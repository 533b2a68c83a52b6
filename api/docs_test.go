package api

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"pawl/api/wire"
	"pawl/model/fault"
)

func TestDescription(t *testing.T) {
	s := openShop(t)
	r := s.nobody().send(http.MethodGet, Prefix+"/openapi.json", nil).want(http.StatusOK)
	var doc struct {
		OpenAPI string
		Info    struct{ Version string }
		Paths   map[string]any
	}
	r.into(&doc)
	if doc.OpenAPI != "3.1.1" || doc.Info.Version != "test" || doc.Paths["/api/v1/tools/{number}"] == nil {
		t.Errorf("OpenAPI %s, version %s, %d paths", doc.OpenAPI, doc.Info.Version, len(doc.Paths))
	}
	for _, path := range []string{"/openapi.json", "/docs"} {
		r := s.nobody().get(path).want(http.StatusOK)
		s.nobody().get(path, "If-None-Match: "+r.header("ETag")).want(http.StatusNotModified)
	}
}

// The page needs nothing from elsewhere, no script, and every link on it leads
// somewhere.
func TestDocsPage(t *testing.T) {
	s := openShop(t)
	r := s.nobody().send(http.MethodGet, Prefix+"/docs", nil).want(http.StatusOK)
	page := r.Body.String()
	for _, not := range []string{"<script", "http://", "https://", "ZgotmplZ", "javascript:"} {
		if strings.Contains(page, not) {
			t.Errorf("%q is on the page", not)
		}
	}
	ids := map[string]bool{}
	for _, m := range regexp.MustCompile(` id="([^"]+)"`).FindAllStringSubmatch(page, -1) {
		if ids[m[1]] {
			t.Errorf("id %s stands twice", m[1])
		}
		ids[m[1]] = true
	}
	links := regexp.MustCompile(`href="#([^"]+)"`).FindAllStringSubmatch(page, -1)
	for _, m := range links {
		if !ids[m[1]] {
			t.Errorf("#%s leads nowhere", m[1])
		}
	}
	if len(links) < 60 {
		t.Errorf("only %d links", len(links))
	}
	if rows := strings.Count(page, `<code>do_not_use</code>`); rows < 4 { // in Tool, Done and both rows of lists, which have it of AnyToolRow
		t.Errorf("do_not_use is described %d times", rows)
	}
	for _, o := range agreed.operations() {
		if !ids[o.op.OperationID] {
			t.Errorf("%s is not on the page", o.op.OperationID)
		}
	}
	style := page[strings.Index(page, "<style>")+len("<style>") : strings.Index(page, "</style>")]
	sum := sha256.Sum256([]byte(style))
	if want := "style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"; !strings.Contains(r.header("Content-Security-Policy"), want) {
		t.Errorf("policy %q without %s", r.header("Content-Security-Policy"), want)
	}
}

// The type of every problem leads to a place on the page, and every kind of
// fault is described there.
func TestProblemTypesAreOnTheDocsPage(t *testing.T) {
	s := openShop(t)
	page := s.nobody().send(http.MethodGet, Prefix+"/docs", nil).want(http.StatusOK).Body.String()
	var problem struct {
		Enum []string
	}
	raw, err := json.Marshal(agreed.doc.Components.Schemas["Problem"].Value.Properties["kind"].Value)
	if err != nil || json.Unmarshal(raw, &problem) != nil || len(problem.Enum) != 16 {
		t.Fatalf("kinds %v, %v", problem.Enum, err)
	}
	for _, kind := range problem.Enum {
		p := wire.ProblemOf(fault.New(fault.Kind(kind), "x"), "")
		path, anchor, _ := strings.Cut(p.Type, "#")
		if path != Prefix+"/docs" || !strings.Contains(page, `id="`+anchor+`"`) || p.Kind != kind {
			t.Errorf("%s: %s leads nowhere", kind, p.Type)
		}
	}
}
