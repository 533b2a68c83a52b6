package model

import (
	"cmp"
	"slices"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/markings"
	"pawl/model/matching"
	"pawl/model/names"
	"pawl/model/people"
	"pawl/model/register"
)

// protect begins a term with another protection.
func (m *marking) protect() error {
	p, err := markings.ParseProtection(m.in.Protection)
	if err != nil {
		return fault.At("#/protection", "%s", fault.Of(err).Error())
	}
	row, err := load[markings.Marking](m.tx, m.row.ID, "marking")
	if err != nil {
		return err
	}
	if m.term, err = beginTerm(m.tx, m.by, m.tool, row, markings.Term{From: m.on, Protection: p}); err != nil {
		return err
	}
	if m.term == "" {
		m.said = append(m.said, "It is on record so already: "+string(p)+".")
	}
	return nil
}

// beginTerm records that a marking is kept otherwise from a day on, before it how it was
// until then where no term says so yet. Nothing is written where it is on record so, and
// the id is empty then. The marking must be loaded for change.
func beginTerm(tx *store.Tx, by By, t register.Tool, m markings.Marking, term markings.Term) (string, error) {
	terms, err := termsOf(tx, m)
	if err != nil {
		return "", err
	}
	begins, err := began(tx, t, m)
	if err != nil {
		return "", err
	}
	if !begins.Before(term.From) {
		begins = term.From.AddDays(-1)
	}
	was := keptOn(markings.Stretches(m, t.Usage, begins, terms), term.From)
	if cmp.Or(term.Protection, was.Protection) == was.Protection && cmp.Or(term.Usage, was.Usage) == was.Usage {
		return "", nil
	}
	if len(markings.Standing(terms)) == 0 {
		first := markings.Term{From: begins, Protection: was.Protection, Usage: was.Usage}
		if err := putTerm(tx, by, m, &first); err != nil {
			return "", err
		}
		terms = append(terms, first)
	}
	if err := putTerm(tx, by, m, &term); err != nil {
		return "", err
	}
	return term.ID, protectedNow(tx, m, t.Usage, append(terms, term))
}

// protectedNow keeps in the marking itself how it is protected by its terms.
func protectedNow(tx *store.Tx, m markings.Marking, usage register.Usage, terms []markings.Term) error {
	all := markings.Stretches(m, usage, terms[0].From, terms)
	now := all[len(all)-1].Protection
	if now == m.Protection {
		return nil
	}
	m.Protection = now
	return store.Put(tx, &m)
}

func keptOn(all []markings.Stretch, day dates.Date) markings.Stretch {
	at := all[0]
	for _, k := range all {
		if !k.From.After(day) {
			at = k
		}
	}
	return at
}

func putTerm(tx *store.Tx, by By, m markings.Marking, term *markings.Term) (err error) {
	term.Tool, term.Marking, term.Entered, term.Person = m.Tool, m.ID, tx.Now(), by.Person
	if term.ID, err = tx.NewID('M'); err != nil {
		return err
	}
	return store.Put(tx, term)
}

func termsOf(tx *store.Tx, m markings.Marking) ([]markings.Term, error) {
	all, err := tx.Terms(m.Tool)
	return slices.DeleteFunc(all, func(t markings.Term) bool { return t.Marking != m.ID }), err
}

// began is the day from which anything is known of a marking: it was made, the tool
// was bought, it was seen or recorded.
func began(tx *store.Tx, t register.Tool, m markings.Marking) (dates.Date, error) {
	if m.Marked != "" {
		return m.Marked, nil
	}
	set, err := tx.Settings()
	if err != nil {
		return "", err
	}
	loc, err := set.Location()
	if err != nil {
		return "", err
	}
	day := m.Since.Day(loc)
	if t.Bought.Before(day) {
		day = t.Bought
	}
	checks, err := tx.Checks(t.ID)
	for _, c := range checks {
		if c.Marking == m.ID && c.Withdrawn == 0 && c.On.Before(day) {
			day = c.On
		}
	}
	return day, err
}

