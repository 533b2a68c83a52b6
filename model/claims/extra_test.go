package claims

import (
	"slices"
	"testing"
	"time"

	"pawl/model/calibration"
	"pawl/model/dates"
	"pawl/model/settings"
)

// How work in doubt was settled is told with what became of that work: where it was entered
// by mistake, nothing of it counts, and neither does what settled it.
func TestASettledRecheckOfWorkThatWasTakenBack(t *testing.T) {
	on := dates.InstantOf(time.Date(2026, 11, 1, 12, 0, 0, 0, time.UTC))
	b := building{Facts: Facts{Added: []Addition{AddRechecks}, Settings: settings.Settings{Zone: "UTC"}}}
	var l Line
	b.extra(&l, ToolFacts{
		Uses: []calibration.UseRow{{ID: "W-1"}, {ID: "W-2", Withdrawn: on, Why: "typed twice"}},
		Settled: []calibration.SettledRow{
			{Source: "W-1", How: calibration.TightenedAgain},
			{Source: "W-2", How: calibration.CustomerTold},
			{Source: "O-3", How: calibration.CheckedByMethod}, // custody without a record
		},
	})
	want := []string{"recheck settled: loosened and tightened again", "recheck settled: customer told, WITHDRAWN 2026-11-01: typed twice", "recheck settled: checked"}
	if !slices.Equal(l.Extra, want) {
		t.Errorf("%q, want %q", l.Extra, want)
	}
}
