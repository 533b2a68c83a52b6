package calibration

import (
	"cmp"
	"slices"

	"pawl/model/dates"
)

// rechecking is one recheck under way.
type rechecking struct {
	h       History
	all     []Comparison // oldest first
	bound   Bound
	bounded bool
	conv    conversions
}

func newRechecking(h History) *rechecking {
	r := &rechecking{h: h, all: slices.Clone(h.Compared), conv: conversions{}}
	slices.SortStableFunc(r.all, func(a, b Comparison) int {
		return cmp.Or(cmp.Compare(a.On, b.On), cmp.Compare(a.hour(), b.hour()), cmp.Compare(a.Entered, b.Entered), cmp.Compare(a.ID, b.ID))
	})
	if q := h.Requirement; q != nil {
		if b, err := q.Limit.Bind(q.Scale, q.Unit); err == nil {
			r.bound, r.bounded = b, true
		}
	}
	return r
}

// hour orders comparisons of one day: by when they were done, else by when they were
// entered.
func (c Comparison) hour() dates.Instant {
	if c.At != 0 {
		return c.At
	}
	return c.Entered
}

func (r *rechecking) instant(at dates.Instant) moment { return moment{at.Day(r.h.Zone), at} }

// outside says whether a stretch of time is certainly before the window or after it.
func (w Window) outside(from, to moment) bool {
	return !w.From.IsZero() && w.From.moment().after(to) || !w.To.IsZero() && from.after(w.To.moment())
}

// good says whether a comparison shows that the tool was left good: a calibration that
// passed as left, and that may support a yes.
func (c Comparison) good() bool {
	return c.Doubted == "" && !c.BenchCheck && c.Verdict == Passed && c.Supports
}

// whole says whether a comparison shows the tool good throughout: a calibration that
// passed, or a bench check of the whole range in every direction.
func (r *rechecking) whole(c Comparison) bool {
	return c.good() || c.Doubted == "" && c.BenchCheck && r.h.Requirement != nil && c.Restores(*r.h.Requirement)
}

// windows finds every way in which the tool was found out, newest first.
func (r *rechecking) windows() []Window {
	var out []Window
	for i, c := range r.all {
		if t, found := c.trigger(); found {
			out = append(out, r.window(i, Window{Trigger: t, Comparison: c.ID, Against: c.Doubted, FoundOn: c.On, check: c.BenchCheck}))
		} else if w, found := r.tight(i); found {
			out = append(out, w)
		}
	}
	for _, m := range r.h.Mishaps {
		out = append(out, r.mishap(m))
		if w, used := r.outOfUse(m); used {
			out = append(out, w)
		}
	}
	if r.h.Lost && r.h.Gone != 0 {
		w := r.since(r.instant(r.h.Gone), Window{Trigger: ToolLost, FoundOn: r.h.Gone.Day(r.h.Zone)})
		w.To = r.stated(r.h.Gone)
		out = append(out, w)
	}
	for _, back := range r.h.Withdrawn {
		if w, rested := r.takenBack(back); rested {
			out = append(out, w)
		}
	}
	slices.SortStableFunc(out, func(a, b Window) int { return -cmp.Compare(a.FoundOn, b.FoundOn) })
	return out
}

// takenBack is the window of a comparison that was withdrawn: as long as it counted, where
// anything rested on it.
func (r *rechecking) takenBack(b Withdrawn) (Window, bool) {
	at := moment{b.On, b.At}
	w := r.since(at, Window{Trigger: TakenBack, Comparison: b.ID, FoundOn: b.TookAt.Day(r.h.Zone)})
	w.From, w.To = Moment{b.On, b.At}, r.stated(b.TookAt)
	return w, slices.ContainsFunc(r.h.Done, func(d Done) bool { return d.Rested == b.ID })
}

func (r *rechecking) stated(at dates.Instant) Moment { return Moment{at.Day(r.h.Zone), at} }

