package model

import (
	"context"
	"slices"
	"strings"

	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/due"
	"pawl/model/fault"
	"pawl/model/inspections"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
)

// Inspect is one inspection as typed, what the shop decides on the check, or both.
// Without a result only the plan is recorded.
type Inspect struct {
	Check, Result, By, On, Happened, Note string
	Next                                  string // the next day, as the tag or the paper says
	Evidence                              []register.Attach
	Plan                                  *InspectionPlan
}

// InspectionView is one inspection with the names of today.
type InspectionView struct {
	inspections.Inspection
	EnteredBy string
}

// InspectionsView is how a tool stands by its checks, and every inspection, newest
// first.
type InspectionsView struct {
	Tool        string
	Number      numbers.Number
	Kind        string
	Checks      []inspections.Standing
	Inspections []InspectionView
	Recorded    *InspectionView // what this act recorded
	DoNotUse    string
	Edits       bool // the asker may record one
	Today       dates.Date
	Advice      []string
	Cautions    []string
}

// Inspect records an inspection, a plan, or both. One that failed marks the tool do
// not use in the same act; one that passed clears nothing.
func (s *Shop) Inspect(ctx context.Context, by By, number string, in Inspect) (InspectionsView, error) {
	return act(ctx, s, by, "inspect", []any{number, in}, func(tx *store.Tx) (v InspectionsView, err error) {
		h, err := s.handFor(tx, by, number)
		if err != nil {
			return v, err
		}
		if err := allowed(by, people.EditTool, h.object(h.tool)); err != nil {
			return v, err
		}
		i := inspecting{hand: h}
		if i.row.Name, i.row.NameKey, err = inspections.CheckName(in.Check); err != nil {
			return v, fault.At("#/check", "%s", fault.Of(err).Error()).WithHint("such as --check \"lift annual\"")
		}
		if err := i.fits(in.Plan); err != nil {
			return v, err
		}
		if err := i.plan(in); err != nil {
			return v, err
		}
		if in.Result != "" || in.Plan == nil {
			if err := i.read(in); err != nil {
				return v, err
			}
			if err := i.record(s, in); err != nil {
				return v, err
			}
		}
		if v, err = h.inspected(by, h.tool); err != nil {
			return v, err
		}
		return v, i.say(&v)
	})
}

// inspecting is one inspection on its way into the record.
type inspecting struct {
	*hand
	row inspections.Inspection
}

// read takes what was typed of the inspection itself.
func (i *inspecting) read(in Inspect) (err error) {
	var bad fault.Problems
	line := func(at, text string) string {
		out, err := names.Line(text)
		bad.Keep(at, err)
		return out
	}
	i.row.Result, err = inspections.ParseResult(in.Result)
	bad.Keep("#/result", err)
	i.row.Inspector = line("#/by", in.By)
	i.row.Note, err = names.Note(in.Note)
	bad.Keep("#/note", err)
	if in.Next != "" {
		i.row.TagDay, err = dates.ParseDate(in.Next)
		bad.Keep("#/next", err)
	}
	if err := bad.Err(); err != nil {
		return err
	}
	if err := i.day(in.On, in.Happened); err != nil {
		return err
	}
	return i.mayRecord(len(in.Evidence) > 0)
}

// day settles when it was done: now, at a time, or on a day whose hour is not known.
func (i *inspecting) day(on, happened string) error {
	loc, err := i.settings.Location()
	if err != nil {
		return err
	}
	now := i.tx.Now()
	i.row.Entered, i.row.DoneAt = now, now
	switch {
	case happened != "" && on != "":
		return fault.At("#/on", "the day is in the time already").WithHint("give --on or --happened")
	case happened != "":
		if i.row.DoneAt, err = i.time("#/happened", happened, dates.ParseTime); err != nil {
			return err
		}
	case on != "":
		if i.row.OnDay, err = dates.ParseDate(on); err != nil {
			return fault.At("#/on", "%s", fault.Of(err).Error())
		}
		i.row.DoneAt = 0
	}
	if i.row.OnDay == "" {
		i.row.OnDay = i.row.DoneAt.Day(loc)
	}
	if i.row.DoneAt > now || i.row.OnDay.After(now.Day(loc)) {
		return fault.At("#/on", "%s is in the future; today is %s", i.row.OnDay, now.Day(loc))
	}
	return nil
}

