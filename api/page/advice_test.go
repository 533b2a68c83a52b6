package page_test

import (
	"testing"

	"pawl/model"
	"pawl/model/register"
)

// compared registers a torque wrench that drifted by a known amount in each of three
// intervals of a year.
func (b *bay) compared() string {
	b.Helper()
	ctx, by := b.Context(), model.By{Actor: computer}
	kind, maker := "torque wrench", "Tarn"
	done, err := b.shop.Register(ctx, by, register.New{Change: register.Change{Kind: &kind, Maker: &maker}})
	if err != nil {
		b.Fatal(err)
	}
	months := 12
	for i, c := range []model.Calibrate{
		{On: "2023-01-10", AsLeft: "120=119.52", Requirement: &model.Requirement{Preset: "torque-wrench-setting", Unit: "N·m", Range: "40..200", Graduation: "1",
			Directions: "cw", Limit: "4 % of reference", LimitFrom: "its declaration, page 1", Months: &months}},
		{On: "2024-01-12", AsFound: "120=118.81", AsLeft: "120=118.81"},
		{On: "2025-01-14", AsFound: "120=118.23", AsLeft: "120=118.23"},
		{On: "2026-01-16", AsFound: "120=117.42", AsLeft: "120=117.42"},
	} {
		c.By, c.Direction, c.Uncertainty = "Tidewater Metrology", "cw", "1.42%"
		if _, err := b.shop.Calibrate(ctx, by, done.Number.String(), c); err != nil {
			b.Fatal(i, err)
		}
	}
	return "/t/" + string(done.Number)
}

// The advice is read from the tool's page, with what it rests on and the figures of the
// chart; a manager takes it with one tap, and the tap is not repeated.
func TestAdviceOnAnInterval(t *testing.T) {
	b := openBay(t)
	tool := b.compared()
	page := b.boss.open(b.boss.open(tool).with(200).link("Advice on its interval, and its drift")).with(200).
		says("Advice: shorten the interval from 12 to 8 months.", "nothing changes until somebody changes it", "12 months; 5000 cycles, whichever comes first", "8.7 months", "Its own drift", "insufficient data",
			"120 N·m clockwise", "0.40 %", "2.20 %", "the guarded limit of 2.58 % is reached by the line after 8.7 months", "Limit 4.00 % either way", "No legal or contractual maximum is recorded",
			"Never longer from the results of like tools alone", "pawl calibrate", "service information governs")
	b.techB.open(tool+"/advice").with(200).says("Advice: shorten", "Seen in tolerance for 36.2 months together; found out of tolerance: 0.")
	again := b.boss.open(tool + "/advice")
	page.press("Change it to 8 months").with(200).says("The interval is 8 months now.", "Advice: keep 8 months.")
	again.press("Change it to 8 months").with(200).says("The interval is 8 months now.")
}

// Of what must hold nothing, and of what was never compared twice, that is said.
func TestAdviceWithoutData(t *testing.T) {
	b := openBay(t)
	b.techA.open(b.tool("impact wrench") + "/advice").with(200).says("it has no interval")
	b.techA.open("/t/23456789/advice").with(404)
}

// An advice that changed meanwhile is not put in force unread.
func TestAdviceThatChanged(t *testing.T) {
	b := openBay(t)
	tool := b.compared()
	old := b.boss.open(tool + "/advice")
	_, err := b.shop.Calibrate(b.Context(), model.By{Actor: computer}, tool[len("/t/"):], model.Calibrate{By: "Tidewater Metrology", On: "2026-11-02",
		Direction: "cw", Uncertainty: "1.42%", AsFound: "120=110", AsLeft: "120=120"})
	if err != nil {
		t.Fatal(err)
	}
	old.press("Change it to 8 months").with(409).says("The advice is another by now")
}
