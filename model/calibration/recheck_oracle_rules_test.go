package calibration_test

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// A second implementation of recheck, written from the text of the rules alone
// (calibration reference 7, DETAILS "Recheck") and from plain numbers: it asks of each
// use and of each day, by itself, whether it is in doubt. Slow, and plain.

// doubtOracle answers for one tool.
type doubtOracle struct {
	doubtTool
	now     int
	doubted map[string]bool // comparisons made with a standard that is in doubt
	wrong   string          // a rule that is wrong on purpose
}

func newDoubtOracle(t doubtTool, now int, wrong string) *doubtOracle {
	o := &doubtOracle{doubtTool: t, now: now, doubted: map[string]bool{}, wrong: wrong}
	o.compared = slices.Clone(t.compared)
	slices.SortFunc(o.compared, func(a, b doubtCompared) int {
		if wrong == "ordered by when it was entered" {
			return cmp.Compare(a.entered, b.entered)
		}
		return cmp.Or(cmp.Compare(a.at.day, b.at.day), cmp.Compare(a.hour(), b.hour()), cmp.Compare(a.entered, b.entered), cmp.Compare(a.id, b.id))
	})
	return o
}

func (c doubtCompared) hour() int {
	if c.at.minute >= 0 {
		return c.at.minute
	}
	return c.entered
}

// before says that a certainly came before b: by the minute where both are known, else
// by the day.
func before(a, b doubtTime) bool {
	if a.minute != -1 && b.minute != -1 {
		return a.minute < b.minute
	}
	return a.day < b.day
}

// What a comparison says.

func (c doubtCompared) of(direction string, phase, other []doubtPoint) (out []doubtPoint) {
	for _, points := range [][]doubtPoint{phase, other} {
		for _, p := range points {
			if p.direction == direction {
				out = append(out, p)
			}
		}
		if len(out) > 0 || c.adjusted {
			break
		}
	}
	return out
}

// foundAt and leftAt are how it was found and left in one direction; where nothing was
// adjusted the one says the other.
func (c doubtCompared) foundAt(direction string) []doubtPoint {
	return c.of(direction, c.found, c.left)
}
func (c doubtCompared) leftAt(direction string) []doubtPoint {
	return c.of(direction, c.left, c.found)
}

func (o *doubtOracle) failing(p doubtPoint) bool {
	return slices.ContainsFunc(p.read, func(r float64) bool { return !atMost(math.Abs(p.set-r), o.half(r)) })
}

// said is "pass", "fail", or "" where nothing can be said.
func (o *doubtOracle) said(c doubtCompared, at func(string) []doubtPoint) string {
	out := ""
	for _, d := range o.directions {
		for _, p := range at(d) {
			if out == "" {
				out = "pass"
			}
			if o.failing(p) {
				out = "fail"
			}
		}
	}
	return out
}

func (o *doubtOracle) foundVerdict(c doubtCompared) string {
	if len(c.found)+len(c.left) == 0 && c.claim == "fail" && !c.adjusted {
		return "fail"
	}
	return o.said(c, c.foundAt)
}

func (o *doubtOracle) leftVerdict(c doubtCompared) string {
	switch {
	case c.claim == "fail":
		return "fail"
	case c.paper == "declaration" && c.points >= 3:
		return "pass"
	}
	return o.said(c, c.leftAt)
}

// outOfUseStandard says whether it was made with a standard that was not to be used then,
// which is worth nothing where it found how the tool was left.
func (o *doubtOracle) outOfUseStandard(c doubtCompared) bool {
	return c.standardOut && o.wrong != "a standard out of use is any other" && o.said(c, c.leftAt) != ""
}

// relies says whether a comparison that passed may be relied on.
func (o *doubtOracle) relies(c doubtCompared) bool {
	if o.leftVerdict(c) != "pass" || o.doubted[c.id] || o.outOfUseStandard(c) {
		return false
	}
	switch c.paper {
	case "declaration":
		return true
	case "own":
		return !c.unfit || o.wrong == "an unfit check clears"
	}
	for _, d := range o.directions { // a laboratory states W, at most half of the limit
		for _, p := range c.leftAt(d) {
			if c.w == 0 || !atMost(c.w, 50*o.half(p.set)/p.set) {
				return false
			}
		}
	}
	return true
}

// mean gives ā in percent, the mean error, and W in percent and as an amount.
func (o *doubtOracle) mean(c doubtCompared, p doubtPoint) (a, e, w, u float64) {
	n, sum := float64(len(p.read)), 0.0
	for _, r := range p.read {
		a, e, sum = a+100*(p.set-r)/r/n, e+(p.set-r)/n, sum+r
	}
	if w = c.w; w == 0 {
		w = math.NaN()
	}
	return a, e, w, w / 100 * sum / n
}

