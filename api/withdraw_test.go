package api

import (
	"net/http"
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

	// What holds its job open is taken back by a manager alone.
	held := use("tighten", wire.Tighten{Ask: wire.Ask{Target: "250 N·m"}, Job: "1042", Fastener: "axle nut", Count: 1})
	a.post(at+"/tighten/withdraw", wire.Withdraw{ID: held, Why: "mistaken"}).refused(http.StatusForbidden)
	m.post(at+"/tighten/withdraw", wire.Withdraw{ID: held, Why: "mistaken"}).want(http.StatusOK)
}
