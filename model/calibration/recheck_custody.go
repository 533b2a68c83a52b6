package calibration

import "slices"

// What a list says of custody: the jobs that a tool was taken to, and what nobody
// recorded there.

// part is a time in doubt: windows that touch are one. Its uses are by job, each with
// every window that it is in.
type part struct {
	windows []int
	uses    map[string][]usedIn
}

type usedIn struct {
	done   Done
	window int
}

// reaches says whether custody may have been in a window that puts custody in doubt.
func (r *rechecking) reaches(w Window, s Stretch) bool {
	return !w.usesOnly() && !w.outside(r.instant(s.From), r.instant(r.ended(s)))
}

// custody gives a line for each job that the tool was out for in a time in doubt with
// nothing on record of it then, and for each stretch without a job. Where all that is on
// record of a job is not in doubt it is listed as it is judged: the list is never empty
// where the tool was out.
func (r *rechecking) custody(windows []Window, list *listing) {
	var known []usedIn
	for _, p := range r.parts(windows) {
		for _, i := range p.windows {
			for _, s := range r.h.Stretches {
				switch uses := p.uses[s.Job]; {
				case !r.reaches(windows[i], s):
				case s.Job == "":
					list.put("stretch "+s.ID, r.unrecorded(s), i)
				case len(uses) == 0:
					list.put("job "+s.Job, r.unrecorded(s), i)
				case !slices.ContainsFunc(uses, func(u usedIn) bool { return list.lines["use "+u.done.ID] != nil }):
					known = append(known, uses...)
				}
			}
		}
	}
	for _, u := range known {
		l := r.judged(windows[u.window], u.done, r.placeOf(u.done))
		if l.Verdict == RecheckWithin {
			l.Why = "a check after it found the tool good there"
		}
		list.put("use "+u.done.ID, l, u.window)
	}
}

func (r *rechecking) unrecorded(s Stretch) RecheckLine {
	return RecheckLine{Custody: s.ID, Job: s.Job, From: s.From, To: r.ended(s), Verdict: RecheckIndeterminate,
		Why: "it was out, and nothing says what it was used for in that time", Impact: noImpact()}
}

// parts puts together the windows that touch, by way of others too.
func (r *rechecking) parts(windows []Window) (out []part) {
	var left []int
	for i, w := range windows {
		if !w.usesOnly() {
			left = append(left, i)
		}
	}
	for len(left) > 0 {
		p := part{windows: left[:1:1], uses: map[string][]usedIn{}}
		left = left[1:]
		for k := 0; k < len(p.windows); k++ {
			touches := func(i int) bool { return windows[i].touches(windows[p.windows[k]]) }
			for _, i := range left {
				if touches(i) {
					p.windows = append(p.windows, i)
				}
			}
			left = slices.DeleteFunc(slices.Clone(left), touches)
		}
		for _, i := range p.windows {
			for _, d := range r.h.Done {
				if m := r.instant(d.At); !windows[i].outside(m, m) {
					p.uses[d.Job] = append(p.uses[d.Job], usedIn{d, i})
				}
			}
		}
		out = append(out, p)
	}
	return out
}

// touches says whether two windows may have a moment in common.
func (w Window) touches(other Window) bool {
	apart := func(a, b Window) bool {
		return !a.To.IsZero() && !b.From.IsZero() && b.From.moment().after(a.To.moment())
	}
	return !apart(w, other) && !apart(other, w)
}
