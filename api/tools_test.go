package api

import (
	"net/http"
	"slices"
	"strings"
	"testing"

	"pawl/api/wire"
	"pawl/model/people"
	"pawl/model/register"
)

func given(s string) *string { return &s }

// aTool is what a person enters for an impact wrench.
func aTool(serial string) register.New {
	return register.New{
		SerialAgain: serial,
		Change: register.Change{
			Kind: given("impact wrench"), Maker: given("Brindle"), Model: given("IW-450"), Serial: &serial,
			Price: given("289.00"), Tax: given("23.84"), Bought: given("2026-01-15"), Seller: given("Parts & more <Bay>"), Usage: given("daily"),
			Marking: &register.MarkingEntry{Method: "printed", Where: "under the handle"},
		},
	}
}

// registered registers a tool and gives it.
func (a asker) registered(in register.New) wire.Tool {
	a.Helper()
	var out wire.Registered
	a.post("/tools", in).want(http.StatusCreated).into(&out)
	return out.Tool
}

func TestRegisterATool(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	m.post("/places", wire.NewPlace{Path: "Bay 1/Cart"}).want(http.StatusCreated)
	in := aTool("KD408B217")
	in.Place = given("Cart")
	in.Pieces = &register.Pieces{{Name: "10 mm socket", Count: 2}}
	r := m.post("/tools", in).want(http.StatusCreated)
	var made wire.Registered
	r.into(&made)
	if r.header("Location") != "/api/v1/tools/"+strings.ReplaceAll(made.Number, "-", "") {
		t.Errorf("Location %q of tool %s", r.header("Location"), made.Number)
	}
	got := m.send(http.MethodGet, r.header("Location"), nil).want(http.StatusOK)
	if got.header("ETag") != r.header("ETag") || !strings.HasPrefix(got.header("ETag"), `"1.`) {
		t.Errorf("ETag %s when it was made, %s when it was read", r.header("ETag"), got.header("ETag"))
	}
	var tool wire.Tool
	got.into(&tool)
	if tool.ID != made.ID || *tool.Place != "Bay 1/Cart" || tool.Serial.Key != "KD408B217" || tool.Custody.State != "in place" ||
		tool.Purchase.Price.Minor != 28900 || tool.Purchase.Price.Currency != "USD" || len(tool.Markings) != 1 ||
		tool.Pieces[0].Count != 2 || !slices.Equal(tool.Numbers, []string{tool.Number}) || len(tool.Advice) == 0 {
		t.Errorf("the tool is %+v", tool)
	}
	if !strings.Contains(got.Body.String(), "Parts & more <Bay>") {
		t.Errorf("the seller is escaped for HTML: %s", got.Body)
	}
}

// A list of a tool is a list, and what is not known null, also where there is
// nothing (DETAILS, "JSON and ids").
func TestEmptyMembers(t *testing.T) {
	s := openShop(t)
	tool := s.manager().registered(register.New{Change: register.Change{Kind: given("pry bar")}})
	body := s.manager().get("/tools/" + tool.Number).want(http.StatusOK).Body.String()
	for _, want := range []string{`"pieces":[]`, `"markings":[]`, `"evidence":[]`, `"place":null`, `"do_not_use":null`, `"gone":null`,
		`"person":null`, `"job":null`, `"to":null`, `"for":null`, `"due":null`, `"price":null`, `"warranty":null`, `"missing":[]`, `"owner":"Our shop"`} {
		if !strings.Contains(body, want) {
			t.Errorf("no %s in %s", want, body)
		}
	}
	for path, want := range map[string]string{"/tools?gone=false&text=zzz": `{"tools":[],"gone":0,"next":null}`, "/jobs": `{"jobs":[],"next":null}`,
		"/people": `{"people":[],"next":null}`, "/places": `{"places":[],"next":null}`, "/tokens": `{"tokens":[],"next":null}`} {
		if got := s.manager().get(path).want(http.StatusOK).Body.String(); got != want+"\n" {
			t.Errorf("%s gives %s, want %s", path, got, want)
		}
	}
}

