package api

import (
	"context"
	"encoding/json"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/dates"
	"pawl/model/needs"
	"pawl/model/people"
	"pawl/model/register"
)

// aReport uploads a paper and names it to be attached.
func (a asker) aReport(side int) []wire.Attach {
	a.Helper()
	paper := aPhoto(a.TB, side, asPNG)
	a.upload(paper)
	return []wire.Attach{{Kind: "certificate", SHA256: shaOf(paper)}}
}

func TestInspect(t *testing.T) {
	s := openShop(t)
	m, a := s.manager(), s.person("Tech A", people.Technician)
	lift := m.registered(aKind("two-post lift")).Number
	at := "/tools/" + lift
	var done wire.Inspected
	if p := a.post(at+"/inspect", wire.Inspect{Check: "lift annual", Result: "pass"}).refused(http.StatusUnprocessableEntity); len(p.Errors) != 2 || p.Errors[0].Pointer != "#/by" {
		t.Errorf("neither person nor paper: %+v", p)
	}
	a.post(at+"/inspect", wire.Inspect{Check: "lift annual", Result: "pass", By: "Inspector I, 4711", On: "2026-10-31", Evidence: a.aReport(40)}).want(http.StatusOK).into(&done)
	if done.ID == nil || done.Inspection.On != "2026-10-31" || done.Inspection.Happened != 0 || *done.Inspection.EnteredBy != "Tech A" || done.Inspection.Paper == nil ||
		*done.Checks[0].Next != "2027-10-31" || done.Checks[0].Whose != "consensus standard" || len(done.Cautions) == 0 || done.DoNotUse != nil {
		t.Errorf("%+v", done)
	}
	a.post(at+"/inspect", wire.Inspect{Check: "lift annual", Result: "fail", By: "Inspector I, 4711", Evidence: a.aReport(41)}).want(http.StatusOK).into(&done)
	if done.DoNotUse == nil || !done.Checks[0].Failed || !done.Checks[0].Overdue {
		t.Errorf("failed: %+v", done)
	}
	every := 3
	a.post(at+"/inspect", wire.Inspect{Check: "oil level", Plan: &wire.InspectionPlan{Months: &every}}).want(http.StatusOK).into(&done)
	if done.ID != nil || len(done.Checks) != 2 || done.Checks[1].Whose != "shop" || done.Checks[1].Last != nil || done.Checks[1].Next != nil {
		t.Errorf("a plan alone: %+v", done)
	}
	var all wire.Inspections
	a.get(at + "/inspections").want(http.StatusOK).into(&all)
	if len(all.Inspections) != 2 || all.Inspections[0].Result != "fail" {
		t.Errorf("newest first: %+v", all.Inspections)
	}
	a.get("/tools/x/inspections").refused(http.StatusUnprocessableEntity)
	a.get("/tools/00E-KM5/inspections").refused(http.StatusNotFound)
	a.post("/tools/00E-KM5/inspect", wire.Inspect{Check: "lift annual"}).refused(http.StatusNotFound)
	m.post(at+"/gone", wire.Gone{Why: "sold"}).want(http.StatusOK)
	a.post(at+"/inspect", wire.Inspect{Check: "lift annual"}).refused(http.StatusConflict)
}

