package model

import (
	"pawl/model/copies"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/internal/store"
	"pawl/model/ledger"
	"pawl/model/markings"
	"pawl/model/names"
	"pawl/model/register"
)

// hang adds to an imported tool what hung on it: markings, open reports, photos
// and papers. A tool that was not to be used there is not to be used here.
func (i *importing) hang(t register.Tool, from copies.Tool, papers []register.Attach) error {
	for _, m := range from.Markings {
		if err := i.marking(t, m); err != nil {
			return err
		}
	}
	for _, w := range from.Wrongs {
		if err := i.wrong(t, w); err != nil {
			return err
		}
	}
	for _, a := range papers {
		e, err := i.s.newEvidence(i.tx, i.by, i.d, t, a)
		if err != nil {
			return err
		}
		if err := store.Put(i.tx, &e); err != nil {
			return err
		}
	}
	return nil
}

func (i *importing) marking(t register.Tool, from copies.Record) error {
	image, err := from.Image()
	if err != nil {
		return err
	}
	m := markings.Marking{Tool: t.ID, Protection: "none"}
	if m.Method, err = markings.ParseMethod(textOf(image, "method")); err != nil {
		return err
	}
	if text := textOf(image, "protection"); text != "" {
		if m.Protection, err = markings.ParseProtection(text); err != nil {
			return err
		}
	}
	if m.Spot, err = names.Line(textOf(image, "spot")); err != nil {
		return err
	}
	m.Since = i.then(image, "since")
	if m.ID, err = i.tx.NewID('M'); err != nil {
		return err
	}
	return store.Put(i.tx, &m)
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
