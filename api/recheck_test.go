package api

import (
	"net/http"
	"strings"
	"testing"

	"pawl/api/wire"
	"pawl/model/people"
)

// TestRecheck: a wrench is found out; its list as JSON, CSV and PDF, and one line settled.
func TestRecheck(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	number := m.aWrench()
	at := "/tools/" + number
	var v wire.Recheck
	m.get(at + "/recheck").want(http.StatusOK).into(&v)
	if v.Window != nil || len(v.Lines) > 0 || v.Unknown.Words == "" || len(v.Cautions) == 0 {
		t.Errorf("nothing found it out: %+v", v)
	}
	m.post(at+"/tighten", wire.Tighten{Ask: wire.Ask{Target: "108 N·m", Limits: "100..116"}, Job: "1042", Fastener: "front wheel nuts", Count: 5}).want(http.StatusOK)
	m.post(at+"/calibrate", wire.Calibrate{By: "Own words", On: "2026-11-25", Uncertainty: "2.0%", Direction: "cw",
		AsFound: "40=40.4,120=110.0,200=185.2"}).want(http.StatusOK)
	m.get(at + "/recheck").want(http.StatusOK).into(&v)
	if v.Window == nil || len(v.Lines) != 1 || v.Open != 1 || *v.Lines[0].Fastener != "front wheel nuts" || v.Lines[0].Verdict != "indeterminate" {
		t.Fatalf("%+v", v)
	}
	var open wire.UnsettledRechecks
	m.get("/rechecks").want(http.StatusOK).into(&open)
	if len(open.Tools) != 1 || open.Tools[0].Number != number || open.Tools[0].Lines != 1 || open.Tools[0].Since != "2026-11-25" {
		t.Errorf("%+v", open)
	}
	csv := m.get(at + "/recheck?format=csv").want(http.StatusOK)
	if rows := strings.Split(csv.Body.String(), "\r\n"); len(rows) != 4 || !strings.Contains(rows[1], "not known") || !strings.Contains(rows[2], "front wheel nuts") {
		t.Errorf("%q", rows)
	}
	pdf := m.get(at+"/recheck", "Accept: application/pdf").want(http.StatusOK)
	if !strings.HasPrefix(pdf.Body.String(), "%PDF-") {
		t.Error("no PDF")
	}
	for _, kind := range []string{"csv", "pdf"} {
		first := m.get(at + "/recheck?format=" + kind)
		m.get(at+"/recheck?format="+kind, "If-None-Match: "+first.header("ETag")).want(http.StatusNotModified)
	}
	m.get(at + "/recheck?format=doc").refused(http.StatusUnprocessableEntity)
	m.get("/tools/00E-KM5/recheck").refused(http.StatusNotFound)

	line := "/rechecks/" + v.Lines[0].ID + "/settle"
	if p := m.post(line, wire.SettleRecheck{Done: "it clicked at 108"}).refused(http.StatusUnprocessableEntity); p.Errors[0].Pointer != "#/done" {
		t.Errorf("a click: %+v", p)
	}
	m.post("/rechecks/U-00000000/settle", wire.SettleRecheck{Done: "replaced"}).refused(http.StatusNotFound)
	viewer := people.Actor{Person: "H-1", Role: people.Viewer, Via: people.ViaDevice}
	asker{shop: s, actor: &viewer}.post(line, wire.SettleRecheck{Done: "replaced"}).refused(http.StatusForbidden)
	var done wire.RecheckSettled
	m.post(line, wire.SettleRecheck{Done: "bolts replaced as the service information says"}).want(http.StatusOK).into(&done)
	if *done.How != "fastener replaced" || done.Left != 0 || done.Settled == 0 || done.Number != number {
		t.Errorf("%+v", done)
	}
	m.post(line, wire.SettleRecheck{Done: "bolts replaced"}).refused(http.StatusConflict)
	m.get("/rechecks").want(http.StatusOK).into(&open)
	if len(open.Tools) != 0 {
		t.Errorf("settled, and still open: %+v", open)
	}
}
