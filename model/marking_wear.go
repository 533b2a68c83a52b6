package model

import (
	"slices"
	"time"

	"pawl/model/dates"
	"pawl/model/markings"
	"pawl/model/register"
)

// wear is what is on record of how the markings of some tools wear, read with one query
// of each sort.
type wear struct {
	loc      *time.Location
	today    dates.Date
	tools    []register.Tool
	markings map[string][]markings.Marking // by tool, oldest first
	terms    map[string][]markings.Term    // by marking
	checks   map[string][]markings.Check   // by marking
	inUse    map[string]markings.InUse     // by tool
}

func (d *directory) wearOf(tools []register.Tool) (*wear, error) {
	w := &wear{tools: tools, terms: map[string][]markings.Term{}, checks: map[string][]markings.Check{}, inUse: map[string]markings.InUse{}}
	var err error
	if w.loc, err = d.settings.Location(); err != nil {
		return w, err
	}
	w.today = d.Now().Day(w.loc)
	ids := make([]string, len(tools))
	for i, t := range tools {
		ids[i] = t.ID
	}
	if w.markings, err = d.MarkingsOf(ids); err != nil {
		return w, err
	}
	ids = slices.DeleteFunc(ids, func(id string) bool { return len(w.markings[id]) == 0 })
	terms, err := d.Terms(ids...)
	if err != nil {
		return w, err
	}
	for _, t := range terms {
		w.terms[t.Marking] = append(w.terms[t.Marking], t)
	}
	checks, err := d.Checks(ids...)
	if err != nil {
		return w, err
	}
	for _, c := range checks {
		w.checks[c.Marking] = append(w.checks[c.Marking], c)
	}
	return w, w.readUse(d, ids)
}

// readUse reads on which days the tools were out. Of a person's own tool only its owner's
// takes say when it was not used, too; lending it says nothing of theirs.
func (w *wear) readUse(d *directory, ids []string) error {
	owner, takes := map[string]string{}, map[string][]markings.Span{}
	for _, t := range w.tools {
		owner[t.ID] = t.Owner
	}
	all, err := d.Rx.Stretches(ids)
	if err != nil {
		return err
	}
	for _, s := range all {
		use := w.inUse[s.Tool]
		span := markings.Span{First: s.Since.Day(w.loc), Last: w.today}
		if s.Ended != 0 {
			span.Last = s.Ended.Day(w.loc)
		}
		use.Spans = append(use.Spans, span)
		if owner[s.Tool] == "" || owner[s.Tool] == s.Person {
			takes[s.Tool] = append(takes[s.Tool], span)
		}
		w.inUse[s.Tool] = use
	}
	for id, spans := range takes {
		use := w.inUse[id]
		use.Covered = markings.Covered(spans, w.today)
		w.inUse[id] = use
	}
	return nil
}

// history is one marking with everything that is recorded of its wear: its terms with
// both protection and usage, as they follow from one another.
func (w *wear) history(t register.Tool, m markings.Marking) markings.History {
	recorded, all := m.Since.Day(w.loc), w.markings[t.ID]
	h := markings.History{Tool: t.ID, Kind: t.Kind, Method: m.Method, Checks: fitting(t, m, w.checks[m.ID]), InUse: w.inUse[t.ID],
		New: markings.NewOn(m, all, t.BoughtNew())}
	begins := markings.Begins(m, recorded, t.BoughtNew(), h.Checks)
	h.Terms = markings.Stretches(m, t.Usage, begins, w.terms[m.ID])
	return h
}

// lastOf is the last look at a marking that was not taken back, the one entered last of
// one day; zero where there is none.
func (w *wear) lastOf(m markings.Marking) (last markings.Check) {
	for _, c := range w.checks[m.ID] {
		if c.Withdrawn == 0 && c.On >= last.On {
			last = c
		}
	}
	return last
}

// histories are those of every marking, ended ones among them.
func (w *wear) histories() (out []markings.History) {
	for _, t := range w.tools {
		for _, m := range w.markings[t.ID] {
			out = append(out, w.history(t, m))
		}
	}
	return out
}

// lessons gathers what the looks at all tools of a kind say, gone ones too.
func (d *directory) lessons(kind string) (*markings.Lessons, error) {
	looked, err := d.LookedAt()
	if err != nil {
		return nil, err
	}
	var ids []string
	alike := markings.History{Kind: kind}.Class()
	for id, of := range looked {
		if (markings.History{Kind: of}).Class() == alike {
			ids = append(ids, id)
		}
	}
	slices.Sort(ids)
	tools, err := d.ToolsByID(ids)
	if err != nil {
		return nil, err
	}
	w, err := d.wearOf(inIDs(ids, tools))
	return markings.Learn(w.histories(), w.today), err
}

// inIDs puts tools into the order of their ids as given.
func inIDs(ids []string, of map[string]register.Tool) (out []register.Tool) {
	for _, id := range ids {
		if t, there := of[id]; there {
			out = append(out, t)
		}
	}
	return out
}

// forecast puts what is reckoned of a marking into the words of the register. bought
// says whether the asker may know of the purchase.
func (w *wear) forecast(t register.Tool, m markings.Marking, lessons *markings.Lessons, bought bool) (MarkingForecast, markings.Forecast) {
	h := w.history(t, m)
	f := h.Forecast(lessons.Prior(h), w.today)
	v := MarkingForecast{Marking: m.ID, Grade: f.Grade, AsOf: f.Last, Assumed: f.New && f.Last != "", UnreadableToday: f.Unreadable, Exposure: f.Exposure,
		Shape: f.Prior.Shape, Rate: f.Prior.Rate, LearnedFrom: f.Prior.Tools, NoUsage: f.UseTaken, NextPhoto: f.NextPhoto, Act: f.Protect,
		Spread: f.Prior.Spread(), Shares: f.Prior.Factors.Shares(m.Method), Reckoned: f}
	v.Expected, v.Early, v.Late = f.Expected.On, f.Early.On, f.Late.On
	v.BoughtNew = v.Assumed && m.Marked == ""
	v.NewUnsaid = v.BoughtNew && t.BoughtAs == ""
	if v.BoughtNew && !bought {
		v.AsOf = ""
	}
	v.Lost = f.Standing == markings.IsLost && m.Ended == ""
	if v.WhyNot = whyNot(t, m, f, bought); v.WhyNot == MarkingEnded {
		v = MarkingForecast{Marking: m.ID, Grade: f.Grade, AsOf: v.AsOf, WhyNot: v.WhyNot}
	}
	v.Why = v.whyWords(t, m)
	return v, f
}

// whyNot says why there is no forecast; empty where there is one, or none is needed.
func whyNot(t register.Tool, m markings.Marking, f markings.Forecast, bought bool) WhyNot {
	switch {
	case m.Ended != "":
		return MarkingEnded
	case f.Standing == markings.IsLost:
		return ""
	case f.Standing == markings.InDoubt:
		return GradesInDoubt
	case m.Method == "":
		return MethodUnknown
	case f.Standing == markings.NeverLooked && m.Marked == "" && t.ExchangedFrom != "":
		return CameInExchange
	case f.Standing == markings.NeverLooked && m.Marked == "" && bought && t.BoughtAs == register.BoughtUsed:
		return BoughtUsed
	case f.Standing == markings.NeverLooked:
		return NeverLooked
	case f.Standing == markings.NoForecast:
		return WearUnknown
	}
	return ""
}
