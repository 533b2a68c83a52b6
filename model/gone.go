package model

import (
	"context"
	"slices"
	"strings"

	"pawl/model/claims"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/serials"
)

// Gone says that a tool left for good; texts are as typed.
type Gone struct{ Why, Note, On string }

// Gone ends a tool: it leaves every list but that of gone tools, whoever had it
// has it no longer, and its number and serial stay its own for ever. Managers
// may, and owners for their own.
func (s *Shop) Gone(ctx context.Context, by By, number string, in Gone) (Done, error) {
	return s.custodyAct(ctx, by, "gone", number, moment{}, in, func(h *hand) error {
		if err := allowed(by, people.EndTool, h.object(h.tool)); err != nil {
			return err
		}
		var bad fault.Problems
		why, err := parseGone(in.Why)
		bad.Keep("#/why", err)
		note, err := names.Note(in.Note)
		bad.Keep("#/note", err)
		on, err := h.day("#/on", in.On)
		if err != nil {
			bad = append(bad, fault.Of(err).Fields...)
		}
		if err := bad.Err(); err != nil {
			return err
		}
		if err := register.MayGo(h.tool, why); err != nil {
			return err
		}
		return h.gone(why, note, on)
	})
}

func parseGone(text string) (string, error) {
	why := names.Key(text)
	if slices.Contains(register.GoneWhys, why) {
		return why, nil
	}
	f := fault.New(fault.Invalid, "%q is not a way in which a tool leaves", text).WithHint("use one of: %s", strings.Join(register.GoneWhys, ", "))
	if why == "stolen" {
		f = f.WithHint("a theft is told as a loss, with its day, place and report: pawl loss start --kind theft --found TIME --where TEXT --tools NUMBER")
	}
	return "", f
}

// day reads the day of a fact; none is today. It is not in the future.
func (h *hand) day(pointer, text string) (dates.Date, error) {
	loc, err := h.settings.Location()
	if err != nil {
		return "", err
	}
	today := h.tx.Now().Day(loc)
	if strings.TrimSpace(text) == "" {
		return today, nil
	}
	on, err := dates.ParseDate(text)
	if err != nil {
		return "", fault.At(pointer, "%s", fault.Of(err).Error())
	}
	if on.After(today) {
		return "", fault.At(pointer, "%s is in the future; today is %s", on, today)
	}
	return on, nil
}

// goneByLoss says that a tool is gone by a loss, which has its own way back. The line of that
// loss says so; the note that names it alone may be anybody's words.
func goneByLoss(rx *store.Rx, t register.Tool) (bool, error) {
	id, noted := strings.CutPrefix(t.GoneNote, byLoss)
	if t.GoneWhy == register.Stolen || t.Gone == 0 || !noted {
		return t.GoneWhy == register.Stolen, nil
	}
	l, found, err := rx.Loss(id)
	if err != nil || !found || l.Kind.Gone() != t.GoneWhy {
		return false, err
	}
	lines, err := rx.LossLinesOf(t.ID)
	return slices.ContainsFunc(lines, func(line claims.LossLine) bool { return line.Loss == id && line.Open() && line.Confirmed != 0 }), err
}

// comesBack says that a gone tool may be entered as here after all: it is not gone by a loss,
// and no other came for it.
func comesBack(rx *store.Rx, t register.Tool) (bool, error) {
	if t.Gone == 0 || t.ExchangedFor != "" {
		return false, nil
	}
	lost, err := goneByLoss(rx, t)
	return !lost, err
}

// hereAfterAll takes a tool into the register again that was said to have left for good: the
// wrong one was named, or it turned up. It is out of use, since nobody knows where it was.
func (h *hand) hereAfterAll(in Back) error {
	t := &h.tool
	if comes, err := comesBack(h.Rx, *t); err != nil || !comes {
		if err == nil {
			err = isGone(h.Rx, *t)
		}
		return err
	}
	if err := allowed(h.by, people.EndTool, h.object(*t)); err != nil {
		return err
	}
	if owner, found := h.byID[t.Owner]; found && owner.Left != 0 {
		return fault.New(fault.Conflict, "tool %s is %s's, who has left", t.Number, owner.Name).WithHint("register it anew as whose it is now, under another serial or a lot")
	}
	condition, err := names.Note(in.Condition)
	if err != nil {
		return fault.At("#/condition", "%s", fault.Of(err).Error())
	}
	if in.Serial != "" && t.SerialKey != "" && serials.Key(in.Serial) != t.SerialKey {
		return fault.At("#/serial", "tool %s has the serial number %q, not %q", t.Number, t.Serial, in.Serial).WithHint("see which tool it is: pawl match %s", in.Serial)
	}
	note := "it was said to be gone (" + t.GoneWhy + ") and is here after all"
	if condition != "" {
		note += ": " + condition
	}
	t.Gone, t.GoneWhy, t.GoneOn, t.GoneNote, t.BackSince = 0, "", "", "", h.tx.Now()
	if err := store.Put(h.tx, t); err != nil {
		return err
	}
	h.say("DO NOT USE " + t.Number.String() + " until it was looked over: " + note + ".")
	if register.Measures(t.Kind) {
		h.say("It measures: it needs a passing tool calibration, or a bench check of its whole range both ways, before it is used.")
	}
	return putWrong(h.tx, h.by, *t, custody.Doubtful, note)
}

// gone ends the tool of the hand and any loan of it.
func (h *hand) gone(why, note string, on dates.Date) error {
	if h.last.Open() {
		if err := h.end(custody.WentForGood, "", ""); err != nil {
			return err
		}
	}
	h.tool.Gone, h.tool.GoneWhy, h.tool.GoneNote, h.tool.GoneOn = h.tx.Now(), why, note, on
	if err := store.Put(h.tx, &h.tool); err != nil {
		return err
	}
	if h.tool.FromOutside() && h.tool.Deposit != nil {
		h.say("A deposit was left for it with " + h.tool.Outsider + ": ask for it back.")
	}
	parts, err := h.tx.ToolsWith(h.tool.ID)
	for _, p := range parts {
		if p.Gone == 0 {
			h.say("Came with it and is still here: " + p.Number.String() + " " + p.Kind + ".")
		}
	}
	return err
}