// trigger says how a comparison finds the tool out.
func (c Comparison) trigger() (Trigger, bool) {
	switch {
	case c.Doubted != "":
		return StandardFound, true
	case c.BenchCheck && c.Verdict == Failed:
		return FailedBench, true
	case c.Claim == ClaimsFail && len(c.Points) == 0:
		return PaperFails, true
	case c.FoundVerdict == Failed:
		return FailedAsFound, true
	case c.unfound():
		return AdjustedUnfound, true
	case c.Claim == ClaimsFail:
		return PaperFails, true
	case c.Verdict == Failed:
		return LeftFailing, true
	case c.standardOut():
		return StandardOut, true
	}
	return "", false
}

// standardOut says whether it was made with a standard that was out of use then. What it
// finds wrong counts; that it found nothing wrong shows nothing, and whoever relied on it
// since did so without knowing.
func (c Comparison) standardOut() bool {
	return slices.ContainsFunc(c.Doubts, func(d Doubt) bool { return d.Code == DoubtStandardOut })
}

// unfound says whether the tool was adjusted before anybody read how it was.
func (c Comparison) unfound() bool {
	return slices.ContainsFunc(c.Doubts, func(d Doubt) bool { return d.Code == DoubtAdjustedUnfound })
}

// window works out from when to when a comparison puts work in doubt.
func (r *rechecking) window(i int, w Window) Window {
	w.index, w.whole = i, -1
	for j := i - 1; j >= 0 && w.whole < 0; j-- {
		if r.whole(r.all[j]) {
			w.whole = j
		}
	}
	if w.whole >= 0 {
		w.From = r.all[w.whole].stated()
	}
	w.To = r.until(i, w)
	return w
}

func (c Comparison) stated() Moment { return Moment{c.On, c.At} }

// until is the earlier of "taken out of use" and "passing as left", from the comparison
// i on. What a failed bench check or a standard took away, a bench check of the whole
// range gives back as well. That it was out of use before the window begins ends
// nothing: it was found good since.
func (r *rechecking) until(i int, w Window) (end Moment) {
	from, t := r.all[i].moment(), w.Trigger
	for k := i; k < len(r.all); k++ {
		c := r.all[k]
		again := c.BenchCheck && k > i && (t == FailedBench || t == StandardFound || t == StandardOut) && r.whole(c)
		if c.good() || again {
			end = c.stated()
			break
		}
	}
	for _, m := range r.h.Mishaps {
		out := r.instant(m.Out)
		switch {
		case !from.after(out): // then, or later
			end = earlier(end, r.stated(m.Out))
		case !w.From.IsZero() && w.From.moment().after(out):
		case m.Cleared == 0 || r.instant(m.Cleared).after(from): // it was out of use already
			end = earlier(end, r.stated(m.Out))
		}
	}
	if r.h.Gone != 0 && !from.after(r.instant(r.h.Gone)) {
		end = earlier(end, r.stated(r.h.Gone))
	}
	return end
}

// earlier gives the end that comes first; on one day the one that takes in more of it.
func earlier(a, b Moment) Moment {
	switch {
	case a.IsZero():
		return b
	case b.IsZero() || b.moment().after(a.moment()):
		return a
	case a.moment().after(b.moment()) || b.At == 0:
		return b
	}
	return a
}

// since opens the window of something that is no comparison: from the last one that
// certainly came before it.
func (r *rechecking) since(at moment, w Window) Window {
	w.whole = -1
	for j, c := range r.all {
		if !at.after(c.moment()) {
			continue
		}
		w.index = j + 1
		if r.whole(c) {
			w.whole = j
		}
	}
	if w.whole >= 0 {
		w.From = r.all[w.whole].stated()
	}
	return w
}

