package api

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html/template"
	"maps"
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"pawl/api/openapi"
	"pawl/api/wire"
	"pawl/model/fault"
)

const htmlType = "text/html"

//go:embed docs.html
var docsText string

//go:embed docs.css
var docsStyle string

func (s *service) docsRoutes() []route {
	return []route{
		{method: http.MethodGet, path: Prefix + "/openapi.json", handle: s.openapi},
		{method: http.MethodGet, path: Prefix + "/docs", offers: []string{htmlType}, handle: s.docsHTML},
	}
}

// openapi gives the description for programs.
func (s *service) openapi(*gin.Context) (answer, error) {
	return answer{keep: secondLook, raw: inMemory(jsonType, s.description())}, nil
}

// docsHTML gives the description for people. It needs nothing from elsewhere.
func (s *service) docsHTML(*gin.Context) (answer, error) {
	docs := s.docs()
	r := inMemory(htmlType+"; charset=utf-8", docs.html)
	r.policy = docs.policy
	return answer{keep: secondLook, raw: r}, nil
}

// document is HTML with the policy that permits its one style sheet, by its hash.
type document struct {
	html   []byte
	policy string
}

// docsPage sets the description as one page; a description that cannot be set is
// a broken build.
func docsPage(d openapi.Document) document {
	set := template.Must(template.New("docs").Parse(docsText))
	var b bytes.Buffer
	if err := set.Execute(&b, describe(d)); err != nil {
		panic("api: " + err.Error())
	}
	sum := sha256.Sum256([]byte(docsStyle))
	return document{b.Bytes(), policy + "; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"}
}

// The page in the order in which it is read.
type (
	described struct {
		Style      template.CSS
		Title      string
		Version    string
		About      []string // paragraphs
		Operations []operation
		Schemas    []schema
		Faults     []faultRow
	}
	operation struct {
		ID, Method, Path, Summary string
		About                     []string
		Parameters, Answers       []row
		Bodies                    []row
	}
	row struct {
		Name, Where, Kind, Ref, Text string
	}
	schema struct {
		Name    string
		About   []string
		Members []row
	}
	faultRow struct {
		Anchor, Kind, Title, Text string
		Status                    int
	}
)

func describe(d openapi.Document) described {
	info := tree(d["info"])
	v := described{
		Style: template.CSS(docsStyle), Title: text(info["title"]), Version: text(info["version"]),
		About: paragraphs(info["description"]),
	}
	paths := tree(d["paths"])
	for _, path := range slices.Sorted(maps.Keys(paths)) {
		for _, method := range []string{"get", "post", "put", "patch"} {
			if o := tree(tree(paths[path])[method]); o != nil {
				v.Operations = append(v.Operations, describeOperation(d, strings.ToUpper(method), path, o))
			}
		}
	}
	schemas := tree(tree(d["components"])["schemas"])
	for _, name := range slices.Sorted(maps.Keys(schemas)) {
		v.Schemas = append(v.Schemas, describeSchema(d, name, tree(schemas[name])))
	}
	for _, f := range branches(d["x-faults"]) {
		kind := fault.Kind(text(tree(f)["kind"]))
		p := wire.ProblemOf(fault.New(kind, ""), "")
		_, anchor, _ := strings.Cut(p.Type, "#")
		v.Faults = append(v.Faults, faultRow{anchor, string(kind), p.Title, text(tree(f)["description"]), p.Status})
	}
	return v
}

