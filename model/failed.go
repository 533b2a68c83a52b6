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
	w := custody.Wrong{Tool: c.tool.ID, What: custody.Failed, At: c.row.DoneAt, By: c.by.Person, Calibration: c.row.ID}
	how := "tool calibration"
	if c.row.Bench {
		how = "bench check"
	}
	w.Note = fmt.Sprintf("%s %s of %s", how, c.row.ID, c.row.OnDay)
	if w.At == 0 { // only its day is known: work of that day is not done with a good tool
		loc, err := c.settings.Location()
		if err != nil {
			return false, err
		}
		w.At = custody.OnDay(c.row.OnDay, loc)
	}
	var err error
	if w.ID, err = c.tx.NewID('W'); err != nil {
		return false, err
	}
	return true, store.Put(c.tx, &w)
}

// mayClear says whether a manager may clear what is reported wrong with the tool.
func (h *hand) mayClear() (bool, error) {
	m, err := h.measuredTools(h.tool.ID)
	if err != nil {
		return false, err
	}
	return m.facts(h.tool.ID, "").MayClear(), nil
}
