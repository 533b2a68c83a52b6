package api

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"pawl/api/wire"
	"pawl/model/people"
)

func TestHealth(t *testing.T) {
	s := openShop(t)
	for path, want := range map[string]string{"/livez": "live", "/readyz": "ready"} {
		var h health
		s.nobody().send(http.MethodGet, path, nil).want(http.StatusOK).into(&h)
		if h.Status != want {
			t.Errorf("%s says %q", path, h.Status)
		}
	}
}

func TestWhoami(t *testing.T) {
	s := openShop(t)
	var w wire.Who
	s.manager().get("/whoami").want(http.StatusOK).into(&w)
	if w.Person != nil || w.Role != "manager" || w.Via != "local" {
		t.Errorf("at this computer: %+v", w)
	}
	s.person("Tech A", people.Technician).get("/whoami").want(http.StatusOK).into(&w)
	if *w.Person != "Tech A" || w.Role != "technician" {
		t.Errorf("Tech A: %+v", w)
	}
	s.as(people.Viewer).get("/whoami").want(http.StatusOK)
	s.as(people.Viewer).get("/tools").refused(http.StatusForbidden)
}

func TestPeople(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	r := m.post("/people", wire.NewPerson{Name: "Tech A", Role: "technician"}).want(http.StatusCreated)
	var p wire.Person
	r.into(&p)
	if p.Name != "Tech A" || !strings.HasPrefix(p.Badge, "B/") || p.Shares || p.Left != 0 {
		t.Errorf("added %+v", p)
	}
	at := "/people/" + p.ID
	if r.header("Location") != Prefix+at || r.header("ETag") != m.get(at).want(http.StatusOK).header("ETag") {
		t.Errorf("Location %q, ETag %s", r.header("Location"), r.header("ETag"))
	}
	m.get(at, "If-None-Match: "+r.header("ETag")).want(http.StatusNotModified)
	m.post("/people", wire.NewPerson{Name: "tech  a", Role: "manager"}).refused(http.StatusConflict)
	if f := m.post("/people", wire.NewPerson{Name: " ", Role: "boss"}).refused(http.StatusUnprocessableEntity); len(f.Errors) != 2 {
		t.Errorf("values at fault: %+v", f.Errors)
	}
	m.post("/people", wire.NewPerson{Name: "Tech B", Role: "technician"}).want(http.StatusCreated)
	s.as(people.Technician).post("/people", wire.NewPerson{Name: "Tech C", Role: "manager"}).refused(http.StatusForbidden)
	m.patch(at, r.header("ETag"), `{"name":"Tech B"}`).refused(http.StatusConflict)
	m.patch(at, r.header("ETag"), `{"name":"Tech Z","role":"manager"}`).want(http.StatusOK).into(&p)
	if p.Name != "Tech Z" || p.Role != "manager" || p.Rev != 2 {
		t.Errorf("edited %+v", p)
	}
	m.patch(at, r.header("ETag"), `{"name":"Tech Y"}`).refused(http.StatusPreconditionFailed)
	m.patch("/people/H-00000000", `"1.0"`, `{"name":"Tech Y"}`).refused(http.StatusNotFound)
	m.get("/people/H-00000000").refused(http.StatusNotFound)
	var all wire.People
	m.get("/people").want(http.StatusOK).into(&all)
	if len(all.People) != 2 || all.Next != nil {
		t.Errorf("all: %+v", all)
	}
}

func TestSettings(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	var now wire.Settings
	r := m.get("/settings").want(http.StatusOK).into(&now)
	if now.Currency != "USD" || now.Rev != 1 {
		t.Errorf("at first: %+v", now)
	}
	m.get("/settings", "If-None-Match: "+r.header("ETag")).want(http.StatusNotModified)
	m.patch("/settings", r.header("ETag"), `{"name":"Demo garage","zone":"America/Chicago","paper":"a4"}`).want(http.StatusOK).into(&now)
	if now.Name != "Demo garage" || now.Zone != "America/Chicago" || now.Paper != "a4" || now.Rev != 2 {
		t.Errorf("edited: %+v", now)
	}
	m.patch("/settings", r.header("ETag"), `{"name":"x"}`).refused(http.StatusPreconditionFailed)
	m.patch("/settings", `"2.0"`, `{"zone":"Chicago","units":"cubits"}`).refused(http.StatusUnprocessableEntity)
	s.as(people.Technician).patch("/settings", `"2.0"`, `{"name":"x"}`).refused(http.StatusForbidden)
}

