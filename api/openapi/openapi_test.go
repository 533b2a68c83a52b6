package openapi

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/getkin/kin-openapi/openapi3"
)

func load(t *testing.T) *openapi3.T {
	t.Helper()
	doc, err := openapi3.NewLoader().LoadFromData(Read("1.2.3").JSON())
	if err != nil {
		t.Fatal(err)
	}
	return doc
}

// The document is OpenAPI 3.1 by the judgement of a library that we had no hand in.
func TestDocumentIsValid(t *testing.T) {
	doc := load(t)
	if err := doc.Validate(context.Background()); err != nil {
		t.Error(err)
	}
	if doc.Info.Version != "1.2.3" || !strings.HasPrefix(doc.OpenAPI, "3.1.") || doc.Info.License == nil {
		t.Errorf("info: version %q, OpenAPI %q, license %v", doc.Info.Version, doc.OpenAPI, doc.Info.License)
	}
	if doc.Paths.Len() < 25 {
		t.Errorf("only %d paths", doc.Paths.Len())
	}
}

func TestOperationIdsAreUnique(t *testing.T) {
	seen := map[string]string{}
	for path, item := range load(t).Paths.Map() {
		for method, op := range item.Operations() {
			where := method + " " + path
			if op.OperationID == "" || op.Summary == "" {
				t.Errorf("%s has no operationId or no summary", where)
			}
			if first, twice := seen[op.OperationID]; twice {
				t.Errorf("%s and %s are both %q", first, where, op.OperationID)
			}
			seen[op.OperationID] = where
		}
	}
}

// Every object is closed: a member that is not described cannot slip out.
func TestObjectsAreClosed(t *testing.T) {
	for name, ref := range load(t).Components.Schemas {
		s := ref.Value
		closed := s.AdditionalProperties.Has
		switch {
		case len(s.AllOf) > 0: // JSON Schema 2020-12, 11.3: seen through allOf
			closed = s.UnevaluatedProperties.Has
		case !s.Type.Includes("object"):
			continue
		}
		if closed == nil || *closed {
			t.Errorf("schema %s takes members that it does not describe", name)
		}
		for _, member := range s.Required {
			if s.Properties[member] == nil {
				t.Errorf("schema %s requires %q, which it does not describe", name, member)
			}
		}
	}
}

// Every failure is a problem (RFC 9457 section 3); every operation documents 406
// and one success.
func TestFailuresAreProblems(t *testing.T) {
	for path, item := range load(t).Paths.Map() {
		for method, op := range item.Operations() {
			good := 0
			for status, ref := range op.Responses.Map() {
				if status[0] == '2' {
					good++
				}
				if status[0] < '4' {
					continue
				}
				if ref.Value.Content["application/problem+json"] == nil || len(ref.Value.Content) != 1 {
					t.Errorf("%s %s: %s is not a problem", method, path, status)
				}
			}
			if good == 0 || op.Responses.Value("406") == nil {
				t.Errorf("%s %s: %d statuses of success, 406 documented: %v", method, path, good, op.Responses.Value("406") != nil)
			}
		}
	}
}

func TestJoin(t *testing.T) {
	const rootText = "openapi: 3.1.1\npaths:\n  /a: {get: {}}\ncomponents:\n  schemas:\n    A: {type: object}\n"
	join := func(part string) (Document, error) {
		return Join(fstest.MapFS{root: {Data: []byte(rootText)}, "part.yaml": {Data: []byte(part)}})
	}
	d, err := join("paths:\n  /b: {get: {}}\ncomponents:\n  schemas:\n    B: {type: string}\n  headers:\n    H: {}\n")
	if err != nil {
		t.Fatal(err)
	}
	if got, want := fmt.Sprint(d), "map[components:map[headers:map[H:map[]] schemas:map[A:map[type:object] B:map[type:string]]] openapi:3.1.1 paths:map[/a:map[get:map[]] /b:map[get:map[]]]]"; got != want {
		t.Errorf("joined %s\nwant %s", got, want)
	}
	for name, part := range map[string]string{
		"a path in two parts":      "paths:\n  /a: {post: {}}\n",
		"a schema in two parts":    "components:\n  schemas:\n    A: {}\n",
		"a path twice in one part": "paths:\n  /b: {}\n  /b: {}\n",
		"a key twice deeper down":  "paths:\n  /b: {get: {}, get: {}}\n",
		"something for the root":   "info: {}\n",
		"a list for a mapping":     "paths: []\n",
		"a section that is no map": "components:\n  schemas: x\n",
		"no YAML":                  "paths: [\n",
		"a key that is not a text": "1: {}\n",
	} {
		if d, err := join(part); err == nil {
			t.Errorf("%s is joined to %v", name, d)
		}
	}
	if d, err := Join(fstest.MapFS{"part.yaml": {Data: []byte("paths: {}")}}); err == nil {
		t.Errorf("without a root it is joined to %v", d)
	}
}