// spanning gives the points on either side of a value; a point on it alone.
func (o *doubtOracle) spanning(points []doubtPoint, x float64) []doubtPoint {
	for _, p := range points {
		if same(p.set, x) || o.sort == "one value" {
			return []doubtPoint{p}
		}
	}
	for i := 1; i < len(points); i++ {
		if points[i-1].set < x && x < points[i].set {
			return points[i-1 : i+1]
		}
	}
	return nil
}

// shows says whether a comparison verified the tool good where a use was; nil asks for
// the whole tool, in all its directions.
func (o *doubtOracle) shows(c doubtCompared, u *doubtUse) bool {
	if !o.relies(c) {
		return false
	}
	if !c.bench || o.wrong == "any bench check is of the whole" {
		return true
	}
	whole := !o.noDemand
	for _, d := range o.directions {
		whole = whole && o.holds(c, d, 40, 200)
	}
	if whole || u == nil {
		return whole && o.sort != "gauge"
	}
	x, _, known := o.place(*u)
	return known && o.holds(c, o.direction(*u), x, x) && len(o.spanning(c.foundAt(o.direction(*u)), x)) > 0
}

// holds says whether a bench check reached from one value to another in a direction,
// every point of it inside the limit with its uncertainty.
func (o *doubtOracle) holds(c doubtCompared, direction string, from, to float64) bool {
	points := c.foundAt(direction)
	if len(points) == 0 {
		return false
	}
	for _, p := range points {
		a, _, w, _ := o.mean(c, p)
		if o.failing(p) || !atMost(math.Abs(a)+w, 100*o.half(p.set)/p.set) {
			return false
		}
	}
	return o.sort == "one value" || atMost(points[0].set, from) && atMost(to, points[len(points)-1].set)
}

func (o *doubtOracle) direction(u doubtUse) string {
	if o.wrong == "direction ignored" {
		return o.directions[0]
	}
	return u.direction
}

// trigger says how a comparison finds the tool out; "" it does not.
func (o *doubtOracle) trigger(c doubtCompared) string {
	switch {
	case o.doubted[c.id]:
		return "standard found out"
	case c.bench && o.leftVerdict(c) == "fail":
		return "failed bench check"
	case c.claim == "fail" && len(c.found)+len(c.left) == 0:
		return "paper says fail"
	case o.foundVerdict(c) == "fail":
		return "failed as found"
	case c.adjusted && len(c.found) == 0:
		return "adjusted without as found"
	case c.claim == "fail":
		return "paper says fail"
	case o.leftVerdict(c) == "fail":
		return "left failing"
	case o.outOfUseStandard(c):
		return "standard out of use"
	}
	return ""
}

// doubtWindow is a time in doubt.
type doubtWindow struct {
	trigger, by string
	foundOn     int
	from, to    doubtTime // noTime: open
	index       int       // of the comparison that found it out, or the first that may have come after the event
	compared    bool      // it was a comparison
	cleared     bool
}

// usesOnly says whether a window says nothing of custody.
func (w doubtWindow) usesOnly() bool { return w.tight() || w.trigger == "used while out of use" }

func (w doubtWindow) tight() bool { return w.trigger == "passed, but not for these limits" }

func (w doubtWindow) holds(from, to doubtTime) bool {
	return (w.from == noTime || !before(to, w.from)) && (w.to == noTime || !before(w.to, from))
}

// windows are all of them, newest first.
func (o *doubtOracle) windows() (out []doubtWindow) {
	for i, c := range o.compared {
		t := o.trigger(c)
		if t == "" && o.foundVerdict(c) == "pass" {
			t = "passed, but not for these limits"
		}
		if t != "" {
			w := doubtWindow{trigger: t, by: c.id, foundOn: c.at.day, index: i, compared: true}
			w.from = o.lastGood(i, nil)
			if w.to = o.until(i, t, w.from); w.tight() {
				w.to = c.at
			}
			if !w.tight() || slices.ContainsFunc(o.uses, func(u doubtUse) bool { _, in := o.use(w, u); return in }) {
				out = append(out, w)
			}
		}
	}
	for _, m := range o.mishaps {
		out = append(out, o.mishap(m))
		if w := o.outOfUse(m); slices.ContainsFunc(o.uses, func(u doubtUse) bool { _, in := o.use(w, u); return in }) {
			out = append(out, w)
		}
	}
	if o.lost && o.gone != -1 {
		at := atMinute(o.gone)
		w := doubtWindow{trigger: "lost", foundOn: at.day, index: o.firstAfter(at), to: at}
		w.from = o.lastGood(w.index, nil)
		out = append(out, w)
	}
	slices.SortStableFunc(out, func(a, b doubtWindow) int { return cmp.Compare(b.foundOn, a.foundOn) })
	return out
}

