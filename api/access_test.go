package api

import (
	"database/sql"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/api/access"
	"pawl/api/wire"
	"pawl/model/fault"
	"pawl/model/people"
)

// house is a shop with everybody who may ask, each by their own way in, and a
// tool of Tech A's and one of Tech B's, both with a price and a receipt.
type house struct {
	*shop
	asking      []caller
	own, others string // numbers
	techA       string // person ids
	techB       string
	badgeB      string // what Tech B's badge carries
	secondA     string // another device of Tech A's
	receipt     string // of Tech B's tool
	paperA      string // of Tech A's
	raw         *sql.DB
	version     int64  // of the database when its rows were read last
	read        string // those rows
	requests    int
}

// caller is one way to ask. Whoever is not known has no role.
type caller struct {
	name    string
	as      people.Actor // for the matrix
	headers []string
}

func (h *house) caller(name string) caller {
	i := slices.IndexFunc(h.asking, func(c caller) bool { return c.name == name })
	return h.asking[i]
}

func (b *browser) header() []string {
	return []string{"Cookie: " + b.cookie.Name + "=" + b.cookie.Value}
}

func openHouse(t *testing.T) *house {
	t.Helper()
	s := openShop(t)
	h := &house{shop: s}
	a, b := s.person("Tech A", people.Technician), s.person("Tech B", people.Technician)
	h.techA, h.techB = a.actor.Person, b.actor.Person
	s.person("Boss", people.Manager)
	goner := s.person("Tech G", people.Technician)

	expired := s.letIn(wire.NewEnrolment{Person: "Tech A"})
	s.clock.set(s.clock.tick().Add(91 * 24 * time.Hour))
	manager, techA, second := s.letIn(wire.NewEnrolment{Person: "Boss"}), s.letIn(wire.NewEnrolment{Person: "Tech A"}), s.letIn(wire.NewEnrolment{Person: "Tech A"})
	h.secondA = second.device.ID
	board, viewer := s.letIn(wire.NewEnrolment{ShopDevice: "Board"}), s.letIn(wire.NewEnrolment{Viewer: "Adjuster", Until: "2027-06-01"})
	revoked, left := s.letIn(wire.NewEnrolment{Person: "Tech B"}), s.letIn(wire.NewEnrolment{Person: "Tech G"})
	s.manager().post("/devices/"+revoked.device.ID+"/revoke", "{}").want(http.StatusOK)
	s.manager().post("/people/"+goner.actor.Person+"/leave", "{}").want(http.StatusOK)
	var p wire.Person
	s.manager().get("/people/" + h.techA).want(http.StatusOK).into(&p)

	var other wire.Person
	s.manager().get("/people/" + h.techB).want(http.StatusOK).into(&other)
	h.badgeB = strings.TrimPrefix(other.Badge, "B/")

	technician := people.Actor{Role: people.Technician}
	h.asking = []caller{
		{"manager", people.Actor{Role: people.Manager}, manager.header()},
		{"technician", technician, techA.header()},
		{"viewer", people.Actor{Role: people.Viewer}, viewer.header()},
		{"shop device", people.Actor{Role: people.ShopDevice}, board.header()},
		{"shop device with a badge", people.Actor{Role: people.ShopDevice, Person: h.techA}, append(board.header(), "Pawl-Badge: "+p.Badge)},
		{"token", technician, h.token("bench", false)},
		{"revoked token", people.Actor{}, h.token("old", true)},
		{"expired session", people.Actor{}, expired.header()},
		{"revoked session", people.Actor{}, revoked.header()},
		{"somebody who left", people.Actor{}, left.header()},
		{"anonymous", people.Actor{}, nil},
	}
	h.own, h.paperA = h.pricey(a, "Tech A", moneyA, 60)
	h.others, h.receipt = h.pricey(b, "Tech B", moneyB, 61)
	var err error
	if h.raw, err = sql.Open("sqlite3", "file:"+filepath.Join(s.dir, "pawl.db")+"?_query_only=1"); err != nil {
		t.Fatal(err)
	}
	h.raw.SetMaxOpenConns(1) // the version below is one connection's
	t.Cleanup(func() { h.raw.Close() })
	return h
}

