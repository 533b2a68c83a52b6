package model

import (
	"slices"

	"pawl/model/evidence"
	"pawl/model/markings"
	"pawl/model/register"
)

// advice says what a tool's record lacks, what would keep its marking readable,
// and the cautions of its kind.
func advice(t register.Tool, marks []markings.Marking, have []evidence.Kind) (out []string) {
	add := func(when bool, text string) {
		if when {
			out = append(out, text)
		}
	}
	add(t.Kind == "", notYetTyped(t.Number))
	add(t.SerialKey == "" && t.Lot == "",
		"No serial number is recorded: a police register, a warranty desk and a dealer search by number, so this tool can be told apart only by its photos and by an owner's number that is permanent on it.")
	add(t.SerialKey == "" && t.Lot != "",
		"Only a lot code is recorded: many tools carry the same one, so it does not prove which tool this is.")
	add(t.SerialKey != "" && !slices.Contains(have, evidence.Plate),
		"No photo of the serial plate: take one now, while the marking can be read, and before any cleaning; brake cleaner takes print off.")
	add(!slices.Contains(have, evidence.Whole), "No photo of the whole tool.")
	papers := []evidence.Kind{evidence.Receipt, evidence.Account, evidence.Card, evidence.Registration}
	add(!slices.ContainsFunc(papers, func(k evidence.Kind) bool { return slices.Contains(have, k) }),
		"No proof of purchase: add the receipt, an account statement or a card record.")
	tape := register.TakesLabel(t.Kind)
	now, _ := markings.Current(marks)
	wears := now.Method == "printed" && now.Protection != "clear tape" && now.Protection != "lacquer"
	add(wears && tape && t.Usage == register.Daily,
		"A printed serial on a tool in daily use can become unreadable in about two months (common practice, no source): photograph it, then put clear tape over the clean, dry marking.")
	add(wears && tape && t.Usage != register.Daily,
		"A printed serial rubs off with use: photograph it, then put clear tape over the clean, dry marking.")
	add(wears && !tape, "A printed serial rubs off with use: photograph it now, and again while it can be read.")
	return append(out, register.Cautions(t.Kind)...)
}

// lookAdvice says what the last look at the maker's serial asks for.
func lookAdvice(t register.Tool, last *markings.Check, marks []markings.Marking) (out []string) {
	if last == nil || *last.Grade > markings.WithCare {
		return nil
	}
	switch {
	case *last.Grade <= markings.Lost:
		out = append(out, "A character of the serial is lost, as seen on "+string(last.On)+": photograph what is left before any cleaning; it may still say which tool this is.")
	case register.TakesLabel(t.Kind):
		out = append(out, "The serial can be read only with care, as seen on "+string(last.On)+": photograph it now, before any cleaning, and protect it once it is clean and dry.")
	default:
		out = append(out, "The serial can be read only with care, as seen on "+string(last.On)+": photograph it now, before any cleaning.")
	}
	if !markings.HasOwnersNumber(marks) && register.TakesLabel(t.Kind) {
		out = append(out, "Add a permanent owner's number, of a sort that a police register accepts, beside the maker's serial, and photograph both; never re-cut, restamp or alter the maker's serial.")
	}
	return out
}

// lastLook gives the last look at which the maker's serial got a grade; nil where there
// was none.
func (d *directory) lastLook(t register.Tool, marks []markings.Marking) (last *markings.Check, err error) {
	now, is := markings.Current(marks)
	if !is {
		return nil, nil
	}
	checks, err := d.Checks(t.ID)
	for i, c := range checks {
		if c.Marking != now.ID || c.Withdrawn != 0 || c.Grade == nil {
			continue
		}
		if last == nil || c.On.After(last.On) || c.On == last.On && *c.Grade <= *last.Grade { // of one day the worst, as the forecast takes it
			last = &checks[i]
		}
	}
	return last, err
}
