package model

import (
	"maps"
	"slices"

	"pawl/model/calibration"
	"pawl/model/custody"
)

// A standard that was out of use shows nothing of what was compared with it, whenever it
// was reported and whenever the comparison was entered.

// standardsReported reads what was ever reported of the tools that others were compared
// with, but for what followed from a comparison that was withdrawn.
func (m *measured) standardsReported(rows []calibration.ResultRow) (map[string][]custody.Wrong, error) {
	reported, standards := map[string][]custody.Wrong{}, map[string]bool{}
	for _, row := range rows {
		if row.Standard != "" {
			standards[row.Standard] = true
		}
	}
	if len(standards) == 0 {
		return reported, nil
	}
	wrongs, err := m.Wrongs(slices.Sorted(maps.Keys(standards))...)
	for _, w := range wrongs {
		if !m.fell(w) {
			reported[w.Tool] = append(reported[w.Tool], w)
		}
	}
	return reported, err
}

// outOfUseThen says whether one of the reports on a tool kept it out of use when a
// comparison was made with it. Where only the day is known, at any time of that day.
func (d *directory) outOfUseThen(reports []custody.Wrong, made calibration.ResultRow) bool {
	loc, err := d.settings.Location()
	return len(reports) > 0 && err == nil && slices.ContainsFunc(reports, func(w custody.Wrong) bool {
		if w.What == custody.LabelGone {
			return false
		}
		if made.DoneAt != 0 && !w.DayOnly(loc) {
			return w.At <= made.DoneAt && (w.Cleared == 0 || made.DoneAt < w.Cleared)
		}
		return !w.At.Day(loc).After(made.OnDay) && (w.Cleared == 0 || !w.Cleared.Day(loc).Before(made.OnDay))
	})
}
