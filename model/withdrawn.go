package model

import (
	"cmp"
	"slices"
	"strings"

	"pawl/model/calibration"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
)

// A comparison that was withdrawn counts nowhere. What rested on it while it stood is
// found by asking twice: by what stood when it was entered, and by what stands now.

// readWithdrawn reads what was withdrawn of these tools, or of all, and settles which of
// the comparisons that stand were made with a standard that rested on it.
func (m *measured) readWithdrawn(tools []string, rows []calibration.ResultRow) ([]calibration.ResultRow, error) {
	asked := slices.Clone(tools)
	for _, row := range rows {
		if len(tools) > 0 && row.Standard != "" && !slices.Contains(asked, row.Standard) {
			asked = append(asked, row.Standard)
		}
	}
	all, err := m.WithdrawnResults(asked...)
	if err != nil || len(all) == 0 {
		return nil, err
	}
	for _, row := range all {
		m.back[row.ID] = true
	}
	for _, row := range rows {
		if m.plain || !slices.ContainsFunc(all, func(w calibration.ResultRow) bool { return w.Tool == row.Standard && stoodAt(w, row.Entered) }) {
			continue
		}
		if err := m.foundation(row); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// stoodAt says whether what was withdrawn counted when something else was entered.
func stoodAt(w calibration.ResultRow, entered dates.Instant) bool {
	return w.Entered <= entered && entered < w.Withdrawn
}

// foundation notes of a comparison that its standard, as it was taken to be when the
// comparison was entered, rested on what was withdrawn since.
func (m *measured) foundation(row calibration.ResultRow) error {
	s, known := m.standards[row.Standard]
	if !known {
		s = newMeasured(m.directory)
		s.plain = true
		if err := s.read([]string{row.Standard}); err != nil {
			return err
		}
		m.standards[row.Standard] = s
	}
	if s.requirements[row.Standard] == nil {
		return nil
	}
	was := slices.DeleteFunc(slices.Clone(s.results[row.Standard]), func(k judged) bool { return k.row.Entered > row.Entered })
	var gone []judged
	for _, k := range s.withdrawn[row.Standard] {
		if stoodAt(k.row, row.Entered) {
			was, gone = append(was, k), append(gone, k)
		}
	}
	newestFirst(was)
	before, trusted, err := s.standardOn(row, was)
	if err != nil {
		return err
	}
	now, still, err := s.standardOn(row, s.results[row.Standard])
	if err == nil {
		gone, err := m.goneThen(s.tools[row.Standard], row)
		if err != nil {
			return err
		}
		m.refounded[row.ID] = refounded{now, gone || !still}
	}
	if err != nil || (before.Calibrated == "" || before == now) && (!trusted || still) {
		return err
	}
	if len(gone) > 0 {
		m.unfounded[row.ID] = s.tools[row.Standard].Number.String() + ", its standard, rested on the " + sortOf(gone[0].row) + " of " + string(gone[0].row.OnDay) + ", which was withdrawn"
	}
	return nil
}

// refounded is what a standard brings to a comparison by what stands of it now, where what
// was withdrawn since stood when the comparison was entered: what was kept with it of a
// standard that only seemed to have failed says nothing of it.
type refounded struct {
	calibration.Standard
	out bool // something else stood against it
}

// into puts that in place of what was kept, less what somebody typed.
func (f refounded) into(st *calibration.Standard) {
	st.OutOfUse = f.out
	if st.Calibrated == "" && st.Due == "" {
		st.Calibrated, st.Due = f.Calibrated, f.Due
	}
	if st.Low.IsZero() {
		st.Low, st.High = f.Low, f.High
	}
	if st.Uncertainty == "" && st.Absolute.IsZero() {
		st.Uncertainty = f.Uncertainty
	}
	if st.Bias == "" {
		st.Bias = f.Bias
	}
}

// newestFirst puts comparisons in the order in which they are read.
func newestFirst(all []judged) {
	slices.SortFunc(all, func(a, b judged) int {
		return -cmp.Or(cmp.Compare(a.row.OnDay, b.row.OnDay), cmp.Compare(a.row.Entered, b.row.Entered), strings.Compare(a.ID, b.ID))
	})
}

// standardOn is what a standard brought to a comparison by some of its own, newest first,
// and whether nothing stood against it.
func (m *measured) standardOn(row calibration.ResultRow, all []judged) (st calibration.Standard, trusted bool, err error) {
	id := row.Standard
	q := *m.requirements[id]
	if i := slices.IndexFunc(all, func(k judged) bool { return !k.row.Bench && !k.row.OnDay.After(row.OnDay) }); i >= 0 {
		asStandard(&st, q, all[i])
	}
	loc, err := m.settings.Location()
	if err != nil {
		return st, false, err
	}
	at := row.DoneAt
	if at == 0 {
		at = row.OnDay.EndIn(loc)
	}
	f := calibration.Facts{Events: m.events(m.tools[id])}
	f.Calibrations, f.Checks = parted(all)
	f = asOf(f, at, row.OnDay)
	left, _ := calibration.Trust(f.Events, f.Checks, f.Calibrations, q)
	return st, len(left) == 0, nil
}

// parted gives tool calibrations and bench checks.
func parted(all []judged) (calibrations, checks []calibration.Kept) {
	for _, k := range all {
		if k.row.Bench {
			checks = append(checks, k.Kept)
		} else {
			calibrations = append(calibrations, k.Kept)
		}
	}
	return calibrations, checks
}

// fell says whether a report followed from a comparison that was withdrawn. It says
// nothing of the tool any more; while it is open it keeps the tool out of use.
func (m *measured) fell(w custody.Wrong) bool { return w.Calibration != "" && m.back[w.Calibration] }

// onlyFell says whether a tool is out of use by nothing but such reports: a manager
// clears it by a word, for nothing that stands needs a comparison to undo it.
func (m *measured) onlyFell(tool string) bool {
	out := false
	for _, w := range m.wrongs[tool] {
		if w.Cleared != 0 || w.What == custody.LabelGone {
			continue
		}
		if !m.fell(w) {
			return false
		}
		out = true
	}
	return out
}

// rested says on which comparison that was withdrawn since a use rested that was answered
// yes, and that the record does not answer so any more; "" on none.
func (m *measured) rested(u calibration.UseRow, said calibration.Said) (string, error) {
	if calibration.Readiness(u.Verdict) != calibration.Yes {
		return "", nil
	}
	var stood []judged
	for _, k := range m.withdrawn[u.Tool] {
		if stoodAt(k.row, max(u.Happened, u.Entered)) {
			stood = append(stood, k)
		}
	}
	if len(stood) == 0 {
		return "", nil
	}
	now, err := m.answerAt(u, said, m.results[u.Tool], reasonsAt(m.wrongs[u.Tool], u.Happened))
	if err != nil || now == calibration.Yes {
		return "", err
	}
	with := append(slices.Clone(m.results[u.Tool]), stood...)
	newestFirst(with)
	was, err := m.answerAt(u, said, with, "")
	named := slices.IndexFunc(stood, func(k judged) bool { return k.ID == said.Calibration })
	switch {
	case err != nil:
		return "", err
	case named >= 0:
		return stood[named].ID, nil
	case was == calibration.Yes:
		return stood[0].ID, nil
	}
	return "", nil
}

// answerAt answers for a use what would have been answered at its time by some comparisons,
// newest first.
func (m *measured) answerAt(u calibration.UseRow, said calibration.Said, all []judged, doNotUse string) (calibration.Readiness, error) {
	loc, err := m.settings.Location()
	if err != nil {
		return "", err
	}
	f := m.facts(u.Tool, "")
	f.Calibrations, f.Checks = parted(all)
	f = asOf(f, u.Happened, u.Happened.Day(loc))
	f.Cycles = m.cycles(u.Tool, f.Calibrations, u.Happened)
	f.DoNotUse, f.Gone, f.Away, f.Holder, f.Doubtful = doNotUse, "", "", "", false
	a, err := calibration.Ready(f, said.Asked)
	if fault.Is(err, fault.Invalid) { // what is asked of the tool was changed, and the question is not for it any more
		return calibration.CannotConfirm, nil
	}
	return a.Verdict, err
}
