package model

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
)

// parseNumber reads a number as typed, with look-alikes folded, or a scanned
// symbol, which is taken exactly.
func parseNumber(text string) (numbers.Number, error) {
	if strings.ContainsAny(text, "/:") {
		sym, err := numbers.ParseSymbol(text)
		if err != nil {
			return "", err
		}
		if sym.Kind != numbers.Tool {
			return "", fault.New(fault.Invalid, "%q is the code of a %s, not of a tool", text, sym.Kind)
		}
		return sym.Number(), nil
	}
	return numbers.ParseNumber(text)
}

// resolve finds the tool that answers to a number, now or ever.
func resolve(rx *store.Rx, text string) (register.Tool, error) {
	n, err := parseNumber(text)
	if err != nil {
		return register.Tool{}, err
	}
	row, found, err := rx.Number(n)
	switch {
	case err != nil:
		return register.Tool{}, err
	case !found:
		return register.Tool{}, fault.New(fault.NotFound, "there is no tool %s", n).
			WithHint("read the label again, or look for the tool: pawl find TEXT")
	case row.State != register.Assigned:
		return register.Tool{}, fault.New(fault.NotFound, "number %s is %s; no tool has it yet", n, row.State).
			WithHint("register the tool with: pawl register --number %s …", n)
	}
	t, found, err := rx.Tool(row.Tool)
	if err == nil && !found {
		err = fault.New(fault.Internal, "number %s belongs to a tool that is not there", n).WithHint("run pawl verify")
	}
	return t, err
}

// about reads one tool, with the names of what hangs on it.
func (s *Shop) about(ctx context.Context, number string, read func(d *directory, t register.Tool) error) error {
	return s.db.Read(ctx, func(rx *store.Rx) error {
		t, err := resolve(rx, number)
		if err != nil {
			return err
		}
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		d.broken = s.views.Broken
		return read(d, t)
	})
}

// Tool gives everything about one tool that the asker may see. It takes any
// number that the tool ever had, with or without hyphen, or a scanned symbol.
func (s *Shop) Tool(ctx context.Context, by By, number string) (v ToolView, err error) {
	err = s.about(ctx, number, func(d *directory, t register.Tool) error {
		v, err = d.view(by, t)
		return err
	})
	return v, err
}

// held fills in who has a tool, and in what state it came back last.
func (d *directory) held(v *ToolView) error {
	loan, err := d.lastLoan(v.Tool)
	if err != nil {
		return err
	}
	if v.Custody, err = d.custody(loan); err != nil {
		return err
	}
	if v.Custody.Since == 0 {
		v.Custody.Since = v.Tool.Created
	}
	v.Condition = loan.Condition
	v.Missing, err = d.lacks(v.Tool.ID)
	return err
}

// view gathers what hangs on a tool and takes away what the asker may not see.
func (d *directory) view(by By, t register.Tool) (v ToolView, err error) {
	v = ToolView{Tool: t, Owner: d.ownerOf(t), Place: d.places.Path(t.Place), PlaceCode: d.places[t.Place].Code, MoneyShown: people.May(by.Actor, people.SeeMoney, d.object(t))}
	rows, err := d.NumbersOf(t.ID)
	if err != nil {
		return v, err
	}
	for _, r := range rows {
		v.Numbers = append(v.Numbers, numbers.Number(r.ID))
	}
	if register.Measures(t.Kind) {
		if v.Compared, err = d.compare(t.ID); err != nil {
			return v, err
		}
	}
	if err := d.held(&v); err != nil {
		return v, err
	}
	if v.Wrongs, err = d.OpenWrongs(t.ID); err != nil {
		return v, err
	}
	if v.Markings, err = d.Markings(t.ID); err != nil {
		return v, err
	}
	have, err := d.evidenceFor(by, &v)
	if err != nil {
		return v, err
	}
	if v.Oddity, err = d.oddity(t); err != nil {
		return v, err
	}
	if v.LastLook, err = d.lastLook(t, v.Markings); err != nil {
		return v, err
	}
	if v.ComesBack, err = comesBack(d.Rx, t); err != nil {
		return v, err
	}
	v.Advice = slices.Concat(d.doubt, incomplete(v.Missing), advice(t, v.Markings, have), lookAdvice(t, v.LastLook, v.Markings))
	if v.Oddity != "" {
		v.Advice = append(v.Advice, v.Oddity)
	}
	if !v.MoneyShown {
		v.Tool.Purchase = t.Purchase.Hidden()
		v.Tool.Deposit, v.Tool.DepositCurrency = nil, ""
	}
	if v.Loss, err = d.lossOf(by, t); err != nil {
		return v, err
	}
	return v, d.chain(&v)
}

// evidenceFor adds the photos and papers that the asker may see, and says of what sorts
// there are any that can be shown.
func (d *directory) evidenceFor(by By, v *ToolView) (have []evidence.Kind, err error) {
	all, err := d.Evidence(v.Tool.ID)
	for _, e := range all {
		if d.shows(e.SHA256) {
			have = append(have, e.Kind)
		}
		if !v.MoneyShown && !addedBy(by, e) {
			e.ClaimedPlace = "" // it may be where the owner lives
		}
		if v.MoneyShown || seesEvidence(by, e) {
			v.Evidence = append(v.Evidence, e)
		}
	}
	evidence.ByWeight(v.Evidence)
	return have, err
}

// chain names the tools that one came with, or that came with it, and those
// that it was exchanged for or took the place of.
func (d *directory) chain(v *ToolView) (err error) {
	for _, link := range []struct {
		id  string
		out *numbers.Number
	}{{v.Tool.CameWith, &v.CameWith}, {v.Tool.ExchangedFor, &v.ExchangedFor}, {v.Tool.ExchangedFrom, &v.ExchangedFrom}} {
		if link.id == "" {
			continue
		}
		t, _, err := d.Tool(link.id)
		if err != nil {
			return err
		}
		*link.out = t.Number
	}
	parts, err := d.ToolsWith(v.Tool.ID)
	for _, p := range parts {
		v.With = append(v.With, PartView{Number: p.Number, Kind: p.Kind, Serial: p.Serial})
	}
	return err
}

// incomplete says loudly what of a set did not come back.
func incomplete(missing register.Pieces) (out []string) {
	for _, p := range missing {
		out = append(out, fmt.Sprintf("NOT COMPLETE: %s (%d) did not come back with the last return.", p.Name, p.Count))
	}
	return out
}

// seesEvidence says whether somebody who may not see a tool's money may see
// this: photos of the tool itself, and what they added.
func seesEvidence(by By, e evidence.Record) bool {
	shows := e.Kind.Photo() && people.May(by.Actor, people.SeePhoto, people.Object{PlainSight: e.Kind.InPlainSight()})
	return shows || addedBy(by, e)
}

// addedBy says whether somebody added this themselves, and looks at it in person.
func addedBy(by By, e evidence.Record) bool {
	return by.Person != "" && e.UploadedBy == by.Person && by.Role != people.ShopDevice
}
