package model

import (
	"context"
	"strings"

	"pawl/model/custody"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
)

type (
	// LabelAgain prints the label of a tool once more; an empty reason is "again".
	LabelAgain struct{ Why string }
	// Join gives a tool a fresh label that was printed first.
	Join struct{ Number string }
)

// LabelAgain records that the label of a tool is printed again, worn or lost,
// with the same number. It ends open reports that the label is gone.
func (s *Shop) LabelAgain(ctx context.Context, by By, number string, in LabelAgain) (Done, error) {
	return s.wrongAct(ctx, by, "label again", number, in, func(h *hand) error {
		why, err := names.Note(in.Why)
		if err != nil {
			return fault.At("#/why", "%s", fault.Of(err).Error())
		}
		l := register.LabelIssue{Tool: h.tool.ID, Number: h.tool.Number, At: h.tx.Now(), Why: why}
		if why == "" {
			l.Why = "again"
		}
		if l.ID, err = h.tx.NewID('K'); err != nil {
			return err
		}
		if err := store.Put(h.tx, &l); err != nil {
			return err
		}
		return h.labeled("the label was printed again")
	})
}

// JoinNumber joins an issued number, printed and free, to a tool: it becomes
// the tool's number, and all earlier ones find the tool for ever. One that was
// never issued is Invalid; one that is void or belongs to a tool is a Conflict.
func (s *Shop) JoinNumber(ctx context.Context, by By, number string, in Join) (Done, error) {
	return s.wrongAct(ctx, by, "join", number, in, func(h *hand) error {
		if strings.TrimSpace(in.Number) == "" {
			return fault.At("#/number", "say which fresh label is joined").WithHint("the number on it, such as 00E-KM5")
		}
		return h.join(in.Number)
	})
}

// join makes the tool of the hand answer to an issued number.
func (h *hand) join(number string) error {
	if err := allowed(h.by, people.EditTool, h.object(h.tool)); err != nil {
		return err
	}
	n, err := numberFor(h.tx, number, h.tool.ID)
	if err != nil {
		return err
	}
	h.tool.Number = n
	if err := store.Put(h.tx, &h.tool); err != nil {
		return err
	}
	return h.labeled("a fresh label was joined: " + n.String())
}

// labeled ends open reports that the label is gone; what else is wrong stays.
func (h *hand) labeled(why string) error {
	open, err := h.tx.OpenWrongs(h.tool.ID)
	if err != nil {
		return err
	}
	for _, o := range open {
		if o.What != custody.LabelGone {
			continue
		}
		if err := h.clear(o.ID, why); err != nil {
			return err
		}
	}
	return nil
}

// FreeNumbers gives the numbers that are issued and free, in their order, with
// the cursor of the next page.
func (s *Shop) FreeNumbers(ctx context.Context, by By, limit int, cur string) (out []numbers.Number, next string, err error) {
	if limit, err = pageLimit(limit); err != nil {
		return nil, "", err
	}
	c, err := parseCursor("numbers", cur)
	if err != nil {
		return nil, "", err
	}
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		rows, err := rx.FreeNumbers(numbers.Number(c.Key), limit+1)
		for i, r := range rows {
			if i == limit {
				next = cursor{List: "numbers", Key: rows[i-1].ID}.String()
				break
			}
			out = append(out, numbers.Number(r.ID))
		}
		return err
	})
	return out, next, err
}
