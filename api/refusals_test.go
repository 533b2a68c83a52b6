package api

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"testing"

	"pawl/api/access"
	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model"
	"pawl/model/evidence"
	"pawl/model/people"
)

// filled puts something into the parameters of a path.
var filled = strings.NewReplacer("{number}", "00E-KM5", "{id}", "X-00000000", "{what}", "cards", "{sha256}", strings.Repeat("0", 64), "{secret}", "unknown", "{place}", "unknown", "{name}", "annex.zip")

// body is what an operation takes, as little as goes; "" for none.
func (o operationAt) body() (text, mediaType string) {
	if o.op.RequestBody == nil {
		return "", ""
	}
	if o.op.OperationID == "enroll" { // which must name somebody
		return `{"person":"Tech A"}`, jsonType
	}
	for kind := range o.op.RequestBody.Value.Content {
		if kind == "*/*" {
			return "x", pngType
		}
		return "{}", kind
	}
	return "", ""
}

// try sends the request of an operation, with a query and headers added.
func (a asker) try(o operationAt, query, text, mediaType string, headers ...string) reply {
	a.Helper()
	if mediaType != "" {
		headers = append(headers, "Content-Type: "+mediaType)
	}
	if o.method == http.MethodPatch && !strings.Contains(strings.Join(headers, "\n"), "If-Match") {
		headers = append(headers, `If-Match: "1.0"`)
	}
	if o.op.OperationID == "getLabelSheet" && query == "" {
		query = "?number=00E-KM5"
	}
	return a.send(o.method, filled.Replace(o.path)+query, strings.NewReader(text), headers...)
}

// Each refusal is tried at every operation that documents it, and at no other
// does it come about.
func TestRefusalsOfEveryOperation(t *testing.T) {
	s := openShop(t)
	stranger := people.Actor{Via: people.ViaDevice}
	long := `{"x":"` + strings.Repeat("a", maxJSON) + `"}`
	for _, refusal := range []struct {
		status string
		kind   string
		at     func(operationAt) bool
		send   func(o operationAt, text, mediaType string) reply
	}{
		{"400", "malformed", always, func(o operationAt, text, kind string) reply {
			return s.manager().try(o, "?nonsense=1", text, kind)
		}},
		{"401", "unauthenticated", notOpen, func(o operationAt, text, kind string) reply {
			return s.nobody().try(o, "", text, kind)
		}},
		{"403", "forbidden", notOpen, func(o operationAt, text, kind string) reply {
			return asker{shop: s, actor: &stranger}.try(o, "", text, kind)
		}},
		{"406", "not acceptable", always, func(o operationAt, text, kind string) reply {
			return s.manager().try(o, "", text, kind, "Accept: model/vrml")
		}},
		{"413", "too large", takesLittle, func(o operationAt, text, kind string) reply {
			if o.method == http.MethodPut {
				return s.manager().try(o, "", strings.Repeat("x", evidence.MaxBytes+1), kind)
			}
			return s.manager().try(o, "", long, kind)
		}},
		{"415", "media", takesBody, func(o operationAt, text, kind string) reply {
			return s.manager().try(o, "", text, "text/csv", "Content-Encoding: br")
		}},
		{"422", "invalid", takesJSON, func(o operationAt, text, kind string) reply {
			return s.manager().try(o, "", `{"nonsense":1}`, kind)
		}},
		{"429", "throttled", notOpen, func(o operationAt, text, kind string) reply {
			guesser := asker{shop: s, secret: "wrong"}
			r := guesser.try(o, "", text, kind)
			for tries := 1; r.Code == http.StatusUnauthorized && tries <= 10; tries++ {
				r = guesser.try(o, "", text, kind)
			}
			return r
		}},
		{"428", "precondition", isPatch, func(o operationAt, text, kind string) reply {
			return s.manager().send(o.method, filled.Replace(o.path), strings.NewReader(text), "Content-Type: "+kind)
		}},
	} {
		tried := 0
		for _, o := range agreed.operations() {
			if !refusal.at(o) {
				continue
			}
			tried++
			if !o.documents(refusal.status) {
				t.Errorf("%s does not document %s", o.op.OperationID, refusal.status)
				continue
			}
			text, kind := o.body()
			r := refusal.send(o, text, kind)
			if got := r.refused(r.Code); strconv.Itoa(r.Code) != refusal.status || got.Kind != refusal.kind {
				t.Errorf("%s: %d %s, want %s %s\n%s", o.op.OperationID, r.Code, got.Kind, refusal.status, refusal.kind, r.Body)
			}
		}
		if tried == 0 {
			t.Errorf("%s is tried nowhere", refusal.status)
		}
	}
}

