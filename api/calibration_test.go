package api

import (
	"net/http"
	"strings"
	"testing"

	"pawl/api/wire"
	"pawl/model/people"
	"pawl/model/register"
)

// aKind is the least that registers a tool of a kind.
func aKind(kind string) register.New {
	return register.New{Change: register.Change{Kind: &kind}}
}

// aWrench registers a torque wrench that a laboratory found good clockwise.
func (a asker) aWrench() string {
	a.Helper()
	number := a.registered(aKind("torque wrench")).Number
	a.post("/tools/"+number+"/calibrate", wire.Calibrate{
		Requirement: &wire.NewRequirement{Preset: "torque-wrench-setting", Unit: "N·m", Range: "40..200", Graduation: "1", GripToDrive: "400mm"},
		By:          "Own words", CertificateNumber: "C-118", On: "2026-11-25", Direction: "cw", Uncertainty: "0.6%",
		AsLeft: "40=40.0,40.1,40.0,39.9,40.0,120=120.1,120.0,119.9,120.0,120.1,200=200.1,199.9,200.0,200.1,200.0",
	}).want(http.StatusOK)
	return number
}

func TestCalibrate(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	number := m.registered(aKind("torque wrench")).Number
	at := "/tools/" + number
	var record wire.Calibrations
	m.get(at + "/calibrations").want(http.StatusOK).into(&record)
	if record.Requirement != nil || len(record.Calibrations) > 0 {
		t.Errorf("a new tool: %+v", record)
	}
	if p := m.post(at+"/calibrate", wire.Calibrate{AsLeft: "cw:40=40"}).refused(http.StatusUnprocessableEntity); p.Errors[0].Pointer != "#/requirement/preset" {
		t.Errorf("without a requirement: %+v", p)
	}
	var done wire.Calibrated
	ask := &wire.NewRequirement{Preset: "torque-wrench-setting", Unit: "N·m", Range: "40..200", Graduation: "1"}
	m.post(at+"/calibrate", wire.Calibrate{Requirement: ask}).want(http.StatusOK).into(&done)
	if done.Shown != nil || done.Requirement.Limit.String() != "4 % of reference" {
		t.Errorf("a requirement alone: %+v", done)
	}
	m.post(at+"/calibrate", wire.Calibrate{By: "Own words", On: "2026-11-02", Uncertainty: "2.0%", Direction: "cw",
		AsFound: "40=40.4,120=110.0,200=185.2", AsLeft: "40=39.8,120=119.3,200=199.0"}).want(http.StatusOK).into(&done)
	if done.Shown == nil || done.Verdict != "pass" || done.FoundVerdict != "fail" || *done.NextDue != "2027-11-02" || len(done.Points) != 6 {
		t.Errorf("found out, and left well: %+v", done.Shown)
	}
	// A calibration that is refused leaves nothing behind, its requirement neither.
	m.post(at+"/calibrate", wire.Calibrate{Requirement: &wire.NewRequirement{GripToDrive: "400mm"}, AsLeft: "cw:900=900"}).refused(http.StatusUnprocessableEntity)
	m.get(at + "/calibrations").want(http.StatusOK).into(&record)
	if len(record.Calibrations) != 1 || !record.Requirement.GripToDrive.IsZero() {
		t.Errorf("after a refusal: %+v", record)
	}
	m.get("/presets").want(http.StatusOK)
	m.get("/tools/x/calibrations").refused(http.StatusUnprocessableEntity)
}

func TestReady(t *testing.T) {
	s := openShop(t)
	m, a := s.manager(), s.person("Tech A", people.Technician)
	number := m.aWrench()
	at := "/tools/" + number + "/ready"
	var one wire.Ready
	got := a.get(at + "?target=108+N%C2%B7m&limits=100..116").want(http.StatusOK)
	got.into(&one)
	if one.Verdict != "yes" || !one.Fit || one.Setting.String() != "108 N·m" || one.InsideProbability == nil || *one.InsideProbability < 0.975 || one.ComputedAt == 0 {
		t.Errorf("%+v", one)
	}
	// RFC 9111 5.2.2.5: no cache may keep it.
	if keep := got.Header().Get("Cache-Control"); keep != "no-store" || got.Header().Get("ETag") != "" {
		t.Errorf("Cache-Control %q, ETag %q", keep, got.Header().Get("ETag"))
	}
	a.get(at + "?target=108+N%C2%B7m&direction=ccw").want(http.StatusOK).into(&one)
	if one.Verdict != "no" {
		t.Errorf("counterclockwise: %+v", one)
	}
	var all wire.Ranked
	a.get("/ready?target=108+N%C2%B7m&not_safety=true").want(http.StatusOK).into(&all)
	if all.Verdict != "yes" || len(all.Tools) != 1 || all.Tools[0].Number != number {
		t.Errorf("%+v", all)
	}
	a.get("/ready").refused(http.StatusUnprocessableEntity)
	a.get("/ready?target=108").refused(http.StatusUnprocessableEntity)
	a.get("/ready?target=1+mm&not_safety=perhaps").refused(http.StatusUnprocessableEntity)
	a.get(at).refused(http.StatusUnprocessableEntity)
	jack := m.registered(aKind("bottle jack")).Number
	a.get("/tools/" + jack + "/ready?target=2+kg").refused(http.StatusConflict)
}