// token makes one that acts as the shop's technician.
func (h *house) token(name string, revoked bool) []string {
	h.Helper()
	var made wire.Token
	h.manager().post("/tokens", wire.NewToken{Name: name, Role: "technician"}).want(http.StatusCreated).into(&made)
	if revoked {
		h.manager().post("/tokens/"+made.ID+"/revoke", "{}").want(http.StatusOK)
	}
	return []string{"Authorization: Bearer " + made.Secret}
}

// money is what only some may see of a tool: its price and tax as typed and in
// minor units, its seller and the day of purchase.
type money struct{ price, tax, priceMinor, taxMinor, seller, bought, serial string }

var (
	moneyA = money{"277.31", "22.89", "27731", "2289", "Corner tools", "2026-01-15", "KD408B217"}
	moneyB = money{"412.37", "34.02", "41237", "3402", "Harbor counter", "2026-01-16", "KD408B218"}
)

func (m money) words() []string {
	return []string{m.price, m.tax, m.priceMinor, m.taxMinor, m.seller, m.bought}
}

// pricey registers a tool of a person's with all that only some may see.
func (h *house) pricey(by asker, owner string, m money, side int) (number, receipt string) {
	h.Helper()
	paper := aPhoto(h.TB, side, asPNG)
	by.upload(paper).want(http.StatusCreated)
	in := aTool(m.serial)
	in.Owner, in.Price, in.Tax, in.Seller, in.Bought = given(owner), &m.price, &m.tax, &m.seller, &m.bought
	number = by.registered(in).Number
	by.post("/tools/"+number+"/evidence", attachment{Evidence: []wire.Attach{{Kind: "receipt", SHA256: shaOf(paper)}}}).want(http.StatusOK)
	return number, shaOf(paper)
}

// hidden are the words that a caller must not be told: neither owner shares, and
// a badge is for its person and for managers.
func (h *house) hidden(c caller) []string {
	hidden := append(moneyB.words(), h.receipt)
	if c.name != "technician" { // whose the other tool is
		hidden = slices.Concat(hidden, moneyA.words(), []string{h.paperA})
	}
	if c.name != "manager" {
		hidden = append(hidden, h.badgeB)
	}
	return hidden
}

// ask sends a request from an address of its own, so that nobody is throttled.
func (h *house) ask(c caller, method, path, body, mediaType string, headers ...string) reply {
	h.Helper()
	r := httptest.NewRequest(method, path, strings.NewReader(body))
	h.requests++
	r.RemoteAddr = fmt.Sprintf("10.%d.%d.%d:1", h.requests>>16, h.requests>>8&0xff, h.requests&0xff) // RFC 1918
	for _, each := range slices.Concat(c.headers, headers) {
		name, value, _ := strings.Cut(each, ": ")
		r.Header.Add(name, value)
	}
	if mediaType != "" {
		r.Header.Set("Content-Type", mediaType)
	}
	if method == http.MethodPatch {
		r.Header.Set("If-Match", `"1.0"`)
	}
	return asker{shop: h.shop}.sent(r)
}

// operationalTables may change whoever asks; see tables.go of the store.
var operationalTables = []string{"store", "checkpoints", "replays", "secrets", "uploads", "enrolments", "sessions", "throttles", "goose_db_version"}

// rows gives every recorded and derived row, and the ledger. They are read again
// only when something was committed (sqlite.org/pragma.html#pragma_data_version).
func (h *house) rows() string {
	h.Helper()
	was := h.version
	if err := h.raw.QueryRow("PRAGMA data_version").Scan(&h.version); err != nil {
		h.Fatal(err)
	}
	if h.version != was {
		h.read = h.readRows()
	}
	return h.read
}

