package model

import (
	"context"
	"slices"
	"strings"

	"pawl/model/calibration"
	"pawl/model/custody"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/numbers"
	"pawl/model/people"
)

// WithdrawCalibration takes back a tool calibration that was entered by mistake. It stays
// on record with the reason, and counts nowhere: what follows is worked out anew from what
// stands. Whoever entered it may, unless it failed, and whoever may enter one.
func (s *Shop) WithdrawCalibration(ctx context.Context, by By, number, id, why string) (CalibrationView, error) {
	return s.withdrawResult(ctx, by, "calibrate withdraw", false, number, id, why)
}

// WithdrawBench takes back a bench check, as WithdrawCalibration does.
func (s *Shop) WithdrawBench(ctx context.Context, by By, number, id, why string) (CalibrationView, error) {
	return s.withdrawResult(ctx, by, "bench withdraw", true, number, id, why)
}

func (s *Shop) withdrawResult(ctx context.Context, by By, verb string, bench bool, number, id, why string) (CalibrationView, error) {
	return act(ctx, s, by, verb, []any{number, id, why}, func(tx *store.Tx) (CalibrationView, error) {
		h, err := s.handFor(tx, by, number)
		if err != nil {
			return CalibrationView{}, err
		}
		w := withdrawing{hand: h}
		if err := w.find(bench, id); err != nil {
			return CalibrationView{}, err
		}
		if err := w.withdraw(why); err != nil {
			return CalibrationView{}, err
		}
		return w.view()
	})
}

// withdrawing is one comparison on its way out of what counts.
type withdrawing struct {
	*hand
	row    calibration.ResultRow
	was    *measured // before
	now    *measured // without it
	marked bool      // it had put the tool out of use, and does no more
	again  []string  // what stands against the tool again
	doubts int       // lines of its recheck that are open, before and since
	since  int
}

// whyWithdrawn reads the reason, without which nothing is withdrawn.
func whyWithdrawn(typed string) (string, error) {
	why, err := names.Note(typed)
	if err == nil && why == "" {
		err = fault.New(fault.Invalid, "why it is taken back is not said").WithHint("say what was wrong with it")
	}
	if err != nil {
		return "", fault.At("#/why", "%s", fault.Of(err).Error())
	}
	return why, nil
}

// entryID reads the id of an entry, as somebody may type it.
func entryID(letter byte, typed string) string {
	if id, err := numbers.ParseID(letter, typed); err == nil {
		return id
	}
	return strings.TrimSpace(typed)
}

// find loads the comparison for change.
func (w *withdrawing) find(bench bool, typed string) error {
	id := entryID('A', typed)
	row, is, err := store.Change[calibration.ResultRow](w.tx, id)
	if err != nil {
		return err
	}
	sort, verb := sortOf(calibration.ResultRow{Bench: bench}), "calibrate"
	if row.Bench {
		verb = "bench"
	}
	switch {
	case !is || row.Tool != w.tool.ID:
		return fault.New(fault.NotFound, "%s has no %s %s", w.tool.Number, sort, id).WithHint("see which it has: pawl calibrate %s", w.tool.Number)
	case row.Bench != bench:
		return fault.New(fault.NotFound, "%s has no %s %s: that is a %s", w.tool.Number, sort, id, sortOf(row)).
			WithHint("take it back with: pawl %s withdraw %s %s --why …", verb, w.tool.Number, id)
	}
	w.row = row
	return nil
}

// withdraw takes it back, and settles what stands against the tool without it.
func (w *withdrawing) withdraw(typed string) (err error) {
	if w.was, err = w.measuredTools(w.tool.ID); err != nil {
		return err
	}
	if err := w.may(); err != nil {
		return err
	}
	if w.row.Withdrawn != 0 {
		return withdrawnAlready(sortOf(w.row)+" "+w.row.ID, w.row.Why, w.row.Withdrawn)
	}
	why, err := whyWithdrawn(typed)
	if err != nil {
		return err
	}
	if w.doubts, err = w.open(); err != nil {
		return err
	}
	w.row.Withdrawn, w.row.WithdrawnBy, w.row.Why = w.tx.Now(), w.by.Person, why
	if err := store.Put(w.tx, &w.row); err != nil {
		return err
	}
	if w.now, err = w.measuredTools(w.tool.ID); err != nil {
		return err
	}
	for _, step := range []func() error{w.unmark, w.standAgain, w.markAgain} {
		if err := step(); err != nil {
			return err
		}
	}
	w.since, err = w.open()
	return err
}

// may says whether somebody may take it back. One that failed is kept from those who might
// not enter one, even if they entered it once: without it the tool may be used again.
func (w *withdrawing) may() error {
	return w.mayTakeBack(w.row.By, w.was.guards(w.tool.ID, w.row.ID))
}

// guards says whether a comparison failed, or cannot be read: without it the tool may be
// used again.
func (m *measured) guards(tool, id string) bool {
	k := m.comparison(tool, id)
	return k == nil || k.Verdict == calibration.Failed || k.FoundVerdict == calibration.Failed
}

// mayTakeBack lets whoever entered something take it back, unless others are kept safe by
// it, and whoever may edit the tool.
func (h *hand) mayTakeBack(enteredBy string, guards bool) error {
	if !guards && h.by.Person != "" && enteredBy == h.by.Person && h.by.Role != people.ShopDevice {
		return nil
	}
	return allowed(h.by, people.EditTool, h.object(h.tool))
}

