package markings

import (
	"math"
	"testing"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.9g, want %.9g", what, got, want)
	}
}

// Check rows 21 to 23 of money-and-statistics.
func TestWear(t *testing.T) {
	for name, c := range map[string]struct {
		wear                      Wear
		steps                     float64
		mean, early, median, late float64
		tolerance                 float64
	}{
		"row 21, new":             {Wear{4, 60}, 3, 60, 15.085, 43.700, 120.075, 1e-3},
		"row 22, A":               {Wear{6, 126}, 1, 25.2, 2.232112, 15.430218, 58.942708, 1e-5},
		"row 23, A until nothing": {Wear{6, 126}, 2, 50.4, 10.781597, 37.316087, 104.164288, 1e-5},
	} {
		near(t, name+" mean", c.wear.Mean(c.steps), c.mean, c.tolerance)
		near(t, name+" early", c.wear.Quantile(c.steps, 0.1), c.early, c.tolerance)
		near(t, name+" median", c.wear.Quantile(c.steps, 0.5), c.median, c.tolerance)
		near(t, name+" late", c.wear.Quantile(c.steps, 0.9), c.late, c.tolerance)
	}
	near(t, "row 21, lost in 60 days", Wear{4, 60}.Chance(3, 60), 0.656250, 1e-6)
	near(t, "row 21, standard deviation", Wear{4, 60}.SD(3), 60, 1e-9)
}