// lastGood is when a use's place was last verified good before a comparison.
func (o *doubtOracle) lastGood(index int, u *doubtUse) doubtTime {
	for j := index - 1; j >= 0; j-- {
		if o.shows(o.compared[j], u) {
			return o.compared[j].at
		}
	}
	return noTime
}

// firstAfter is the first comparison that may have come after a moment: the one behind
// the last that certainly came before.
func (o *doubtOracle) firstAfter(at doubtTime) int {
	for j := len(o.compared) - 1; j >= 0; j-- {
		if before(o.compared[j].at, at) {
			return j + 1
		}
	}
	return 0
}

// until is the earlier of "taken out of use" and "passing as left".
func (o *doubtOracle) until(i int, trigger string, from doubtTime) doubtTime {
	found := o.compared[i].at
	var ends []doubtTime
	for k := i; k < len(o.compared); k++ {
		c := o.compared[k]
		again := c.bench && k > i && (trigger == "failed bench check" || strings.HasPrefix(trigger, "standard ")) && o.shows(c, nil)
		if !c.bench && o.relies(c) || again {
			ends = append(ends, c.at)
			break
		}
	}
	for _, m := range o.mishaps {
		out := atMinute(m.out)
		still := m.cleared == -1 || before(found, atMinute(m.cleared))
		if !before(out, found) || still && (from == noTime || !before(out, from)) {
			ends = append(ends, out)
		}
	}
	if o.gone != -1 && !before(atMinute(o.gone), found) {
		ends = append(ends, atMinute(o.gone))
	}
	if o.wrong == "it ends when it is found out" {
		return found
	}
	return firstOf(ends)
}

// firstOf is the end that comes first; a day without an hour takes in the whole day.
func firstOf(ends []doubtTime) doubtTime {
	if len(ends) == 0 {
		return noTime
	}
	return slices.MinFunc(ends, func(a, b doubtTime) int { return cmp.Or(cmp.Compare(a.day, b.day), cmp.Compare(a.minute, b.minute)) })
}

// mishap is in doubt since the last good one before it, until the tool was out of use
// or found good throughout.
func (o *doubtOracle) mishap(m doubtMishap) doubtWindow {
	at := atMinute(m.at)
	w := doubtWindow{trigger: "mishap", by: m.kind, foundOn: at.day, index: o.firstAfter(at)}
	w.from = o.lastGood(w.index, nil)
	ends := []doubtTime{atMinute(m.out)}
	for _, c := range o.compared {
		if before(at, c.at) && o.shows(c, nil) {
			ends = append(ends, c.at)
			break
		}
	}
	w.to = firstOf(ends)
	for _, c := range o.compared {
		if !before(at, c.at) || o.doubted[c.id] || c.bench && o.trigger(c) == "" && !o.shows(c, nil) {
			continue
		}
		w.cleared = o.trigger(c) == "" && (c.bench || o.foundVerdict(c) == "pass")
		break
	}
	return w
}

// outOfUse is a time in which nobody was to use it: since it was taken out of use, until
// it was found good throughout, given free, or gone.
func (o *doubtOracle) outOfUse(m doubtMishap) doubtWindow {
	at := atMinute(m.at)
	w := doubtWindow{trigger: "used while out of use", by: m.kind, foundOn: at.day, index: o.firstAfter(at), from: atMinute(m.out)}
	if o.wrong == "nobody used it while it was out of use" {
		w.to = doubtTime{-1 << 29, -1}
		return w
	}
	var ends []doubtTime
	for _, c := range o.compared {
		if before(at, c.at) && o.shows(c, nil) {
			ends = append(ends, c.at)
			break
		}
	}
	for _, minute := range []int{m.cleared, o.gone} {
		if minute != -1 && minute >= m.out {
			ends = append(ends, atMinute(minute))
		}
	}
	w.to = firstOf(ends)
	return w
}

// place is where on its scale the tool was used, and what stands between there and the
// fastener.
func (o *doubtOracle) place(u doubtUse) (x, k float64, known bool) {
	k, known = u.factor(o.doubtTool)
	if x = u.set; u.lengthInWrench {
		x /= k
	}
	if o.wrong == "adapter forgotten" {
		k = 1
	}
	return x, k, known && !o.noDemand
}

func (o *doubtOracle) limits(u doubtUse) (lo, hi float64) {
	f := oracleFactors[u.unit]
	if u.measured {
		f = 1
	}
	if !u.limited {
		if o.wrong == "no limits are wide" {
			return math.Inf(-1), math.Inf(1)
		}
		return u.target*f - o.half(u.target*f), u.target*f + o.half(u.target*f)
	}
	return u.low * f, u.high * f
}

func (w doubtWindow) String() string {
	return fmt.Sprintf("%s by %q found %d from %v to %v", w.trigger, w.by, w.foundOn, w.from, w.to)
}
