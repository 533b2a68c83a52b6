package model

import (
	"fmt"
	"slices"

	"pawl/model/calibration"
	"pawl/model/custody"
	"pawl/model/internal/store"
)

// markFailed puts a tool out of use by the comparison that was just recorded, where it
// failed and nothing later made it good: as entered, not as somebody remembers to
// report. Where the paper says pass and the readings fail, both are shown and nothing
// is confirmed, but the tool is not marked: which of the two is right is a question.
func (c *comparing) markFailed(m *measured, shown calibration.Shown) (bool, error) {
	if shown.Verdict != calibration.Failed || shown.Disagrees {
		return false, nil
	}
	f := m.facts(c.tool.ID, "")
	is := func(k calibration.Kept) bool { return k.ID == c.row.ID }
	all := slices.Concat(f.Checks, f.Calibrations)
	if i := slices.IndexFunc(all, is); i >= 0 && all[i].MadeGood(f.Checks, f.Calibrations, c.q) {
		return false, nil
	}
	return true, c.mark(c.row)
}

// mark reports that a comparison found the tool failing.
func (h *hand) mark(row calibration.ResultRow) error {
	w := custody.Wrong{Tool: h.tool.ID, What: custody.Failed, At: row.DoneAt, By: h.by.Person, Calibration: row.ID,
		Note: fmt.Sprintf("%s %s of %s", sortOf(row), row.ID, row.OnDay)}
	if w.At == 0 { // only its day is known: work of that day is not done with a good tool
		loc, err := h.settings.Location()
		if err != nil {
			return err
		}
		w.At = custody.OnDay(row.OnDay, loc)
	}
	var err error
	if w.ID, err = h.tx.NewID('W'); err != nil {
		return err
	}
	return store.Put(h.tx, &w)
}

// sortOf says which sort of comparison it is.
func sortOf(row calibration.ResultRow) string {
	if row.Bench {
		return "bench check"
	}
	return "tool calibration"
}

// mayClear says whether a manager may clear what is reported wrong with the tool.
func (h *hand) mayClear() (bool, error) {
	m, err := h.measuredTools(h.tool.ID)
	if err != nil {
		return false, err
	}
	return m.facts(h.tool.ID, "").MayClear() || m.onlyFell(h.tool.ID), nil
}
