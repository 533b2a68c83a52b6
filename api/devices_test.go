package api

import (
	"crypto/tls"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"strings"
	"testing"

	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model"
	"pawl/model/fault"
	"pawl/model/people"
)

// browser keeps the cookie that it was given.
type browser struct {
	*shop
	cookie *http.Cookie
	device wire.Device
}

// letIn makes a link and takes it, as a phone does.
func (s *shop) letIn(in wire.NewEnrolment) *browser {
	s.Helper()
	var e wire.Enrolment
	s.manager().post("/enrolments", in).want(http.StatusCreated).into(&e)
	return s.enterBy(e.Link, wire.Entry{Device: "a phone"})
}

func (s *shop) enterBy(link string, in wire.Entry) *browser {
	s.Helper()
	b := &browser{shop: s}
	r := s.nobody().post("/enrolments/"+secretOf(link)+"/enter", in).want(http.StatusCreated).into(&b.device)
	b.cookie = r.Result().Cookies()[0]
	return b
}

// secretOf is the end of a link.
func secretOf(link string) string {
	_, secret, _ := strings.Cut(link, EnterPath)
	return secret
}

// send sends a request with the cookie. Headers are "Name: value".
func (b *browser) send(method, path, body string, headers ...string) reply {
	b.Helper()
	return b.nobody().send(method, path, strings.NewReader(body), append(headers, "Cookie: "+b.cookie.Name+"="+b.cookie.Value)...)
}

func (b *browser) get(path string, headers ...string) reply {
	b.Helper()
	return b.send(http.MethodGet, Prefix+path, "", headers...)
}

func (b *browser) post(path, body string, headers ...string) reply {
	b.Helper()
	return b.send(http.MethodPost, Prefix+path, body, append(headers, "Content-Type: "+jsonType)...)
}

func TestAPhoneIsLetIn(t *testing.T) {
	s := openShop(t)
	s.person("Tech A", people.Technician)
	var e, seen wire.Enrolment
	s.manager().post("/enrolments", wire.NewEnrolment{Person: "tech a"}).want(http.StatusCreated).into(&e)
	if e.Kind != "person" || e.Name != "Tech A" || e.First || len(secretOf(e.Link)) != 22 {
		t.Fatalf("%+v", e)
	}
	at := "/enrolments/" + secretOf(e.Link)
	for range 2 { // looking uses nothing up
		s.nobody().get(at).want(http.StatusOK).into(&seen)
	}
	if seen.Link != "" || seen.Name != "Tech A" || seen.Expires != e.Expires {
		t.Errorf("it would make %+v", seen)
	}
	s.nobody().post(at+"/enter", wire.Entry{}).refused(http.StatusUnprocessableEntity)
	phone := s.enterBy(e.Link, wire.Entry{Device: "A's phone"})
	if c := phone.cookie; c.Name != "pawl" || !c.HttpOnly || c.Secure || c.SameSite != http.SameSiteLaxMode || c.Path != "/" || c.Domain != "" || c.MaxAge != 400*86400 {
		t.Errorf("the cookie is %s", c)
	}
	if d := phone.device; d.Name != "A's phone" || *d.Person != "Tech A" || !d.InForce || d.Kind != "person" {
		t.Errorf("the device is %+v", d)
	}
	var w wire.Who
	phone.get("/whoami").want(http.StatusOK).into(&w)
	if *w.Person != "Tech A" || w.Role != "technician" || w.Via != "device" || *w.Device != phone.device.ID {
		t.Errorf("it is %+v", w)
	}
	s.nobody().post(at+"/enter", wire.Entry{Device: "second"}).refused(http.StatusNotFound)
	s.nobody().get(at).refused(http.StatusNotFound)

	r := phone.post("/session/end", "{}").want(http.StatusOK)
	if c := r.Result().Cookies()[0]; c.Name != "pawl" || c.Value != "" || c.MaxAge != -1 {
		t.Errorf("the cookie stays as %s", c)
	}
	phone.get("/whoami").refused(http.StatusUnauthorized)
	s.manager().post("/session/end", "{}").refused(http.StatusConflict)
}

