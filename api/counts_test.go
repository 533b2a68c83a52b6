package api

import (
	"net/http"
	"strings"
	"testing"

	"pawl/api/wire"
	"pawl/model/people"
)

// TestCounts: a count from its start to its report, over the wire.
func TestCounts(t *testing.T) {
	s := openShop(t)
	m, a := s.manager(), s.person("Tech A", people.Technician)
	m.post("/places", wire.NewPlace{Path: "Bay 1/Cart"}).want(http.StatusCreated)
	var numbers []string
	for range 4 {
		in := aKind("jack")
		in.Place = given("Bay 1/Cart")
		numbers = append(numbers, m.registered(in).Number)
	}
	a.post("/tools/"+numbers[3]+"/take", wire.Take{}).want(http.StatusOK)
	var c wire.Count
	started := m.post("/counts", wire.StartCount{Scope: "place:Bay 1"}).want(http.StatusCreated)
	started.into(&c)
	if c.Listed != 4 || c.Drawn != 4 || c.State != "open" || c.Scope != "place:Bay 1" || c.Draw != nil || c.Numbers.NotSeen != 3 || c.Numbers.Out != 1 || c.Statement != nil || c.Unsettled != nil {
		t.Fatalf("%+v", c)
	}
	if got := started.header("Location"); got != Prefix+"/counts/"+c.ID {
		t.Errorf("Location %q", got)
	}
	at := "/counts/" + c.ID
	s.scans(a, at, numbers)
	s.differences(m, a, at, numbers)

	m.post(at+"/pause", struct{}{}).want(http.StatusOK).into(&c)
	if c.State != "paused" || c.Paused == 0 || c.PausedBy == nil {
		t.Errorf("%+v", c)
	}
	if p := a.post(at+"/scan", wire.ScanCount{Scanned: numbers[2]}).refused(http.StatusConflict); !strings.Contains(p.Detail, "paused") || p.Facts["since"] == "" {
		t.Errorf("%+v", p)
	}
	m.post(at+"/pause", struct{}{}).refused(http.StatusConflict)
	a.post(at+"/resume", struct{}{}).want(http.StatusOK)
	a.post(at+"/resume", struct{}{}).refused(http.StatusConflict)

	m.post(at+"/close", struct{}{}).want(http.StatusOK).into(&c)
	if st := c.Statement; st == nil || st.Listed != 4 || st.Looked != 4 || st.Seen != 1 || st.ByWord != 1 || st.Missing != 2 || st.AtMostMissing != 2 ||
		st.Confidence != 0.95 || st.Accuracy.Share != 0.5 || len(st.Words) < 3 || len(c.Unsettled) != 1 || c.Unsettled[0].Number != numbers[2] {
		t.Errorf("%+v %+v", st, c.Unsettled)
	}
	for verb, body := range map[string]any{"close": struct{}{}, "pause": struct{}{}, "resume": struct{}{}, "scan": wire.ScanCount{Scanned: numbers[2]},
		"confirm": wire.ConfirmCount{Number: numbers[3]}, "settle": wire.SettleDifference{Number: numbers[2], How: "missing"}} {
		if p := m.post(at+"/"+verb, body).refused(http.StatusConflict); p.Facts["since"] != c.Closed.String() {
			t.Errorf("%s after the closing: %+v", verb, p)
		}
	}
	s.countPapers(m, at, c, numbers)
}

