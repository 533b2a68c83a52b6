package calibration

import (
	"strings"

	"pawl/model/units"
)

// slipUnits are the units of torque that are taken for one another: in-lb and ft-lb
// differ by a factor of twelve, ft-lb and N·m by a third.
var slipUnits = []units.Unit{units.NewtonMeter, units.FootPound, units.InchPound}

// Slips gives the units in which a torque would make sense where it makes none in its
// own: outside the tool's range as it is typed and inside it in another unit, or
// outside its own limits as typed and inside them in another unit. None where the
// value is plausible as it is. factor is the adapter's K.
func Slips(target units.Quantity, limits Limits, s Scale, factor float64) (plausible []units.Unit) {
	if target.Unit.Dimension() != units.Torque || !(factor > 0) {
		return nil
	}
	inRange := func(q units.Quantity) bool {
		v, err := amountIn(q, s.Low.Unit)
		low, high, err2 := s.ends(s.Low.Unit)
		return err == nil && err2 == nil && atMost(low, v/factor) && atMost(v/factor, high)
	}
	inLimits := func(q units.Quantity) bool { return limits.IsZero() || limits.holds(q) }
	if inRange(target) && inLimits(target) {
		return nil
	}
	for _, u := range slipUnits {
		other := units.Quantity{Value: target.Value, Unit: u}
		if u == target.Unit {
			continue
		}
		// Limits typed without a unit of their own slip together with the target.
		moved := limits.read(target.Unit, u)
		if inRange(other) && (limits.IsZero() || limits.holds(other) || moved.holds(other)) {
			plausible = append(plausible, u)
		}
	}
	return plausible
}

// holds says whether a value is inside the limits, ends included.
func (l Limits) holds(q units.Quantity) bool {
	if !l.Low.IsZero() {
		if order, err := l.Low.Compare(q); err != nil || order > 0 {
			return false
		}
	}
	if !l.High.IsZero() {
		if order, err := q.Compare(l.High); err != nil || order > 0 {
			return false
		}
	}
	return true
}

// read gives the limits with the ends that were in one unit read in another.
func (l Limits) read(from, to units.Unit) Limits {
	for _, end := range []*units.Quantity{&l.Low, &l.High} {
		if end.Unit == from {
			end.Unit = to
		}
	}
	return l
}

// slips asks about a unit that looks like a slip.
func (a *asking) slips() {
	switch {
	case a.q.UnitConfirmed == RepliedNo:
		a.add(ReasonAskUnit, CannotConfirm, "you said that %s is not the unit that was read; ask again with the right one", a.q.Target.Unit.Words())
		return
	case a.q.UnitConfirmed == RepliedYes || a.r.Class.NonGraduated():
		return
	}
	if lo, hi, _ := a.bounds(); a.onScale && atMost(lo, a.target) && atMost(a.target, hi) {
		return
	}
	plausible := Slips(a.q.Target, a.q.Limits, a.r.Scale, a.k)
	if len(plausible) == 0 {
		return
	}
	words := make([]string, len(plausible))
	for i, u := range plausible {
		words[i] = units.Quantity{Value: a.q.Target.Value, Unit: u}.Words()
	}
	a.add(ReasonAskUnit, CannotConfirm, "is the unit right? %s makes no sense on this %s, %s would", a.q.Target.Words(), a.out.noun, strings.Join(words, " or "))
}