func TestTheFirstManagerIsLetIn(t *testing.T) {
	s := openShop(t)
	s.person("Tech A", people.Technician)
	e, err := s.FirstManager(t.Context())
	second, err2 := s.FirstManager(t.Context())
	if err != nil || err2 != nil {
		t.Fatal(err, err2)
	}
	var seen wire.Enrolment
	s.nobody().get("/enrolments/" + e.Secret).want(http.StatusOK).into(&seen)
	if !seen.First || seen.Name != "" {
		t.Errorf("%+v", seen)
	}
	s.nobody().post("/enrolments/"+e.Secret+"/enter", wire.Entry{Device: "phone", Name: "Tech A"}).refused(http.StatusConflict)
	boss := s.enterBy(EnterPath+e.Secret, wire.Entry{Device: "phone", Name: "Boss"})
	boss.get("/tokens").want(http.StatusOK)
	s.nobody().post("/enrolments/"+second.Secret+"/enter", wire.Entry{Device: "phone", Name: "Other"}).refused(http.StatusConflict)
}

func TestWhomALinkLetsIn(t *testing.T) {
	s := openShop(t)
	s.person("Tech A", people.Technician)
	s.letIn(wire.NewEnrolment{Person: "Tech A"})
	boss := s.person("Boss", people.Manager)
	for _, c := range []struct {
		in     wire.NewEnrolment
		status int
	}{
		{wire.NewEnrolment{}, 422},
		{wire.NewEnrolment{Person: "Tech A", ShopDevice: "Board"}, 422},
		{wire.NewEnrolment{Person: "Tech A", Until: "2026-12-01"}, 422},
		{wire.NewEnrolment{Viewer: "Adjuster"}, 422},
		{wire.NewEnrolment{Viewer: "Adjuster", Until: "2026-11-24"}, 422},
		{wire.NewEnrolment{Person: "Nobody"}, 404},
		{wire.NewEnrolment{Person: "Tech A"}, 409},
	} {
		boss.post("/enrolments", c.in).refused(c.status)
	}
	board, viewer := s.letIn(wire.NewEnrolment{ShopDevice: "Board 1"}), s.letIn(wire.NewEnrolment{Viewer: "Adjuster", Until: "2026-12-01"})
	if board.device.Name != "Board 1" || board.device.Kind != "shop" || board.device.Person != nil || viewer.device.Until != "2026-12-01" {
		t.Errorf("%+v, %+v", board.device, viewer.device)
	}
	var all wire.Devices
	s.manager().get("/devices").want(http.StatusOK).into(&all)
	if len(all.Devices) != 3 || all.Devices[0].LastUsed == 0 {
		t.Errorf("%+v", all)
	}
	s.manager().post("/devices/"+viewer.device.ID+"/revoke", "{}").want(http.StatusOK).into(&viewer.device)
	if viewer.device.InForce || viewer.device.Revoked == 0 {
		t.Errorf("%+v", viewer.device)
	}
	viewer.get("/whoami").refused(http.StatusUnauthorized)
	s.manager().post("/devices/"+viewer.device.ID+"/revoke", "{}").refused(http.StatusConflict)
	s.manager().post("/devices/D-00000000/revoke", "{}").refused(http.StatusNotFound)
}

// A browser that is known already and takes another link is that alone.
func TestALinkTakenOnAKnownBrowser(t *testing.T) {
	s := openShop(t)
	s.person("Tech A", people.Technician)
	board := s.letIn(wire.NewEnrolment{ShopDevice: "Board 1"})
	var e wire.Enrolment
	s.manager().post("/enrolments", wire.NewEnrolment{Person: "Tech A"}).want(http.StatusCreated).into(&e)
	var let wire.Device
	board.send(http.MethodPost, Prefix+"/enrolments/"+secretOf(e.Link)+"/enter", `{"device":"pad"}`, "Content-Type: "+jsonType).want(http.StatusCreated).into(&let)
	board.get("/whoami").refused(http.StatusUnauthorized)
	var all wire.Devices
	s.manager().get("/devices").want(http.StatusOK).into(&all)
	if len(all.Devices) != 2 || all.Devices[0].Revoked == 0 || all.Devices[1].ID != let.ID || !all.Devices[1].InForce {
		t.Errorf("%+v", all.Devices)
	}
}

