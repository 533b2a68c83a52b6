package due

import (
	"time"

	"pawl/model/custody"
	"pawl/model/inspections"
)

// Happened gives what happened to a tool after which an inspection may be asked for:
// what was reported wrong, cleared or not, and where it was. A report that an
// inspection itself left is none: that inspection is due until it passes. A repair and
// a loan outside count when the tool is back; a loan also when it is sent.
func Happened(wrongs []custody.Wrong, away []custody.Loan, done []inspections.Inspection, zone *time.Location) (out []inspections.Event) {
	own := map[string]bool{}
	for _, d := range done {
		own[d.Wrong] = d.Wrong != ""
	}
	for _, w := range wrongs {
		if !own[w.ID] && w.What != custody.LabelGone {
			out = append(out, inspections.Event{What: inspections.What(w.What), At: w.At, Day: w.At.Day(zone), ID: w.ID})
		}
	}
	for _, l := range away {
		back := inspections.Event{What: inspections.CameBack, At: l.Ended, Day: l.Ended.Day(zone), ID: l.ID}
		if l.Purpose == custody.ForRepair {
			back.What = inspections.Repaired
		}
		if l.Purpose == custody.ForLent {
			out = append(out, inspections.Event{What: inspections.SentOut, At: l.Since, Day: l.Since.Day(zone), ID: l.ID})
		}
		if l.Purpose != custody.ForCalibration && l.Ended != 0 && l.EndedHow == custody.CameBack {
			out = append(out, back)
		}
	}
	return out
}
