package calibration_test

import (
	"fmt"
	"math"
	"slices"
)

// doubtLine is what the second implementation expects of one line, amounts in the
// tool's unit.
type doubtLine struct {
	key                   string // use V-1, job J-1, stretch O-1
	job                   string
	verdict               string
	applied, u, deviation float64
	low, high, off        float64
	from, to              int
}

var doubtRanks = map[string]int{"outside": 0, "indeterminate": 1, "cannot be judged": 2, "custody": 3, "within": 4}

// doubtEnd is what one point makes of a use.
type doubtEnd struct{ t, u, a, e, w, amount float64 }

// ends judges a use at the points on either side of it.
func (o *doubtOracle) ends(c doubtCompared, points []doubtPoint, x, k float64) (out []doubtEnd) {
	for _, p := range o.spanning(points, x) {
		var e doubtEnd
		e.a, e.e, e.w, e.amount = o.mean(c, p)
		e.t, e.u = o.truly(x, e.a, e.e)*k, 0
		e.u = e.t * e.w / 100
		if !o.turns() {
			e.u = e.amount
		}
		if o.wrong == "uncertainty forgotten" {
			e.u = 0
		}
		out = append(out, e)
	}
	if o.wrong == "one end only" && len(out) > 0 {
		out = out[:1]
	}
	return out
}

func (o *doubtOracle) truly(x, a, e float64) float64 {
	switch {
	case !o.turns():
		return x - e
	case o.wrong == "sign turned":
		return x * (1 + a/100)
	}
	return x / (1 + a/100)
}

// later says whether a comparison came after a use, as a window sees it: of one day
// without times, those from the one that found it out on did.
func (o *doubtOracle) later(w doubtWindow, k int, at doubtTime) bool {
	c := o.compared[k].at
	return before(at, c) || !before(c, at) && k >= w.index
}

func (o *doubtOracle) changedBetween(from, to doubtTime) bool {
	return slices.ContainsFunc(o.changed, func(minute int) bool {
		return !before(atMinute(minute), from) && !before(to, atMinute(minute))
	})
}

// tellsNothing: a comparison that passed without being fit to clear anything.
func (o *doubtOracle) tellsNothing(c doubtCompared) bool {
	unfit := c.paper == "own" && c.unfit && o.wrong != "an unfit check clears"
	return (unfit || o.outOfUseStandard(c)) && !c.adjusted && o.foundVerdict(c) == "pass"
}

// since gives the ends as found, and whether none can be known since the tool was
// adjusted before anybody read it. by is the comparison that tells.
func (o *doubtOracle) since(w doubtWindow, u doubtUse, x, k float64) (ends []doubtEnd, by *doubtCompared, unfound bool) {
	at := atMinute(u.minute)
	for i, c := range o.compared {
		if !o.later(w, i, at) {
			continue
		}
		if o.changedBetween(at, c.at) {
			return nil, nil, false
		}
		if !o.doubted[c.id] && (!o.tellsNothing(c) || w.compared && i == w.index && w.trigger != "standard out of use") {
			if ends = o.ends(c, c.foundAt(o.direction(u)), x, k); len(ends) > 0 {
				return ends, &c, false
			}
		}
		if c.adjusted {
			return nil, nil, len(c.found) == 0 && o.wrong != "adjusted without as found is any other"
		}
	}
	return nil, nil, false
}

// leftBefore gives the ends as it was left before.
func (o *doubtOracle) leftBefore(w doubtWindow, u doubtUse, x, k float64) []doubtEnd {
	at := atMinute(u.minute)
	for i := len(o.compared) - 1; i >= 0; i-- {
		c := o.compared[i]
		if o.later(w, i, at) {
			continue
		}
		if o.changedBetween(c.at, at) {
			return nil
		}
		if !o.doubted[c.id] && !o.tellsNothing(c) {
			if ends := o.ends(c, c.leftAt(o.direction(u)), x, k); len(ends) > 0 {
				return ends
			}
			// Paper on a class: its whole limit to either side, a quarter of it as W.
			in := atMost(40, x) && atMost(x, 200) || o.sort == "one value" && same(x, 108) || o.sort == "gauge"
			if c.paper == "declaration" && c.points >= 3 && c.claim != "fail" && in {
				return o.classEnds(x, k)
			}
		}
		if c.adjusted {
			return nil
		}
	}
	return nil
}

