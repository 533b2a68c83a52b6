package api

import (
	"net/http"
	"strings"
	"testing"

	"pawl/api/wire"
)

// The advice says what it rests on, and the chart draws the same figures.
func TestIntervalAdvice(t *testing.T) {
	m := openShop(t).manager()
	number := m.registered(aKind("torque wrench")).Number
	at := "/tools/" + number
	m.post(at+"/calibrate", wire.Calibrate{
		Requirement: &wire.NewRequirement{Preset: "torque-wrench-setting", Unit: "N·m", Range: "40..200", Graduation: "1"},
		By:          "Own words", On: "2026-01-20", Direction: "cw", Uncertainty: "0.6%", AsLeft: "40=40.0,120=120.0,200=200.0"}).want(http.StatusOK)
	m.get(at + "/drift").refused(http.StatusNotFound) // compared once
	var advice wire.IntervalAdvice
	m.get(at + "/advice").want(http.StatusOK).into(&advice)
	if advice.What != "insufficient data" || advice.Months != nil || advice.Accept != nil || len(advice.Figures) != 3 || *advice.Interval.Months != 12 {
		t.Errorf("compared once: %+v", advice)
	}
	top := 12
	m.post(at+"/calibrate", wire.Calibrate{Requirement: &wire.NewRequirement{Maximum: &top, MaximumWhy: "contract 12-B"}}).want(http.StatusOK)
	m.post(at+"/calibrate", wire.Calibrate{By: "Own words", CertificateNumber: "C-119", On: "2026-11-20", Direction: "cw", Uncertainty: "0.6%",
		AsFound: "40=40.0,120=112.0,200=200", AsLeft: "40=40.0,120=120.0,200=200"}).want(http.StatusOK)
	m.get(at + "/advice").want(http.StatusOK).into(&advice)
	if advice.What != "shorten" || *advice.Months != 5 || advice.Interval.MaximumWhy != "contract 12-B" || len(advice.Drift) != 3 || len(advice.Drift[1].Marks) != 2 {
		t.Errorf("found out after ten months: %+v", advice)
	}
	if want := "pawl calibrate " + number + " --months 5 --interval-from"; advice.Accept == nil || !strings.HasPrefix(*advice.Accept, want) {
		t.Errorf("accept is %v, want %q …", advice.Accept, want)
	}
	r := m.get(at + "/drift").want(http.StatusOK)
	if r.header("Content-Type") != svgType || !strings.Contains(r.Body.String(), "drift between tool calibrations</title>") {
		t.Errorf("%v %s", r.Header(), r.Body)
	}
	m.get(at+"/drift", "If-None-Match: "+r.header("ETag")).want(http.StatusNotModified)
	plain := "/tools/" + m.registered(aKind("torque wrench")).Number
	for _, what := range []string{"/advice", "/drift"} {
		m.get(plain + what).refused(http.StatusConflict)
		m.get("/tools/00E-KM5" + what).refused(http.StatusNotFound)
		m.get("/tools/x" + what).refused(http.StatusUnprocessableEntity)
	}
}
