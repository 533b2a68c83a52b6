package api

import (
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/api/wire"
	"pawl/model/people"
)

// A cookie is renewed with the first use of a day, once, so that a phone in daily
// use outlives the 400 days that browsers keep one (RFC 6265bis section 5.5); it
// is shut out at once all the same.
func TestACookieIsRenewedDaily(t *testing.T) {
	s := openShop(t)
	s.person("Tech A", people.Technician)
	phone := s.letIn(wire.NewEnrolment{Person: "Tech A"})
	given := func(r reply) []*http.Cookie {
		return slices.DeleteFunc(r.Result().Cookies(), func(c *http.Cookie) bool { return c.Name != phone.cookie.Name })
	}
	for _, path := range []string{"/api/v1/whoami", "/today", "/api/v1/whoami"} {
		s.clock.set(s.clock.tick().Add(80 * 24 * time.Hour))
		got := given(phone.send(http.MethodGet, path, "").want(http.StatusOK))
		if len(got) != 1 || got[0].Value != phone.cookie.Value || got[0].MaxAge != 400*86400 || !got[0].HttpOnly {
			t.Errorf("%s, the first use of a day: %v", path, got)
		}
		if got := given(phone.send(http.MethodGet, path, "").want(http.StatusOK)); len(got) != 0 {
			t.Errorf("%s, the second: %v", path, got)
		}
	}
	// On the first use of a day it signs out: one cookie, which takes it away.
	s.clock.set(s.clock.tick().Add(24 * time.Hour))
	if got := given(phone.post("/session/end", "{}").want(http.StatusOK)); len(got) != 1 || got[0].MaxAge != -1 {
		t.Errorf("signing out: %v", got)
	}
	if got := given(phone.send(http.MethodGet, Prefix+"/whoami", "").want(http.StatusUnauthorized)); len(got) != 0 {
		t.Errorf("of a device that was shut out the cookie is renewed: %v", got)
	}
}

// Viewers end their own session, a board's whoever shows their badge there.
func TestWhoEndsASession(t *testing.T) {
	s := openShop(t)
	var p wire.Person
	s.manager().post("/people", wire.NewPerson{Name: "Tech A", Role: "technician"}).want(http.StatusCreated).into(&p)
	s.manager().post("/people", wire.NewPerson{Name: "Boss", Role: "manager"}).want(http.StatusCreated)
	viewer, board, boss := s.letIn(wire.NewEnrolment{Viewer: "Adjuster", Until: "2027-06-01"}), s.letIn(wire.NewEnrolment{ShopDevice: "Board"}), s.letIn(wire.NewEnrolment{Person: "Boss"})
	viewer.post("/session/end", "{}").want(http.StatusOK)
	viewer.get("/whoami").refused(http.StatusUnauthorized)
	board.post("/session/end", "{}").refused(http.StatusForbidden)
	board.post("/session/end", "{}", "Pawl-Badge: "+p.Badge).want(http.StatusOK)
	board.get("/whoami").refused(http.StatusUnauthorized)
	for _, path := range []string{"/session/end", "/devices/" + boss.device.ID + "/revoke"} {
		if got := boss.post(path, "{}").refused(http.StatusConflict); got.Kind != "refused" || !strings.Contains(got.Hint, "pawl people revoke "+boss.device.ID) {
			t.Errorf("%s: %+v", path, got)
		}
	}
	boss.get("/whoami").want(http.StatusOK)
}

// A board shows the whole tool and the drawer, smaller, and nothing else that was
// photographed or filed.
func TestAtABoardPhotosInPlainSight(t *testing.T) {
	s := openShop(t)
	n := s.manager().registered(aTool("KD408B217")).Number
	board := s.letIn(wire.NewEnrolment{ShopDevice: "Board"})
	shown := map[string]int{"whole": 200, "drawer": 200, "plate": 404, "label": 404, "damage": 404, "receipt": 404, "other": 404}
	side := 80
	for kind, want := range shown {
		photo := aPhoto(t, side, asPNG)
		side++
		s.manager().upload(photo).want(http.StatusCreated)
		s.manager().post("/tools/"+n+"/evidence", attachment{Evidence: []wire.Attach{{Kind: kind, SHA256: shaOf(photo)}}}).want(http.StatusOK)
		for _, size := range []string{"small", "large"} {
			if got := board.get("/evidence/" + shaOf(photo) + "?view=" + size); got.Code != want {
				t.Errorf("%s, %s: %d, want %d", kind, size, got.Code, want)
			}
		}
		board.get("/evidence/" + shaOf(photo)).refused(http.StatusNotFound)
		board.get("/evidence/" + shaOf(photo) + "/codes").refused(http.StatusForbidden)
	}
}

// An act that expects where the tool was when it was asked is not done where that
// changed meanwhile, and says who has it.
func TestAnActOnWhatChangedMeanwhile(t *testing.T) {
	s := openShop(t)
	tech := s.person("Tech A", people.Technician)
	s.person("Tech B", people.Technician)
	n := s.manager().registered(aTool("KD408B217")).Number
	since := func() string {
		var v struct {
			Custody struct{ Since string }
		}
		tech.get("/tools/" + n).want(http.StatusOK).into(&v)
		return v.Custody.Since
	}
	seen := since()
	var done wire.Done
	tech.post("/tools/"+n+"/take", map[string]string{"since": seen}).want(http.StatusOK).into(&done)
	out := since()
	for verb, body := range map[string]map[string]string{
		"return": {"since": seen}, "handover": {"since": seen, "to": "Tech B"}, "away": {"since": seen, "to": "Lab", "for": "repair"},
	} {
		if got := tech.post("/tools/"+n+"/"+verb, body).refused(http.StatusConflict); got.Facts["since"] != out || got.Facts["holder"] != "Tech A" || got.Facts["changed"] == "" {
			t.Errorf("%s: %+v", verb, got)
		}
	}
	if now := since(); now != out {
		t.Errorf("what was refused changed custody at %s", now)
	}
	tech.post("/tools/"+n+"/return", map[string]string{"since": out}).want(http.StatusOK)
	if got := tech.post("/tools/"+n+"/take", map[string]string{"since": out}).refused(http.StatusConflict); got.Facts["changed"] == "" {
		t.Errorf("%+v", got)
	}
	tech.post("/tools/"+n+"/take", map[string]string{"since": "yesterday"}).refused(http.StatusUnprocessableEntity)
}