// open counts the work with the tool that is in doubt.
func (w *withdrawing) open() (int, error) {
	v, err := w.recheckView(w.tool)
	return v.Open, err
}

// unmark ends the report that followed from the comparison itself. Only a manager puts a
// tool to use again: where somebody else takes the comparison back, the report stays open
// until a manager clears it, which then takes no other comparison.
func (w *withdrawing) unmark() error {
	open, err := w.OpenWrongs(w.tool.ID)
	if err != nil {
		return err
	}
	for _, report := range open {
		if report.Calibration != w.row.ID {
			continue
		}
		if w.marked = true; !people.May(w.by.Actor, people.ClearTool, w.object(w.tool)) {
			continue
		}
		if err := w.clear(report.ID, "the "+sortOf(w.row)+" "+w.row.ID+" was withdrawn: "+w.row.Why); err != nil {
			return err
		}
	}
	return nil
}

// standAgain opens reports that were cleared and that nothing undoes any more: whoever
// cleared them went by what is withdrawn.
func (w *withdrawing) standAgain() error {
	q := w.now.requirements[w.tool.ID]
	if q == nil {
		return nil
	}
	before, after := w.was.facts(w.tool.ID, ""), w.now.facts(w.tool.ID, "")
	for _, report := range w.now.wrongs[w.tool.ID] {
		e, ends := w.was.ending(report)
		if report.Cleared == 0 || !ends || !e.Undone(before.Checks, before.Calibrations, *q) || e.Undone(after.Checks, after.Calibrations, *q) {
			continue
		}
		row, err := load[custody.Wrong](w.tx, report.ID, "report "+report.ID)
		if err != nil {
			return err
		}
		row.Cleared, row.Why = 0, ""
		if err := store.Put(w.tx, &row); err != nil {
			return err
		}
		w.again = append(w.again, string(row.What))
	}
	return nil
}

// markAgain marks the tool by comparisons that failed and were not marked, since what is
// withdrawn had made them good.
func (w *withdrawing) markAgain() error {
	q := w.now.requirements[w.tool.ID]
	if q == nil {
		return nil
	}
	before, after := w.was.facts(w.tool.ID, ""), w.now.facts(w.tool.ID, "")
	for _, k := range w.now.results[w.tool.ID] {
		known := slices.ContainsFunc(w.now.wrongs[w.tool.ID], func(report custody.Wrong) bool { return report.Calibration == k.ID })
		if known || k.Verdict != calibration.Failed || k.Disagrees || !k.MadeGood(before.Checks, before.Calibrations, *q) || k.MadeGood(after.Checks, after.Calibrations, *q) {
			continue
		}
		if err := w.mark(k.row); err != nil {
			return err
		}
		w.again = append(w.again, string(custody.Failed))
	}
	return nil
}

// view says what is left.
func (w *withdrawing) view() (v CalibrationView, err error) {
	var q calibration.Requirement
	if have := w.now.requirements[w.tool.ID]; have != nil {
		q = *have
	}
	shown, err := w.now.show(q, w.row)
	if err != nil {
		return v, err
	}
	v = w.calibrationView(q, &shown)
	open, err := w.OpenWrongs(w.tool.ID)
	if err != nil {
		return v, err
	}
	v.DoNotUse = custody.Reasons(open)
	with, err := w.comparedWithout()
	if err != nil {
		return v, err
	}
	w.tell(&v, with)
	return v, nil
}

// tell says what follows.
func (w *withdrawing) tell(v *CalibrationView, with []string) {
	number := w.tool.Number.String()
	say := func(text string) { v.Advice = append(v.Advice, text) }
	if len(w.again) > 0 {
		say("What it had undone stands again: it is marked DO NOT USE: " + v.DoNotUse + ".")
	}
	switch {
	case w.marked && v.DoNotUse == "":
		say("It had marked the tool DO NOT USE; that is taken away with it.")
	case w.marked && len(w.cleared) == 0:
		say("It is still marked DO NOT USE: " + v.DoNotUse + ". A manager clears it: pawl clear " + number + " --why …")
	case v.DoNotUse != "" && len(w.again) == 0:
		say("It is still marked DO NOT USE: " + v.DoNotUse + ".")
	}
	if w.since > w.doubts {
		say("Work with it that was trusted by this is in doubt: pawl recheck " + number)
	}
	for _, other := range with {
		say("What " + other + " was compared with rested on this: pawl recheck " + other)
	}
}

// comparedWithout gives the tools that were compared with this one, and whose comparison
// has lost its ground.
func (w *withdrawing) comparedWithout() (out []string, err error) {
	with, err := w.ComparedWith([]string{w.tool.ID})
	if err != nil || len(with) == 0 {
		return nil, err
	}
	m, err := w.measuredTools(with...)
	if err != nil {
		return nil, err
	}
	for _, id := range with {
		lost := func(k judged) bool {
			return k.row.Standard == w.tool.ID && stoodAt(w.row, k.row.Entered) && m.unfounded[k.ID] != ""
		}
		if slices.ContainsFunc(m.results[id], lost) {
			out = append(out, m.tools[id].Number.String())
		}
	}
	return out, nil
}
