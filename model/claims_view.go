package model

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/due"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/units"
	"pawl/model/worth"
)

// ClaimQuery picks claims, newest first.
type ClaimQuery struct {
	Limit  int // 0: 50; at most 200
	Cursor string
}

// Claims gives the claims that the asker may see, newest first, with the cursor of the
// next page.
func (s *Shop) Claims(ctx context.Context, by By, q ClaimQuery) (out []ClaimView, next string, err error) {
	limit, err := pageLimit(q.Limit)
	if err != nil {
		return nil, "", err
	}
	c, at, err := parseNewest("claims", q.Cursor)
	if err != nil {
		return nil, "", err
	}
	err = s.read(ctx, func(d *directory) error {
		for id := c.ID; len(out) <= limit; {
			rows, err := d.ClaimsBefore(at, id, limit+1)
			if err != nil || len(rows) == 0 {
				return err
			}
			for _, row := range rows {
				if at, id = int64(row.Opened), row.ID; !d.seesClaim(by, row) {
					continue
				}
				v, err := d.claimRow(by, row)
				if err != nil {
					return err
				}
				out = append(out, v)
			}
		}
		return nil
	})
	if len(out) > limit {
		out = out[:limit]
		last := out[limit-1]
		next = cursor{List: c.List, Key: decimal(int64(last.Opened)), ID: last.ID}.String()
	}
	return out, next, err
}

// Claim gives one claim as the asker may see it.
func (s *Shop) Claim(ctx context.Context, by By, id string) (v ClaimView, err error) {
	err = s.read(ctx, func(d *directory) error {
		id, err := parseClaimID(id)
		if err != nil {
			return err
		}
		c, found, err := d.Claim(id)
		if err != nil || !found || !d.seesClaim(by, c) {
			return orElse(err, noClaim(id))
		}
		v, err = d.claimView(by, c)
		return err
	})
	return v, err
}

// claimRow puts a claim into names, without its list.
func (d *directory) claimRow(by By, c claims.Claim) (v ClaimView, err error) {
	v = ClaimView{Claim: c, OpenedBy: d.owner(c.Person), OwnerName: d.owner(c.Owner), Currency: d.settings.Currency}
	if v.Facts, err = d.FactsOf(c.ID); err != nil {
		return v, err
	}
	var held claims.Holdback
	if c.Policy != "" {
		p, err := d.policyOf(c)
		if err != nil {
			return v, err
		}
		v.PolicyName = p.Name
		if held, err = d.holdback(c, p); err != nil {
			return v, err
		}
	}
	v.Awaited = c.Deadlines(v.Facts, held)
	if c.Tool == "" {
		return v, nil
	}
	t, _, err := d.Tool(c.Tool)
	if err != nil {
		return v, err
	}
	v.Number, v.ToolKind = t.Number, t.Kind
	if c.Kind == claims.Warranty {
		v.Through, v.Within = t.Purchase.WarrantyThrough(), claims.WithinWarranty(t.Purchase, c.FaultOn)
	}
	if c.Replacement != "" {
		next, _, err := d.Tool(c.Replacement)
		if err != nil {
			return v, err
		}
		v.SwappedFor, v.NewSerial = next.Number, next.Serial
	}
	return v, nil
}

// policyOf gives the policy of a claim, whether it is still in force or not.
func (d *directory) policyOf(c claims.Claim) (worth.Policy, error) {
	p, found, err := d.Policy(c.Policy)
	if err == nil && !found {
		return p, fmt.Errorf("the policy %s of claim %s is not there", c.Policy, c.ID)
	}
	return p, err
}

// holdback is what the policy of a claim says of what it holds back, reckoned from the day
// on which the loss was found out.
func (d *directory) holdback(c claims.Claim, p worth.Policy) (h claims.Holdback, err error) {
	h.Keeps = p.Basis == worth.ByReplacement
	l, _, err := d.Loss(c.Loss)
	if err != nil || p.HoldbackDays == nil {
		return h, err
	}
	loc, err := d.settings.Location()
	if err == nil {
		h.Days, h.Due = *p.HoldbackDays, p.HoldbackDue(l.Found.Day(loc))
	}
	return h, err
}

// claimView is a claim with all that hangs on it, less what the asker may not see.
func (d *directory) claimView(by By, c claims.Claim) (v ClaimView, err error) {
	if v, err = d.claimRow(by, c); err != nil {
		return v, err
	}
	if c.Kind == claims.Insurance {
		if err := d.claimTools(by, &v); err != nil {
			return v, err
		}
	}
	v.Advice = slices.Concat(d.doubt, v.advice())
	return v, nil
}

// claimTools parts the tools of the loss into those that the policy is recorded as
// covering, and those that are left out.
func (d *directory) claimTools(by By, v *ClaimView) error {
	l, _, err := d.Loss(v.Loss)
	if err != nil {
		return err
	}
	p, err := d.policyOf(v.Claim)
	if err != nil {
		return err
	}
	lines, err := d.LossLines(v.Loss)
	if err != nil {
		return err
	}
	asked, err := d.ClaimLines(v.ID)
	if err != nil {
		return err
	}
	amounts := map[string]*int64{}
	for _, a := range asked {
		switch {
		case a.Currency == d.settings.Currency:
			amounts[a.Tool] = a.Amount
		case a.Amount != nil:
			v.other = append(v.other, a.Currency)
		}
	}
	tools, err := d.ToolsByID(toolsOfLines(lines))
	if err != nil {
		return err
	}
	all := By{Actor: people.Actor{Role: people.Manager, Via: people.ViaChores}} // what the policy covers is the claim's, whoever may settle it
	rows, err := d.lossLines(all, l, lines)
	for _, row := range rows {
		t := tools[row.Tool]
		mine := d.seesLine(by, t)
		if why := leftOutOf(p, t, row.LossLine); why != "" {
			if mine {
				v.LeftOut = append(v.LeftOut, LeftOut{Line: row.Line, Number: row.Number, Kind: row.Kind, Owner: row.Owner, Why: why})
			}
			continue
		}
		v.Tools = append(v.Tools, d.claimTool(by, row, t, amounts[row.Tool]))
	}
	return err
}

