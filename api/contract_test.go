package api

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"mime"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"

	"pawl/api/openapi"
	"pawl/api/wire"
	"pawl/model/fault"
)

// contract holds every exchange of the tests against the description, and
// remembers what was seen of it. The judge of documents and values is kin-openapi.
type contract struct {
	doc   *openapi3.T
	paths []pathItem
	mu    sync.Mutex
	seen  map[sight]bool
}

// pathItem is one path of the description.
type pathItem struct {
	path  string
	shape *regexp.Regexp
	names []string // of the parameters in it
	item  *openapi3.PathItem
}

// sight is one documented answer: a status in one media type, or in none.
type sight struct{ operation, status, mediaType string }

var agreed = newContract()

func newContract() *contract {
	doc, err := openapi3.NewLoader().LoadFromData(openapi.Read("test").JSON())
	if err != nil {
		panic(err)
	}
	if err := doc.Validate(context.Background()); err != nil {
		panic(err)
	}
	k := &contract{doc: doc, seen: map[sight]bool{}}
	name := regexp.MustCompile(`\{([a-z0-9]+)\}`)
	for path, item := range doc.Paths.Map() {
		d := pathItem{path: path, item: item}
		for _, m := range name.FindAllStringSubmatch(path, -1) {
			d.names = append(d.names, m[1])
		}
		pattern := strings.NewReplacer(`\{`, "{", `\}`, "}").Replace(regexp.QuoteMeta(path))
		d.shape = regexp.MustCompile("^" + name.ReplaceAllString(pattern, `([^/]+)`) + "$")
		k.paths = append(k.paths, d)
	}
	// A path that is plain comes before one with a parameter in that part.
	slices.SortFunc(k.paths, func(a, b pathItem) int { return len(a.names) - len(b.names) })
	openapi3filter.RegisterBodyDecoder(patchType, openapi3filter.JSONBodyDecoder)
	for _, kind := range []string{pngType, svgType, pdfType, csvType, xlsxType, "image/jpeg", "image/webp", "image/heic", "image/heif", "application/zip", icsType} {
		openapi3filter.RegisterBodyDecoder(kind, openapi3filter.FileBodyDecoder)
	}
	openapi3filter.RegisterBodyDecoder(htmlType, openapi3filter.PlainBodyDecoder)
	return k
}

// find gives the operation that a request is for; nil where there is none.
func (k *contract) find(r *http.Request) (at *pathItem, op *openapi3.Operation, parts map[string]string) {
	for i, d := range k.paths {
		m := d.shape.FindStringSubmatch(r.URL.EscapedPath())
		if m == nil {
			continue
		}
		parts = map[string]string{}
		for j, name := range d.names {
			parts[name], _ = url.PathUnescape(m[j+1])
		}
		method := r.Method
		if method == http.MethodHead {
			method = http.MethodGet
		}
		return &k.paths[i], d.item.GetOperation(method), parts
	}
	return nil, nil, nil
}

// hold wraps a handler: what does not keep to the description fails the test.
func (k *contract) hold(t testing.TB, h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		sent := []byte{}
		if r.Body != nil {
			var err error
			sent, err = io.ReadAll(r.Body)
			r.Body = io.NopCloser(io.MultiReader(bytes.NewReader(sent), ended{err}))
		}
		got := httptest.NewRecorder()
		h.ServeHTTP(got, r)
		if err := k.check(r, sent, got.Result(), got.Body.Bytes()); err != nil {
			t.Errorf("%s %s: %d %s\n%v", r.Method, r.URL, got.Code, fault.Clip(got.Body.String()), err)
		}
		maps.Copy(w.Header(), got.Header())
		w.WriteHeader(got.Code)
		_, _ = w.Write(got.Body.Bytes())
	})
}

// ended ends a body in the way that it ended.
type ended struct{ err error }

func (e ended) Read([]byte) (int, error) {
	if e.err != nil {
		return 0, e.err
	}
	return 0, io.EOF
}

