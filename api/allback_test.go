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

// TestJobFromOpenToClosed is one job over the wire: edited, with tools, a held thing and
// findings, refused to be closed, answered for, closed, reopened.
func TestJobFromOpenToClosed(t *testing.T) {
	s := openShop(t)
	m, a := s.manager(), s.person("Tech A", people.Technician)
	in := aTool("KD408B217")
	in.Pieces = &register.Pieces{{Name: "10 mm socket", Count: 1}, {Name: "bit", Count: 5}}
	set, drill := m.registered(in).Number, m.registered(aTool("KD408B218")).Number

	safety, vin := "yes", "1M8GDM9A0KP042788"
	var job wire.Job
	r := m.post("/jobs", wire.NewJob{Number: "1042", Safety: &safety, VIN: &vin}).want(http.StatusCreated).into(&job)
	if len(job.Warnings) != 1 || !strings.Contains(job.Warnings[0], "it would be X") { // row VIN-03 of our table
		t.Errorf("the VIN: %q", job.Warnings)
	}
	etag := r.header("ETag")
	m.patch("/jobs/1042", etag, `{"vin":"1M8GDM9AXKP042788","vehicle":"gray wagon"}`).want(http.StatusOK).into(&job)
	if len(job.Warnings) != 0 || job.Vehicle != "gray wagon" || job.Safety != "yes" {
		t.Errorf("edited: %+v", job)
	}
	m.patch("/jobs/1042", etag, `{"vehicle":"red pickup"}`).refused(http.StatusPreconditionFailed)
	m.patch("/jobs/9999", etag, `{"vehicle":"red pickup"}`).refused(http.StatusNotFound)
	m.patch("/jobs/1042", `"2.0"`, `{"safety":"perhaps"}`).refused(http.StatusUnprocessableEntity)

	a.post("/tools/"+set+"/take", wire.Take{Job: "1042"}).want(http.StatusOK)
	a.post("/tools/"+set+"/return", wire.Return{Missing: []string{"bit*2"}, Broken: "10 mm socket", FragmentMissing: true}).want(http.StatusOK)
	var held wire.HeldThing
	a.post("/jobs/1042/held", wire.Hold{What: "wheel-lock key"}).want(http.StatusCreated).into(&held)
	a.post("/jobs/1042/held", wire.Hold{}).refused(http.StatusUnprocessableEntity)
	a.post("/jobs/9999/held", wire.Hold{What: "fob"}).refused(http.StatusNotFound)

	var v wire.AllBack
	a.post("/jobs/1042/allback", wire.LookAtJob{Scanned: []string{drill, set, "nothing"}, Before: "engine"}).want(http.StatusOK).into(&v)
	if len(v.Scanned) != 3 || *v.Scanned[0].Done != "extra" || *v.Scanned[1].Done != "seen" || v.Scanned[2].Problem == nil || v.Scanned[2].Done != nil {
		t.Errorf("scanned: %+v", v.Scanned)
	}
	a.post("/jobs/1042/allback", wire.LookAtJob{}).refused(http.StatusUnprocessableEntity)
	a.post("/jobs/1042/allback", wire.LookAtJob{Before: "noon"}).refused(http.StatusUnprocessableEntity)
	a.post("/jobs/1042/allback", wire.LookAtJob{Sets: []wire.LookAtSet{{Number: drill}}}).refused(http.StatusUnprocessableEntity)
	a.post("/jobs/9999/allback", wire.LookAtJob{Before: "engine"}).refused(http.StatusNotFound)
	m.get("/jobs/9999/allback").refused(http.StatusNotFound)

	p := a.post("/jobs/1042/close", "{}").refused(http.StatusConflict)
	if p.Kind != "refused" || len(p.Errors) != 4 || p.Facts["open"] != "4" {
		t.Errorf("closed with something open: %+v", p)
	}
	a.post("/jobs/1042/close", wire.CloseJob{Override: "it will do"}).refused(http.StatusForbidden)
	a.post("/jobs/9999/close", "{}").refused(http.StatusNotFound)
	a.post("/jobs/1042/give", wire.GiveHeld{Thing: "wheel-lock key", To: "customer"}).want(http.StatusOK).into(&held)
	if held.GivenTo == nil || *held.GivenTo != "customer" || *held.GivenBy != "Tech A" {
		t.Errorf("given: %+v", held)
	}
	a.post("/jobs/1042/give", wire.GiveHeld{Thing: held.ID, To: "customer"}).refused(http.StatusConflict)
	a.post("/jobs/1042/give", wire.GiveHeld{Thing: "fob", To: "customer"}).refused(http.StatusNotFound)
	a.post("/jobs/1042/give", wire.GiveHeld{Thing: held.ID}).refused(http.StatusUnprocessableEntity)
	answered(a)
	var one wire.Finding
	m.post("/jobs/1042/close", "{}").want(http.StatusOK).into(&v)
	if v.Closed == 0 || !v.Flagged || len(v.Tell) != 1 || v.Open != 0 {
		t.Errorf("closed: %+v", v)
	}
	if p := m.post("/jobs/1042/close", "{}").refused(http.StatusConflict); p.Facts["since"] == "" || p.Facts["by"] == "" {
		t.Errorf("closed twice: %+v", p)
	}
	a.post("/jobs/1042/held", wire.Hold{What: "fob"}).refused(http.StatusConflict)
	var all wire.Findings
	m.get("/findings").want(http.StatusOK).into(&all)
	var page wire.Findings
	m.get("/findings?limit=1").want(http.StatusOK).into(&page)
	if len(page.Findings) != 1 || page.Next != nil || page.Findings[0].ID != all.Findings[0].ID {
		t.Errorf("the first page: %+v", page)
	}
	m.get("/findings?limit=1000").refused(http.StatusUnprocessableEntity)
	m.get("/findings?cursor=nothing").refused(http.StatusBadRequest)
	if len(all.Findings) != 1 || all.Findings[0].Sort != "fragment missing" {
		t.Fatalf("to be told: %+v", all)
	}
	at := "/findings/" + all.Findings[0].ID + "/answer"
	m.post(at, wire.AnswerFinding{Told: "by phone"}).want(http.StatusOK).into(&one)
	if one.Told != "by phone" || one.ToldAt == 0 || !one.Flagged {
		t.Errorf("told: %+v", one)
	}
	m.post(at, wire.AnswerFinding{Answer: "found", Where: "under-tray"}).want(http.StatusOK)
	m.post(at, wire.AnswerFinding{Answer: "found", Where: "elsewhere"}).refused(http.StatusConflict)
	m.post("/findings/Z-00000000/answer", wire.AnswerFinding{Answer: "found", Where: "bench"}).refused(http.StatusNotFound)
	m.post(at, wire.AnswerFinding{}).refused(http.StatusUnprocessableEntity)

	a.post("/jobs/1042/reopen", wire.ReopenJob{Why: "it rattles"}).want(http.StatusOK).into(&v)
	if v.Closed != 0 || v.Reopened == nil || v.Reopened.By != "Tech A" {
		t.Errorf("reopened: %+v", v)
	}
	a.post("/jobs/1042/reopen", wire.ReopenJob{Why: "again"}).refused(http.StatusConflict)
	a.post("/jobs/1042/reopen", wire.ReopenJob{}).refused(http.StatusUnprocessableEntity)
	a.post("/jobs/9999/reopen", wire.ReopenJob{Why: "again"}).refused(http.StatusNotFound)
	m.get("/jobs/1042/allback").want(http.StatusOK).into(&v)
	if v.Takes != 1 || v.TakesBack != 1 || v.Back == nil || !*v.Back || v.Sets != 1 || v.Looked != 1 {
		t.Errorf("in the end: %+v", v)
	}

	s.clock.set(time.Date(2026, 11, 25, 10, 0, 0, 0, time.UTC)) // a sheet says the minute in which it was drawn
	sheet := m.get("/jobs/1042/sheet").want(http.StatusOK)
	if !strings.HasPrefix(sheet.Body.String(), "%PDF-") {
		t.Error("no PDF")
	}
	m.get("/jobs/1042/sheet", "If-None-Match: "+sheet.header("ETag")).want(http.StatusNotModified)
	m.get("/jobs/9999/sheet").refused(http.StatusNotFound)
}

// answered answers for all that is open on job 1042.
func answered(a asker) {
	a.Helper()
	var v wire.AllBack
	a.get("/jobs/1042/allback").want(http.StatusOK).into(&v)
	answers := map[string]wire.AnswerFinding{
		"extra":            {Answer: "known elsewhere", Who: "Tech A, who used it without a scan"},
		"piece missing":    {Answer: "found", Where: "on the cart"},
		"fragment missing": {Answer: "searched and not found", Who: "Tech A", Where: "engine bay"},
	}
	for _, f := range v.Findings {
		if in, known := answers[f.Sort]; known && f.Answer == nil {
			a.post("/findings/"+f.ID+"/answer", in).want(http.StatusOK)
		}
	}
}
