package intervals

import (
	"math"
	"testing"
)

// What like tools show beside the fit is what its sources' functions give for their
// lives: the product-limit estimate (NIST/SEMATECH e-Handbook 8.2.1.5), the bounds of a
// mean life (8.4.5.1), and the one-point rescale of calibration.md 6.3.
func TestWhatLikeToolsShow(t *testing.T) {
	own := yearly(t, "00E-KM5", "120", "120", "120")
	like := []History{own, yearly(t, "00F-LN6", "120", "112", "112"), yearly(t, "00G-MP7", "120", "112", "119")}
	got, _ := likeOf("", like, 0.95)
	year := 365.0 / daysOfMonth // 2018-01-01 to 2019-01-01
	// Five stretches: three ended at a year, found out; one was good for a year, one for two.
	if len(got.Survival) != 1 || got.Lives != 5 || got.Failures != 3 {
		t.Fatalf("%+v", got)
	}
	step := got.Survival[0]
	equal(t, "age", step.Months, year, 1e-6)
	equal(t, "share", step.Share, 1-3.0/5, 1e-9)
	equal(t, "Greenwood", *step.Error, 0.4*math.Sqrt(3.0/(5*2)), 1e-6)
	equal(t, "lower bound", *step.LowerBound, 0.4-1.644854*0.4*math.Sqrt(0.3), 1e-6)

	// In tolerance for a year and for two; found out by a year, three times.
	good := (365 + 730) / daysOfMonth
	low, _ := MeanLife(good, 3, 0.90)
	_, high := MeanLife(good+3*year, 3, 0.90)
	equal(t, "seen", *got.MeanLife.Seen, good, 1e-6)
	equal(t, "mean life, low", *got.MeanLife.Low, low, 1e-6)
	equal(t, "mean life, high", *got.MeanLife.High, high, 1e-6)
	// The factors of NIST's table for r = 3 at 90 %: 0.3869 and 3.6689 times T/r.
	equal(t, "low factor", *got.MeanLife.Low/good*3, 0.3869, 1e-4)
	equal(t, "high factor", *got.MeanLife.High/(good+3*year)*3, 3.6689, 1e-4)

	equal(t, "rescaled", *got.Rescaled, Rescale(*got.MeanInterval, 0.5, 0.95), 1e-6)
	if !(*got.Rescaled < *got.MeanInterval) {
		t.Errorf("half in tolerance at %g months makes 95 %% at %g", *got.MeanInterval, *got.Rescaled)
	}

	// Without a failure there is no upper bound; without a result there is nothing.
	passed, _ := likeOf("", []History{own}, 0.95)
	equal(t, "no failure", *passed.MeanLife.Low, 730/daysOfMonth/-math.Log(0.05), 1e-6)
	if passed.MeanLife.High != nil || len(passed.Survival) != 0 || passed.Rescaled != nil {
		t.Errorf("%+v", passed)
	}
	if none, _ := likeOf("", []History{yearly(t, "00E-KM5", "120")}, 0.95); none.MeanLife != nil || none.Survival == nil {
		t.Errorf("%+v", none)
	}
}