func TestDue(t *testing.T) {
	s := openShop(t)
	m, a := s.manager(), s.person("Tech A", people.Technician)
	for range 3 {
		m.registered(aKind("floor jack"))
	}
	m.registered(aKind("impact wrench"))
	var page wire.Dues
	r := a.get("/due?limit=2").want(http.StatusOK)
	r.into(&page)
	if len(page.Due) != 2 || page.Next == nil || r.header("Link") == "" || page.Due[0].What != "jack six-month" || page.Due[0].Why != "none on record" || page.Due[0].Days != 0 || page.Due[0].On != page.Today {
		t.Errorf("%+v", page)
	}
	a.get("/due?limit=2&cursor=" + *page.Next).want(http.StatusOK).into(&page)
	if len(page.Due) != 1 || page.Next != nil {
		t.Errorf("the last page: %+v", page)
	}
	for path, rows := range map[string]int{"/due?sort=inspection&within=60": 3, "/due?sort=tool+calibration": 0, "/due?person=shop": 3, "/due?person=Tech+A": 0} {
		if a.get(path).want(http.StatusOK).into(&page); len(page.Due) != rows {
			t.Errorf("%s: %d rows", path, len(page.Due))
		}
	}
	for _, wrong := range []string{"sort=x", "within=x", "within=9999", "person=Nobody", "place=Moon", "format=pdf", "format=ics&limit=3"} {
		a.get("/due?" + wrong).refused(http.StatusUnprocessableEntity)
	}
	for _, r := range []reply{a.get("/due?format=ics").want(http.StatusOK), a.get("/due", "Accept: text/calendar").want(http.StatusOK)} {
		if r.header("Content-Type") != "text/calendar; charset=utf-8" || strings.Count(r.Body.String(), "BEGIN:VEVENT\r\n") != 3 {
			t.Errorf("%v %s", r.Header(), r.Body)
		}
	}
}

// The address of a calendar is shown once, opens dates to a program that knows
// nothing else, until it is revoked.
func TestCalendarByItsAddress(t *testing.T) {
	s := openShop(t)
	m, a := s.manager(), s.person("Tech A", people.Technician)
	jack := m.registered(aKind("floor jack")).Number
	var feed wire.Feed
	a.post("/feeds", wire.NewFeed{Name: "phone"}).want(http.StatusCreated).into(&feed)
	at, found := strings.CutPrefix(feed.Link[strings.Index(feed.Link, "/api/"):], Prefix)
	if !found || feed.For == nil || *feed.For != "Tech A" || feed.LastUsed != 0 {
		t.Fatalf("%+v", feed)
	}
	r := s.nobody().get(at).want(http.StatusOK)
	if r.header("Content-Type") != "text/calendar; charset=utf-8" || r.header("Cache-Control") != "no-store" || !strings.Contains(r.Body.String(), jack) {
		t.Errorf("%v %s", r.Header(), r.Body)
	}
	s.nobody().get(strings.TrimSuffix(at, ".ics")).want(http.StatusOK)
	var all wire.Feeds
	raw := a.get("/feeds").want(http.StatusOK)
	raw.into(&all)
	if len(all.Feeds) != 1 || all.Feeds[0].LastUsed == 0 || all.Feeds[0].Link != "" || strings.Contains(raw.Body.String(), strings.TrimSuffix(filepath.Base(at), ".ics")) {
		t.Errorf("shown again: %s", raw.Body)
	}
	s.nobody().get("/due", "Authorization: Bearer "+strings.TrimSuffix(filepath.Base(at), ".ics")).refused(http.StatusUnauthorized)
	a.post("/feeds", wire.NewFeed{Name: "x", For: "shop"}).refused(http.StatusForbidden)
	a.post("/feeds", wire.NewFeed{Name: "x", For: "Nobody"}).refused(http.StatusUnprocessableEntity)
	m.post("/feeds", wire.NewFeed{Name: "office", For: "shop"}).want(http.StatusCreated)
	a.post("/feeds/"+feed.ID+"/revoke", "{}").want(http.StatusOK).into(&feed)
	a.post("/feeds/"+feed.ID+"/revoke", "{}").refused(http.StatusConflict)
	a.post("/feeds/F-none/revoke", "{}").refused(http.StatusNotFound)
	s.nobody().get(at).refused(http.StatusNotFound)
	for range 9 {
		s.nobody().get("/calendar/guess").refused(http.StatusNotFound)
	}
	if r := s.nobody().get("/calendar/guess"); r.refused(http.StatusTooManyRequests).Kind != "throttled" || r.header("Retry-After") == "" {
		t.Errorf("%v", r.Header())
	}
}