// mayRecord holds it against what the check asks for.
func (i *inspecting) mayRecord(paper bool) error {
	plans, err := i.tx.Plans(i.tool.ID)
	if err != nil {
		return err
	}
	held := inspections.Held(i.tool.Kind, plans, []inspections.Inspection{i.row})
	at := slices.IndexFunc(held, func(c inspections.Check) bool { return names.Key(c.Name) == i.row.NameKey })
	if at >= 0 {
		return held[at].MayRecord(i.row, paper)
	}
	if _, known := inspections.Named(i.row.Name); known {
		return fault.At("#/check", "%s is not held on this tool, as the shop decided", i.row.Name).WithHint("hold it again with --hold")
	}
	var all []string
	for _, r := range inspections.Catalog() {
		all = append(all, r.Name)
	}
	return fault.At("#/check", "%q is no check that is known, nor one that this tool is under", i.row.Name).
		WithHint("known are %s; for a check of the shop's own say how often: --every 6", strings.Join(all, ", "))
}

// record writes it down, with its paper, and marks the tool where it failed.
func (i *inspecting) record(s *Shop, in Inspect) (err error) {
	i.row.Tool, i.row.By = i.tool.ID, i.by.Person
	if i.row.ID, err = i.tx.NewID('I'); err != nil {
		return err
	}
	if i.row.Paper, err = s.attachPaper(i.tx, i.by, i.hand, in.Evidence); err != nil {
		return err
	}
	if i.row.Result == inspections.Failed {
		w := custody.Wrong{Tool: i.tool.ID, What: "failed", Note: i.row.Name + " of " + string(i.row.OnDay), At: i.row.DoneAt, By: i.by.Person}
		if w.At == 0 {
			w.At = i.tx.Now()
		}
		if w.ID, err = i.tx.NewID('W'); err != nil {
			return err
		}
		if err := store.Put(i.tx, &w); err != nil {
			return err
		}
		i.row.Wrong = w.ID
	}
	return store.Put(i.tx, &i.row)
}

// attachPaper joins papers to a tool and gives the id of the record of the first.
func (s *Shop) attachPaper(tx *store.Tx, by By, h *hand, in []register.Attach) (string, error) {
	if len(in) == 0 {
		return "", nil
	}
	if _, err := s.attach(tx, by, h.directory, h.tool, in); err != nil {
		if fault.Is(err, fault.NotFound) {
			err = fault.At("#/evidence", "%s", fault.Of(err).Error())
		}
		return "", err
	}
	all, err := tx.Evidence(h.tool.ID)
	id := ""
	for _, e := range all {
		if e.SHA256 == in[0].SHA256 {
			id = e.ID
		}
	}
	return id, err
}

// say tells what follows from what was recorded.
func (i *inspecting) say(v *InspectionsView) error {
	if i.row.ID == "" {
		return nil
	}
	v.Recorded = &InspectionView{Inspection: i.row, EnteredBy: i.person(i.row.By)}
	n := i.tool.Number.String()
	switch {
	case i.row.Result == inspections.Failed:
		v.Advice = append(v.Advice, "It FAILED: DO NOT USE. It is cleared by a manager, after an inspection that passed: pawl clear "+n+" --why …")
	case v.DoNotUse != "":
		v.Advice = append(v.Advice, "It is still marked DO NOT USE: "+v.DoNotUse+". A manager clears it: pawl clear "+n+" --why …")
	}
	return nil
}