// anew records another marking: the maker's serial marked otherwise, which ends the
// marking before, or a number of the owner's beside it.
func (m *marking) anew() (err error) {
	if m.row, err = m.in.New(m.on); err != nil {
		return err
	}
	m.row.Tool, m.row.Since = m.tool.ID, m.tx.Now()
	all, err := m.tx.Markings(m.tool.ID)
	if err != nil {
		return err
	}
	for _, one := range all {
		if m.row.Shows == markings.OwnersNumber && one.Shows == m.row.Shows && one.Ended == "" && names.Key(one.Code) == names.Key(m.row.Code) {
			return fault.New(fault.Conflict, "%s carries the owner's number %s already", m.tool.Number, one.Code).WithHint("look at it: pawl marking %s --marking %s --grade …", m.tool.Number, one.ID)
		}
	}
	if now, is := markings.Current(all); is && m.row.Shows == "" {
		if err := endMarking(m.tx, now.ID, m.on); err != nil {
			return err
		}
		m.said = append(m.said, "The marking before it ended on "+string(m.on)+"; what was seen of it stays with it.")
	}
	if m.row.ID, err = m.tx.NewID('M'); err != nil {
		return err
	}
	return store.Put(m.tx, &m.row)
}

// endMarking ends a marking on a day, which is not before what is on record of it.
func endMarking(tx *store.Tx, id string, on dates.Date) error {
	row, err := load[markings.Marking](tx, id, "marking")
	if err != nil {
		return err
	}
	if on.Before(row.Marked) {
		return fault.At("#/on", "the marking before it was made on %s, after %s", row.Marked, on).WithHint("correct the date")
	}
	checks, err := tx.Checks(row.Tool)
	if err != nil {
		return err
	}
	for _, c := range checks {
		if c.Marking == id && c.Withdrawn == 0 && c.On.After(on) {
			return fault.At("#/on", "the marking before it was looked at on %s, after %s", c.On, on).WithHint("correct the date, or withdraw that look first: %s", c.ID)
		}
	}
	row.Ended = on
	return store.Put(tx, &row)
}

// look records a look at the marking.
func (m *marking) look() (err error) {
	c := &m.check
	*c = markings.Check{Tool: m.tool.ID, Marking: m.row.ID, On: m.on, Grade: m.in.Grade, Entered: m.tx.Now(), Person: m.by.Person}
	if m.in.Read != "" {
		if c.Read, err = m.read(); err != nil {
			return err
		}
	}
	for _, a := range m.in.Evidence {
		if err := photoOfMarking(a); err != nil {
			return err
		}
	}
	if c.Evidence, err = m.shop.attachPaper(m.tx, m.by, m.hand, m.in.Evidence); err != nil {
		return err
	}
	if c.ID, err = m.tx.NewID('M'); err != nil {
		return err
	}
	return store.Put(m.tx, c)
}

// read takes a reading as it was typed, and says where it does not fit what is on
// record. It never changes that.
func (m *marking) read() (string, error) {
	text, err := names.Line(m.in.Read)
	if err != nil {
		return "", fault.At("#/read", "%s", fault.Of(err).Error())
	}
	if _, err := matching.Parse(text); err != nil {
		return "", fault.At("#/read", "%s", fault.Of(err).Error())
	}
	return text, nil
}

func photoOfMarking(a register.Attach) error { return nil }

// withdrawMarking takes back a look, or a term but the first.
func (h *hand) withdrawMarking(id, why string) error {
	return allowed(h.by, people.EditTool, h.object(h.tool))
}

// find gives a marking by id; empty is the one that shows the maker's serial now.
func (v MarkingsView) find(id string) (MarkingView, error) {
	if id == "" {
		id = v.Current
	}
	at := slices.IndexFunc(v.Markings, func(m MarkingView) bool { return m.ID == id })
	switch {
	case at >= 0:
		return v.Markings[at], nil
	case id == "":
		return MarkingView{}, fault.New(fault.NotFound, "how the serial of %s is marked is not on record", v.Number).
			WithHint("record it: pawl edit %s --marking printed, or another of %s", v.Number, markings.MethodsInWords())
	}
	return MarkingView{}, fault.New(fault.NotFound, "%s has no marking %s", v.Number, id).WithHint("see them with: pawl marking %s", v.Number)
}