func (h *house) readRows() string {
	h.Helper()
	var out strings.Builder
	for _, table := range h.column("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name") {
		if slices.Contains(operationalTables, table) {
			continue
		}
		rows, err := h.raw.Query(`SELECT * FROM "` + table + `" ORDER BY 1, 2`)
		if err != nil {
			h.Fatal(err)
		}
		names, _ := rows.Columns()
		values, into := make([]any, len(names)), make([]any, len(names))
		for i := range values {
			into[i] = &values[i]
		}
		for rows.Next() {
			if err := rows.Scan(into...); err != nil {
				h.Fatal(err)
			}
			fmt.Fprintf(&out, "%s %q\n", table, values)
		}
		if err := rows.Close(); err != nil || rows.Err() != nil {
			h.Fatal(err, rows.Err())
		}
	}
	return out.String()
}

func (h *house) column(query string) (out []string) {
	h.Helper()
	rows, err := h.raw.Query(query)
	if err != nil {
		h.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			h.Fatal(err)
		}
		out = append(out, s)
	}
	return out
}

// filledPath puts what is there into a path of the router; number is a tool's.
func (h *house) filledPath(path, number string) string {
	id := "X-00000000"
	switch {
	case strings.Contains(path, "/people/"):
		id = h.techB
	case strings.Contains(path, "/devices/"):
		id = h.secondA
	}
	parts := strings.Split(path, "/")
	for i, part := range parts {
		switch part {
		case ":number":
			parts[i] = number
			if strings.Contains(path, "/jobs/") {
				parts[i] = "1042"
			}
		case ":id":
			parts[i] = id
		case ":sha256":
			parts[i] = h.receipt
		case ":what":
			parts[i] = "cards"
		default:
			if strings.HasPrefix(part, ":") || strings.HasPrefix(part, "*") {
				parts[i] = "unknown"
			}
		}
	}
	out := strings.Join(parts, "/")
	if path == Prefix+"/labels" {
		out += "?number=" + number
	}
	return out
}

// everyRoute gives what the router has, pages too, and fails for one that is in
// no row of the matrix.
func everyRoute(t *testing.T) (all []access.Route) {
	t.Helper()
	listed := access.Routes()
	for _, r := range (&service{}).engine().Routes() {
		row := access.Route{Method: r.Method, Path: r.Path}
		if r.Method == http.MethodHead {
			row.Method = http.MethodGet
		}
		if !slices.Contains(listed, row) {
			t.Errorf("%s %s is in no row of the matrix", r.Method, r.Path)
		}
		all = append(all, access.Route{Method: r.Method, Path: r.Path})
	}
	if len(all) < 80 {
		t.Fatalf("only %d routes", len(all))
	}
	return all
}

func safe(method string) bool { return method == http.MethodGet || method == http.MethodHead }

// bodyFor is a body that a route reads, as little as goes.
func bodyFor(r access.Route) (text, mediaType string) {
	switch {
	case safe(r.Method):
		return "", ""
	case isPage(r.Path):
		return "key=k", "application/x-www-form-urlencoded"
	case r.Method == http.MethodPatch:
		return "{}", patchType
	}
	return "{}", jsonType
}

// tells says whether a text has the word; one of digits alone by itself, not within the
// keys that are drawn for forms.
func tells(text, word string) bool {
	if strings.Trim(word, "0123456789") != "" {
		return strings.Contains(text, word)
	}
	return regexp.MustCompile(`(^|[^0-9A-Za-z])` + word + `($|[^0-9A-Za-z])`).MatchString(text)
}