func (o *doubtOracle) classEnds(x, k float64) (out []doubtEnd) {
	for _, sign := range []float64{1, -1} {
		half := o.half(x)
		t := o.truly(x, sign*100*half/x, sign*half) * k
		u := t / 100 // a quarter of 4 %
		if !o.turns() {
			u = half / 4
		}
		out = append(out, doubtEnd{t: t, u: u})
	}
	return out
}

// use judges a use if it is in the window.
func (o *doubtOracle) use(w doubtWindow, u doubtUse) (l doubtLine, in bool) {
	at := atMinute(u.minute)
	if o.wrong == "boundary days are outside" && (w.from.day == at.day || w.to.day == at.day) {
		return l, false
	}
	if good := o.lastGood(w.index, &u); !w.holds(at, at) || good != noTime && before(at, good) {
		return l, false
	}
	l = o.judged(w, u)
	if w.tight() {
		return l, l.off > 0
	}
	return l, true
}

// judged holds a use against its limits at every end.
func (o *doubtOracle) judged(w doubtWindow, u doubtUse) doubtLine {
	none := math.NaN()
	l := doubtLine{key: "use " + u.id, job: u.job, verdict: "indeterminate", applied: none, u: none, deviation: none, low: none, high: none, from: u.minute, to: u.minute}
	x, k, known := o.place(u)
	if !known {
		return l
	}
	lo, hi := o.limits(u)
	found, by, unfound := o.since(w, u, x, k)
	clear := by != nil && !o.outOfUseStandard(*by) && (by.paper != "own" || !by.unfit && (!by.adjusted || len(by.left) > 0) || o.wrong == "an unfit check clears")
	left := o.leftBefore(w, u, x, k)
	all := slices.Concat(found, left)
	if o.wrong == "as left before forgotten" {
		all = found
	}
	within, outside := len(found) > 0 && clear && (len(left) > 0 || o.wrong == "as left before forgotten"), len(found) > 0
	least, most := math.Inf(1), math.Inf(-1)
	for i, e := range all {
		in := atMost(lo, e.t-e.u) && atMost(e.t+e.u, hi)
		within = within && in
		if i < len(found) {
			outside = outside && (e.t+e.u < lo && !same(e.t+e.u, lo) || e.t-e.u > hi && !same(e.t-e.u, hi))
		}
		if !in && !math.IsNaN(e.u) {
			l.off = max(l.off, (lo-(e.t-e.u))/(x*k), (e.t+e.u-hi)/(x*k))
		}
		least, most = math.Min(least, e.t-e.u), math.Max(most, e.t+e.u)
	}
	switch {
	case within:
		l.verdict = "within"
	case outside:
		l.verdict = "outside"
	case unfound:
		l.verdict = "cannot be judged"
	}
	if len(found) > 0 {
		l.low, l.high = least, most
		o.likeliest(&l, *by, o.direction(u), x, k)
	}
	return l
}

// likeliest lies on the straight line between the points as found.
func (o *doubtOracle) likeliest(l *doubtLine, c doubtCompared, direction string, x, k float64) {
	points := o.spanning(c.foundAt(direction), x)
	a, e, w, amount := o.mean(c, points[0])
	if len(points) == 2 {
		a1, e1, _, amount1 := o.mean(c, points[1])
		f := (x - points[0].set) / (points[1].set - points[0].set)
		a, e, amount = a+f*(a1-a), e+f*(e1-e), max(amount, amount1)
	}
	l.applied = o.truly(x, a, e) * k
	if l.u, l.deviation = l.applied*w/100, a; !o.turns() {
		l.u, l.deviation = amount, 100*e/l.applied
	}
}

// doubtList is all that is expected.
type doubtList struct {
	windows []doubtWindow
	lines   map[string]doubtLine
	jobs    []string
	days    int
}

