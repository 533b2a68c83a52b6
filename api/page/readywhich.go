package page

import (
	"html/template"
	"slices"

	"pawl/model"
	"pawl/model/calibration"
	"pawl/model/units"
)

// which is the question asked of every tool at once: "Which tool can I use for …?"
type which struct {
	Units, Directions []Option
	Asked             string // the value asked for, with its unit; empty: nothing was asked
	Query             template.URL
	model.RankedView
}

// readyWhich asks it; like the question to one tool it writes nothing.
func (p *Pages) readyWhich(a *Ask) (Reply, error) {
	typed, lang := a.R.URL.Query(), a.language()
	d := which{Units: everyUnit(), Directions: p.Options(lang, "ready.direction.", string(calibration.Clockwise), string(calibration.Counterclockwise))}
	d.Units[0].Chosen, d.Directions[0].Chosen = true, true
	if !typed.Has("target") {
		return Show("readywhich", d).WithForm(typed), nil
	}
	in := askOf(typed)
	v, err := p.shop.ReadyTools(a.R.Context(), a.By, in)
	if err != nil {
		err = refield(err, askRenamed)
		r := Show("readywhich", d)
		r.form, r.err = formOf(typed, err), err
		return r, nil
	}
	d.RankedView, d.Query = v, template.URL(query(carried(typed)))
	if q, err := units.ParseQuantity(in.Target); err == nil {
		d.Asked = q.Words()
	}
	return Show("readywhich", d).WithForm(typed), nil
}

// everyUnit gives each unit that a preset knows, those of torque first.
func everyUnit() (out []Option) {
	have := map[units.Unit]bool{}
	add := func(torque bool) {
		for _, preset := range calibration.Presets() {
			for _, u := range preset.Units {
				if !have[u] && (u.Dimension() == units.Torque) == torque {
					have[u] = true
					out = append(out, Option{Value: string(u), Label: u.Words()})
				}
			}
		}
	}
	add(true)
	add(false)
	return slices.Clip(out)
}