// Every route is tried by everybody: whom the matrix lets in gets past it, all
// others are told 401 or 403, and neither they nor any reader change a row.
func TestEveryRouteForEverybody(t *testing.T) {
	h := openHouse(t)
	before := h.rows()
	for _, r := range everyRoute(t) {
		body, kind := bodyFor(r)
		for _, c := range h.asking {
			allowed := access.Allowed(r.Method, r.Path, c.as)
			if allowed && !safe(r.Method) {
				continue // what it does is tried below
			}
			for _, number := range []string{h.own, h.others} {
				got := h.ask(c, r.Method, h.filledPath(r.Path, number), body, kind)
				// A page that would show a form for what is another's may say so at once.
				foreign := isPage(r.Path) && strings.Contains(r.Path, ":") && (number == h.others || c.name == "token")
				what := fmt.Sprintf("%s asks %s %s: %d", c.name, r.Method, r.Path, got.Code)
				switch {
				case !allowed && c.as.Role == "" && got.Code != http.StatusUnauthorized, !allowed && c.as.Role != "" && got.Code != http.StatusForbidden:
					t.Errorf("%s, and the matrix lets them not in", what)
				case allowed && (got.Code == http.StatusUnauthorized || got.Code == http.StatusForbidden && !foreign || got.Code >= 500):
					t.Errorf("%s, and the matrix lets them in\n%s", what, fault.Clip(got.Body.String()))
				}
				// The id of a request is drawn, and may hold any digits.
				told := strings.ReplaceAll(got.Body.String(), got.Header().Get("X-Request-Id"), "")
				for _, word := range h.hidden(c) {
					// What somebody sent may come back to them in a problem.
					if tells(told, word) && !strings.Contains(got.what, word) {
						t.Errorf("%s, and it tells %q", what, word)
					}
				}
				if after := h.rows(); after != before {
					t.Errorf("%s, and rows changed", what)
					before = after
				}
				if !strings.Contains(r.Path, ":number") {
					break // the other tool makes no other request
				}
			}
		}
	}
}

// The words are told to those who may see them, or the test above could not fail.
func TestOwnersSeePriceAndPapers(t *testing.T) {
	h := openHouse(t)
	got := h.ask(h.caller("technician"), http.MethodGet, Prefix+"/tools/"+h.own, "", "").want(http.StatusOK).Body.String()
	for _, word := range []string{moneyA.priceMinor, moneyA.taxMinor, moneyA.seller, moneyA.bought, h.paperA} {
		if !strings.Contains(got, word) {
			t.Errorf("its owner is not told %q", word)
		}
	}
}

// A badge is told and printed to its person and to managers.
func TestWhoSeesABadge(t *testing.T) {
	h := openHouse(t)
	print := func(name string) string { return Prefix + "/prints/badge?format=svg&name=" + url.QueryEscape(name) }
	page := func(name string) string { return "/labels/print/badge?draw=1&name=" + url.QueryEscape(name) }
	for _, r := range []struct {
		caller, path string
		status       int
		tells        bool // Tech B's badge
	}{
		{"manager", Prefix + "/people", 200, true},
		{"manager", print("Tech B"), 200, false},
		{"manager", page("Tech B"), 200, false},
		{"technician", Prefix + "/people", 200, false},
		{"technician", Prefix + "/people/" + h.techB, 200, false},
		{"technician", print("Tech A"), 200, false},
		{"technician", print("Tech B"), 403, false},
		{"technician", page("Tech A"), 200, false},
		{"technician", page("Tech B"), 403, false},
		{"token", print("Tech A"), 403, false},
		{"shop device with a badge", print("Tech A"), 403, false},
	} {
		got := h.ask(h.caller(r.caller), http.MethodGet, r.path, "", "")
		if told := strings.Contains(got.Body.String(), h.badgeB); got.Code != r.status || told != r.tells {
			t.Errorf("%s asks %s: %d, told %v; want %d, %v", r.caller, r.path, got.Code, told, r.status, r.tells)
		}
	}
}

// Whom the matrix lets in gets past it also where something would be done; what
// is named here is not there.
func TestTheMatrixLetsIn(t *testing.T) {
	h := openHouse(t)
	gone := strings.NewReplacer(h.own, "00E-KM5", h.techB, "X-00000000", h.secondA, "X-00000000", h.receipt, strings.Repeat("0", 64))
	for _, r := range everyRoute(t) {
		if safe(r.Method) || r.Path == Prefix+"/session/end" || isPage(r.Path) && !strings.Contains(r.Path, ":") {
			continue // the end of a session is tried elsewhere, and a page without a subject would act
		}
		body, kind := bodyFor(r)
		for _, c := range h.asking {
			if !access.Allowed(r.Method, r.Path, c.as) {
				continue
			}
			got := h.ask(c, r.Method, gone.Replace(h.filledPath(r.Path, h.own)), body, kind)
			if got.Code == http.StatusUnauthorized || got.Code == http.StatusForbidden || got.Code >= 500 {
				t.Errorf("%s asks %s %s: %d, and the matrix lets them in\n%s", c.name, r.Method, r.Path, got.Code, fault.Clip(got.Body.String()))
			}
		}
	}
}

