package api

import (
	"net/http"
	"strings"
	"testing"

	"pawl/api/wire"
	"pawl/model/people"
)

// An entry made by mistake is taken back by the route beside the one by which it was made;
// what it says stays in every list, and counts nowhere.
func TestEntriesTakenBack(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	a := s.person("Tech A", people.Technician)
	number := m.registered(aKind("torque wrench")).Number
	at := "/tools/" + number
	m.post(at+"/calibrate", wire.Calibrate{
		Requirement: &wire.NewRequirement{Preset: "torque-wrench-setting", Range: "40..200", Unit: "N·m", Graduation: "1", Directions: "cw"},
		By:          "Own words", On: "2026-11-20", Direction: "cw", Uncertainty: "0.6%", AsLeft: "40=40.0,120=120.1,200=200.1"}).want(http.StatusOK)
	m.post("/jobs", wire.NewJob{Number: "1042"}).want(http.StatusCreated)

	comparison := func(verb string, body any) string {
		var done wire.Calibrated
		m.post(at+"/"+verb, body).want(http.StatusOK).into(&done)
		return done.ID
	}
	use := func(verb string, body any) string {
		var done wire.Use
		m.post(at+"/"+verb, body).want(http.StatusOK).into(&done)
		return done.ID
	}
	for verb, id := range map[string]string{
		"calibrate": comparison("calibrate", wire.Calibrate{By: "Own words", On: "2026-11-24", Direction: "cw", Uncertainty: "0.6%", AsLeft: "40=40.0,120.1,200=200.1"}),
		"bench":     comparison("bench", wire.Bench{Standard: "bench tester", StandardUncertainty: "0.3%", StandardBias: "0", Direction: "cw", Temperature: "21 °C", At: []string{"120=110,110.1"}}),
		"tighten":   use("tighten", wire.Tighten{Ask: wire.Ask{Target: "108 N·m", Limits: "100..116"}, Job: "1042", Fastener: "wheel nuts", Count: 5}),
		"measure":   use("measure", wire.Measure{Ask: wire.Ask{Target: "108 N·m"}, Job: "1042", What: "breakaway torque"}),
	} {
		path, mistake := at+"/"+verb+"/withdraw", wire.Withdraw{ID: id, Why: "a = was forgotten"}
		if p := m.post(path, wire.Withdraw{ID: id}).refused(http.StatusUnprocessableEntity); p.Errors[0].Pointer != "#/why" {
			t.Errorf("%s: %+v", verb, p)
		}
		m.post(path, wire.Withdraw{ID: id[:2] + "2H4K9Q7M", Why: "none"}).refused(http.StatusNotFound)
		m.post("/tools/00E-KM5/"+verb+"/withdraw", mistake).refused(http.StatusNotFound)
		var answer struct {
			ID          string  `json:"id"`
			Withdrawn   *string `json:"withdrawn"`
			WithdrawnBy *string `json:"withdrawn_by"`
			Why         string  `json:"why"`
		}
		m.post(path, mistake).want(http.StatusOK).into(&answer)
		if answer.ID != id || answer.Withdrawn == nil || answer.WithdrawnBy == nil || answer.Why != mistake.Why {
			t.Errorf("%s: %+v", verb, answer)
		}
		if p := m.post(path, mistake).refused(http.StatusConflict); p.Facts["since"] == "" {
			t.Errorf("%s: %+v", verb, p)
		}
	}
	var record wire.Calibrations
	m.get(at + "/calibrations").want(http.StatusOK).into(&record)
	gone := 0
	for _, c := range record.Calibrations {
		if c.Withdrawn != 0 {
			gone++
		}
	}
	if len(record.Calibrations) != 3 || gone != 2 {
		t.Errorf("%d on record, %d taken back", len(record.Calibrations), gone)
	}
	var uses wire.Uses
	m.get("/jobs/1042/uses").want(http.StatusOK).into(&uses)
	for _, u := range uses.Uses {
		if u.Withdrawn == 0 || u.Holds {
			t.Errorf("%+v", u)
		}
	}
	var job wire.Job
	m.get("/jobs/1042").want(http.StatusOK).into(&job)
	if len(uses.Uses) != 2 || len(job.Holds) != 0 {
		t.Errorf("%d uses, held by %+v", len(uses.Uses), job.Holds)
	}
	var ready wire.Ready
	m.get(at + "/ready?target=108%20N%C2%B7m&limits=100..116").want(http.StatusOK).into(&ready)
	if ready.Verdict != "yes" {
		t.Errorf("%+v", ready)
	}

	// Both lists are spreadsheets too: what was taken back is marked with day and reason, and
	// nothing that somebody typed is a formula.
	m.post(at+"/tighten", wire.Tighten{Ask: wire.Ask{Target: "108 N·m", Limits: "100..116"}, Job: "1042", Fastener: "=1+1", Count: 5}).want(http.StatusOK)
	for path, want := range map[string][]string{
		at + "/calibrations": {"id,number,sort,on,", "bench check,", "40.0 N·m; 120.1 N·m", ",a = was forgotten", ",false,", "withdrawn,withdrawn_by,why"},
		"/jobs/1042/uses":    {"id,job,what,name,", "tightening,wheel nuts,5,", "measurement,breakaway torque,", ",a = was forgotten", "tightening,'=1+1,5,"},
	} {
		csv := m.get(path + "?format=csv").want(http.StatusOK)
		for _, text := range want {
			if !strings.Contains(csv.Body.String(), text) {
				t.Errorf("%s lacks %q:\n%s", path, text, csv.Body)
			}
		}
		if again := m.get(path, "Accept: text/csv").want(http.StatusOK); again.Body.String() != csv.Body.String() {
			t.Errorf("%s: as agreed upon it is another list", path)
		}
		m.get(path+"?format=csv", "If-None-Match: "+csv.header("ETag")).want(http.StatusNotModified)
		m.get(path + "?format=pdf").refused(http.StatusUnprocessableEntity)
	}

	// What holds its job open is taken back by a manager alone.
	held := use("tighten", wire.Tighten{Ask: wire.Ask{Target: "250 N·m"}, Job: "1042", Fastener: "axle nut", Count: 1})
	a.post(at+"/tighten/withdraw", wire.Withdraw{ID: held, Why: "mistaken"}).refused(http.StatusForbidden)
	m.post(at+"/tighten/withdraw", wire.Withdraw{ID: held, Why: "mistaken"}).want(http.StatusOK)
}
