package model

import (
	"context"
	"slices"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/markings"
	"pawl/model/people"
	"pawl/model/register"
)

// Mark records what somebody says of a marking of a tool: a look at it, how it is
// protected from a day on, or another marking. A reading never changes the serial.
// Whoever works in the shop may look at any tool; how a marking is kept or made is for
// those who may edit the tool.
func (s *Shop) Mark(ctx context.Context, by By, number string, in markings.Entry) (MarkingsView, error) {
	v, err := act(ctx, s, by, "marking", []any{number, in}, func(tx *store.Tx) (v MarkingsView, err error) {
		h, err := s.handFor(tx, by, number)
		if err != nil {
			return v, err
		}
		m := marking{hand: h, shop: s, in: in}
		if err := m.may(); err != nil {
			return v, err
		}
		if err := m.record(); err != nil {
			return v, err
		}
		if v, err = h.marked(by, h.tool); err != nil {
			return v, err
		}
		v.Recorded, v.Said = m.check.ID, m.said
		if v.Recorded == "" {
			v.Recorded = m.term
		}
		if v.Recorded == "" {
			v.Recorded = m.row.ID
		}
		return v, nil
	})
	if err == nil {
		v.Question = s.question(ctx, in.Evidence)
	}
	return v, err
}

// marking is an entry on its way into the record.
type marking struct {
	*hand
	shop  *Shop
	in    markings.Entry
	on    dates.Date
	row   markings.Marking
	check markings.Check
	term  string // id of the term that was begun
	said  []string
}

func (m *marking) may() error {
	o := m.object(m.tool)
	if m.in.Anew() || m.in.Protection != "" {
		if err := allowed(m.by, people.EditTool, o); err != nil {
			return err
		}
	}
	return allowed(m.by, people.LookTool, o)
}

func (m *marking) record() (err error) {
	if err := m.in.Check(); err != nil {
		return err
	}
	if m.on, err = m.dayOf(m.in.On); err != nil {
		return err
	}
	if m.in.Anew() {
		if err := m.anew(); err != nil {
			return err
		}
	} else if err := m.find(); err != nil {
		return err
	}
	if m.in.Protection != "" && !m.in.Anew() {
		if err := m.protect(); err != nil {
			return err
		}
	}
	if !m.in.Look() {
		return nil
	}
	return m.look()
}

// dayOf reads the day of a fact about a marking; empty is today.
func (h *hand) dayOf(typed string) (dates.Date, error) {
	loc, err := h.settings.Location()
	if err != nil {
		return "", err
	}
	today := h.tx.Now().Day(loc)
	if typed == "" {
		return today, nil
	}
	on, err := dates.ParseDate(typed)
	if err != nil {
		return "", fault.At("#/on", "%s", fault.Of(err).Error())
	}
	if on.After(today) {
		return "", fault.At("#/on", "%s is in the future; today is %s", on, today).WithHint("enter it on the day itself, or correct the date")
	}
	return on, nil
}

// find settles which marking is meant.
func (m *marking) find() error {
	all, err := m.tx.Markings(m.tool.ID)
	if err != nil {
		return err
	}
	is := false
	if m.in.Marking == "" {
		if m.row, is = markings.Current(all); !is {
			return m.unknown()
		}
	} else {
		at := slices.IndexFunc(all, func(one markings.Marking) bool { return one.ID == m.in.Marking })
		if at < 0 {
			return fault.At("#/marking", "%s has no marking %s", m.tool.Number, m.in.Marking).WithHint("see them with: pawl marking %s --json", m.tool.Number)
		}
		m.row = all[at]
	}
	if m.on.Before(m.row.Marked) {
		return fault.At("#/on", "the marking was made on %s, after %s", m.row.Marked, m.on).
			WithHint("correct the date, or name the marking before it with its id")
	}
	if m.row.Ended != "" && m.on.After(m.row.Ended) {
		return fault.At("#/on", "that marking ended on %s, before %s", m.row.Ended, m.on).WithHint("correct the date, or leave the marking out: the present one is meant then")
	}
	return nil
}

// unknown begins the record of a marking of which nobody said yet how it was made: what is
// seen of it is worth keeping all the same. There is no forecast until somebody does.
func (m *marking) unknown() (err error) {
	m.row = markings.Marking{Tool: m.tool.ID, Since: m.tx.Now()}
	if m.row.ID, err = m.tx.NewID('M'); err != nil {
		return err
	}
	m.said = append(m.said, "How the serial is marked is not on record, and until it is, there is no forecast: pawl edit "+m.tool.Number.String()+" --marking printed, or another of "+markings.MethodsInWords()+".")
	return store.Put(m.tx, &m.row)
}

// WithdrawMarking takes back a look, or a term, that was entered by mistake. It stays on record with the reason.
func (s *Shop) WithdrawMarking(ctx context.Context, by By, number, id, why string) (MarkingsView, error) {
	return act(ctx, s, by, "marking withdraw", []any{number, id, why}, func(tx *store.Tx) (v MarkingsView, err error) {
		h, err := s.handFor(tx, by, number)
		if err != nil {
			return v, err
		}
		if err := h.withdrawMarking(id, why); err != nil {
			return v, err
		}
		v, err = h.marked(by, h.tool)
		v.Recorded = id
		return v, err
	})
}

// Markings gives the markings of a tool, how each was kept and what was seen of it.
func (s *Shop) Markings(ctx context.Context, by By, number string) (v MarkingsView, err error) {
	err = s.about(ctx, number, func(d *directory, t register.Tool) error {
		v, err = d.marked(by, t)
		return err
	})
	return v, err
}