// Prices of a technician's own tool are theirs, and a manager's who was shown
// them (DETAILS, "Access"; DESIGN 11).
func TestPurchaseIsNullToOthers(t *testing.T) {
	s := openShop(t)
	a, b, boss := s.person("Tech A", people.Technician), s.person("Tech B", people.Technician), s.person("Boss", people.Manager)
	in := aTool("KD408B217")
	in.Owner = given("Tech A")
	tool := a.registered(in)
	for name, c := range map[string]struct {
		asker
		shown bool
	}{"the owner": {a, true}, "another": {b, false}, "a manager": {boss, false}, "who holds the folder": {s.manager(), true}} {
		var got wire.Tool
		c.get("/tools/" + tool.Number).want(http.StatusOK).into(&got)
		if (got.Purchase != nil) != c.shown || got.Owner != "Tech A" {
			t.Errorf("%s sees purchase %+v of %s", name, got.Purchase, got.Owner)
		}
	}
	me := a.actor.Person
	etag := a.get("/people/" + me).header("ETag")
	a.patch("/people/"+me, etag, `{"name":"Tech Z"}`).refused(http.StatusForbidden)
	a.patch("/people/"+me, etag, `{"shares":true}`).want(http.StatusOK)
	var got wire.Tool
	boss.get("/tools/" + tool.Number).want(http.StatusOK).into(&got)
	if got.Purchase == nil {
		t.Error("a manager does not see what the owner shares")
	}
}

func TestEditATool(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	tool := m.registered(aTool("KD408B217"))
	other := m.registered(aTool("KD408B218"))
	at := "/tools/" + tool.Number
	etag := m.get(at).header("ETag")
	var now wire.Tool
	r := m.patch(at, etag, `{"notes":"worn","model":null,"warranty_months":24,"price":null,"pieces":[{"name":"case","count":1}]}`).want(http.StatusOK)
	r.into(&now)
	if now.Rev != 2 || now.Notes != "worn" || now.Model != "" || now.Warranty.Months != 24 || now.Purchase.Price != nil || now.Maker != "Brindle" {
		t.Errorf("the tool is now %+v", now)
	}
	if r.header("ETag") != m.get(at).header("ETag") || r.header("ETag") == etag {
		t.Errorf("ETag was %s, is %s", etag, r.header("ETag"))
	}
	m.patch(at, r.header("ETag"), `{"pieces":null,"warranty_months":null}`).want(http.StatusOK).into(&now)
	if len(now.Pieces) != 0 || now.Warranty != nil || now.Notes != "worn" {
		t.Errorf("after null: %+v", now)
	}
	for name, c := range map[string]struct {
		etag, body string
		status     int
		kind       string
	}{
		"the revision before":      {etag, `{"notes":"x"}`, http.StatusPreconditionFailed, "stale"},
		"a tag that is not ours":   {`"abc"`, `{"notes":"x"}`, http.StatusPreconditionFailed, "stale"},
		"a weak tag":               {`W/"3.0"`, `{"notes":"x"}`, http.StatusPreconditionFailed, "stale"},
		"no tag at all":            {"3.0", `{"notes":"x"}`, http.StatusBadRequest, "malformed"},
		"two tags":                 {`"3.0", "2.0"`, `{"notes":"x"}`, http.StatusBadRequest, "malformed"},
		"a member that is read":    {`"3.0"`, `{"rev":9}`, http.StatusUnprocessableEntity, "invalid"},
		"a member in another case": {`"3.0"`, `{"Notes":"x"}`, http.StatusUnprocessableEntity, "invalid"},
		"no kind":                  {`"3.0"`, `{"kind":null}`, http.StatusUnprocessableEntity, "invalid"},
		"the serial of another":    {`"3.0"`, `{"serial":"KD408B218","serial_again":"kd408b218"}`, http.StatusConflict, "conflict"},
		"a serial read once":       {`"3.0"`, `{"serial":"KD408B219"}`, http.StatusUnprocessableEntity, "invalid"},
	} {
		if p := m.patch(at, c.etag, c.body).refused(c.status); p.Kind != c.kind {
			t.Errorf("%s: %+v", name, p)
		}
	}
	// RFC 9110 section 13.1.1: "*" is met by whatever representation there is.
	m.patch(at, "*", `{"notes":"whatever it was"}`).want(http.StatusOK).into(&now)
	if now.Rev != 4 || now.Notes != "whatever it was" {
		t.Errorf("If-Match: * left %+v", now)
	}
	m.patch("/tools/00E-KM5", "*", `{"notes":"x"}`).refused(http.StatusNotFound)
	if p := m.patch(at, `"4.0"`, `{"serial":"KD408B218","serial_again":"KD408B218"}`).refused(http.StatusConflict); p.Facts["number"] != other.Number {
		t.Errorf("the first of two duplicates is not named: %+v", p)
	}
	m.patch("/tools/00E-KM5", `"1.0"`, `{"notes":"x"}`).refused(http.StatusNotFound)
	m.patch("/tools/nonsense", `"1.0"`, `{"notes":"x"}`).refused(http.StatusUnprocessableEntity)
}