func TestPlaces(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	var p wire.Place
	m.post("/places", wire.NewPlace{Path: "Bay 1/Cart"}).want(http.StatusCreated).into(&p)
	if p.Path != "Bay 1/Cart" || !strings.HasPrefix(p.Code, "P/") {
		t.Errorf("added %+v", p)
	}
	m.post("/places", wire.NewPlace{Path: "bay 1/cart"}).refused(http.StatusConflict)
	m.post("/places", wire.NewPlace{Path: "Bay 1//Cart"}).refused(http.StatusUnprocessableEntity)
	var all wire.Places
	m.get("/places").want(http.StatusOK).into(&all)
	if len(all.Places) != 2 || all.Places[0].Path != "Bay 1" {
		t.Errorf("parents first: %+v", all)
	}
}

// A place is named by path, symbol or id, with its slashes escaped.
func TestPlaceActs(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	s.person("Tech A", people.Technician)
	var p, box wire.Place
	m.post("/places", wire.NewPlace{Path: "Bay 1/Cart"}).want(http.StatusCreated).into(&p)
	m.post("/places", wire.NewPlace{Path: "Bay 2"}).want(http.StatusCreated)
	in := aTool("KD408B300")
	in.Place = given("Bay 1/Cart")
	number := m.registered(in).Number
	var shown wire.PlaceShown
	for _, by := range []string{"Bay%201%2FCart", "cart", "P%2F" + strings.TrimPrefix(p.Code, "P/"), p.ID} {
		m.get("/places/" + by).want(http.StatusOK).into(&shown)
		if shown.ID != p.ID || shown.Belong != 1 || len(shown.Tools) != 1 || shown.Tools[0].Number != number || shown.As == 0 {
			t.Errorf("%s: %+v", by, shown)
		}
	}
	m.get("/places/unknown").refused(http.StatusNotFound)
	m.get("/places/a%2F%2Fb").refused(http.StatusUnprocessableEntity)
	m.post("/places/"+p.ID+"/rename", wire.PlaceName{Name: "Red cart"}).want(http.StatusOK).into(&box)
	if box.Path != "Bay 1/Red cart" || box.Code != p.Code {
		t.Errorf("renamed: %+v", box)
	}
	m.post("/places/"+p.ID+"/rename", wire.PlaceName{Name: "Red cart"}).refused(http.StatusConflict)
	r := m.post("/places/"+p.ID+"/move", wire.PlaceMove{To: "Bay 2"}, "Idempotency-Key: m").want(http.StatusOK).into(&box)
	if again := m.post("/places/"+p.ID+"/move", wire.PlaceMove{To: "Bay 2"}, "Idempotency-Key: m").want(http.StatusOK); box.Path != "Bay 2/Red cart" || again.Body.String() != r.Body.String() {
		t.Errorf("moved: %+v, then %s", box, again.Body)
	}
	m.post("/places/Bay%202/move", wire.PlaceMove{To: "Red cart"}).refused(http.StatusConflict)
	m.post("/places/"+p.ID+"/whose", wire.PlacePerson{Person: "Tech A"}).want(http.StatusOK).into(&box)
	if box.Person == nil || *box.Person != "Tech A" {
		t.Errorf("given: %+v", box)
	}
	m.post("/places/"+p.ID+"/whose", wire.PlacePerson{Person: "Tech A"}).refused(http.StatusConflict)
	photo := aPhoto(t, 64, asPNG)
	m.upload(photo).want(http.StatusCreated)
	m.post("/places/"+p.ID+"/photo", wire.PlacePhoto{SHA256: shaOf(photo), Name: "drawer.png"}).want(http.StatusOK)
	m.post("/places/"+p.ID+"/photo", wire.PlacePhoto{SHA256: shaOf(photo)}).refused(http.StatusConflict)
	m.post("/places/"+p.ID+"/photo", wire.PlacePhoto{SHA256: strings.Repeat("0", 64)}).refused(http.StatusNotFound)
	m.get("/places/" + p.ID).want(http.StatusOK).into(&shown)
	if len(shown.Photos) != 1 || shown.Photos[0].Kind != "drawer" {
		t.Errorf("photographed: %+v", shown)
	}
	if sheet := m.get("/prints/drawer?name=Red+cart").want(http.StatusOK).Body.String(); !strings.HasPrefix(sheet, "%PDF-") {
		t.Errorf("%.40q", sheet)
	}
	m.get("/prints/drawers").want(http.StatusOK)
	m.get("/prints/drawers?format=svg").refused(http.StatusUnprocessableEntity)
	m.get("/prints/drawer").refused(http.StatusUnprocessableEntity)
	m.post("/places/"+p.ID+"/close", "{}").refused(http.StatusConflict)
	m.post("/places/Bay%201/close", "{}").want(http.StatusOK)
	m.get("/places/Bay%201").refused(http.StatusNotFound)
	s.as(people.Technician).post("/places/"+p.ID+"/move", wire.PlaceMove{}).refused(http.StatusForbidden)
}

