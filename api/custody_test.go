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

// The last take or return is undone by a new act, once, by whoever may return; a
// tool that was handed on is not, nor what happened over ten minutes ago.
func TestUndo(t *testing.T) {
	s := openShop(t)
	m, a := s.manager(), s.person("Tech A", people.Technician)
	s.person("Tech B", people.Technician)
	at := "/tools/" + m.registered(aTool("KD408B217")).Number
	var taken, done wire.Done
	m.post(at+"/undo", wire.Undo{}).refused(http.StatusUnprocessableEntity)
	a.post(at+"/take", wire.Take{Job: "1042", Due: "2099-11-30"}).want(http.StatusOK).into(&taken)
	m.post(at+"/undo", wire.Undo{Since: "2026-01-01T00:00:00Z"}).refused(http.StatusConflict)
	a.post(at+"/undo", wire.Undo{Since: taken.Custody.Since.String()}).want(http.StatusOK).into(&done)
	if c := done.Custody; done.Done != "undo" || c.State != "in place" || c.Person != nil {
		t.Errorf("a take undone: %+v", done)
	}
	m.post(at+"/undo", wire.Undo{Since: taken.Custody.Since.String()}).refused(http.StatusConflict)
	m.post(at+"/undo", wire.Undo{Since: done.Custody.Since.String()}).want(http.StatusOK).into(&done)
	if c := done.Custody; c.State != "out" || *c.Person != "Tech A" || *c.Job != "1042" || c.Due != taken.Custody.Due {
		t.Errorf("a return undone: %+v", done)
	}
	m.post(at+"/handover", wire.Handover{To: "Tech B"}).want(http.StatusOK).into(&done)
	if p := m.post(at+"/undo", wire.Undo{Since: done.Custody.Since.String()}).refused(http.StatusConflict); p.Facts["since"] == "" {
		t.Errorf("a hand-over undone: %+v", p)
	}
}

// A repeat under one key that says when it happened is the same act: whoever sends
// late what may have got through before asks so.
func TestALateRepeatIsTheSameAct(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	s.person("Tech A", people.Technician)
	at := "/tools/" + m.registered(aTool("KD408B217")).Number
	var first, again wire.Done
	m.post(at+"/take", wire.Take{To: "Tech A"}, "Idempotency-Key: k1").want(http.StatusOK).into(&first)
	m.post(at+"/take", wire.Take{To: "Tech A", Happened: "2020-01-01T00:00:00Z"}, "Idempotency-Key: k1").want(http.StatusOK).into(&again)
	if again.Custody.Since != first.Custody.Since {
		t.Errorf("first %+v, then %+v", first.Custody, again.Custody)
	}
	m.post(at+"/take", wire.Take{To: "Tech A", Job: "1042"}, "Idempotency-Key: k1").refused(http.StatusUnprocessableEntity)
}

// A token that is the shop's own may be shown a badge: it is a board for that one
// request, named after its holder, and may do no more than one.
func TestABadgeIsShownToAToken(t *testing.T) {
	s := openShop(t)
	m, a := s.manager(), s.person("Tech A", people.Technician)
	at := "/tools/" + m.registered(aTool("KD408B217")).Number
	var all wire.People
	m.get("/people").want(http.StatusOK).into(&all)
	badge := "Pawl-Badge: " + all.People[0].Badge
	script := s.as(people.Technician)
	var who wire.Who
	script.get("/whoami", badge).want(http.StatusOK).into(&who)
	if who.Person == nil || *who.Person != "Tech A" || who.Role != "shop device" {
		t.Errorf("it is %+v", who)
	}
	var done wire.Done
	script.post(at+"/take", wire.Take{}, badge).want(http.StatusOK).into(&done)
	if *done.Custody.Person != "Tech A" {
		t.Errorf("taken: %+v", done)
	}
	script.post(at+"/return", wire.Return{}).want(http.StatusOK)
	script.get("/people", badge).refused(http.StatusForbidden)
	script.get("/whoami", "Pawl-Badge: B/7K3M9P4X").refused(http.StatusForbidden)
	a.get("/whoami", badge).refused(http.StatusBadRequest)
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