// The tag of a tool changes with what is shown of it; only the part before the
// dot counts for a change.
func TestEntityTagsOfATool(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	a := s.person("Tech A", people.Technician)
	tool := m.registered(aTool("KD408B217"))
	at := "/tools/" + tool.Number
	before := m.get(at).header("ETag")
	if r := m.get(at, "If-None-Match: \"x\", W/"+before).want(http.StatusNotModified); r.Body.Len() > 0 || r.header("ETag") != before {
		t.Errorf("304 with ETag %s and %d bytes", r.header("ETag"), r.Body.Len())
	}
	m.get(at, "If-None-Match: *").want(http.StatusNotModified)
	m.get(at, "If-None-Match: "+strings.Split(before, ".")[0]+`"`).want(http.StatusOK)
	a.post(at+"/take", wire.Take{}).want(http.StatusOK)
	r := m.get(at, "If-None-Match: "+before).want(http.StatusOK)
	if after := r.header("ETag"); after == before || strings.Split(after, ".")[0] != strings.Split(before, ".")[0] {
		t.Errorf("the tag was %s in place and is %s when out", before, after)
	}
	m.patch(at, before, `{"notes":"taken meanwhile"}`).want(http.StatusOK)
	if head := m.send(http.MethodHead, Prefix+at, nil).want(http.StatusOK); head.header("ETag") == "" || head.header("Content-Length") == "" {
		t.Errorf("HEAD gives %v", head.Header())
	}
}

func TestRegisterRefuses(t *testing.T) {
	s := openShop(t)
	m, tech := s.manager(), s.person("Tech A", people.Technician)
	s.person("Tech B", people.Technician)
	first := m.registered(aTool("KD408B217"))
	p := m.post("/tools", aTool("kd-408 b217")).refused(http.StatusConflict)
	if p.Facts["number"] != first.Number {
		t.Errorf("the first of two duplicates is not named: %+v", p)
	}
	p = m.post("/tools", `{"kind":"jack","price":"1,5","bought":"2030-01-01","colour":1,"pieces":[{"name":"a","cnt":1}],"serial":7}`).refused(http.StatusUnprocessableEntity)
	var at []string
	for _, f := range p.Errors {
		at = append(at, f.Pointer)
	}
	if got, want := strings.Join(at, " "), "#/colour #/pieces/0/cnt #/serial"; got != want {
		t.Errorf("values at fault: %s, want %s", got, want)
	}
	p = m.post("/tools", `{"kind":"jack","price":"1,5","bought":"2030-01-01"}`).refused(http.StatusUnprocessableEntity)
	if len(p.Errors) != 2 {
		t.Errorf("values at fault: %+v", p.Errors)
	}
	in := aTool("KD408B218")
	in.Owner = given("Tech B")
	tech.post("/tools", in).refused(http.StatusForbidden)
}