func always(operationAt) bool { return true }

// notOpen are operations for those only who say who they are.
func notOpen(o operationAt) bool { return !access.Anyone(o.method, routerPath(o.path)) }

func takesBody(o operationAt) bool { return o.op.RequestBody != nil }

func takesJSON(o operationAt) bool {
	_, kind := o.body()
	return strings.HasSuffix(kind, "json")
}

// takesLittle are operations whose body is bounded tightly enough to be tried. A
// spreadsheet is not, in JSON either.
func takesLittle(o operationAt) bool {
	return takesJSON(o) && o.op.RequestBody.Value.Content[csvType] == nil || o.method == http.MethodPut
}

func isPatch(o operationAt) bool { return o.method == http.MethodPatch }

// routerPath writes a path of the description as the router does.
func routerPath(path string) string {
	return strings.NewReplacer("{", ":", "}", "").Replace(path)
}

// isPage tells the pages from what the description describes.
func isPage(path string) bool {
	return !strings.HasPrefix(path, "/api/") && path != "/livez" && path != "/readyz"
}

// Every route of the router is in the matrix and, unless it is a page, in the
// description, and the other way round.
func TestRoutesMatrixAndDescriptionAreOne(t *testing.T) {
	s := &service{}
	routes := map[access.Route]bool{}
	for _, r := range s.engine().Routes() {
		if r.Method != http.MethodHead {
			routes[access.Route{Method: r.Method, Path: r.Path}] = true
		} else if !routes[access.Route{Method: http.MethodGet, Path: r.Path}] {
			t.Errorf("HEAD %s without GET", r.Path)
		}
	}
	described := map[access.Route]bool{}
	for _, o := range agreed.operations() {
		described[access.Route{Method: o.method, Path: routerPath(o.path)}] = true
	}
	inMatrix := map[access.Route]bool{}
	for _, r := range access.Routes() {
		inMatrix[r] = true
		if !routes[r] {
			t.Errorf("%v is in the matrix and not in the router", r)
		}
	}
	for r := range routes {
		if !inMatrix[r] || described[r] == isPage(r.Path) {
			t.Errorf("%v is in the router; in the matrix: %v, described: %v", r, inMatrix[r], described[r])
		}
	}
	for r := range described {
		if !routes[r] {
			t.Errorf("%v is described, and not in the router", r)
		}
	}
}

// A parameter that the router takes is described, and the other way round.
func TestParametersAreThoseOfTheDescription(t *testing.T) {
	s := &service{}
	for _, r := range s.routes() {
		for _, o := range agreed.operations() {
			if o.method != r.method || routerPath(o.path) != r.path {
				continue
			}
			described := map[string]bool{}
			for _, p := range o.op.Parameters {
				if p.Value.In == "query" {
					described[p.Value.Name] = true
				}
			}
			for _, name := range r.query {
				if !described[name] {
					t.Errorf("%s takes %s, which is not described", o.op.OperationID, name)
				}
			}
			if len(described) != len(r.query) {
				t.Errorf("%s describes %v, and takes %v", o.op.OperationID, described, r.query)
			}
		}
	}
}