// scans: what a look does, and what changes nothing.
func (s *shop) scans(a asker, at string, numbers []string) {
	t := s.TB
	t.Helper()
	var places wire.Places
	a.get("/places").want(http.StatusOK).into(&places)
	var d wire.Counted
	a.post(at+"/scan", wire.ScanCount{Scanned: places.Places[1].Code}).want(http.StatusOK).into(&d)
	if d.Done != "place" || *d.At != "Bay 1/Cart" || d.Number != nil || d.Custody != nil {
		t.Errorf("%+v", d)
	}
	if p := a.post(at+"/scan", wire.ScanCount{Scanned: "HTTPS://OTHER.EXAMPLE/T/" + numbers[0]}).refused(http.StatusUnprocessableEntity); len(p.Errors) != 1 || !strings.Contains(p.Errors[0].Detail, "other.example") {
		t.Errorf("another shop's label: %+v", p)
	}
	first := a.post(at+"/scan", wire.ScanCount{Scanned: "T/" + numbers[0], At: *d.At, Condition: "oily"}, "Idempotency-Key: look-1").want(http.StatusOK)
	again := a.post(at+"/scan", wire.ScanCount{Scanned: "T/" + numbers[0], At: *d.At, Condition: "oily"}, "Idempotency-Key: look-1").want(http.StatusOK)
	if first.Body.String() != again.Body.String() || again.header("Idempotency-Replayed") != "true" {
		t.Errorf("%s\n%s", first.Body, again.Body)
	}
	if first.into(&d); d.Done != "seen" || *d.Number != numbers[0] || *d.By != "Tech A" || !d.ToLookAt {
		t.Errorf("%+v", d)
	}
	a.post(at+"/scan", wire.ScanCount{Scanned: numbers[0]}).want(http.StatusOK).into(&d)
	if d.Done != "seen already" || *d.By != "Tech A" || d.Seen == 0 {
		t.Errorf("%+v", d)
	}
	for scanned, status := range map[string]int{"4006381333931": 404, "00E": 422, numbers[0] + numbers[1]: 404, "T/" + numbers[0][:4]: 422, "B/ABC": 422, "": 422,
		"00E-KM5": 404, "P/NOWHERE": 404, "serial:nothing": 404} {
		a.post(at+"/scan", wire.ScanCount{Scanned: scanned}).refused(status)
	}
	a.post("/counts/N-00000000/scan", wire.ScanCount{Scanned: numbers[0]}).refused(http.StatusNotFound)
}

// differences: a word given, and two settled.
func (s *shop) differences(m, a asker, at string, numbers []string) {
	t := s.TB
	t.Helper()
	var d wire.Counted
	a.post(at+"/confirm", wire.ConfirmCount{Number: numbers[0]}).refused(http.StatusForbidden)
	m.post(at+"/confirm", wire.ConfirmCount{Number: numbers[0]}).refused(http.StatusConflict)
	m.post(at+"/confirm", wire.ConfirmCount{Number: "00E-KM5"}).refused(http.StatusUnprocessableEntity)
	a.post(at+"/confirm", wire.ConfirmCount{Number: numbers[3]}).want(http.StatusOK).into(&d)
	if d.Done != "confirmed" || *d.Custody.Person != "Tech A" {
		t.Errorf("%+v", d)
	}
	a.post(at+"/settle", wire.SettleDifference{Number: numbers[1], How: "missing"}).refused(http.StatusForbidden)
	if p := m.post(at+"/settle", wire.SettleDifference{Number: numbers[1], How: "found"}).refused(http.StatusUnprocessableEntity); p.Errors[0].Pointer != "#/at" {
		t.Errorf("%+v", p)
	}
	var row wire.CountTool
	m.post(at+"/settle", wire.SettleDifference{Number: numbers[1], How: "missing", Note: "searched"}).want(http.StatusOK).into(&row)
	if row.Settled == nil || row.Settled.How != "missing" || *row.Bucket != "not seen" || row.Expected != "in Bay 1/Cart" {
		t.Errorf("%+v", row)
	}
	m.post(at+"/settle", wire.SettleDifference{Number: numbers[1], How: "missing"}).refused(http.StatusConflict)
}

