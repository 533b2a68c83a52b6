package browser

import (
	"testing"

	"pawl/model"
	"pawl/model/register"
)

// drifted shows the advice on a wrench that was compared at three points in four years,
// and adjusted once.
func drifted(name, who string) sight {
	return sight{name: name, who: who, path: func(t *testing.T, y *yard) string {
		t.Helper()
		by, kind := computer, "torque wrench"
		done, err := y.shop.Register(t.Context(), by, register.New{Change: register.Change{Kind: &kind}})
		if err != nil {
			t.Fatal(err)
		}
		maximum := 12
		for _, c := range []model.Calibrate{
			{On: "2022-01-10", AsLeft: "40=39.9,120=119.52,200=199.4", Requirement: &model.Requirement{Preset: "torque-wrench-setting", Unit: "N·m", Range: "40..200",
				Graduation: "1", Directions: "cw", Maximum: &maximum, MaximumWhy: "contract with the fleet, page 4"}},
			{On: "2023-01-12", AsFound: "40=39.7,120=118.81,200=199.0", AsLeft: "40=39.7,120=118.81,200=199.0"},
			{On: "2024-01-14", AsFound: "40=39.5,120=117.0,200=198.0", AsLeft: "40=40.0,120=120.1,200=200.1", Adjusted: true},
			{On: "2025-01-14", AsFound: "40=39.8,120=119.1,200=199.0", AsLeft: "40=39.8,120=119.1,200=199.0"},
			{On: "2026-01-16", AsFound: "40=39.6,120=117.4,200=198.2", AsLeft: "40=39.6,120=117.4,200=198.2"},
		} {
			c.By, c.Direction, c.Uncertainty = "Tidewater Metrology", "cw", "1.42%"
			if _, err := y.shop.Calibrate(t.Context(), by, done.Number.String(), c); err != nil {
				t.Fatal(err)
			}
		}
		return "/t/" + string(done.Number) + "/advice"
	}}
}

func aTorqueWrench(r model.ToolRow) bool {
	return r.Kind == "torque wrench" && r.GoneWhy == "" && r.State != "away"
}