// leftOutOf is why a tool of a loss is not in a claim on a policy, in words; empty: it is in
// it. A policy that has ended since covers whom it covered.
func leftOutOf(p worth.Policy, t register.Tool, l claims.LossLine) string {
	p.Ended = 0
	switch {
	case l.Withdrawn != 0:
		return claims.FromTheLoss
	case t.FromOutside():
		return claims.NotAsked(t)
	case p.Covers(t):
		return ""
	case p.Owner != "":
		return "the policy is one person's own, and covers their tools alone"
	case t.Owner != "":
		return "it is an employee's own, and the policy is not recorded as covering those"
	}
	return "the policy is not recorded as covering its owner"
}

// claimTool adds the money of a tool, where it is the asker's to see.
func (d *directory) claimTool(by By, row LossLineView, t register.Tool, amount *int64) ClaimTool {
	out := ClaimTool{LossLineView: row, Hidden: !people.May(by.Actor, people.SeeMoney, d.object(t))}
	if out.Hidden {
		return out
	}
	out.Amount = amount
	if t.Owed != nil && t.Currency == d.settings.Currency {
		out.Owed, out.OwedTo, out.OwedOn = t.Owed, t.OwedTo, t.OwedOn
	}
	return out
}

// NothingLeft says whether nothing is left of what was claimed: of the tools that the loss
// lists, each was withdrawn from it.
func (v ClaimView) NothingLeft() bool {
	return len(v.Tools) == 0 && len(v.LeftOut) > 0 && !slices.ContainsFunc(v.LeftOut, func(l LeftOut) bool { return l.Why != claims.FromTheLoss })
}

// advice says what of a claim is to be known or done next.
func (v ClaimView) advice() (out []string) {
	add := func(when bool, text string) {
		if when {
			out = append(out, text)
		}
	}
	recovered := slices.ContainsFunc(v.Tools, func(t ClaimTool) bool { return t.Stands == claims.StateRecovered })
	add(v.NothingLeft(), "Every tool of the loss was withdrawn from it: NOTHING IS CLAIMED any more, and no packet can be built. Tell the insurer, and enter the day: pawl claim fact "+v.ID+" --on DAY --what withdrawn")
	add(v.Kind == claims.Insurance && len(v.Tools) == 0 && !v.NothingLeft(), "No tool of the loss is one that this policy is recorded as covering.")
	add(len(v.other) > 0, "What is asked for "+units.Count(len(v.other), "tool")+" was entered in "+strings.Join(slices.Compact(slices.Sorted(slices.Values(v.other))), ", ")+", and counts in no amount here: enter it in "+v.Currency+".")
	add(recovered, "Tools of it were recovered: tell the insurer.")
	add(v.Kind == claims.Insurance && v.ProofDue == "", "No day is recorded for the sworn proof of loss: the policy or the insurer's letter says it; many are short.")
	add(slices.ContainsFunc(v.Awaited, claims.Deadline.Unknown),
		"Something was paid on a policy on replacement cost, and by which day to ask for the rest is NOT KNOWN: the policy or the insurer's letter says it. Enter it, or say that nothing was held back.")
	add(v.Within == claims.NotKnown, "Whether the warranty runs still is unknown: its months, or the day from which it runs, are not on record.")
	add(v.Within == claims.Outside, "The fault is OUTSIDE the warranty by the record: it ran through "+string(v.Through)+".")
	add(v.Kind == claims.Warranty && v.Replacement == "", "When the maker gives another for it: pawl swap "+v.Number.String()+" --serial NEW --serial-again NEW")
	return append(out, claims.Caution)
}

// claimLead is for how many days ahead a deadline of a claim is shown: our choice. A missed
// one cannot be made good.
const claimLead = 30

// awaited gives the deadlines of the claims that the asker may see, as rows of what is due.
func (a dueAsking) awaited(through dates.Date) (rows []due.Row, err error) {
	all, err := a.ClaimsAwaited()
	if err != nil {
		return nil, err
	}
	for _, c := range all {
		if !a.seesClaim(a.by, c) || a.q.Places != nil || a.q.Person != "" && a.q.Person != c.Owner || a.q.ShopOnly && c.Owner != "" {
			continue
		}
		v, err := a.claimRow(a.by, c)
		if err != nil {
			return nil, err
		}
		money := ""
		if slices.ContainsFunc(v.Awaited, claims.Deadline.OfRest) {
			if money, err = a.paidOf(v); err != nil {
				return nil, err
			}
		}
		for _, day := range v.Awaited {
			after := day.Day > a.q.AfterDay || day.Day == a.q.AfterDay && day.ID > a.q.AfterID
			if after && !day.Day.After(through) {
				said := money
				if !day.OfRest() {
					said = ""
				}
				rows = append(rows, due.Row{Paid: said, ID: day.ID, Sort: due.Claim, What: day.What, Day: day.Day, Known: c.Opened, Owner: c.Owner, Person: c.Owner, Claim: c.ID, Why: day.Why})
			}
		}
	}
	return rows, nil
}

// paidOf says in words what was paid of what a claim asks.
func (a dueAsking) paidOf(v ClaimView) (string, error) {
	v, err := a.claimView(a.by, v.Claim)
	if err != nil {
		return "", err
	}
	asked, unsaid := v.Claimed()
	return claims.PaidOf(v.Facts, asked, unsaid > 0, v.Currency), nil
}
