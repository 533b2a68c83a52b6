package api

import (
	"net/http"
	"strings"
	"testing"

	"pawl/api/wire"
	"pawl/model/register"
)

func TestMarkings(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	in := aKind("impact wrench")
	usage := "daily"
	in.Usage, in.Marking = &usage, &register.MarkingEntry{Method: "printed", Protection: "none"}
	number := m.registered(in).Number
	at := "/tools/" + number + "/marking"
	grade := func(g int64) *int64 { return &g }

	var done wire.Marked
	m.post(at, wire.Mark{Grade: grade(4), On: "2026-10-01"}).want(http.StatusOK).into(&done)
	if done.ID == nil || len(done.Markings) != 1 || *done.Markings[0].Checks[0].Grade != 4 || done.Markings[0].Checks[0].Means != "crisp" || len(done.Said) == 0 {
		t.Fatalf("%+v", done)
	}
	m.post(at, wire.Mark{Protection: "clear tape", On: "2026-10-20"}).want(http.StatusOK).into(&done)
	if terms := done.Markings[0].Terms; len(terms) != 2 || terms[0].From != nil || terms[1].From == nil || *terms[1].From != "2026-10-20" || terms[1].Protection == nil || *terms[1].Protection != "clear tape" || terms[1].Usage != nil {
		t.Errorf("%+v", terms)
	}
	var all wire.ToolMarkings
	m.get(at).want(http.StatusOK).into(&all)
	if all.Current == nil || *all.Current != all.Markings[0].ID || all.Markings[0].Protection != "clear tape" {
		t.Errorf("%+v", all)
	}
	var f wire.MarkingForecast
	m.get(at + "/forecast").want(http.StatusOK).into(&f)
	if f.Grade == nil || *f.Grade != 4 || f.Expected == nil || f.Prior.Shape != 4 || f.UnreadableToday == nil {
		t.Errorf("%+v", f)
	}
	if p := f.Prior; p.Spread == nil || p.Spread.Learned || p.Spread.Value != 0.5 || len(p.Factors) != 4 || p.Factors[0] != (wire.MarkingFactor{Of: "weekly use", Value: 0.2}) {
		t.Errorf("%+v", p)
	}
	if len(f.Cautions) == 0 || !strings.HasPrefix(f.Cautions[0], "Torque: ") {
		t.Errorf("%q", f.Cautions)
	}
	m.get(at + "/forecast?marking=M-00000000").refused(http.StatusNotFound)
	for _, path := range []string{"/tools/nonsense/marking", "/tools/nonsense/marking/forecast"} {
		m.get(path).refused(http.StatusUnprocessableEntity)
	}
	m.get("/tools/00E-KM5/marking").refused(http.StatusNotFound)
	m.post("/tools/00E-KM5/marking", wire.Mark{Grade: grade(3)}).refused(http.StatusNotFound)

	m.post(at, wire.Mark{OwnersNumber: "CA 4471 908", Method: "engraved", Where: "under the grip"}).want(http.StatusOK)
	m.post(at, wire.Mark{OwnersNumber: "CA 4471 908", Method: "engraved"}).refused(http.StatusConflict)
	if p := m.post(at, wire.Mark{Grade: grade(7)}).refused(http.StatusUnprocessableEntity); p.Errors[0].Pointer != "#/grade" {
		t.Errorf("%+v", p)
	}
	m.post(at, wire.Mark{Grade: grade(0)}).want(http.StatusOK).into(&done)
	withdraw := wire.WithdrawMarking{ID: *done.ID, Why: "another tool's plate"}
	m.post(at+"/withdraw", wire.WithdrawMarking{ID: *done.ID}).refused(http.StatusUnprocessableEntity)
	m.post(at+"/withdraw", withdraw).want(http.StatusOK)
	m.post(at+"/withdraw", withdraw).refused(http.StatusConflict)
	m.post(at+"/withdraw", wire.WithdrawMarking{ID: "M-00000000", Why: "none"}).refused(http.StatusNotFound)

	var round wire.MarkingRound
	m.get("/markings/round?limit=1").want(http.StatusOK).into(&round)
	m.get("/markings/round?all=true").want(http.StatusOK).into(&round)
	if len(round.Markings) == 0 || len(round.Markings[0].Forecast.Cautions) == 0 || round.Today == "" || round.Through.Before(round.Today) {
		t.Errorf("%+v", round)
	}
	if sheet := m.get("/markings/round?format=pdf").want(http.StatusOK); !strings.HasPrefix(sheet.Body.String(), "%PDF") {
		t.Errorf("%.20q", sheet.Body.String())
	}
	m.get("/markings/round?format=csv").refused(http.StatusUnprocessableEntity)

	sheet := m.get("/tools/export?of=markings&format=csv&raw=1").want(http.StatusOK).Body.String()
	for what, lines := range map[string]int{",marking,M-": 2, ",term,M-": 2, ",look,M-": 2} {
		if n := strings.Count(sheet, what); n != lines {
			t.Errorf("%d lines of %q in\n%s", n, what, sheet)
		}
	}
	if text := m.get("/tools/export?of=markings&format=json").want(http.StatusOK).Body.String(); !strings.Contains(text, `"what":"look"`) {
		t.Errorf("%.200s", text)
	}
	m.get("/tools/export?of=loans&format=csv").refused(http.StatusUnprocessableEntity)
}
