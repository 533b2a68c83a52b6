package model

import (
	"maps"
	"math"
	"slices"

	"pawl/model/calibration"
	"pawl/model/custody"
	"pawl/model/register"
)

// A standard that was out of use shows nothing of what was compared with it, whenever it
// was reported and whenever the comparison was entered.

// readAgainst reads what was ever reported of the tools that others were compared with,
// but for what followed from a comparison that was withdrawn.
func (m *measured) readAgainst(rows []calibration.ResultRow) error {
	standards := map[string]bool{}
	for _, row := range rows {
		if row.Standard != "" {
			standards[row.Standard] = true
		}
	}
	if len(standards) == 0 {
		return nil
	}
	wrongs, err := m.Wrongs(slices.Sorted(maps.Keys(standards))...)
	for _, w := range wrongs {
		if !m.fell(w) {
			m.against[w.Tool] = append(m.against[w.Tool], w)
		}
	}
	return err
}

// madeWithOneOut says whether a comparison was made with a standard that was out of use.
func (m *measured) madeWithOneOut(row calibration.ResultRow) bool {
	return m.outOfUseThen(m.against[row.Standard], row)
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

// doubtedThen says whether something stood against a standard when a comparison was made:
// it was out of use, gone, or trust in it had ended.
func (m *measured) doubtedThen(tool string, made calibration.ResultRow) bool {
	f, t := m.facts(tool, ""), m.tools[tool]
	if gone, err := m.goneThen(t, made); err != nil || gone || m.outOfUseThen(m.wrongs[tool], made) {
		return true
	}
	if f.Requirement == nil {
		return false
	}
	at := made.DoneAt
	if at == 0 { // of that day nothing came certainly later
		at = math.MaxInt64
	}
	f = asOf(f, at, made.OnDay)
	left, _ := calibration.Trust(f.Events, f.Checks, f.Calibrations, *f.Requirement)
	return len(left) > 0
}

// goneThen says whether a standard had left for good when a comparison was made with it.
func (d *directory) goneThen(t register.Tool, made calibration.ResultRow) (bool, error) {
	loc, err := d.settings.Location()
	return err == nil && t.Gone != 0 && !t.Gone.Day(loc).After(made.OnDay), err
}