func (l doubtList) keep(line doubtLine) {
	if have, known := l.lines[line.key]; !known || doubtRanks[line.verdict] < doubtRanks[have.verdict] {
		l.lines[line.key] = line
	}
}

// list works the tool out.
func (o *doubtOracle) list() doubtList {
	out := doubtList{windows: o.windows(), lines: map[string]doubtLine{}}
	for _, w := range out.windows {
		for _, u := range o.uses {
			if l, in := o.use(w, u); in {
				out.keep(l)
			}
		}
	}
	if o.wrong != "custody forgotten" {
		o.custody(&out)
	}
	return out
}

func (o *doubtOracle) ended(s doubtStretch) doubtTime {
	if s.to == -1 {
		return atMinute(max(o.now, s.from))
	}
	return atMinute(s.to)
}

// custody gives a line for what nobody recorded: each job that the tool was out for in
// a time in doubt (windows that touch are one) with nothing on record in it, and each
// stretch without a job. Where all that is on record of a job there is not in doubt, it
// is listed as it is.
func (o *doubtOracle) custody(out *doubtList) {
	together := o.together(out.windows)
	days := map[int]bool{}
	for i, w := range out.windows {
		for _, s := range o.stretches {
			if w.usesOnly() || !w.holds(atMinute(s.from), o.ended(s)) {
				continue
			}
			if s.job == "" {
				out.lines["stretch "+s.id] = doubtLine{key: "stretch " + s.id, verdict: "custody", from: s.from, to: o.ended(s).minute}
				for day := atMinute(s.from).day; day <= o.ended(s).day; day++ {
					if w.holds(doubtTime{day, -1}, doubtTime{day, -1}) {
						days[day] = true
					}
				}
				continue
			}
			recorded, listed := o.recorded(out, together[i], s.job)
			if len(recorded) == 0 {
				key := "job " + s.job
				l, known := out.lines[key]
				if !known {
					l = doubtLine{key: key, job: s.job, verdict: "custody", from: s.from, to: o.ended(s).minute}
					out.jobs = append(out.jobs, s.job)
				}
				l.from, l.to = min(l.from, s.from), max(l.to, o.ended(s).minute)
				out.lines[key] = l
			} else if !listed {
				defer func() {
					for _, l := range recorded {
						out.keep(l)
					}
				}()
			}
		}
	}
	out.days = len(days)
}

// together says of each window which ones touch it, by way of others too.
func (o *doubtOracle) together(all []doubtWindow) [][]doubtWindow {
	out := make([][]doubtWindow, len(all))
	for i, w := range all {
		reached := map[int]bool{i: true}
		for grew := !w.usesOnly(); grew; {
			grew = false
			for a := range all {
				for b := range reached {
					touch := (all[a].from == noTime || all[b].to == noTime || !before(all[b].to, all[a].from)) &&
						(all[b].from == noTime || all[a].to == noTime || !before(all[a].to, all[b].from))
					if !all[a].usesOnly() && !reached[a] && touch {
						reached[a], grew = true, true
						break
					}
				}
			}
		}
		for a := range all {
			if reached[a] {
				out[i] = append(out[i], all[a])
			}
		}
	}
	return out
}

// recorded gives what is on record of a job in those windows, judged, and whether any
// of it is on the list already.
func (o *doubtOracle) recorded(out *doubtList, windows []doubtWindow, job string) (all []doubtLine, listed bool) {
	for _, w := range windows {
		for _, u := range o.uses {
			if u.job == job && w.holds(atMinute(u.minute), atMinute(u.minute)) {
				all = append(all, o.judged(w, u))
				_, on := out.lines["use "+u.id]
				listed = listed || on
			}
		}
	}
	return all, listed
}

// inDoubt says whether what was compared with this tool at a time is in doubt.
func (o *doubtOracle) inDoubt(at doubtTime) bool {
	return slices.ContainsFunc(o.windows(), func(w doubtWindow) bool { return !w.tight() && !w.cleared && w.holds(at, at) })
}

func (l doubtLine) String() string { return fmt.Sprintf("%s %s %.6g", l.key, l.verdict, l.applied) }