// What a technician does with their own tool and with another's, in this order.
// Every route with a tool, a person or a device in it that technicians may use is
// here, so that nobody forgets to decide.
var ownAndOthers = []struct {
	method, path, body string
	own, others        int
}{
	{"POST", "/tools/:number/take", `{}`, 200, 200},
	{"POST", "/tools/:number/handover", `{"to":"Tech B"}`, 200, 200},
	{"POST", "/tools/:number/return", `{}`, 200, 200},
	{"POST", "/tools/:number/undo", `{"since":"2026-11-25T09:00:00Z"}`, 409, 409}, // it changed hands since
	{"POST", "/tools/:number/away", `{"to":"Lab","for":"repair"}`, 200, 403},
	{"POST", "/tools/:number/back", `{}`, 200, 409}, // another's never went
	{"POST", "/tools/:number/wrong", `{"what":"label gone"}`, 200, 200},
	{"POST", "/tools/:number/label", `{}`, 200, 200},
	{"POST", "/tools/:number/join", `{"number":"FREE"}`, 200, 403},
	{"POST", "/numbers/:number/join", `{"serial":"SERIAL"}`, 200, 403}, // a free number, onto the tool
	{"POST", "/tools/:number/calibrate", `{}`, 422, 403},               // of one that is asked for nothing, nothing was entered
	{"POST", "/tools/:number/bench", `{}`, 422, 403},
	{"POST", "/tools/:number/tighten", `{"job":"1042","fastener":"cap","target":"108 N·m","count":1}`, 200, 200}, // done is done, with whose tool ever
	{"POST", "/tools/:number/measure", `{"job":"1042","what":"gap","target":"1 mm"}`, 200, 200},
	{"POST", "/tools/:number/inspect", `{"check":"look over","result":"pass","plan":{"months":1}}`, 200, 403},
	{"POST", "/tools/:number/marking", `{"grade":3}`, 200, 200},                                   // whoever looks
	{"POST", "/tools/:number/marking/withdraw", `{"id":"M-2H4K9Q7M","why":"mistaken"}`, 404, 404}, // there is no look to take back
	{"POST", "/tools/:number/calibrate/withdraw", `{"id":"A-2H4K9Q7M","why":"mistaken"}`, 404, 404},
	{"POST", "/tools/:number/bench/withdraw", `{"id":"A-2H4K9Q7M","why":"mistaken"}`, 404, 404},
	{"POST", "/tools/:number/tighten/withdraw", `{"id":"V-2H4K9Q7M","why":"mistaken"}`, 404, 404},
	{"POST", "/tools/:number/measure/withdraw", `{"id":"V-2H4K9Q7M","why":"mistaken"}`, 404, 404},
	{"POST", "/rechecks/:id/settle", `{"done":"fastener replaced"}`, 404, 404}, // whoever does the work again; nothing is in doubt here
	{"PATCH", "/jobs/:number", `{"vehicle":"gray wagon"}`, 404, 404},           // a job is the shop's, whosever tools are on it; that number is a tool's, and no job has it
	{"POST", "/jobs/:number/close", `{}`, 404, 404},
	{"POST", "/jobs/:number/reopen", `{"why":"again"}`, 404, 404},
	{"POST", "/jobs/:number/allback", `{"before":"engine"}`, 404, 404},
	{"POST", "/jobs/:number/held", `{"what":"fob"}`, 404, 404},
	{"POST", "/jobs/:number/give", `{"thing":"fob","to":"customer"}`, 404, 404},
	{"POST", "/findings/:id/answer", `{"answer":"found","where":"bench"}`, 404, 404},
	{"POST", "/counts/:id/scan", `{"scanned":"00E-KM5"}`, 404, 404}, // a count is nobody's own
	{"POST", "/counts/:id/confirm", `{"number":"00E-KM5"}`, 404, 404},
	{"POST", "/counts/:id/pause", `{}`, 404, 404},
	{"POST", "/counts/:id/resume", `{}`, 404, 404},
	{"POST", "/tools/:number/evidence", `{"evidence":[{"kind":"plate","sha256":"PHOTO"}]}`, 200, 403},
	{"PATCH", "/tools/:number", `{"notes":"in the cart"}`, 200, 403},
	{"POST", "/tools/:number/swap", `{"serial":"KD408C001","serial_again":"KD408C001"}`, 201, 403},
	{"POST", "/tools/:number/packet", `{}`, 201, 403},
	{"POST", "/tools/:number/gone", `{"why":"sold"}`, 409, 403}, // exchanged just now
	{"PATCH", "/people/:id", `{"shares":true}`, 200, 403},
	{"POST", "/people/:id/copy", `{}`, 200, 403},
	{"POST", "/unsorted/:id/file", `{}`, 404, 404}, // what was photographed belongs to nobody
	{"POST", "/devices/:id/revoke", `{}`, 200, 403},
	{"POST", "/feeds/:id/revoke", `{}`, 200, 403},
	{"POST", "/tools/:number/quotes", `{"amount":"300","source":"Corner tools","date":"2026-01-15"}`, 409, 403}, // it is gone by now; of another's the money is hidden
	{"POST", "/tools/:number/condition", `{"share":"0.9","reason":"worn"}`, 409, 403},
	{"PATCH", "/policies/:id", `{"limit":"1"}`, 404, 404},
	{"PATCH", "/losses/:id", `{"keys":"me"}`, 404, 404}, // nobody here lost anything; of what others lost it is not said that they did
	{"POST", "/losses/:id/missing", `{}`, 404, 404},
	{"POST", "/losses/:id/confirm", `{}`, 404, 404},
	{"POST", "/losses/:id/add", `{"numbers":["00E-KM5"]}`, 404, 404},
	{"POST", "/losses/:id/withdraw", `{"number":"00E-KM5","why":"here"}`, 404, 404},
	{"POST", "/losses/:id/line", `{"number":"00E-KM5"}`, 404, 404},
	{"POST", "/losses/:id/police", `{"agency":"sheriff"}`, 404, 404},
	{"POST", "/losses/:id/given", `{}`, 404, 404},
	{"POST", "/losses/:id/evidence", `{"evidence":[]}`, 404, 404},
	{"PATCH", "/claims/:id", `{"adjuster":"A"}`, 404, 404},
	{"POST", "/claims/:id/facts", `{"on":"2026-11-25","what":"reported"}`, 404, 404},
	{"POST", "/claims/:id/facts/:fact/withdraw", `{"why":"another's"}`, 404, 404},
	{"POST", "/claims/:id/amounts", `{"amounts":[]}`, 404, 404},
	{"POST", "/claims/:id/packets", `{}`, 404, 404}, // nobody here claims anything
	{"POST", "/policies/:id/end", `{}`, 404, 404},   // nobody here has one; of another's it is not said that there is
}

