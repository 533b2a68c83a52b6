package model

import (
	"context"
	"slices"

	"pawl/labels"
	"pawl/model/calibration"
	"pawl/model/fault"
)

// Sticker gives the calibration sticker of a tool, by its newest calibration. One
// whose calibration supports nothing, is overdue, or no longer holds has none:
// Conflict.
func (s *Shop) Sticker(ctx context.Context, by By, number string) (out labels.Sticker, err error) {
	err = s.read(ctx, func(d *directory) error {
		t, err := resolve(d.Rx, number)
		if err != nil {
			return err
		}
		m, err := d.measuredTools(t.ID)
		if err != nil {
			return err
		}
		last, err := m.holds(t.ID)
		if err != nil {
			return fault.New(fault.Conflict, "tool %s gets no sticker: %s", t.Number, fault.Of(err).Message).WithHint("%s", fault.Of(err).Hint)
		}
		q := m.requirements[t.ID]
		out = labels.Sticker{Symbol: t.Number.Symbol(d.settings.Address), Number: t.Number.String(), Calibrated: string(last.On),
			Due: string(last.NextDue), Limited: last.Limited || oneWay(*q, last.Judgement), Spans: spansInWords(*q, last.Judgement)}
		return nil
	})
	return out, err
}

// holds gives the newest calibration of a tool where it still holds, or says why
// not.
func (m *measured) holds(tool string) (calibration.Kept, error) {
	f := m.facts(tool, "")
	refuse := func(hint, format string, args ...any) (calibration.Kept, error) {
		return calibration.Kept{}, fault.New(fault.Conflict, format, args...).WithHint("%s", hint)
	}
	const enter = "enter its calibration: pawl calibrate NUMBER"
	switch {
	case f.Requirement == nil:
		return refuse(enter, "nothing is recorded of what it must hold")
	case f.Gone != "":
		return refuse("it is not here", "it is gone: %s", f.Gone)
	case f.DoNotUse != "":
		return refuse("a manager clears it when it is in order", "DO NOT USE: %s", f.DoNotUse)
	case f.Doubtful:
		return refuse("set the clock right; a manager then vouches for it: pawl clock confirm", "the clock of this computer is in doubt, so nobody can say whether it is in date")
	case len(f.Unreadable) > 0:
		return refuse("verify the register: pawl verify", "%s cannot be read", f.Unreadable[0])
	case len(f.Calibrations) == 0:
		return refuse(enter, "it was never calibrated")
	}
	last := f.Calibrations[0]
	if last.Verdict != calibration.Passed || !last.Supports || len(last.Covered) == 0 {
		return refuse("see why: pawl calibrate "+f.Number, "its calibration of %s supports no yes", last.On)
	}
	if left, _ := calibration.Trust(f.Events, f.Checks, f.Calibrations[:1], *f.Requirement); len(left) > 0 {
		return refuse("calibrate it again", "it was %s on %s, after its calibration of %s", left[0].Kind, left[0].On, last.On)
	}
	if last.On.After(f.Today) {
		return refuse("look at its date, and at the clock", "its calibration is dated %s, which is in the future", last.On)
	}
	if f.Today.After(last.NextDue) {
		return refuse("calibrate it again", "its calibration was good through %s", last.NextDue)
	}
	if most := f.Requirement.Cycles; most > 0 && f.Cycles.AtLeast >= most {
		return refuse("calibrate it again", "it was used %d times since its calibration, and %d end it", f.Cycles.AtLeast, most)
	}
	return last, nil
}

// oneWay says whether a tool that turns both ways was compared in one direction.
func oneWay(q calibration.Requirement, j calibration.Judgement) bool {
	turns := func(d calibration.Direction) bool {
		return slices.ContainsFunc(j.Covered, func(s calibration.Span) bool { return s.Direction == d })
	}
	return q.Instrument.Turns() && !(turns(calibration.Clockwise) && turns(calibration.Counterclockwise))
}

// spansInWords says what a calibration covers; what holds both ways is said once.
func spansInWords(q calibration.Requirement, j calibration.Judgement) (out []string) {
	for i, span := range j.Covered {
		words := calibration.Rounded(span.Low, q.Unit).Value + " to " + calibration.Rounded(span.High, q.Unit).String()
		if span.Low == span.High {
			words = calibration.Rounded(span.Low, q.Unit).String()
		}
		same := func(o calibration.Span) bool {
			return o.Direction != span.Direction && o.Low == span.Low && o.High == span.High
		}
		switch {
		case slices.ContainsFunc(j.Covered[:i], same):
			continue
		case slices.ContainsFunc(j.Covered[i+1:], same):
			words += ", both directions"
		case span.Direction != calibration.NoDirection:
			words += " " + span.Direction.Words()
		}
		out = append(out, words)
	}
	return out
}