// countPapers: lists, the report, and the plan.
func (s *shop) countPapers(m asker, at string, c wire.Count, numbers []string) {
	t := s.TB
	t.Helper()
	var all wire.Counts
	m.get("/counts?open=true").want(http.StatusOK).into(&all)
	if len(all.Counts) != 0 {
		t.Errorf("%+v", all)
	}
	m.get("/counts?limit=1").want(http.StatusOK).into(&all)
	if len(all.Counts) != 1 || all.Counts[0].ID != c.ID || all.Counts[0].State != "closed" {
		t.Errorf("%+v", all)
	}
	m.get("/counts?limit=0").refused(http.StatusUnprocessableEntity)
	tag := m.get(at).want(http.StatusOK).header("ETag")
	m.get(at, "If-None-Match: "+tag).want(http.StatusNotModified)
	m.get("/counts/N-00000000").refused(http.StatusNotFound)
	var tools wire.CountTools
	m.get(at + "/tools?limit=3").want(http.StatusOK).into(&tools)
	m.get(at + "/tools?limit=3&cursor=" + *tools.Next).want(http.StatusOK).into(&tools)
	if len(tools.Tools) != 1 || tools.Next != nil {
		t.Errorf("%+v", tools)
	}
	m.get(at + "/tools?which=not+seen").want(http.StatusOK).into(&tools)
	if len(tools.Tools) != 2 || tools.Tools[0].Number != numbers[1] || tools.Tools[0].LastSeen != nil {
		t.Errorf("%+v", tools)
	}
	m.get(at + "/tools?which=eaten").refused(http.StatusUnprocessableEntity)
	m.get("/counts/N-00000000/tools").refused(http.StatusNotFound)

	csv := m.get(at + "/report?format=csv").want(http.StatusOK)
	if text := csv.Body.String(); strings.Count(text, "\r\n") != 5+len(c.Statement.Words) || !strings.Contains(text, "2 of 4 are missing") {
		t.Errorf("%s", text)
	}
	m.get(at+"/report?format=csv", "If-None-Match: "+csv.header("ETag")).want(http.StatusNotModified)
	if pdf := m.get(at+"/report", "Accept: application/pdf").want(http.StatusOK); !strings.HasPrefix(pdf.Body.String(), "%PDF-") {
		t.Error("no PDF")
	}
	m.get(at + "/report?format=doc").refused(http.StatusUnprocessableEntity)
	m.get("/counts/N-00000000/report").refused(http.StatusNotFound)

	var missing wire.MissingTools
	m.get("/counts/missing").want(http.StatusOK).into(&missing)
	if len(missing.Tools) != 1 || missing.Tools[0].Number != numbers[1] || missing.Tools[0].Count != c.ID || *missing.Tools[0].Note != "searched" || missing.Tools[0].LastSeen != nil {
		t.Errorf("%+v", missing)
	}
	m.get("/counts/missing?limit=0").refused(http.StatusUnprocessableEntity)

	var plan wire.CountPlan
	m.get("/counts/plan?within=1").want(http.StatusOK).into(&plan)
	if plan.Within != 1 || plan.Usual < 1 {
		t.Errorf("%+v", plan)
	}
	m.get("/counts/plan?within=0").refused(http.StatusUnprocessableEntity)
}

// TestSamples: a sample says what it was drawn from, and that it was drawn again.
func TestSamples(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	for range 20 {
		m.registered(aKind("jack"))
	}
	seed, confidence := int64(7), 0.95
	var c, again wire.Count
	m.post("/counts", wire.StartCount{How: "sample", MissingAtLeast: 1, Confidence: &confidence, Seed: &seed}).want(http.StatusCreated).into(&c)
	if c.Listed != 20 || c.Drawn != 19 || *c.MissingAtLeast != 1 || *c.Draw.Chosen != 7 || c.Draw.Checkpoint != nil || c.RedrawOf != nil || c.Numbers.NotInSample != 1 {
		t.Errorf("%+v", c)
	}
	m.post("/counts", wire.StartCount{How: "sample", MissingAtLeast: 5}).want(http.StatusCreated).into(&again)
	if again.Drawn != 7 || again.Confidence != 0.9 || again.Draw.Chosen != nil || again.Draw.Checkpoint == nil || *again.RedrawOf != c.ID {
		t.Errorf("%+v", again)
	}
	for pointer, in := range map[string]wire.StartCount{"#/scope": {Scope: "place:nowhere"}, "#/how": {How: "guess"}, "#/tolerable": {How: "units"}} {
		if p := m.post("/counts", in).refused(http.StatusUnprocessableEntity); p.Errors[0].Pointer != pointer {
			t.Errorf("%+v: %+v", in, p)
		}
	}
}