func TestOwnAndOthers(t *testing.T) {
	h := openHouse(t)
	h.letIn(wire.NewEnrolment{Person: "Tech B"})
	var devices wire.Devices
	h.manager().get("/devices").want(http.StatusOK).into(&devices)
	deviceB := devices.Devices[slices.IndexFunc(devices.Devices, func(d wire.Device) bool { return d.InForce && d.Person != nil && *d.Person == "Tech B" })].ID
	c := h.caller("technician")
	photo := aPhoto(t, 70, asPNG)
	h.ask(c, http.MethodPut, Prefix+"/evidence/"+shaOf(photo), string(photo), pngType).want(http.StatusCreated)
	free := h.manager().issued(2)
	var feeds [2]wire.Feed
	h.ask(c, http.MethodPost, Prefix+"/feeds", `{"name":"phone"}`, jsonType).want(http.StatusCreated).into(&feeds[0])
	h.manager().post("/feeds", wire.NewFeed{Name: "office", For: "shop"}).want(http.StatusCreated).into(&feeds[1])
	for _, r := range ownAndOthers {
		for i, want := range []int{r.own, r.others} {
			fill := strings.NewReplacer("FREE", free[0], "PHOTO", shaOf(photo), "SERIAL", []string{moneyA.serial, moneyB.serial}[i])
			number := []string{h.own, h.others}[i]
			if strings.HasPrefix(r.path, "/numbers/") {
				number = free[1]
			}
			path := strings.ReplaceAll(r.path, ":number", number)
			id := []string{h.techA, h.techB}[i]
			if strings.HasPrefix(r.path, "/devices/") {
				id = []string{h.secondA, deviceB}[i]
			} else if strings.HasPrefix(r.path, "/feeds/") {
				id = feeds[i].ID
			}
			path, kind, before := Prefix+strings.ReplaceAll(path, ":id", id), jsonType, h.rows()
			if r.method == http.MethodPatch {
				kind = patchType
			}
			headers := []string(nil)
			if r.method == http.MethodPatch && strings.Contains(r.path, "/tools/") {
				etag := h.ask(c, http.MethodGet, path, "", "").want(http.StatusOK).header("ETag")
				headers = append(headers, "If-Match: "+etag)
			}
			got := h.askWith(c, r.method, path, fill.Replace(r.body), kind, headers)
			if got.Code != want {
				t.Errorf("%s %s of %s: %d, want %d\n%s", r.method, r.path, []string{"one's own", "another's"}[i], got.Code, want, fault.Clip(got.Body.String()))
			}
			if got.Code >= 400 && h.rows() != before {
				t.Errorf("%s %s: %d, and rows changed", r.method, path, got.Code)
			}
		}
	}
	for _, r := range everyRoute(t) {
		listed := slices.ContainsFunc(ownAndOthers, func(row struct {
			method, path, body string
			own, others        int
		}) bool {
			return row.method == r.Method && Prefix+row.path == r.Path
		})
		subject := strings.Contains(r.Path, ":number") || strings.Contains(r.Path, ":id")
		if !safe(r.Method) && !isPage(r.Path) && subject && access.Allowed(r.Method, r.Path, c.as) && !listed {
			t.Errorf("%s %s: say what a technician may do with another's", r.Method, r.Path)
		}
	}
}

