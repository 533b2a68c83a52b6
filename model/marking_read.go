package model

import (
	"context"
	"slices"

	"pawl/model/evidence"
	"pawl/model/internal/store"
	"pawl/model/markings"
	"pawl/model/people"
	"pawl/model/register"
)

// marked gives the markings of a tool.
func (d *directory) marked(by By, t register.Tool) (v MarkingsView, err error) {
	o := d.object(t)
	v = MarkingsView{Tool: t.ID, Number: t.Number, Kind: t.Kind, Serial: t.Serial, Usage: t.Usage, Markings: []MarkingView{},
		Looks: t.Gone == 0 && people.May(by.Actor, people.LookTool, o), Edits: t.Gone == 0 && people.May(by.Actor, people.EditTool, o),
		Advice: append([]string{}, d.doubt...), Cautions: register.Cautions(t.Kind)}
	loc, err := d.settings.Location()
	if err != nil {
		return v, err
	}
	v.Today = d.Now().Day(loc)
	all, err := d.Markings(t.ID)
	if err != nil {
		return v, err
	}
	if now, is := markings.Current(all); is {
		v.Current = now.ID
	}
	rest, err := d.hangsOnMarkings(by, t)
	if err != nil || len(all) == 0 {
		return v, err
	}
	w, err := d.wearOf([]register.Tool{t})
	if err != nil {
		return v, err
	}
	lessons, err := d.lessons(t.Kind)
	if err != nil {
		return v, err
	}
	bought := people.May(by.Actor, people.SeeMoney, o)
	for _, m := range all {
		one := rest[m.ID]
		one.Marking = m
		one.Forecast, _ = w.forecast(t, m, lessons, bought)
		one.Forecast.Cautions = v.Cautions
		v.Markings = append(v.Markings, one)
	}
	return v, d.adviseMarking(&v, t, w)
}

// adviseMarking says what to do about the maker's serial.
func (d *directory) adviseMarking(v *MarkingsView, t register.Tool, w *wear) error {
	at := slices.IndexFunc(v.Markings, func(m MarkingView) bool { return m.ID == v.Current })
	if at < 0 {
		return nil
	}
	photos, err := d.ShownOf([]string{t.ID})
	if err != nil {
		return err
	}
	m := v.Markings[at]
	all := make([]markings.Marking, len(v.Markings))
	for i, one := range v.Markings {
		all[i] = one.Marking
	}
	v.ToDo = markings.Advise(markings.Kept{Method: m.Method, Protection: m.Protection, TakesLabel: register.TakesLabel(t.Kind), OwnersNumber: markings.HasOwnersNumber(all),
		PlatePhoto: slices.ContainsFunc(photos[t.ID], func(p store.Shown) bool { return p.Kind == string(evidence.Plate) && d.shows(p.SHA256) }), Forecast: m.Forecast.Reckoned})
	v.Advice = append(v.Advice, markingWords(v.ToDo, t.Number.String(), w.lastOf(m.Marking).Read)...)
	return nil
}

// hangsOnMarkings gives the terms and the looks of a tool's markings, by marking.
func (d *directory) hangsOnMarkings(by By, t register.Tool) (map[string]MarkingView, error) {
	terms, err := d.Terms(t.ID)
	if err != nil {
		return nil, err
	}
	checks, err := d.Checks(t.ID)
	if err != nil {
		return nil, err
	}
	photos, err := d.Evidence(t.ID)
	if err != nil {
		return nil, err
	}
	o := d.object(t)
	money := people.May(by.Actor, people.SeeMoney, o)
	out := map[string]MarkingView{}
	for _, term := range terms {
		v := out[term.Marking]
		v.Terms = append(v.Terms, TermView{term, d.person(term.Person)})
		out[term.Marking] = v
	}
	for _, c := range slices.Backward(checks) {
		v, one := out[c.Marking], CheckView{Check: c, EnteredBy: d.person(c.Person), Mine: t.Gone == 0 && c.Withdrawn == 0 && takesBack(by, c, o) == nil}
		at := slices.IndexFunc(photos, func(e evidence.Record) bool { return e.ID == c.Evidence })
		if at >= 0 && (money || seesEvidence(by, photos[at])) {
			one.Photo = &photos[at]
		}
		v.Checks = append(v.Checks, one)
		out[c.Marking] = v
	}
	return out, nil
}

// MarkingForecast says how long a marking of a tool will be readable; without an id
// the one that shows the maker's serial now.
func (s *Shop) MarkingForecast(ctx context.Context, by By, number, id string) (f MarkingForecast, err error) {
	err = s.about(ctx, number, func(d *directory, t register.Tool) error {
		v, err := d.marked(by, t)
		if err != nil {
			return err
		}
		one, err := v.find(id)
		f = one.Forecast
		return err
	})
	return f, err
}
