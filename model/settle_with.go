package model

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"pawl/model/calibration"
	"pawl/model/fault"
	"pawl/model/pattern"
	"pawl/model/register"
	"pawl/model/units"
)

// with settles which tool it was done with, and whether that tool may be relied on. One
// that must not be used is refused; whatever else stands against it is said.
func (w *settling) with(number string) error {
	t, found, err := w.toolIn(number)
	if err != nil {
		return err
	}
	if !found {
		w.sayValues(nil, "")
		return nil
	}
	m, err := w.measuredTools(t.ID)
	if err != nil {
		return err
	}
	f := m.facts(t.ID, w.by.Person)
	switch {
	case t.Gone != 0:
		return fault.At("#/tool", "tool %s is gone: %s", t.Number, t.GoneWhy).WithHint("name the tool that it was done with")
	case f.DoNotUse != "":
		return fault.At("#/tool", "tool %s is marked DO NOT USE: %s", t.Number, f.DoNotUse).WithHint("do it with another")
	case t.ID == w.tool.ID && !trusted(f):
		return fault.At("#/tool", "tool %s is the one that was found out, and nothing shows that it is good again", t.Number).WithHint("do it with another")
	}
	w.row.WithTool = t.ID
	w.sayValues(f.Requirement, t.Number.String())
	if err := w.sayReliable(t, f); err != nil {
		return err
	}
	if w.row.How == calibration.TightenedAgain && w.line.Job != "" {
		w.say("Record the tightening too, so that it stands with %s: pawl tighten %s --job %s …", t.Number, t.Number, w.line.Job)
	}
	return nil
}

func (w *settling) say(format string, args ...any) {
	w.said = append(w.said, fmt.Sprintf(format, args...))
}

// sayReliable says what stands against relying on a tool that measures, or that was
// used as one: nothing shows it good, it is past its day, or it is in doubt itself.
func (w *settling) sayReliable(t register.Tool, f calibration.Facts) error {
	if f.Requirement == nil && !register.Measures(t.Kind) && w.row.How != calibration.TightenedAgain || w.row.How == calibration.CustomerTold {
		return nil
	}
	r, err := w.readRechecks(t.ID)
	if err != nil {
		return err
	}
	list, err := r.recheck(t)
	if err != nil {
		return err
	}
	done := map[calibration.Settlement]string{calibration.CheckedByMethod: "checked"}[w.row.How]
	if done == "" {
		done = "tightened"
	}
	stands, err := w.compare(t.ID)
	if err != nil {
		return err
	}
	now := w.tx.Now()
	switch _, doubt := list.InDoubt(now.Day(r.zone), now); {
	case !trusted(f):
		w.say("Nothing shows that %s is good: what was %s with it is not confirmed either.", t.Number, done)
	case doubt:
		w.say("%s is in doubt itself: what was %s with it is not confirmed either. See pawl recheck %s.", t.Number, done, t.Number)
	case !stands.InDate:
		w.say("The calibration of %s does not hold today: what was %s with it is not confirmed either.", t.Number, done)
	}
	return nil
}

// aValue finds what may be a value with a unit among words.
var aValue = pattern.Late(`[0-9]+(?:\.[0-9]+)?\s*[^\s0-9.,;:()][^\s0-9.,;:()]*`)

// sayValues holds the values of the line's quantity that the words name against what the
// line was for, and against the scale of the tool; by another percent than one they are
// no longer the same (the slack of the readiness rule). It warns only: which is right is
// the service information's to say.
func (w *settling) sayValues(q *calibration.Requirement, number string) {
	target := w.line.target
	dimension := target.Unit.Dimension()
	if target.IsZero() {
		dimension = units.Torque
	}
	var named []units.Quantity
	for _, text := range aValue().FindAllString(w.row.Done, -1) {
		if v, err := units.ParseQuantity(text); err == nil && v.Unit.Dimension() == dimension {
			named = append(named, v)
		}
	}
	for i, v := range named {
		named[i].Value = strings.TrimPrefix(v.Value, "+")
	}
	isTarget := func(v units.Quantity) bool { return nearly(v, target) }
	tightened := w.line.What == string(calibration.UsedToTighten) && w.row.How != calibration.CustomerTold
	if tightened && len(named) > 0 && !slices.ContainsFunc(named, isTarget) {
		w.say("You wrote %s; the line is for %s. Which is right stands in the vehicle maker's service information.", named[0].Words(), target.Words())
	}
	if q == nil || w.row.How == calibration.CustomerTold {
		return
	}
	if slices.ContainsFunc(named, isTarget) || len(named) == 0 && !target.IsZero() && w.row.How == calibration.TightenedAgain {
		named = []units.Quantity{target}
	}
	for _, v := range named {
		if v.Unit.Dimension() != q.Unit.Dimension() {
			w.say("%s does not measure %s: it is for %s.", number, v.Words(), q.Unit.Dimension())
		} else if !q.Scale.Holds(v) {
			w.say("%s goes from %s to %s: %s is not on its scale.", number, q.Scale.Low.Words(), q.Scale.High.Words(), v.Words())
		}
	}
}

// nearly says whether two quantities are the same to one percent.
func nearly(a, b units.Quantity) bool {
	in, err := a.In(b.Unit)
	if err != nil {
		return false
	}
	was, err := b.In(b.Unit)
	if err != nil {
		return false
	}
	x, _ := in.Float64()
	y, _ := was.Float64()
	return math.Abs(x-y) <= 0.01*math.Abs(y)
}
