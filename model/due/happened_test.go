package due

import (
	"testing"
	"time"

	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/inspections"
)

// What is told of a tool that an inspection may be asked for after, with the day on
// which it happened in the shop's zone.
func TestHappened(t *testing.T) {
	zone, err := time.LoadLocation("America/Los_Angeles")
	if err != nil {
		t.Fatal(err)
	}
	noon := dates.InstantOf(time.Date(2026, 9, 11, 3, 0, 0, 0, time.UTC)) // the evening before, there
	later := noon + 10*24*3600_000000
	for _, c := range []struct {
		name   string
		wrongs []custody.Wrong
		away   []custody.Loan
		done   []inspections.Inspection
		want   []inspections.What
	}{
		{name: "nothing"},
		{name: "dropped, and cleared since", wrongs: []custody.Wrong{{ID: "W-1", What: "dropped", At: noon, Cleared: later}}, want: []inspections.What{inspections.Dropped}},
		{name: "a label", wrongs: []custody.Wrong{{ID: "W-1", What: custody.LabelGone, At: noon}}},
		{name: "what an inspection itself found", wrongs: []custody.Wrong{{ID: "W-1", What: custody.Failed, At: noon}}, done: []inspections.Inspection{{Wrong: "W-1"}}},
		{name: "lent outside", away: []custody.Loan{{State: custody.Away, Purpose: custody.ForLent, Since: noon}}, want: []inspections.What{inspections.SentOut}},
		{name: "and back", away: []custody.Loan{{State: custody.Away, Purpose: custody.ForLent, Since: noon, Ended: later, EndedHow: custody.CameBack}},
			want: []inspections.What{inspections.SentOut, inspections.CameBack}},
		{name: "back from repair", away: []custody.Loan{{State: custody.Away, Purpose: custody.ForRepair, Since: noon, Ended: later, EndedHow: custody.CameBack}}, want: []inspections.What{inspections.Repaired}},
		{name: "never came back", away: []custody.Loan{{State: custody.Away, Purpose: custody.ForRepair, Since: noon, Ended: later, EndedHow: custody.WentForGood}}},
		{name: "at the lab", away: []custody.Loan{{State: custody.Away, Purpose: custody.ForCalibration, Since: noon, Ended: later, EndedHow: custody.CameBack}}},
	} {
		got := Happened(c.wrongs, c.away, c.done, zone)
		if len(got) != len(c.want) {
			t.Errorf("%s: %+v", c.name, got)
			continue
		}
		for i, e := range got {
			if e.What != c.want[i] || e.At != noon && e.At != later || e.Day != e.At.Day(zone) || e.At == noon && e.Day != "2026-09-10" {
				t.Errorf("%s: %+v, want %s", c.name, e, c.want[i])
			}
		}
	}
}