// askWith is ask with headers that replace those it would set.
func (h *house) askWith(c caller, method, path, body, mediaType string, headers []string) reply {
	h.Helper()
	if len(headers) == 0 {
		return h.ask(c, method, path, body, mediaType)
	}
	r := httptest.NewRequest(method, path, strings.NewReader(body))
	r.Header.Set("Content-Type", mediaType)
	for _, each := range slices.Concat(c.headers, headers) {
		name, value, _ := strings.Cut(each, ": ")
		r.Header.Set(name, value)
	}
	return asker{shop: h.shop}.sent(r)
}

// A page of another origin has a browser send nothing that would change
// anything, whatever the cookie. Headers: Fetch standard, and Fetch Metadata of
// the W3C.
func TestEveryChangeRefusesAForeignOrigin(t *testing.T) {
	h := openHouse(t)
	before, tried := h.rows(), 0
	for _, r := range everyRoute(t) {
		if safe(r.Method) {
			continue
		}
		body, kind := bodyFor(r)
		for _, header := range []string{"Origin: https://elsewhere.example", "Sec-Fetch-Site: cross-site", "Sec-Fetch-Site: same-site"} {
			tried++
			got := h.ask(h.caller("manager"), r.Method, h.filledPath(r.Path, h.own), body, kind, header)
			if got.Code != http.StatusForbidden || h.rows() != before {
				t.Errorf("%s %s with %s: %d", r.Method, r.Path, header, got.Code)
			}
		}
	}
	if tried < 100 {
		t.Errorf("only %d were tried", tried)
	}
}
