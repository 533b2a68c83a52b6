package api

import (
	"net/http"
	"strings"
	"testing"

	"pawl/api/wire"
)

// A sticker is printed of a calibration that holds, and holds what a label does.
func TestSticker(t *testing.T) {
	m := openShop(t).manager()
	number := m.aWrench()
	r := m.get("/prints/sticker?format=png&dpi=203&name=" + number).want(http.StatusOK)
	if got, want := readCode(t, r.Body.Bytes()), "T/"+strings.ReplaceAll(number, "-", ""); got != want {
		t.Errorf("reads %q, want %q", got, want)
	}
	m.get("/prints/sticker?name=" + number + "&sheet=letter-2x5").want(http.StatusOK)
	m.get("/prints/sticker?name=00E-KM5").refused(http.StatusNotFound)
	m.get("/prints/sticker").refused(http.StatusUnprocessableEntity)
	m.post("/tools/"+number+"/calibrate", wire.Calibrate{By: "Own words", On: "2026-11-25", Direction: "cw", Uncertainty: "0.6%",
		AsLeft: "40=44,120=132,200=220"}).want(http.StatusOK)
	m.get("/prints/sticker?name=" + number).refused(http.StatusConflict)
}

// A slip goes with a tool to the laboratory: on paper only, of any tool.
func TestSlip(t *testing.T) {
	m := openShop(t).manager()
	number := m.aWrench()
	for _, name := range []string{number, m.registered(aKind("pressure gauge")).Number} {
		r := m.get("/prints/slip?name=" + name).want(http.StatusOK)
		if !strings.HasPrefix(r.Body.String(), "%PDF-") || r.header("Content-Disposition") != `inline; filename="slip.pdf"` {
			t.Errorf("%v", r.Header())
		}
	}
	m.get("/prints/slip?format=png&name=" + number).refused(http.StatusUnprocessableEntity)
	m.get("/prints/slip").refused(http.StatusUnprocessableEntity)
	m.get("/prints/slip?name=00E-KM5").refused(http.StatusNotFound)
}