func describeOperation(d openapi.Document, method, path string, o map[string]any) operation {
	v := operation{
		ID: text(o["operationId"]), Method: method, Path: path, Summary: text(o["summary"]), About: paragraphs(o["description"]),
	}
	for _, p := range branches(o["parameters"]) {
		p := resolve(d, tree(p))
		v.Parameters = append(v.Parameters, row{
			Name: text(p["name"]), Where: text(p["in"]), Kind: kindOf(tree(p["schema"])), Text: text(p["description"]),
		})
	}
	body := resolve(d, tree(o["requestBody"]))
	v.Bodies = contents(body, row{Name: "body", Text: text(body["description"])})
	answers := tree(o["responses"])
	for _, status := range slices.Sorted(maps.Keys(answers)) {
		a := resolve(d, tree(answers[status]))
		rows := contents(a, row{Name: status, Text: text(a["description"])})
		if rows == nil {
			rows = []row{{Name: status, Text: text(a["description"])}}
		}
		v.Answers = append(v.Answers, rows...)
	}
	return v
}

// contents gives a row for each media type of a body.
func contents(body map[string]any, like row) []row {
	var rows []row
	content := tree(body["content"])
	for _, mediaType := range slices.Sorted(maps.Keys(content)) {
		r, form := like, tree(tree(content[mediaType])["schema"])
		r.Where, r.Kind, r.Ref = mediaType, kindOf(form), refName(form)
		rows = append(rows, r)
	}
	return rows
}

func describeSchema(d openapi.Document, name string, form map[string]any) schema {
	v := schema{Name: name, About: paragraphs(form["description"])}
	members := map[string]any{}
	for _, part := range append(branches(form["allOf"]), form) {
		maps.Copy(members, tree(resolve(d, tree(part))["properties"]))
	}
	for _, member := range slices.Sorted(maps.Keys(members)) {
		m := tree(members[member])
		v.Members = append(v.Members, row{Name: member, Kind: kindOf(m), Ref: refName(m), Text: text(m["description"])})
	}
	return v
}

// resolve follows a reference within the document.
func resolve(d openapi.Document, node map[string]any) map[string]any {
	ref, ok := node["$ref"].(string)
	if !ok {
		return node
	}
	var at any = map[string]any(d)
	for _, part := range strings.Split(strings.TrimPrefix(ref, "#/"), "/") {
		at = tree(at)[part]
	}
	return tree(at)
}

// refName is the schema that a schema is made of, empty for none.
func refName(form map[string]any) string {
	for _, one := range append([]any{form, form["items"]}, append(branches(form["anyOf"]), branches(form["oneOf"])...)...) {
		if ref, ok := tree(one)["$ref"].(string); ok {
			return ref[strings.LastIndexByte(ref, '/')+1:]
		}
	}
	return ""
}

// kindOf says in a few words what a schema takes.
func kindOf(form map[string]any) string {
	var words []string
	switch t := form["type"].(type) {
	case string:
		words = append(words, t)
	case []any:
		words = append(words, strings.Trim(strings.ReplaceAll(fmt.Sprint(t), " ", " or "), "[]"))
	}
	if refName(tree(form["items"])) != "" {
		words = append(words, "of")
	} else if items := tree(form["items"]); items != nil {
		words = append(words, "of", kindOf(items))
	}
	for _, one := range branches(form["anyOf"]) {
		if tree(one)["type"] == "null" {
			words = append(words, "null or")
		}
	}
	if form["enum"] != nil {
		choices, _ := json.Marshal(form["enum"])
		words = append(words, "one of "+string(choices))
	}
	for _, bound := range []string{"format", "pattern", "minLength", "maxLength", "minimum", "maximum", "minItems", "maxItems", "default"} {
		if v, ok := form[bound]; ok {
			words = append(words, fmt.Sprintf("%s %v", bound, v))
		}
	}
	return strings.Join(words, " ")
}

func tree(v any) map[string]any {
	m, _ := v.(map[string]any)
	return m
}

func branches(v any) []any {
	list, _ := v.([]any)
	return list
}

func text(v any) string {
	s, _ := v.(string)
	return strings.TrimSpace(s)
}

func paragraphs(v any) []string {
	var all []string
	for _, p := range strings.Split(text(v), "\n\n") {
		if p != "" {
			all = append(all, strings.Join(strings.Fields(p), " "))
		}
	}
	return all
}
