package api

import (
	"net/http"
	"strings"
	"testing"

	"pawl/api/wire"
)

// A chart is drawn of the newest calibration with readings, and of a tool that has
// one only.
func TestChart(t *testing.T) {
	m := openShop(t).manager()
	number := m.aWrench()
	at := "/tools/" + number + "/chart"
	r := m.get(at).want(http.StatusOK)
	if r.header("Content-Type") != svgType || !strings.Contains(r.Body.String(), "calibrated 2026-11-25: PASS</title>") {
		t.Errorf("%v %s", r.Header(), r.Body)
	}
	m.get(at, "If-None-Match: "+r.header("ETag")).want(http.StatusNotModified)
	var kept wire.Calibrations
	m.get("/tools/" + number + "/calibrations").want(http.StatusOK).into(&kept)
	if same := m.get(at + "?calibration=" + kept.Calibrations[0].ID).want(http.StatusOK); same.Body.String() != r.Body.String() {
		t.Error("by its id, it is another picture")
	}
	m.get(at + "?calibration=A-none").refused(http.StatusNotFound)
	m.get("/tools/00E-KM5/chart").refused(http.StatusNotFound)
	m.get("/tools/" + m.registered(aKind("torque wrench")).Number + "/chart").refused(http.StatusNotFound)
	m.get("/tools/x/chart").refused(http.StatusUnprocessableEntity)
}

// Where every point is at zero, no reading has a percent, and there is no chart.
func TestChartOfNothing(t *testing.T) {
	m := openShop(t).manager()
	gauge := m.registered(aKind("pressure gauge")).Number
	m.post("/tools/"+gauge+"/calibrate", wire.Calibrate{
		Requirement: &wire.NewRequirement{Preset: "pressure-gauge:B", Unit: "psi", Range: "0..100", Graduation: "1"},
		By:          "Own words", On: "2026-11-25", Uncertainty: "0.6%", AsLeft: "0=0"}).want(http.StatusOK)
	m.get("/tools/" + gauge + "/chart").refused(http.StatusConflict)
}

// An offset adapter is drawn with its figures; without one, or without the length of
// the wrench, there is nothing to draw.
func TestAdapterDrawing(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	number := m.aWrench()
	at := "/tools/" + number + "/adapter"
	got := m.get(at + "?target=80+N%C2%B7m&crowfoot=50mm&angle=45deg").want(http.StatusOK)
	if body := got.Body.String(); !strings.Contains(body, "= 73.503 N·m") || got.Header().Get("Content-Type") != svgType {
		t.Errorf("%s: %s", got.Header().Get("Content-Type"), body)
	}
	if etag := got.Header().Get("ETag"); etag == "" {
		t.Error("it has no ETag")
	} else {
		m.get(at+"?target=80+N%C2%B7m&crowfoot=50mm&angle=45deg", "If-None-Match: "+etag).want(http.StatusNotModified)
	}
	m.get(at + "?target=80+N%C2%B7m").refused(http.StatusConflict)
	m.get(at + "?target=80&crowfoot=50mm&angle=45deg").refused(http.StatusUnprocessableEntity)
	m.get("/tools/00E-KM5/adapter?target=80+N%C2%B7m&crowfoot=50mm&angle=45deg").refused(http.StatusNotFound)
	bare := m.registered(aKind("torque wrench")).Number
	m.get("/tools/" + bare + "/adapter?target=80+N%C2%B7m&crowfoot=50mm&angle=45deg").refused(http.StatusConflict)
}