// The lists of what to look after, page by page.
func TestCustodyLists(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	s.person("Tech A", people.Technician)
	var numbers []string
	for _, serial := range []string{"KD408B301", "KD408B302", "KD408B303"} {
		n := m.registered(aTool(serial)).Number
		m.post("/tools/"+n+"/take", wire.Take{To: "Tech A", Happened: "2020-01-0" + serial[8:] + "T08:00:00Z", Due: "2020-02-01"}).want(http.StatusOK)
		numbers = append(numbers, n)
	}
	m.post("/tools/"+numbers[2]+"/wrong", wire.Wrong{What: "dropped", Note: "off the lift"}).want(http.StatusOK)
	for which, want := range map[string]int{"overdue": 3, "long+out": 3, "left": 0, "do+not+use": 1} {
		var all wire.Outs
		m.get("/custody?which=" + which).want(http.StatusOK).into(&all)
		if len(all.Tools) != want || all.Next != nil {
			t.Errorf("%s: %+v", which, all)
		}
	}
	var page wire.Outs
	r := m.get("/custody?which=long+out&limit=2&person=Tech+A").want(http.StatusOK).into(&page)
	if len(page.Tools) != 2 || page.Tools[0].Number != numbers[0] || page.Next == nil || !strings.Contains(r.header("Link"), "which=long+out") {
		t.Fatalf("%+v, Link %q", page, r.header("Link"))
	}
	m.get("/custody?which=long+out&person=Tech+A&cursor=" + *page.Next).want(http.StatusOK).into(&page)
	if len(page.Tools) != 1 || page.Tools[0].Number != numbers[2] || page.Tools[0].DoNotUse == nil {
		t.Errorf("%+v", page)
	}
	m.get("/custody?which=overdue&person=Tech+A&cursor=x").refused(http.StatusBadRequest)
	m.get("/custody?which=late").refused(http.StatusUnprocessableEntity)
	m.get("/custody").refused(http.StatusUnprocessableEntity)
}

func TestJobs(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	var j wire.Job
	r := m.post("/jobs", `{"number":"1042/2","vehicle":"van","safety":"no"}`).want(http.StatusCreated).into(&j)
	if r.header("Location") != "/api/v1/jobs/1042%2F2" || j.Safety != "no" || j.Closed != 0 {
		t.Errorf("opened %+v at %s", j, r.header("Location"))
	}
	got := m.send(http.MethodGet, r.header("Location"), nil).want(http.StatusOK)
	if got.header("ETag") != r.header("ETag") {
		t.Errorf("ETag %s, then %s", r.header("ETag"), got.header("ETag"))
	}
	m.get("/jobs/1042%2F2", "If-None-Match: "+r.header("ETag")).want(http.StatusNotModified)
	m.get("/jobs/1042/2").refused(http.StatusNotFound)
	m.get("/jobs/77").refused(http.StatusNotFound)
	m.get("/jobs/a%20b").refused(http.StatusNotFound)
	m.post("/jobs", wire.NewJob{Number: "1042/2"}).refused(http.StatusConflict)
	m.post("/jobs", wire.NewJob{Number: ""}).refused(http.StatusUnprocessableEntity)
	m.post("/jobs", wire.NewJob{Number: "1043"}).want(http.StatusCreated)
	var page wire.Jobs
	r = m.get("/jobs?open=true&limit=1").want(http.StatusOK).into(&page)
	if len(page.Jobs) != 1 || page.Jobs[0].Number != "1043" || page.Next == nil || !strings.Contains(r.header("Link"), "open=true") {
		t.Errorf("newest first: %+v, Link %q", page, r.header("Link"))
	}
	m.get("/jobs?cursor=x").refused(http.StatusBadRequest)
}

