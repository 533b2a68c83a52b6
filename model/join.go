package model

import (
	"context"
	"strings"

	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/register"
	"pawl/model/serials"
)

// JoinSerial says by its serial number which tool a printed label is stuck on.
type JoinSerial struct {
	Serial string
	Maker  string // where two makers have that serial; else empty
}

// JoinBySerial joins an issued number, printed and free, to the tool here that
// has the serial number: its label is scanned, then the tool's own marking. It is
// JoinNumber besides. A serial that no tool has is NotFound; one that several
// have is a Conflict and names them.
func (s *Shop) JoinBySerial(ctx context.Context, by By, number string, in JoinSerial) (Done, error) {
	return act(ctx, s, by, "join", []any{number, in}, func(tx *store.Tx) (Done, error) {
		t, err := marked(&tx.Rx, in)
		if err != nil {
			return Done{}, err
		}
		h, err := s.handFor(tx, by, t.Number.String())
		if err != nil {
			return Done{}, err
		}
		if err := h.join(number); err != nil {
			return Done{}, err
		}
		done, err := h.done(h.tool, "join")
		done.Cleared, done.Advice = h.cleared, append(h.said, done.Advice...)
		return done, err
	})
}

// marked finds the one tool here with a serial number.
func marked(rx *store.Rx, in JoinSerial) (t register.Tool, err error) {
	clean, err := serials.Check(in.Serial)
	if err != nil {
		return t, fault.At("#/serial", "%s", fault.Of(err).Error())
	}
	all, err := rx.ToolsMarked(serials.Key(clean))
	if err != nil {
		return t, err
	}
	var found []register.Tool
	var names []string
	for _, t := range all {
		if t.Gone == 0 && (in.Maker == "" || t.MakerKey == serials.MakerKey(in.Maker)) {
			found, names = append(found, t), append(names, strings.Join(strings.Fields(t.Number.String()+" "+t.Kind+" "+t.Maker), " "))
		}
	}
	switch len(found) {
	case 0:
		return t, fault.New(fault.NotFound, "no tool here has the serial number %s", clean).WithHint("look for a part of it: pawl find PART; then join the label with: pawl labels NUMBER --join LABEL")
	case 1:
		return found[0], nil
	}
	return t, fault.New(fault.Conflict, "several tools have the serial number %s: %s", clean, strings.Join(names, ", ")).
		WithHint("say which one: pawl labels NUMBER --join LABEL")
}