func TestFindAndHistoryInPages(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	want := map[string]bool{}
	for _, serial := range []string{"AA1001", "AA1002", "AA1003", "AA1004", "AA1005"} {
		want[m.registered(aTool(serial)).Number] = true
	}
	at, seen, pages := Prefix+"/tools?kind=impact%20wrench&limit=2", 0, 0
	for at != "" {
		r := m.send(http.MethodGet, at, nil).want(http.StatusOK)
		var page wire.Tools
		r.into(&page)
		for _, row := range page.Tools {
			if !want[row.Number] {
				t.Errorf("%s is seen twice, or is not there", row.Number)
			}
			delete(want, row.Number)
			seen++
		}
		at, pages = "", pages+1
		if link := r.header("Link"); link != "" {
			at = strings.TrimPrefix(strings.TrimSuffix(link, `>; rel="next"`), "<")
		}
		if (page.Next != nil) != (at != "") {
			t.Errorf("next is %v in the body and %q in Link", page.Next, at)
		}
	}
	if seen != 5 || pages != 3 {
		t.Errorf("%d tools on %d pages", seen, pages)
	}
	var rows wire.Tools
	m.get("/tools?text=aa1003&state=in%20place&owner=shop").want(http.StatusOK).into(&rows)
	if len(rows.Tools) != 1 || rows.Tools[0].Serial != "AA1003" {
		t.Errorf("found %+v", rows)
	}
	number := rows.Tools[0].Number
	var h wire.History
	r := m.get("/tools/" + number + "/history?limit=1").want(http.StatusOK).into(&h)
	if len(h.History) != 1 || h.Next == nil || r.header("Link") == "" || h.History[0].Verb != "register" {
		t.Errorf("history %+v", h)
	}
	m.get("/tools/" + number + "/history?cursor=" + *h.Next).want(http.StatusOK).into(&h)
	if len(h.History) < 1 || h.Next != nil || h.History[0].Seq == 0 {
		t.Errorf("the rest of the history: %+v", h)
	}
}

func TestListsRefuse(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	number := m.registered(aTool("AA1001")).Number
	for path, want := range map[string]string{
		"/tools?limit=201":                         "invalid",
		"/tools?limit=0":                           "invalid",
		"/tools?limit=-1":                          "invalid",
		"/tools?limit=1e2":                         "invalid",
		"/tools?limit=+5":                          "invalid",
		"/tools?limit=":                            "invalid",
		"/tools?gone=yes":                          "invalid",
		"/tools?state=sold":                        "invalid",
		"/tools?limit=1&limit=2":                   "malformed",
		"/tools?cursor=xyz":                        "malformed",
		"/tools?txt=a":                             "malformed",
		"/tools?text=%zz":                          "malformed",
		"/tools?text=%ff":                          "malformed",
		"/tools?text=a;b":                          "malformed",
		"/tools?place=Nowhere":                     "not found",
		"/tools?person=Nobody":                     "not found",
		"/jobs?limit=201":                          "invalid",
		"/jobs?open=maybe":                         "invalid",
		"/tools/" + number + "/history?limit=1000": "invalid",
		"/tools/00E-KM5/history":                   "not found",
		"/tools/00E-KM5":                           "not found",
		"/tools/00E-KM6":                           "invalid",
		"/tools/%ff":                               "malformed",
	} {
		if r := m.get(path); r.refused(r.Code).Kind != want {
			t.Errorf("%s: %d, want %s\n%s", path, r.Code, want, r.Body)
		}
	}
	m.get("/tools?limit=200").want(http.StatusOK)
}