func TestTokens(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	s.person("Tech A", people.Technician)
	var made wire.Token
	m.post("/tokens", wire.NewToken{Name: "board", Role: "technician", For: "Tech A"}, "Idempotency-Key: k").want(http.StatusCreated).into(&made)
	if made.Secret == "" || *made.For != "Tech A" || made.Revoked != 0 {
		t.Errorf("made %+v", made)
	}
	if again := m.post("/tokens", wire.NewToken{Name: "board", Role: "technician", For: "Tech A"}, "Idempotency-Key: k").want(http.StatusCreated); strings.Contains(again.Body.String(), "secret") {
		t.Errorf("the secret is shown twice: %s", again.Body)
	}
	m.post("/tokens", wire.NewToken{Name: "board", Role: "technician"}).refused(http.StatusConflict)
	m.post("/tokens", wire.NewToken{Name: "b", Role: "technician", For: "Nobody"}).refused(http.StatusNotFound)

	script := asker{shop: s, secret: made.Secret}
	var w wire.Who
	script.get("/whoami").want(http.StatusOK).into(&w)
	if *w.Person != "Tech A" || w.Role != "technician" || w.Via != "token" {
		t.Errorf("the token is %+v", w)
	}
	script.get("/tokens").refused(http.StatusForbidden)
	if all := m.get("/tokens").want(http.StatusOK).Body.String(); strings.Contains(all, "secret") || !strings.Contains(all, made.ID) {
		t.Errorf("the list is %s", all)
	}
	m.send(http.MethodPost, Prefix+"/tokens/"+made.ID+"/revoke", nil).want(http.StatusOK).into(&made)
	if made.Revoked == 0 {
		t.Errorf("revoked: %+v", made)
	}
	script.get("/whoami").refused(http.StatusUnauthorized)
	m.post("/tokens/"+made.ID+"/revoke", "{}").refused(http.StatusConflict)
	m.post("/tokens/K-00000000/revoke", "{}").refused(http.StatusNotFound)
}

func TestProof(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	m.registered(aTool("KD408B217"))
	var c wire.Checkpoint
	m.send(http.MethodPost, Prefix+"/checkpoints", nil).want(http.StatusCreated).into(&c)
	if c.Size < 2 || !strings.HasPrefix(c.Note, "pawl/") || c.Key == "" || c.Fingerprint == "" {
		t.Errorf("checkpoint %+v", c)
	}
	m.registered(aTool("KD408B218"))
	var v wire.Verified
	m.post("/verify", wire.Verify{Against: []string{c.Note}}).want(http.StatusOK).into(&v)
	if !v.OK || v.Size <= c.Size || len(v.Problems) != 0 || len(v.Said) == 0 {
		t.Errorf("verified %+v", v)
	}
	forged := strings.Replace(c.Note, "\n", "x\n", 1)
	m.post("/verify", wire.Verify{Against: []string{forged}, Part: "1/2"}).want(http.StatusOK).into(&v)
	if v.OK || len(v.Problems) == 0 {
		t.Errorf("a forged checkpoint holds: %+v", v)
	}
	m.send(http.MethodPost, Prefix+"/verify", nil).want(http.StatusOK)
	m.post("/verify", wire.Verify{Part: "3/2"}).refused(http.StatusUnprocessableEntity)
	var done wire.Chores
	m.post("/chores", "{}").want(http.StatusOK).into(&done)
	if done.Done == nil {
		t.Error("done is null")
	}
}

// The clock is doubtful when it is over 120 s before the ledger (DESIGN 4).
func TestClock(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	m.registered(aTool("KD408B217"))
	var c wire.Clock
	m.get("/clock").want(http.StatusOK).into(&c)
	if c.Doubtful || c.Latest == 0 || c.Now < c.Latest {
		t.Errorf("clock %+v", c)
	}
	s.clock.set(time.Date(2026, 11, 24, 9, 0, 0, 0, time.UTC))
	m.get("/clock").want(http.StatusOK).into(&c)
	if !c.Doubtful {
		t.Errorf("a day back: %+v", c)
	}
	s.as(people.Technician).post("/clock/confirm", "{}").refused(http.StatusForbidden)
	m.send(http.MethodPost, Prefix+"/clock/confirm", nil).want(http.StatusOK).into(&c)
	if c.Doubtful {
		t.Errorf("confirmed: %+v", c)
	}
}