// Without a shop every handler that asks it panics. The answer says nothing of
// the inside, and the log does.
func TestPanicIsAnInternalProblem(t *testing.T) {
	var log lines
	h := agreed.hold(t, New(nil, Options{Log: log.logger(), Chance: chance(3)}))
	tried := 0
	for _, o := range agreed.operations() {
		if !o.documents("500") {
			continue
		}
		tried++
		a := asker{shop: &shop{TB: t, handler: h}, actor: &atComputer}
		if o.op.OperationID == "getWho" { // asks the shop only about a token
			a.actor, a.secret = nil, "secret"
		}
		if o.op.OperationID == "endSession" { // asks the shop only about a device
			a.actor = &people.Actor{Role: people.Manager, Via: people.ViaDevice, Device: "D-1"}
		}
		text, kind := o.body()
		query := ""
		switch o.op.OperationID { // read what is asked before they ask the shop
		case "match":
			query = "?reading=KD408B217"
		case "matchList":
			text = "reading\nKD408B217\n"
		}
		r := a.try(o, query, text, kind)
		p := r.refused(http.StatusInternalServerError)
		if strings.Contains(r.Body.String(), "nil pointer") || p.Kind != "internal" || !strings.HasSuffix(p.Instance, r.header("X-Request-Id")) {
			t.Errorf("%s: %s", o.op.OperationID, r.Body)
		}
		if said := log.take(); !strings.Contains(said, "nil pointer") || !strings.Contains(said, r.header("X-Request-Id")) {
			t.Errorf("%s: the log says %q", o.op.OperationID, said)
		}
	}
	if tried < 30 {
		t.Errorf("only %d operations were tried", tried)
	}
}

// While the server stops, or is crowded, all but /livez sends the asker elsewhere.
func TestStoppingServerRefuses(t *testing.T) { eachIsTurnedAway(t, stopping) }

func TestCrowdedServerRefuses(t *testing.T) { eachIsTurnedAway(t, crowded) }

func eachIsTurnedAway(t *testing.T, why string) {
	t.Helper()
	s := openShop(t)
	inner := s.handler
	s.handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		inner.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), turnedAwayKey{}, why)))
	})
	for _, o := range agreed.operations() {
		text, kind := o.body()
		r := s.manager().try(o, "", text, kind)
		if o.path == "/livez" || o.path == "/readyz" && why == crowded { // a server that is busy is no sick one
			r.want(http.StatusOK)
			continue
		}
		if p := r.refused(http.StatusServiceUnavailable); p.Kind != "unavailable" || r.header("Retry-After") == "" {
			t.Errorf("%s: %s", o.op.OperationID, r.Body)
		}
	}
}

// A browser that is turned away gets a short page that says so, in its language and with when
// to ask again, and reads nothing of the shop; a program still gets a problem.
func TestATurnedAwayBrowserGetsAPage(t *testing.T) {
	s := openShop(t)
	ask := func(why, method, path string, headers ...string) *httptest.ResponseRecorder {
		r := httptest.NewRequest(method, path, nil)
		for _, h := range append(headers, "Accept: text/html,application/xhtml+xml;q=0.9,*/*;q=0.8") {
			name, value, _ := strings.Cut(h, ": ")
			if name != "" && r.Header.Get(name) == "" {
				r.Header.Set(name, value)
			}
		}
		w := httptest.NewRecorder()
		s.handler.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), turnedAwayKey{}, why)))
		return w
	}
	for _, c := range []struct {
		why, method, path, header, kind, says string
	}{
		{crowded, "GET", "/t/00001Y?a=1&b=2", "", "text/html; charset=utf-8", `href="/t/00001Y?a=1&amp;b=2"`},
		{crowded, "GET", "/today", "", "text/html; charset=utf-8", "too many ask at once. try again in 2 seconds"},
		{crowded, "GET", "/today", "Accept-Language: es", "text/html; charset=utf-8", "demasiados preguntan a la vez. intente otra vez dentro de 2 segundos"},
		{crowded, "POST", "/t/00001Y/take", "", "text/html; charset=utf-8", "Go back and send it again"},
		{stopping, "GET", "/today", "", "text/html; charset=utf-8", "this server is stopping"},
		{crowded, "POST", "/t/00001Y/take", "Pawl-Script: waited", "application/json", "too many ask at once"},
		{crowded, "GET", Prefix + "/tools", "", wire.ProblemType, "too many ask at once"},
		{crowded, "GET", "/today", "Accept: application/json", wire.ProblemType, "too many ask at once"},
	} {
		w := ask(c.why, c.method, c.path, c.header)
		if w.Code != http.StatusServiceUnavailable || w.Header().Get("Content-Type") != c.kind || w.Header().Get("Retry-After") == "" || !strings.Contains(w.Body.String(), c.says) || strings.Contains(w.Body.String(), "<script") {
			t.Errorf("%+v: %d %s, Retry-After %q\n%s", c, w.Code, w.Header().Get("Content-Type"), w.Header().Get("Retry-After"), w.Body)
		}
	}
}