// A badge names who does one act at a board, in the header and in a form.
func TestABadgeNamesWhoActs(t *testing.T) {
	s := openShop(t)
	var p wire.Person
	s.manager().post("/people", wire.NewPerson{Name: "Tech A", Role: "technician"}).want(http.StatusCreated).into(&p)
	n := s.manager().registered(aTool("KD408B217")).Number
	board := s.letIn(wire.NewEnrolment{ShopDevice: "Board 1"})
	if got := board.post("/tools/"+n+"/take", "{}").refused(http.StatusForbidden); got.Facts["badge"] != "needed" {
		t.Errorf("%+v", got)
	}
	var done wire.Done
	board.post("/tools/"+n+"/take", "{}", "Pawl-Badge: "+strings.ToLower(p.Badge)).want(http.StatusOK).into(&done)
	if done.Custody.Person == nil || *done.Custody.Person != "Tech A" {
		t.Errorf("taken by %+v", done.Custody)
	}
	var w wire.Who
	board.get("/whoami").want(http.StatusOK).into(&w)
	if w.Person != nil || w.Role != "shop device" {
		t.Errorf("the badge logged %+v in", w)
	}
	board.get("/whoami", "Pawl-Badge: "+p.Badge).want(http.StatusOK).into(&w)
	if *w.Person != "Tech A" || w.Role != "shop device" {
		t.Errorf("%+v", w)
	}
	board.post("/tools/"+n+"/return", "{}").want(http.StatusOK)
	board.get("/jobs", "Pawl-Badge: T/00EKM5").refused(http.StatusBadRequest)
	board.get("/jobs", "Pawl-Badge: "+p.Badge, "Pawl-Badge: "+p.Badge).refused(http.StatusBadRequest)
	board.get("/jobs", "Pawl-Badge: B/7K3M9P4X").refused(http.StatusForbidden)
	s.person("Tech B", people.Technician).get("/jobs", "Pawl-Badge: "+p.Badge).refused(http.StatusBadRequest) // it is known who they are
	s.manager().get("/jobs", "Pawl-Badge: "+p.Badge).want(http.StatusOK)
}

// A form of the pages holds the badge in a field, however it is sent.
func TestABadgeInAForm(t *testing.T) {
	s := openShop(t)
	var p wire.Person
	s.manager().post("/people", wire.NewPerson{Name: "Tech A", Role: "technician"}).want(http.StatusCreated).into(&p)
	door := &Door{shop: s.Shop}
	board := people.Actor{Role: people.ShopDevice, Via: people.ViaDevice, Device: "D-1"}
	const multi = "--x\r\nContent-Disposition: form-data; name=\"badge\"\r\n\r\n"
	for name, c := range map[string]struct {
		actor      people.Actor
		kind, body string
		person     string
		fails      bool
	}{
		"urlencoded":          {board, "application/x-www-form-urlencoded", "key=k&badge=" + p.Badge, p.ID, false},
		"multipart":           {board, "multipart/form-data; boundary=x", multi + p.Badge + "\r\n--x--\r\n", p.ID, false},
		"empty":               {board, "application/x-www-form-urlencoded", "badge=", "", false},
		"none":                {board, "application/x-www-form-urlencoded", "key=k", "", false},
		"JSON is read by API": {board, "application/json", `{"badge":"B/X"}`, "", false},
		"too large":           {board, "application/x-www-form-urlencoded", "badge=" + strings.Repeat("x", maxJSON), "", true},
		"broken":              {board, "multipart/form-data; boundary=x", "--y", "", true},
		"wrong":               {board, "application/x-www-form-urlencoded", "badge=B/7K3M9P4X", "", true},
		"not at a board":      {people.Actor{Role: people.Technician}, "application/x-www-form-urlencoded", "badge=" + p.Badge, "", false},
	} {
		r := httptest.NewRequest(http.MethodPost, "/t/00E-KM5/take", strings.NewReader(c.body))
		r.Header.Set("Content-Type", c.kind)
		r = r.WithContext(client.WithActor(r.Context(), c.actor))
		got, err := door.Actor(httptest.NewRecorder(), r)
		if (err != nil) != c.fails || got.Person != c.person {
			t.Errorf("%s: %+v, %v", name, got, err)
		}
	}
}

