package model

import (
	"slices"
	"strings"

	"pawl/model/calibration"
	"pawl/model/fault"
	"pawl/model/register"
)

// What a tool was compared with may be found out too, and what that was compared with.
// A doubt never goes away again while it is worked out, so this ends, in a circle of
// standards as well.

// recheck works one tool out, after what it and its standards were compared with.
func (r *rechecking) recheck(t register.Tool) (calibration.Rechecked, error) {
	if out, done := r.known[t.ID]; done {
		return out, nil
	}
	behind := r.behind(t.ID)
	lists := map[string]calibration.Rechecked{}
	for again := true; again; {
		for _, id := range behind {
			h, err := r.history(r.tools[id])
			if err != nil {
				return calibration.Rechecked{}, err
			}
			lists[id] = calibration.Recheck(h)
		}
		again = false
		for _, id := range behind {
			for _, k := range r.results[id] {
				again = r.doubt(k, lists) || again
			}
		}
	}
	for id, list := range lists {
		r.known[id] = list
	}
	return lists[t.ID], nil
}

// doubt says whether a comparison is newly in doubt because of its standard.
func (r *rechecking) doubt(k judged, lists map[string]calibration.Rechecked) bool {
	list, here := lists[k.row.Standard]
	if !here {
		list, here = r.known[k.row.Standard]
	}
	if !here || r.doubts[k.ID] != "" {
		return false
	}
	w, in := list.InDoubt(k.row.OnDay, k.row.DoneAt)
	if in {
		standard := r.tools[k.row.Standard]
		r.doubts[k.ID] = standard.Number.String() + " was found out: " + r.why(standard, w)
	}
	return in
}

// behind gives a tool, and behind it every standard that it rests on and that is not
// worked out yet.
func (r *rechecking) behind(id string) []string {
	out := []string{id}
	for i := 0; i < len(out); i++ {
		for _, k := range r.results[out[i]] {
			_, here := r.tools[k.row.Standard]
			if _, known := r.known[k.row.Standard]; here && !known && !slices.Contains(out, k.row.Standard) {
				out = append(out, k.row.Standard)
			}
		}
	}
	return out
}

// noCircle refuses a standard whose own calibration rests, by way of others too, on the
// tool that is to be compared with it: a circle shows nothing.
func (c *comparing) noCircle(standard register.Tool) error {
	for at, seen := standard, map[string]bool{}; !seen[at.ID]; {
		seen[at.ID] = true
		m, err := c.measuredTools(at.ID)
		if err != nil {
			return err
		}
		i := slices.IndexFunc(m.results[at.ID], func(k judged) bool { return !k.row.Bench && !k.row.OnDay.After(c.row.OnDay) })
		if i < 0 || m.results[at.ID][i].row.Standard == "" {
			return nil
		}
		k := m.results[at.ID][i]
		if k.row.Standard == c.tool.ID {
			return fault.At("#/standard", "a circle of standards: the tool calibration of %s on %s was made with %s", at.Number, k.row.OnDay, c.tool.Number).
				WithHint("use a standard whose calibration does not rest on this tool")
		}
		if at, _, err = c.Tool(k.row.Standard); err != nil {
			return err
		}
	}
	return nil
}

// circle tells, in words, by which way a tool was compared with itself in the end;
// "" it was not.
func (r *rechecking) circle(t register.Tool) string {
	type step struct{ tool, from string }
	var steps []step
	seen := map[string]bool{}
	for next := []string{t.ID}; len(next) > 0; next = next[1:] {
		for _, k := range r.results[next[0]] {
			standard := k.row.Standard
			if _, here := r.tools[standard]; !here || seen[standard] {
				continue
			}
			seen[standard] = true
			steps, next = append(steps, step{standard, next[0]}), append(next, standard)
		}
	}
	var words []string
	for at := t.ID; seen[t.ID]; {
		i := slices.IndexFunc(steps, func(s step) bool { return s.tool == at })
		words = append(words, r.tools[steps[i].from].Number.String()+" with "+r.tools[at].Number.String())
		if at = steps[i].from; at == t.ID {
			break
		}
	}
	slices.Reverse(words)
	return strings.Join(words, ", ")
}