// mishap is the window of a report: it ends when the tool was taken out of use, or
// when a comparison after it showed it good.
func (r *rechecking) mishap(m Mishap) Window {
	at := r.instant(m.At)
	w := r.since(at, Window{Trigger: Mishandled, Mishap: m.Kind, FoundOn: at.on})
	w.To = r.stated(m.Out)
	for _, c := range r.all {
		if c.moment().after(at) && r.whole(c) {
			w.To = earlier(w.To, c.stated())
			break
		}
	}
	for _, c := range r.all {
		if !c.moment().after(at) || c.Doubted != "" {
			continue
		}
		_, out := c.trigger()
		w.Cleared = !out && (c.BenchCheck && r.whole(c) || !c.BenchCheck && c.FoundVerdict == Passed)
		if !c.BenchCheck || w.Cleared || out {
			break
		}
	}
	return w
}

// outOfUse is the time from when a report took the tool out of use until a comparison
// after it showed it good, or the report was cleared, or now. Nobody was to use it then,
// so the window of the report ends before; where somebody did, that work is the worst.
func (r *rechecking) outOfUse(m Mishap) (Window, bool) {
	at := r.instant(m.At)
	w := r.since(at, Window{Trigger: UsedOutOfUse, Mishap: m.Kind, FoundOn: at.on})
	w.From = r.stated(m.Out)
	for _, c := range r.all {
		if c.moment().after(at) && r.whole(c) {
			w.To = c.stated()
			break
		}
	}
	for _, ended := range []dates.Instant{m.Cleared, r.h.Gone} {
		if ended != 0 && ended >= m.Out {
			w.To = earlier(w.To, r.stated(ended))
		}
	}
	if !w.To.IsZero() && w.From.moment().after(w.To.moment()) {
		return Window{}, false // found good before anybody reported it
	}
	return w, slices.ContainsFunc(r.h.Done, func(d Done) bool {
		_, in := r.line(w, d)
		return in
	})
}

// tight is the window of a comparison that passed, where it leaves work not within its
// limits.
func (r *rechecking) tight(i int) (Window, bool) {
	c := r.all[i]
	if c.FoundVerdict != Passed || c.Doubted != "" {
		return Window{}, false
	}
	w := r.window(i, Window{Trigger: TooTight, Comparison: c.ID, FoundOn: c.On, check: c.BenchCheck})
	w.To = c.stated()
	for _, d := range r.h.Done {
		if _, in := r.line(w, d); in {
			return w, true
		}
	}
	return Window{}, false
}

// inside says whether work is in the window: since the last comparison before the
// trigger that showed the tool good for it, in its own direction and span.
func (r *rechecking) inside(w Window, d Done, at place) bool {
	m := r.instant(d.At)
	if w.outside(m, m) {
		return false
	}
	for j := w.index - 1; j > w.whole; j-- {
		c := r.all[j]
		if r.showsGood(c, at) {
			return !c.moment().after(m)
		}
	}
	return true
}

// showsGood says whether a bench check showed the tool good at a value: it supports a
// yes, spans the value in its direction, and each point there holds with its uncertainty.
func (r *rechecking) showsGood(c Comparison, at place) bool {
	if c.good() {
		return true
	}
	if c.Doubted != "" || !c.BenchCheck || c.Verdict != Passed || !c.Supports || !at.known {
		return false
	}
	points := c.Found(at.direction)
	if len(bracket(points, at.x, r.oneValue())) == 0 {
		return false
	}
	return !slices.ContainsFunc(points, func(p JudgedPoint) bool { return !p.Within || !p.holds() })
}

// InDoubt says whether what was compared with this tool as the standard, on a day or at
// an instant, is in doubt, and since when that is known.
func (out Rechecked) InDoubt(on dates.Date, at dates.Instant) (Window, bool) {
	m := moment{on, at}
	for _, w := range out.Windows {
		if !w.usesOnly() && !w.Cleared && !w.outside(m, m) {
			return w, true
		}
	}
	return Window{}, false
}