// check validates one exchange.
func (k *contract) check(r *http.Request, sent []byte, answer *http.Response, body []byte) error {
	at, op, parts := k.find(r)
	if kind := answer.Header.Get("Content-Type"); op == nil && isPage(r.URL.Path) && kind != wire.ProblemType {
		return nil // a page, which is for people
	}
	if op == nil {
		return k.checkNowhere(at, answer, body)
	}
	asked := &openapi3filter.RequestValidationInput{
		Request: r.Clone(context.Background()), PathParams: parts,
		Route: &routers.Route{Spec: k.doc, Path: at.path, PathItem: at.item, Method: r.Method, Operation: op},
		Options: &openapi3filter.Options{
			AuthenticationFunc: openapi3filter.NoopAuthenticationFunc, IncludeResponseStatus: true, SkipSettingDefaults: true,
			RejectWhenRequestBodyNotSpecified: true, ExcludeRequestBody: r.Method == http.MethodPut,
		},
	}
	asked.Request.Body = io.NopCloser(bytes.NewReader(sent))
	if len(sent) == 0 {
		asked.Request.Body = http.NoBody
	}
	if answer.StatusCode < 400 {
		if err := openapi3filter.ValidateRequest(context.Background(), asked); err != nil {
			return fmt.Errorf("was taken, although the request is not as described: %w", err)
		}
	}
	if op.Responses.Status(answer.StatusCode) == nil {
		return fmt.Errorf("status %d of %s is not documented", answer.StatusCode, op.OperationID)
	}
	given := &openapi3filter.ResponseValidationInput{
		RequestValidationInput: asked, Status: answer.StatusCode, Header: answer.Header, Options: asked.Options,
	}
	given.SetBodyBytes(body)
	if err := openapi3filter.ValidateResponse(context.Background(), given); err != nil {
		return err
	}
	return k.note(r, op, answer, body)
}

// note remembers a documented answer; HEAD shows no media type.
func (k *contract) note(r *http.Request, op *openapi3.Operation, answer *http.Response, body []byte) error {
	kind, _, _ := mime.ParseMediaType(answer.Header.Get("Content-Type"))
	documented := op.Responses.Status(answer.StatusCode).Value.Content
	if len(documented) == 0 {
		kind = ""
		if len(body) > 0 {
			return fmt.Errorf("%d bytes where no body is documented", len(body))
		}
	}
	if r.Method != http.MethodHead {
		k.mu.Lock()
		k.seen[sight{op.OperationID, fmt.Sprint(answer.StatusCode), kind}] = true
		k.mu.Unlock()
	}
	return nil
}

// checkNowhere validates the answer to a request for no operation: 404, or 405
// with the methods that there are. 503 is everybody's while the server stops.
func (k *contract) checkNowhere(at *pathItem, answer *http.Response, body []byte) error {
	var problem any
	if err := json.Unmarshal(body, &problem); err != nil {
		return err
	}
	form := k.doc.Components.Schemas["Problem"].Value
	if err := form.VisitJSON(problem, openapi3.EnableJSONSchema2020()); err != nil {
		return err
	}
	if at == nil {
		if answer.StatusCode != http.StatusNotFound && answer.StatusCode != http.StatusServiceUnavailable && answer.StatusCode != http.StatusForbidden {
			return fmt.Errorf("status %d for a path that is not described", answer.StatusCode)
		}
		return nil
	}
	var want []string
	for method := range at.item.Operations() {
		want = append(want, method)
		if method == http.MethodGet {
			want = append(want, http.MethodHead)
		}
	}
	got := strings.Split(answer.Header.Get("Allow"), ", ")
	slices.Sort(got)
	slices.Sort(want)
	if answer.StatusCode != http.StatusMethodNotAllowed || !slices.Equal(got, want) {
		return fmt.Errorf("status %d with Allow %v, want 405 with %v", answer.StatusCode, got, want)
	}
	return nil
}

// unseen lists the documented answers that no exchange had.
func (k *contract) unseen() []string {
	var missing []string
	for path, item := range k.doc.Paths.Map() {
		for method, op := range item.Operations() {
			for status, ref := range op.Responses.Map() {
				kinds := slices.Collect(maps.Keys(ref.Value.Content))
				if len(kinds) == 0 {
					kinds = []string{""}
				}
				for _, kind := range kinds {
					if !k.seen[sight{op.OperationID, status, kind}] {
						missing = append(missing, fmt.Sprintf("%s %s: %s %s", method, path, status, kind))
					}
				}
			}
		}
	}
	slices.Sort(missing)
	return missing
}

// operations lists the operations of the description, by path and method.
func (k *contract) operations() []operationAt {
	var all []operationAt
	for path, item := range k.doc.Paths.Map() {
		for method, op := range item.Operations() {
			all = append(all, operationAt{method, path, op})
		}
	}
	slices.SortFunc(all, func(a, b operationAt) int { return strings.Compare(a.path+a.method, b.path+b.method) })
	return all
}

type operationAt struct {
	method, path string
	op           *openapi3.Operation
}

func (o operationAt) documents(status string) bool { return o.op.Responses.Value(status) != nil }