// Ten wrong tries and then 429, with the headers of
// draft-ietf-httpapi-ratelimit-headers (September 2025) and RFC 9110 10.2.3.
func TestGuessesAreThrottled(t *testing.T) {
	s := openShop(t)
	s.person("Tech A", people.Technician)
	var e wire.Enrolment
	s.manager().post("/enrolments", wire.NewEnrolment{Person: "Tech A"}).want(http.StatusCreated).into(&e)
	for range 10 {
		s.nobody().get("/enrolments/wrong").refused(http.StatusNotFound)
	}
	r := s.nobody().get("/enrolments/wrong")
	p := r.refused(http.StatusTooManyRequests)
	wait := r.header("Retry-After")
	if r.header("RateLimit-Policy") != `"guesses";q=10;w=60` || r.header("RateLimit") != `"guesses";r=0;t=`+wait || wait == "" || r.header("Cache-Control") != "no-store" {
		t.Errorf("%v", r.Header())
	}
	if p.Type != "https://iana.org/assignments/http-problem-types#quota-exceeded" || len(p.Violated) != 1 || p.Violated[0] != "guesses" || p.Kind != "throttled" {
		t.Errorf("%+v", p)
	}
	s.nobody().post("/enrolments/wrong/enter", wire.Entry{Device: "d"}).refused(http.StatusTooManyRequests)
	// What is right and cannot be guessed is not kept waiting, from the same address.
	s.nobody().get("/enrolments/" + secretOf(e.Link)).want(http.StatusOK)
	s.enterBy(e.Link, wire.Entry{Device: "d"})
	var made wire.Token
	s.manager().post("/tokens", wire.NewToken{Name: "script", Role: "technician"}).want(http.StatusCreated).into(&made)
	wrong := asker{shop: s, secret: "wrong"}
	for range 10 {
		wrong.get("/whoami").refused(http.StatusUnauthorized)
	}
	wrong.get("/whoami").refused(http.StatusTooManyRequests)
	asker{shop: s, secret: made.Secret}.get("/whoami").want(http.StatusOK)
}

// Only the proxy that was named is believed about others.
func TestProxies(t *testing.T) {
	named := []netip.Prefix{netip.MustParsePrefix("10.0.0.2/32"), netip.MustParsePrefix("fd00::/64")}
	for _, c := range []struct {
		name, remote, forwarded, proto string
		tls                            bool
		address                        string
		https                          bool
	}{
		{"nobody between", "192.0.2.7:5", "", "", false, "192.0.2.7", false},
		{"TLS here", "192.0.2.7:5", "", "", true, "192.0.2.7", true},
		{"through the proxy", "10.0.0.2:5", "192.0.2.7", "https", false, "192.0.2.7", true},
		{"what the asker wrote first is not believed", "10.0.0.2:5", "198.51.100.1, 192.0.2.7", "https, http", false, "192.0.2.7", false},
		{"a stranger says so", "192.0.2.9:5", "198.51.100.1", "https", false, "192.0.2.9", false},
		{"the proxy says nothing", "10.0.0.2:5", "", "", false, "10.0.0.2", false},
		{"the proxy says nonsense", "10.0.0.2:5", "unknown", "ftp", false, "10.0.0.2", false},
		{"IPv6 by its network", "[2001:db8:1:2:3:4:5:6]:5", "", "", false, "2001:db8:1:2::/64", false},
		{"IPv6 through the proxy", "[fd00::1]:5", "[2001:db8::1]:443", "HTTPS", false, "2001:db8::/64", true},
		{"IPv4 in IPv6", "[::ffff:10.0.0.2]:5", "192.0.2.7", "https", false, "192.0.2.7", true},
		{"no network at all", "@", "192.0.2.7", "https", false, "@", false},
	} {
		d := &Door{proxies: named, plain: true}
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		r.RemoteAddr = c.remote
		if c.forwarded != "" {
			r.Header.Set("X-Forwarded-For", c.forwarded)
			r.Header.Set("X-Forwarded-Proto", c.proto)
		}
		if c.tls {
			r.TLS = &tls.ConnectionState{}
		}
		if d.Address(r) != c.address || d.HTTPS(r) != c.https || d.Plain(r) == c.https {
			t.Errorf("%s: %s, HTTPS %v, banner %v; want %s, %v", c.name, d.Address(r), d.HTTPS(r), d.Plain(r), c.address, c.https)
		}
	}
	r := httptest.NewRequest(http.MethodGet, "/", nil)
	if (&Door{}).Plain(r) {
		t.Error("a banner on this computer alone")
	}
}