func TestTightenAndSign(t *testing.T) {
	s := openShop(t)
	m, a := s.manager(), s.person("Tech A", people.Technician)
	good, other := m.aWrench(), m.registered(aKind("torque wrench")).Number
	in := wire.Tighten{Ask: wire.Ask{Target: "108 N·m", Limits: "100..116"}, Job: "1042", Fastener: "front wheel nuts", Count: 5}
	var use wire.Use
	a.post("/tools/"+good+"/tighten", in).want(http.StatusOK).into(&use)
	if use.Verdict != "yes" || use.Holds || use.Calibration == nil || *use.Person != "Tech A" || use.Words == "" {
		t.Errorf("with a good one: %+v", use)
	}
	a.post("/tools/"+other+"/tighten", in).want(http.StatusOK).into(&use)
	if use.Verdict != "cannot confirm" || !use.Holds || !use.Unconfirmed {
		t.Errorf("with one that nobody knows: %+v", use)
	}
	var job wire.Job
	a.get("/jobs/1042").want(http.StatusOK).into(&job)
	if len(job.Holds) != 1 || job.Holds[0].ID != use.ID {
		t.Errorf("the job: %+v", job)
	}
	a.post("/uses/"+use.ID+"/sign", wire.Sign{Why: "x"}).refused(http.StatusForbidden)
	m.post("/uses/"+use.ID+"/sign", wire.Sign{}).refused(http.StatusUnprocessableEntity)
	m.post("/uses/"+use.ID+"/sign", wire.Sign{Why: "looked at"}).want(http.StatusOK).into(&use)
	if use.Holds || use.SignedWhy != "looked at" {
		t.Errorf("signed: %+v", use)
	}
	m.post("/uses/"+use.ID+"/sign", wire.Sign{Why: "again"}).refused(http.StatusConflict)
	m.post("/uses/V-00000000/sign", wire.Sign{Why: "x"}).refused(http.StatusNotFound)
	var uses wire.Uses
	a.get("/jobs/1042/uses").want(http.StatusOK).into(&uses)
	var names wire.Fasteners
	a.get("/fasteners").want(http.StatusOK).into(&names)
	if len(uses.Uses) != 2 || strings.Join(names.Fasteners, ",") != "front wheel nuts" {
		t.Errorf("%+v, %+v", uses, names)
	}
	a.get("/jobs/none/uses").refused(http.StatusNotFound)
}

func TestMeasureAndBench(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	number := m.aWrench()
	tester := m.registered(aKind("torque tester")).Number
	m.post("/tools/"+tester+"/calibrate", wire.Calibrate{
		Requirement: &wire.NewRequirement{Preset: "torque-tester", Unit: "N·m", Range: "20..250", Graduation: "0.1", Limit: "1 % of reference", LimitFrom: "its certificate, page 1"},
		By:          "Own words", On: "2026-11-25", Uncertainty: "0.3%", AsLeft: "cw:20=20.01,cw:250=250.1,ccw:20=20.01,ccw:250=250.0",
	}).want(http.StatusOK)
	var done wire.Calibrated
	m.post("/tools/"+number+"/bench", wire.Bench{Standard: tester, Direction: "cw", At: []string{"40=39.8,40.1", "120=119.9,120.1"}, Temperature: "21 °C"}).
		want(http.StatusOK).into(&done)
	if !done.BenchCheck || done.Standard != tester || done.Verdict != "pass" || !done.Limited {
		t.Errorf("a bench check: %+v", done.Shown)
	}
	m.post("/tools/"+number+"/bench", wire.Bench{At: []string{"40=40"}}).refused(http.StatusUnprocessableEntity)
	var use wire.Use
	m.post("/tools/"+tester+"/measure", wire.Measure{Ask: wire.Ask{Target: "100 N·m"}, Job: "1042", What: "breakaway torque"}).want(http.StatusOK).into(&use)
	if use.What != "measurement" || use.Outcome != "no limits given" {
		t.Errorf("measured: %+v", use)
	}
}

// What is gone is neither compared nor used.
func TestNothingIsRecordedOfWhatIsGone(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	at := "/tools/" + m.aWrench()
	m.post(at+"/gone", wire.Gone{Why: "scrapped"}).want(http.StatusOK)
	for verb, body := range map[string]string{
		"calibrate": `{"as_left":"cw:40=40"}`, "bench": `{"standard":"x","at":["cw:40=40"]}`,
		"tighten": `{"target":"108 N·m","job":"1","fastener":"x","count":1}`, "measure": `{"target":"108 N·m","job":"1","what":"x"}`,
	} {
		m.post(at+"/"+verb, body).refused(http.StatusConflict)
		m.post("/tools/00E-KM5/"+verb, body).refused(http.StatusNotFound)
	}
	for _, what := range []string{"/calibrations", "/ready?target=1+N%C2%B7m"} {
		m.get("/tools/00E-KM5" + what).refused(http.StatusNotFound)
	}
	var answer wire.Ready
	m.get(at + "/ready?target=108+N%C2%B7m").want(http.StatusOK).into(&answer)
	if answer.Verdict != "no" || answer.Reasons[0].Code != "gone" {
		t.Errorf("gone: %+v", answer)
	}
}