// npm's ical.js reads back what is given: days, words with everything that is
// escaped, and the same UID after a day has moved.
func TestTheCalendarIsReadByOthers(t *testing.T) {
	modules := os.Getenv("PAWL_NODE_MODULES")
	if modules == "" {
		needs.Missing(t, "PAWL_NODE_MODULES does not name where ical.js is")
	}
	s := openShop(t)
	m := s.manager()
	maker, notes := `Tarn, "heavy"; a\b 漢字`, strings.Repeat("é", 60)
	in := register.New{Change: register.Change{Kind: given("floor jack"), Maker: &maker, Model: &notes}}
	jack := m.registered(in).Number
	tasks := readCalendar(t, modules, m.get("/due?format=tasks").want(http.StatusOK).Body.String())
	before := readCalendar(t, modules, m.get("/due?format=ics").want(http.StatusOK).Body.String())
	m.post("/tools/"+jack+"/inspect", wire.Inspect{Check: "jack six-month", Result: "pass", By: "Tech A", On: "2026-11-01"}).want(http.StatusOK)
	after := readCalendar(t, modules, m.get("/due?format=ics").want(http.StatusOK).Body.String())
	if len(before) != 1 || len(after) != 1 || before[0].UID != after[0].UID || after[0].Start != "2027-05-01" || !after[0].AllDay {
		t.Fatalf("%+v, then %+v", before, after)
	}
	// A to-do is due before the day after its last good one (RFC 5545 3.6.2).
	if len(tasks) != 1 || tasks[0].UID != before[0].UID || dates.Date(tasks[0].Due) != dates.Date(before[0].Start).AddDays(1) || tasks[0].Summary != before[0].Summary+", by "+before[0].Start {
		t.Errorf("tasks %+v beside %+v", tasks, before)
	}
	if want := "jack six-month: floor jack " + jack; after[0].Summary != want || !strings.HasPrefix(after[0].Description, maker+" "+notes+"\n") {
		t.Errorf("%q, %q", after[0].Summary, after[0].Description)
	}
}

type readEvent struct {
	UID, Start, Due, Stamp, Summary, Description string
	AllDay                                       bool
}

// readCalendar has ical.js read a calendar.
func readCalendar(t *testing.T, modules, text string) (out []readEvent) {
	t.Helper()
	const script = `
		const module = require(require("path").join(process.argv[1], "ical.js", "dist", "ical.es5.cjs"));
		const ICAL = module.default || module;
		const root = new ICAL.Component(ICAL.parse(require("fs").readFileSync(0, "utf8")));
		const text = (v, name) => String(v.getFirstPropertyValue(name) ?? "");
		const events = root.getAllSubcomponents("vevent").map(v => { const e = new ICAL.Event(v); return {
			UID: e.uid, Start: e.startDate.toString(), AllDay: e.startDate.isDate, Stamp: text(v, "dtstamp"), Summary: e.summary, Description: e.description }; });
		const tasks = root.getAllSubcomponents("vtodo").map(v => ({
			UID: text(v, "uid"), Due: text(v, "due"), AllDay: v.getFirstPropertyValue("due").isDate, Stamp: text(v, "dtstamp"), Summary: text(v, "summary"), Description: text(v, "description") }));
		console.log(JSON.stringify(events.concat(tasks)));`
	node := exec.Command("node", "-e", script, modules)
	node.Stdin = strings.NewReader(text)
	var failed strings.Builder
	node.Stderr = &failed
	got, err := node.Output()
	if err == nil {
		err = json.Unmarshal(got, &out)
	}
	if err != nil {
		t.Fatalf("ical.js: %v\n%s", err, failed.String())
	}
	return out
}

// A calendar of what somebody holds ends with them.
func TestACalendarEndsWithItsPerson(t *testing.T) {
	s := openShop(t)
	a := s.person("Tech A", people.Technician)
	var feed wire.Feed
	a.post("/feeds", wire.NewFeed{Name: "phone"}).want(http.StatusCreated).into(&feed)
	_, at, _ := strings.Cut(feed.Link, Prefix)
	s.nobody().get(at).want(http.StatusOK)
	if _, err := s.Leave(context.Background(), model.By{Actor: atComputer}, a.actor.Person, model.Leave{}); err != nil {
		t.Fatal(err)
	}
	s.nobody().get(at).refused(http.StatusNotFound)
}