// Over HTTPS the cookie is bound to the host, Secure, and the only one that
// counts (OWASP ASVS 5.0 3.3.1 to 3.3.4); HSTS is for HTTPS alone (RFC 6797 7.2).
func TestCookieOverHTTPS(t *testing.T) {
	s := openShop(t)
	s.handler = agreed.hold(t, New(s.Shop, Options{Chance: chance(4), Proxies: []netip.Prefix{netip.MustParsePrefix("192.0.2.1/32")}}))
	s.person("Tech A", people.Technician)
	const safe = "X-Forwarded-Proto: https"
	var e wire.Enrolment
	s.manager().post("/enrolments", wire.NewEnrolment{Person: "Tech A"}).want(http.StatusCreated).into(&e)
	r := s.nobody().post("/enrolments/"+secretOf(e.Link)+"/enter", wire.Entry{Device: "phone"}, safe).want(http.StatusCreated)
	c := r.Result().Cookies()[0]
	if c.Name != "__Host-pawl" || !c.Secure || !c.HttpOnly || c.SameSite != http.SameSiteLaxMode || c.Path != "/" || c.Domain != "" {
		t.Errorf("the cookie is %s", c)
	}
	if got := r.header("Strict-Transport-Security"); got != "max-age=31536000; includeSubDomains" {
		t.Errorf("HSTS %q", got)
	}
	for _, try := range []struct {
		cookie, proto string
		status        int
	}{
		{"__Host-pawl=" + c.Value, "https", 200},
		{"pawl=" + c.Value, "https", 401},
		{"__Host-pawl=" + c.Value, "http", 401},
		{"__Host-pawl=x", "https", 401},
		{"__Host-pawl=" + strings.Repeat("x", 600), "https", 401},
	} {
		r := s.nobody().get("/whoami", "Cookie: "+try.cookie, "X-Forwarded-Proto: "+try.proto)
		if r.Code != try.status || (r.header("Strict-Transport-Security") != "") != (try.proto == "https") {
			t.Errorf("%s over %s: %d %v", fault.Clip(try.cookie), try.proto, r.Code, r.Header())
		}
	}
	// A token goes before a cookie.
	s.nobody().get("/whoami", "Cookie: __Host-pawl="+c.Value, safe, "Authorization: Bearer wrong").refused(http.StatusUnauthorized)
}

// A link leads to the address of the settings, else to where the asker is.
func TestWhereALinkLeads(t *testing.T) {
	s := openShop(t)
	s.handler = agreed.hold(t, New(s.Shop, Options{Chance: chance(4), Address: "http://127.0.0.1:8080", Proxies: []netip.Prefix{netip.MustParsePrefix("192.0.2.1/32")}}))
	boss := s.letIn(wire.NewEnrolment{Person: s.person("Boss", people.Manager).actor.Name})
	links := func(headers ...string) string {
		var e, remote wire.Enrolment
		s.manager().post("/enrolments", wire.NewEnrolment{ShopDevice: "Board"}).want(http.StatusCreated).into(&e)
		boss.post("/enrolments", `{"shop_device":"Board"}`, headers...).want(http.StatusCreated).into(&remote)
		return strings.ReplaceAll(e.Link, secretOf(e.Link), "") + " " + strings.ReplaceAll(remote.Link, secretOf(remote.Link), "")
	}
	if got := links(); got != "http://127.0.0.1:8080/enter/ http://example.com/enter/" {
		t.Errorf("without settings: %s", got)
	}
	s.manager().patch("/settings", `"1.0"`, `{"address":"https://tools.example"}`).want(http.StatusOK)
	if got := links(); got != "https://tools.example/enter/ https://tools.example/enter/" {
		t.Errorf("with settings: %s", got)
	}
}

// The log never holds what opens a door.
func TestTheLogHoldsNoLink(t *testing.T) {
	s := openShop(t)
	var log lines
	s.handler = New(s.Shop, Options{Log: log.logger(), Chance: chance(5)})
	board := s.letIn(wire.NewEnrolment{ShopDevice: "Board"})
	e, err := s.EnrollShopDevice(t.Context(), model.By{Actor: atComputer}, "Board")
	if err != nil {
		t.Fatal(err)
	}
	s.nobody().get("/enrolments/" + e.Secret).want(http.StatusOK)
	board.get("/whoami", "Pawl-Badge: B/7K3M9P4X").refused(http.StatusForbidden)
	said := log.take()
	for _, secret := range []string{e.Secret, board.cookie.Value, "7K3M9P4X"} {
		if strings.Contains(said, secret) {
			t.Errorf("the log holds %q", secret)
		}
	}
	if !strings.Contains(said, "route=/api/v1/enrolments/:secret ") {
		t.Errorf("the log is %s", said)
	}
}
