package api

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"pawl/api/wire"
	"pawl/model/people"
	"pawl/model/register"
)

func TestTakeAndReturn(t *testing.T) {
	s := openShop(t)
	m, a := s.manager(), s.person("Tech A", people.Technician)
	s.person("Tech B", people.Technician)
	in := aTool("KD408B217")
	in.Pieces = &register.Pieces{{Name: "10 mm socket", Count: 2}}
	at := "/tools/" + m.registered(in).Number

	var done wire.Done
	a.post(at+"/take", wire.Take{To: "Tech A", Job: "1042", Due: "2026-11-30"}).want(http.StatusOK).into(&done)
	if c := done.Custody; done.Done != "take" || c.State != "out" || *c.Person != "Tech A" || *c.Job != "1042" || c.To != nil ||
		c.Due.String() != "2026-11-30T23:59:59.999999Z" {
		t.Errorf("taken: %+v", done)
	}
	p := a.post(at+"/take", wire.Take{To: "Tech A"}).refused(http.StatusConflict)
	if p.Facts["holder"] != "Tech A" || p.Facts["since"] != done.Custody.Since.String() {
		t.Errorf("taken twice: %+v", p)
	}
	a.post(at+"/take", wire.Take{To: "Tech B"}).refused(http.StatusForbidden)
	a.post(at+"/take", wire.Take{To: "Nobody"}).refused(http.StatusUnprocessableEntity)
	m.post(at+"/handover", wire.Handover{To: "Tech B"}).want(http.StatusOK).into(&done)
	if *done.Custody.Person != "Tech B" || *done.Custody.Job != "1042" {
		t.Errorf("handed over: %+v", done)
	}
	p = a.post(at+"/return", wire.Return{Missing: []string{"hammer"}}).refused(http.StatusUnprocessableEntity)
	if p.Errors[0].Pointer != "#/missing" {
		t.Errorf("a piece that is not of the set: %+v", p)
	}
	a.post(at+"/return", wire.Return{Missing: []string{"10 mm socket*2"}, Condition: "oily"}).want(http.StatusOK).into(&done)
	if done.Custody.State != "in place" || done.Custody.Person != nil || done.Custody.Due != 0 {
		t.Errorf("returned: %+v", done)
	}
	for _, verb := range []string{"return", "handover", "back"} {
		if p := m.post(at+"/"+verb, "{}").refused(http.StatusConflict); p.Facts["since"] == "" {
			t.Errorf("%s of a tool in place: %+v", verb, p)
		}
	}
}

// A body may be left out where nothing needs to be said.
func TestActsWithoutBody(t *testing.T) {
	s := openShop(t)
	m, a := s.manager(), s.person("Tech A", people.Technician)
	at := Prefix + "/tools/" + m.registered(aTool("KD408B217")).Number
	a.send(http.MethodPost, at+"/take", nil).want(http.StatusOK)
	a.send(http.MethodPost, at+"/return", nil).want(http.StatusOK)
	m.send(http.MethodPost, at+"/away", nil).refused(http.StatusUnsupportedMediaType)
}

func TestAwayAndBack(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	at := "/tools/" + m.registered(aTool("KD408B217")).Number
	var done wire.Done
	m.post(at+"/away", wire.Away{To: "Lab", For: "calibration", Due: "2026-12-24"}).want(http.StatusOK).into(&done)
	if c := done.Custody; c.State != "away" || *c.To != "Lab" || *c.For != "calibration" || c.Person != nil {
		t.Errorf("away: %+v", done)
	}
	if p := m.post(at+"/away", wire.Away{To: "Shop 2", For: "lent"}).refused(http.StatusConflict); p.Facts["holder"] != "Lab" {
		t.Errorf("away twice: %+v", p)
	}
	m.post(at+"/away", wire.Away{To: "Lab", For: "holiday"}).refused(http.StatusUnprocessableEntity)
	m.post(at+"/back", wire.Back{Condition: "with paper"}).want(http.StatusOK).into(&done)
	if done.Custody.State != "in place" || done.Custody.For != nil {
		t.Errorf("back: %+v", done)
	}
}

func TestWrongAndClear(t *testing.T) {
	s := openShop(t)
	m, a := s.manager(), s.person("Tech A", people.Technician)
	tool := m.registered(aTool("KD408B217"))
	at := "/tools/" + tool.Number
	var done wire.Done
	a.post(at+"/wrong", wire.Wrong{What: "label gone"}).want(http.StatusOK).into(&done)
	if done.DoNotUse != nil {
		t.Errorf("a missing label puts it out of use: %+v", done)
	}
	m.get(at).want(http.StatusOK).into(&tool)
	if !tool.LabelWanted || tool.DoNotUse != nil {
		t.Errorf("label wanted %v, do not use %v", tool.LabelWanted, tool.DoNotUse)
	}
	a.post(at+"/wrong", wire.Wrong{What: "dropped", Note: "2 m"}).want(http.StatusOK).into(&done)
	if done.DoNotUse == nil || done.DoNotUse.Reason != "dropped" || done.DoNotUse.Note != "2 m" {
		t.Errorf("dropped: %+v", done.DoNotUse)
	}
	if p := a.post(at+"/take", "{}").refused(http.StatusConflict); p.Kind != "refused" || p.Facts["do_not_use"] != "dropped" {
		t.Errorf("taken although dropped: %+v", p)
	}
	a.post(at+"/wrong", wire.Wrong{What: "ugly"}).refused(http.StatusUnprocessableEntity)
	a.post(at+"/clear", wire.Clear{Why: "looks fine"}).refused(http.StatusForbidden)
	m.post(at+"/clear", wire.Clear{}).refused(http.StatusUnprocessableEntity)
	m.post(at+"/clear", wire.Clear{Why: "stripped and looked over"}).want(http.StatusOK).into(&done)
	if strings.Join(done.Cleared, ", ") != "label gone, dropped" || done.DoNotUse != nil {
		t.Errorf("cleared: %+v", done)
	}
	m.post(at+"/clear", wire.Clear{Why: "again"}).refused(http.StatusConflict)
}