// inspected gives how a tool stands by its checks.
func (d *directory) inspected(by By, t register.Tool) (v InspectionsView, err error) {
	v = InspectionsView{Tool: t.ID, Number: t.Number, Kind: t.Kind, Checks: []inspections.Standing{}, Inspections: []InspectionView{},
		Advice: append([]string{}, d.doubt...), Edits: t.Gone == 0 && people.May(by.Actor, people.EditTool, d.object(t))}
	loc, err := d.settings.Location()
	if err != nil {
		return v, err
	}
	v.Today = d.Now().Day(loc)
	plans, err := d.Plans(t.ID)
	if err != nil {
		return v, err
	}
	done, err := d.Inspections(t.ID)
	if err != nil {
		return v, err
	}
	open, err := d.OpenWrongs(t.ID)
	if err != nil {
		return v, err
	}
	v.DoNotUse = custody.Reasons(open)
	happened, err := d.happened(t.ID, done)
	if err != nil {
		return v, err
	}
	v.Checks = append(v.Checks, inspections.Stand(t.Kind, plans, done, happened)...)
	var held []inspections.Check
	for _, c := range v.Checks {
		held = append(held, c.Check)
	}
	v.Cautions = inspections.Cautions(held)
	for _, c := range register.Cautions(t.Kind) {
		if !slices.Contains(v.Cautions, c) {
			v.Cautions = append(v.Cautions, c)
		}
	}
	for _, row := range slices.Backward(done) {
		v.Inspections = append(v.Inspections, InspectionView{Inspection: row, EnteredBy: d.person(row.By)})
	}
	return v, nil
}

// Inspections gives the checks that a tool is under, how it stands by each, and
// every inspection of it.
func (s *Shop) Inspections(ctx context.Context, by By, number string) (v InspectionsView, err error) {
	err = s.about(ctx, number, func(d *directory, t register.Tool) error {
		v, err = d.inspected(by, t)
		return err
	})
	return v, err
}

// happened gives what happened to a tool, after which an inspection may be asked for.
func (d *directory) happened(tool string, done []inspections.Inspection) ([]inspections.Event, error) {
	loc, err := d.settings.Location()
	if err != nil {
		return nil, err
	}
	wrongs, err := d.Wrongs(tool)
	if err != nil {
		return nil, err
	}
	away, err := d.LoansAway(tool)
	return due.Happened(wrongs, away, done, loc), err
}

// passedSince asks whether everything that an inspection found wrong was inspected
// again and passed, and everything after which one is asked for: a look clears no lift
// that failed its inspection, and no jack that was overloaded.
func (h *hand) passedSince(open []custody.Wrong) error {
	done, err := h.tx.Inspections(h.tool.ID)
	if err != nil {
		return err
	}
	for at, d := range done {
		if d.Wrong == "" || !slices.ContainsFunc(open, func(w custody.Wrong) bool { return w.ID == d.Wrong }) {
			continue
		}
		passed := slices.ContainsFunc(done[at+1:], func(later inspections.Inspection) bool {
			return later.NameKey == d.NameKey && later.Result == inspections.Passed
		})
		if !passed {
			return fault.New(fault.Refused, "it failed %s on %s, and has not passed it since", d.Name, d.OnDay).
				WithHint("it needs an inspection that passes: pawl inspect %s --check %q --result pass", h.tool.Number, d.Name)
		}
	}
	return h.inspectedSince(open, done)
}

// inspectedSince asks whether the checks that are asked for after what is reported
// passed after it.
func (h *hand) inspectedSince(open []custody.Wrong, done []inspections.Inspection) error {
	loc, err := h.settings.Location()
	if err != nil {
		return err
	}
	plans, err := h.tx.Plans(h.tool.ID)
	if err != nil {
		return err
	}
	for _, c := range inspections.Stand(h.tool.Kind, plans, done, due.Happened(open, nil, done, loc)) {
		if e := c.Since; e != nil && e.ID != "" {
			return fault.New(fault.Refused, "it was %s on %s: %s is asked for after that (%s), and it has not passed it since", e.What, e.Day, c.Name, c.Source).
				WithHint("it needs an inspection that passes: pawl inspect %s --check %q --result pass", h.tool.Number, c.Name)
		}
	}
	return nil
}
