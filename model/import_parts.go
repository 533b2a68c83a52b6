package model

import (
	"slices"

	"pawl/model/copies"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/ledger"
	"pawl/model/markings"
	"pawl/model/names"
	"pawl/model/register"
)

// hang adds to an imported tool what hung on it: markings with their terms and looks,
// open reports, photos and papers. A tool that was not to be used there is not to be
// used here. papers stand in the order of those that the copy holds.
func (i *importing) hang(t register.Tool, from copies.Tool, papers []register.Attach) error {
	for _, w := range from.Wrongs {
		if err := i.wrong(t, w); err != nil {
			return err
		}
	}
	now := map[string]string{} // ids of here, by those of there
	kept := slices.DeleteFunc(slices.Clone(from.Evidence), func(e copies.Evidence) bool { return e.File == "" })
	for at, a := range papers {
		e, err := i.s.newEvidence(i.tx, i.by, i.d, t, a)
		if err != nil {
			return err
		}
		if err := store.Put(i.tx, &e); err != nil {
			return err
		}
		if at < len(kept) { // the last is the proof of the copy itself
			now[kept[at].ID] = e.ID
		}
	}
	for _, m := range from.Markings {
		id, err := i.marking(t, m)
		if err != nil {
			return err
		}
		now[m.ID] = id
	}
	for _, r := range from.Terms {
		if err := i.term(t, r, now); err != nil {
			return err
		}
	}
	for _, r := range from.Checks {
		if err := i.look(t, r, now); err != nil {
			return err
		}
	}
	return nil
}

func (i *importing) marking(t register.Tool, from copies.Record) (string, error) {
	image, err := from.Image()
	if err != nil {
		return "", err
	}
	m := markings.Marking{Tool: t.ID, Since: i.then(image, "since")}
	if text := textOf(image, "method"); text != "" { // a look was recorded before anybody said how it is marked
		if m.Method, err = markings.ParseMethod(text); err != nil {
			return "", err
		}
	}
	if text := textOf(image, "protection"); text != "" {
		if m.Protection, err = markings.ParseProtection(text); err != nil {
			return "", err
		}
	}
	if m.Spot, err = names.Line(textOf(image, "spot")); err != nil {
		return "", err
	}
	if textOf(image, "shows") != "" {
		m.Shows = markings.OwnersNumber
	}
	if m.Code, err = names.Line(textOf(image, "code")); err != nil {
		return "", err
	}
	if m.Marked, err = dayOf(image, "marked"); err != nil {
		return "", err
	}
	if m.Ended, err = dayOf(image, "ended"); err != nil {
		return "", err
	}
	if m.ID, err = i.tx.NewID('M'); err != nil {
		return "", err
	}
	return m.ID, store.Put(i.tx, &m)
}

// dayOf reads a day of an image; empty where there is none.
func dayOf(image ledger.Image, column string) (dates.Date, error) {
	text := textOf(image, column)
	if text == "" {
		return "", nil
	}
	return dates.ParseDate(text)
}

// term takes over from when a marking was kept how. Who entered it there is nobody here.
func (i *importing) term(t register.Tool, from copies.Record, now map[string]string) error {
	image, err := from.Image()
	if err != nil {
		return err
	}
	r := markings.Term{Tool: t.ID, Marking: now[textOf(image, "marking")], Entered: i.then(image, "entered"), Usage: register.Usage(textOf(image, "usage"))}
	switch r.Usage {
	case "", register.Daily, register.Weekly, register.Rare:
	default:
		return fault.New(fault.Invalid, "%q is no usage", r.Usage)
	}
	if text := textOf(image, "protection"); text != "" {
		if r.Protection, err = markings.ParseProtection(text); err != nil {
			return err
		}
	}
	if r.From, err = dayOf(image, "day"); err != nil {
		return err
	}
	if r.Marking == "" {
		return fault.New(fault.Invalid, "term %.40q is of no marking in the copy", from.ID)
	}
	if r.ID, err = i.tx.NewID('M'); err != nil {
		return err
	}
	return store.Put(i.tx, &r)
}

// look takes over one look at a marking.
func (i *importing) look(t register.Tool, from copies.Record, now map[string]string) error {
	image, err := from.Image()
	if err != nil {
		return err
	}
	c := markings.Check{Tool: t.ID, Marking: now[textOf(image, "marking")], Entered: i.then(image, "entered"), Evidence: now[textOf(image, "evidence")]}
	if grade, is := image["grade"].(int64); is {
		c.Grade = &grade
	}
	if c.Read, err = names.Line(textOf(image, "read")); err != nil {
		return err
	}
	if err := (markings.Entry{Grade: c.Grade, Protection: "none"}).Check(); err != nil {
		return err
	}
	if c.On, err = dayOf(image, "day"); err != nil {
		return err
	}
	if c.Marking == "" || c.On == "" {
		return fault.New(fault.Invalid, "look %.40q is of no marking in the copy, or of no day", from.ID)
	}
	if c.ID, err = i.tx.NewID('M'); err != nil {
		return err
	}
	return store.Put(i.tx, &c)
}

func (i *importing) wrong(t register.Tool, from copies.Record) error {
	image, err := from.Image()
	if err != nil {
		return err
	}
	w := custody.Wrong{Tool: t.ID, At: i.then(image, "at")}
	if w.What, err = custody.ParseWhat(textOf(image, "what")); err != nil {
		return err
	}
	if w.Note, err = names.Note(textOf(image, "note")); err != nil {
		return err
	}
	if w.ID, err = i.tx.NewID('W'); err != nil {
		return err
	}
	return store.Put(i.tx, &w)
}

func textOf(image ledger.Image, column string) string {
	v, _ := image[column].(string)
	return v
}

// then is a time that the copy states, where it can be true; else now.
func (i *importing) then(image ledger.Image, column string) dates.Instant {
	at, _ := image[column].(int64)
	if at <= 0 || dates.Instant(at) > i.tx.Now() {
		return i.tx.Now()
	}
	return dates.Instant(at)
}