// A closed store is unavailable, which is no mistake of the program.
func TestClosedShopIsUnavailable(t *testing.T) {
	closed, err := model.Open(context.Background(), model.Options{Dir: t.TempDir()})
	if err == nil {
		err = closed.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	a := asker{shop: &shop{TB: t, handler: agreed.hold(t, New(closed, Options{}))}, actor: &atComputer}
	for _, path := range []string{"/tools", "/people", "/settings", "/clock", "/tools/00E-KM5"} {
		a.get(path).refused(http.StatusServiceUnavailable)
	}
	a.post("/places", wire.NewPlace{Path: "Bay 1"}).refused(http.StatusServiceUnavailable)
	a.send(http.MethodGet, "/readyz", nil).refused(http.StatusServiceUnavailable)
	a.send(http.MethodGet, "/livez", nil).want(http.StatusOK)
}

func TestPathsAndMethodsThatAreNot(t *testing.T) {
	s := openShop(t)
	for _, path := range []string{"/nothing", "/api", "/api/v1", "/api/v1/", "/api/v1/nothing", "/api/v1/tools/", "/api/v1/tools/00E-KM5/", "/api/v2/tools",
		"/api/v1/tools/00E-KM5/take/x", "//api/v1/tools", "/api/v1/../v1/tools", "/API/V1/tools"} {
		s.manager().send(http.MethodGet, path, nil).refused(http.StatusNotFound)
	}
	for _, o := range []struct{ method, path, allow string }{
		{http.MethodDelete, "/api/v1/tools/00E-KM5", "GET, HEAD, PATCH"},
		{http.MethodOptions, "/api/v1/tools", "GET, HEAD, POST"},
		{http.MethodGet, "/api/v1/tools/00E-KM5/take", "POST"},
		{"BREW", "/livez", "GET, HEAD"},
	} {
		r := s.manager().send(o.method, o.path, nil)
		if p := r.refused(http.StatusMethodNotAllowed); p.Kind != "method" {
			t.Errorf("%s %s: %s", o.method, o.path, r.Body)
		}
		for _, method := range strings.Split(o.allow, ", ") {
			if !strings.Contains(r.header("Allow"), method) {
				t.Errorf("%s %s: Allow %q without %s", o.method, o.path, r.header("Allow"), method)
			}
		}
	}
}

// A page of another origin cannot have a browser ask for a change; headers as
// the Fetch Metadata recommendation of the W3C has them.
func TestCrossOrigin(t *testing.T) {
	s := openShop(t)
	for _, c := range []struct {
		header string
		status int
	}{
		{"Sec-Fetch-Site: cross-site", http.StatusForbidden},
		{"Sec-Fetch-Site: same-site", http.StatusForbidden},
		{"Origin: https://elsewhere.example", http.StatusForbidden},
		{"Sec-Fetch-Site: same-origin", http.StatusCreated},
	} {
		r := s.manager().post("/places", wire.NewPlace{Path: "Bay 1"}, c.header)
		if r.want(c.status); c.status == http.StatusForbidden && r.refused(c.status).Kind != "forbidden" {
			t.Errorf("%s: %s", c.header, r.Body)
		}
	}
	s.manager().get("/places", "Sec-Fetch-Site: cross-site").want(http.StatusOK)
}

// An actor comes from the in-process transport or a token, from no header.
func TestActorIsNotInHeaders(t *testing.T) {
	s := openShop(t)
	for _, header := range []string{"Actor: manager", "X-Actor: manager", "X-Forwarded-User: Tech A", "Authorization: Basic bTptYW5hZ2Vy",
		"Authorization: Bearer", "Authorization: Bearer a b", "Authorization: Bearer unknown", "Authorization: Bearer " + strings.Repeat("x", 600)} {
		r := s.nobody().get("/whoami", header)
		if p := r.refused(http.StatusUnauthorized); p.Kind != "unauthenticated" || r.header("WWW-Authenticate") != "Bearer" {
			t.Errorf("%s: %s", header, r.Body)
		}
	}
	s.nobody().get("/whoami", "Authorization: Bearer a", "Authorization: Bearer b").refused(http.StatusUnauthorized)
	r, err := http.NewRequestWithContext(client.WithActor(context.Background(), atComputer), http.MethodGet, "/x", nil)
	if actor, known := client.ActorFrom(r.Context()); err != nil || !known || actor != atComputer {
		t.Errorf("the transport's actor is %v, %v", actor, known)
	}
}

func TestSecurityHeaders(t *testing.T) {
	s := openShop(t)
	for _, r := range []reply{s.manager().get("/tools"), s.nobody().get("/tools"), s.nobody().send(http.MethodGet, "/nothing", nil)} {
		for name, want := range map[string]string{
			"X-Content-Type-Options":       "nosniff",
			"Referrer-Policy":              "no-referrer",
			"Cross-Origin-Opener-Policy":   "same-origin",
			"Cross-Origin-Resource-Policy": "same-origin",
			"Cache-Control":                "no-store",
			"Vary":                         "Accept",
			"Strict-Transport-Security":    "",
		} {
			if got := r.header(name); got != want {
				t.Errorf("%s: %s is %q, want %q", r.what, name, got, want)
			}
		}
		if !strings.Contains(r.header("Content-Security-Policy"), "default-src 'none'") {
			t.Errorf("%s: policy %q", r.what, r.header("Content-Security-Policy"))
		}
	}
}

// The log has a line for each request, and nothing that was asked in it.
func TestLogTellsNoSecrets(t *testing.T) {
	s := openShop(t)
	var log lines
	s.handler = New(s.Shop, Options{Log: log.logger(), Chance: chance(5)})
	a := asker{shop: s, secret: "pawl_very-secret"}
	a.get("/tools?text=KD408", "X-Request-Id: forged").refused(http.StatusUnauthorized)
	said := log.take()
	for _, want := range []string{"method=GET", "route=/api/v1/tools", "status=401", "took=", "request="} {
		if !strings.Contains(said, want) {
			t.Errorf("no %q in %q", want, said)
		}
	}
	for _, not := range []string{"KD408", "secret", "forged"} {
		if strings.Contains(said, not) {
			t.Errorf("%q is in %q", not, said)
		}
	}
}

// An upload whose length is stated as too large is refused before its bytes come.
func TestEarlyRefusalOfUpload(t *testing.T) {
	s := openShop(t)
	read := &counted{r: bytes.NewReader(make([]byte, evidence.MaxBytes+1))}
	s.handler = New(s.Shop, Options{})
	r, err := http.NewRequest(http.MethodPut, Prefix+"/evidence/"+strings.Repeat("0", 64), io.NopCloser(read))
	if err != nil {
		t.Fatal(err)
	}
	r.ContentLength = evidence.MaxBytes + 1
	got := s.manager().sent(r)
	if p := got.refused(http.StatusRequestEntityTooLarge); p.Kind != "too large" || read.n != 0 || got.header("Connection") != "close" {
		t.Errorf("%d bytes were read before %s", read.n, got.Body)
	}
}