func TestActsOnNoTool(t *testing.T) {
	s := openShop(t)
	for verb, body := range map[string]string{"take": `{}`, "return": `{}`, "handover": `{}`, "away": `{"to":"Lab","for":"repair"}`, "back": `{}`,
		"wrong": `{"what":"dropped"}`, "clear": `{"why":"x"}`, "evidence": `{"evidence":[]}`} {
		s.manager().post("/tools/00E-KM5/"+verb, body).refused(http.StatusNotFound)
		s.manager().post("/tools/x/"+verb, body).refused(http.StatusUnprocessableEntity)
	}
}

// A tool answers to its label's symbol, escaped, and to its number with or
// without the hyphen; "+" in an address stays a plus.
func TestNumbersInAddresses(t *testing.T) {
	s := openShop(t)
	number := s.manager().registered(aTool("KD408B217")).Number
	bare := strings.ReplaceAll(number, "-", "")
	for _, typed := range []string{number, bare, strings.ToLower(bare), "T%2F" + bare, "HTTPS:%2F%2FHOST.EXAMPLE%2FT%2F" + bare} {
		s.manager().get("/tools/" + typed).want(http.StatusOK)
	}
	s.manager().get("/tools/" + bare[:3] + "+" + bare[3:]).refused(http.StatusUnprocessableEntity)
}

// The same act under the same key is done once, by the same actor
// (interfaces 2.4).
func TestReplayKeys(t *testing.T) {
	s := openShop(t)
	m, a := s.manager(), s.person("Tech A", people.Technician)
	at := "/tools/" + m.registered(aTool("KD408B217")).Number
	const key = "Idempotency-Key: "
	first := a.post(at+"/take", "{}", key+"k-1").want(http.StatusOK)
	again := a.post(at+"/take", "{}", key+`"k-1"`).want(http.StatusOK)
	if again.Body.String() != first.Body.String() {
		t.Errorf("first %s, then %s", first.Body, again.Body)
	}
	const told = "Idempotency-Replayed"
	if first.Header().Get(told) != "" || again.Header().Get(told) != "true" {
		t.Errorf("%s is %q at first and %q again", told, first.Header().Get(told), again.Header().Get(told))
	}
	a.post(at+"/take", "{}", key+"k-2").refused(http.StatusConflict)
	a.post(at+"/take", `{"to":"Tech A"}`, key+"k-1").refused(http.StatusUnprocessableEntity)
	a.post(at+"/return", "{}", key+"k-1").refused(http.StatusUnprocessableEntity)
	m.post(at+"/return", "{}", key+"k-1").want(http.StatusOK)
	for _, bad := range []string{"", `"`, "a b", `"open`, `"a"b`, `"a\b"`, "ä", strings.Repeat("x", 256)} {
		if p := a.post(at+"/return", "{}", key+bad).refused(http.StatusBadRequest); p.Kind != "malformed" {
			t.Errorf("key %q: %+v", bad, p)
		}
	}
	a.post(at+"/return", "{}", key+"a", key+"b").refused(http.StatusBadRequest)

	etag := m.get(at).header("ETag")
	m.patch(at, etag, `{"notes":"x"}`, key+"k-3").want(http.StatusOK)
	m.patch(at, etag, `{"notes":"x"}`, key+"k-3").want(http.StatusOK)
	m.patch(at, etag, `{"notes":"x"}`, key+"k-4").refused(http.StatusPreconditionFailed)
	var one, two wire.Registered
	m.post("/tools", aTool("KD408B218"), key+"k-5").want(http.StatusCreated).into(&one)
	m.post("/tools", aTool("KD408B218"), key+"k-5").want(http.StatusCreated).into(&two)
	if one.ID != two.ID {
		t.Errorf("registered twice: %s and %s", one.Number, two.Number)
	}
}

// An act entered late carries the time at which it happened.
func TestEnteredLate(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	a := s.person("Tech A", people.Technician)
	at := "/tools/" + m.registered(aTool("KD408B217")).Number
	s.clock.set(time.Date(2026, 11, 26, 9, 0, 0, 0, time.UTC))
	var done wire.Done
	a.post(at+"/take", wire.Take{Happened: "2026-11-25T16:30"}).want(http.StatusOK).into(&done)
	if done.Custody.Since.String() != "2026-11-25T16:30:00Z" {
		t.Errorf("taken at %s", done.Custody.Since)
	}
	if p := a.post(at+"/return", wire.Return{Happened: "2026-11-27T08:00:00Z"}).refused(http.StatusUnprocessableEntity); p.Errors[0].Pointer != "#/happened" {
		t.Errorf("returned tomorrow: %+v", p)
	}
}
