package model

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"pawl/model/claims"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/units"
	"pawl/model/worth"
)

// ClaimView is a claim in names.
type ClaimView struct {
	claims.Claim
	OpenedBy   string // name; the id stands in the row
	OwnerName  string // whose policy or tool it is about
	PolicyName string
	Number     numbers.Number // of the tool, where it is about one
	ToolKind   string
	Currency   string
	Through    dates.Date     // last day of the warranty; empty = not known
	Within     claims.Within  // whether the fault fell into it; empty: no warranty is asked about
	SwappedFor numbers.Number // what it was exchanged for
	NewSerial  string         // its serial
	Tools      []ClaimTool    // of an insurance claim, by line
	LeftOut    []LeftOut      // of the loss and not in the claim, with why
	Facts      []claims.Fact
	Awaited    []claims.Deadline // the next first
	Advice     []string

	other []string // currencies of what is asked in another than the shop's: it is in no amount here
}

// Claimed adds up what is asked; unsaid counts the tools of which nothing is.
func (v ClaimView) Claimed() (sum int64, unsaid int) {
	for _, t := range v.Tools {
		switch {
		case t.Stands == claims.StateRecovered:
		case t.Amount != nil:
			sum += *t.Amount
		default:
			unsaid++
		}
	}
	return sum, unsaid
}

// ClaimTool is one tool of an insurance claim. Amounts are minor units of the claim's
// currency, nil where they are not known or not the asker's to see.
type ClaimTool struct {
	LossLineView
	Amount *int64 // that is asked for it
	Owed   *int64 // still owed on it
	OwedTo string
	OwedOn dates.Date
	Hidden bool // its price and papers are its owner's to show
}

// LeftOut is a tool of a loss that is not in a claim.
type LeftOut struct {
	Line   int64
	Number numbers.Number
	Kind   string
	Owner  string
	Why    string
}

// NewClaim is a claim as typed: an insurance claim names a loss and a policy, one on
// warranty or ownership a tool.
type NewClaim struct{ Kind, Loss, Policy, Number, Fault, On string }

// OpenClaim opens a claim. Of one policy and one loss there is one claim: what is found
// later is a supplement to it.
func (s *Shop) OpenClaim(ctx context.Context, by By, in NewClaim) (ClaimView, error) {
	return act(ctx, s, by, "claim open", in, func(tx *store.Tx) (v ClaimView, err error) {
		kind, err := claims.ParseClaimKind(in.Kind)
		if err != nil {
			return v, fault.At("#/kind", "%s", fault.Of(err).Error())
		}
		d, err := readNames(&tx.Rx)
		if err != nil {
			return v, err
		}
		a := claimAct{directory: d, shop: s, tx: tx, by: by, claim: claims.Claim{Kind: kind, Opened: tx.Now(), Person: by.Person}}
		if a.claim.ID, err = tx.NewID('C'); err != nil {
			return v, err
		}
		if kind == claims.Insurance {
			err = a.onPolicy(in)
		} else {
			err = a.onTool(in)
		}
		if err != nil {
			return v, err
		}
		return a.done()
	})
}

// claimAct is one act on a claim in progress.
type claimAct struct {
	*directory
	shop  *Shop
	tx    *store.Tx
	by    By
	claim claims.Claim
	said  []string
}

func (a *claimAct) done() (ClaimView, error) {
	if err := store.Put(a.tx, &a.claim); err != nil {
		return ClaimView{}, err
	}
	v, err := a.claimView(a.by, a.claim)
	v.Advice = slices.Concat(a.said, v.Advice)
	return v, err
}

// onPolicy opens an insurance claim.
func (a *claimAct) onPolicy(in NewClaim) error {
	if in.Number != "" || in.Fault != "" {
		return fault.At("#/kind", "an insurance claim names a loss and a policy, and no single tool or fault")
	}
	l, err := a.shop.lossFor(a.tx, a.directory, a.by, in.Loss)
	if fault.Is(err, fault.NotFound) {
		err = fault.At("#/loss", "%s", fault.Of(err).Error())
	}
	if err != nil {
		return err
	}
	p, err := a.policyNamed(a.by, in.Policy)
	if err != nil {
		return err
	}
	if err := a.mayInsure(a.by, p); err != nil {
		return err
	}
	have, err := a.tx.ClaimsOfLoss(l.loss.ID)
	for _, c := range have {
		if c.Policy == p.ID {
			return fault.New(fault.Conflict, "claim %s is opened on the policy %q and loss %s already", c.ID, p.Name, l.loss.ID).
				WithHint("what was found later is in it, as a supplement: pawl claim show %s", c.ID).WithFact("id", c.ID)
		}
	}
	a.claim.Loss, a.claim.Policy, a.claim.Owner, a.claim.Insured = l.loss.ID, p.ID, p.Owner, a.owner(p.Owner)
	return err
}

// policyNamed finds a policy in force that the asker may see by its name.
func (d *directory) policyNamed(by By, name string) (worth.Policy, error) {
	all, err := d.policies(by)
	if err != nil {
		return worth.Policy{}, err
	}
	var have []string
	for _, p := range all {
		if p.NameKey == names.Key(name) || p.ID == strings.TrimSpace(name) {
			return p.Policy, nil
		}
		have = append(have, fmt.Sprintf("%q", p.Name))
	}
	f := fault.At("#/policy", "there is no policy %.80q that you may see", name)
	if len(have) == 0 {
		return worth.Policy{}, f.WithHint("record what it says first: pawl worth policy add NAME …")
	}
	return worth.Policy{}, f.WithHint("those on record: %s", strings.Join(have, ", "))
}

// onTool opens a claim on one tool: on its warranty, or to show whose it is.
func (a *claimAct) onTool(in NewClaim) error {
	if in.Loss != "" || in.Policy != "" {
		return fault.At("#/kind", "a claim on %s is about one tool, and names no loss and no policy", a.claim.Kind)
	}
	t, err := resolve(&a.tx.Rx, in.Number)
	if err != nil {
		return fault.At("#/number", "%s", fault.Of(err).Error())
	}
	if t, err = load[register.Tool](a.tx, t.ID, "tool "+t.Number.String()); err != nil {
		return err
	}
	if err := allowed(a.by, people.SeeMoney, a.object(t)); err != nil {
		return err
	}
	if t.FromOutside() {
		return fault.New(fault.Refused, "tool %s belongs to %s, who is not of the shop: the claim is theirs to make", t.Number, t.Outsider).
			WithHint("tell them what is wrong with it").WithFact("number", t.Number.String())
	}
	a.claim.Tool, a.claim.Owner, a.claim.Insured = t.ID, t.Owner, a.owner(t.Owner)
	loc, err := a.settings.Location()
	if err != nil {
		return err
	}
	today := a.tx.Now().Day(loc)
	change := claims.ClaimChange{Fault: &in.Fault}
	if a.claim.Kind == claims.Warranty {
		if change.FaultOn = &in.On; strings.TrimSpace(in.On) == "" {
			a.claim.FaultOn, change.FaultOn = today, nil
		}
	}
	if err := change.Apply(&a.claim, today); err != nil || a.claim.Kind != claims.Warranty {
		return err
	}
	return a.faulty(t)
}

// faulty puts a tool of which a fault is claimed out of use, and takes over what it was
// exchanged for already.
func (a *claimAct) faulty(t register.Tool) error {
	if t.Gone != 0 {
		if t.ExchangedFor == "" {
			return fault.New(fault.Conflict, "tool %s is gone: %s", t.Number, t.GoneWhy).WithFact("since", t.Gone.String()).WithFact("number", t.Number.String())
		}
		a.claim.Replacement = t.ExchangedFor
		return nil
	}
	open, err := a.tx.OpenWrongs(t.ID)
	if err != nil {
		return err
	}
	if _, out := custody.DoNotUse(open); out {
		return nil
	}
	a.said = append(a.said, "DO NOT USE "+t.Number.String()+": damaged, by the claim on its warranty.")
	return putWrong(a.tx, a.by, t, custody.Damaged, a.claim.Fault)
}

// swapClaimed writes into the warranty claims of a tool what it was exchanged for.
func swapClaimed(tx *store.Tx, old, next register.Tool) error {
	all, err := tx.ClaimsOfTool(old.ID)
	for _, c := range all {
		if c.Kind != claims.Warranty || c.Replacement != "" {
			continue
		}
		if c, err = load[claims.Claim](tx, c.ID, "claim "+c.ID); err != nil {
			return err
		}
		c.Replacement = next.ID
		if err := store.Put(tx, &c); err != nil {
			return err
		}
	}
	return err
}

// seesClaim says whether somebody may see a claim: it tells of money as a tool's price does.
func (d *directory) seesClaim(by By, c claims.Claim) bool {
	return people.May(by.Actor, people.SeeMoney, people.Object{Owner: c.Owner, OwnerShares: d.byID[c.Owner].Shares})
}

func noClaim(id string) *fault.Error {
	return fault.New(fault.NotFound, "there is no claim %.40q", id).WithHint("see them all: pawl claim list")
}

func parseClaimID(text string) (string, error) {
	id, err := numbers.ParseID('C', text)
	if err != nil {
		return "", noClaim(text)
	}
	return id, nil
}

// onClaim runs one act on a claim that the asker may see, and gives it as it is then.
func (s *Shop) onClaim(ctx context.Context, by By, verb, id string, asked any, fn func(*claimAct) error) (ClaimView, error) {
	return act(ctx, s, by, verb, []any{id, asked}, func(tx *store.Tx) (v ClaimView, err error) {
		if id, err = parseClaimID(id); err != nil {
			return v, err
		}
		d, err := readNames(&tx.Rx)
		if err != nil {
			return v, err
		}
		a := claimAct{directory: d, shop: s, tx: tx, by: by}
		found := false
		if a.claim, found, err = store.Change[claims.Claim](tx, id); err != nil || !found || !d.seesClaim(by, a.claim) {
			return v, orElse(err, noClaim(id))
		}
		if err := fn(&a); err != nil {
			return v, err
		}
		return a.done()
	})
}

// ChangeClaim applies a change to the revision that was read.
func (s *Shop) ChangeClaim(ctx context.Context, by By, id string, rev int64, in claims.ClaimChange) (ClaimView, error) {
	return s.onClaim(ctx, by, "claim edit", id, []any{rev, in}, func(a *claimAct) error {
		if err := checkRev("claim", rev, a.claim.Rev); err != nil {
			return err
		}
		loc, err := a.settings.Location()
		if err != nil {
			return err
		}
		return in.Apply(&a.claim, a.tx.Now().Day(loc))
	})
}

// NewFact is a dated fact of a claim, as typed.
type NewFact struct{ On, What, Amount, Payment string }

// AddFact records a dated fact of a claim: reported, adjuster came, first payment, closed.
func (s *Shop) AddFact(ctx context.Context, by By, id string, in NewFact) (ClaimView, error) {
	return s.onClaim(ctx, by, "claim fact", id, in, func(a *claimAct) error {
		loc, err := a.settings.Location()
		if err != nil {
			return err
		}
		f, err := claims.ReadFact(in.On, in.What, in.Payment, a.tx.Now().Day(loc))
		var bad fault.Problems
		if e := fault.Of(err); e != nil {
			bad = append(bad, e.Fields...)
		}
		if strings.TrimSpace(in.Amount) != "" {
			m, err := units.ParseMoney(in.Amount, a.settings.Currency)
			bad.Keep("#/amount", err)
			f.Amount, f.Currency = &m.Minor, a.settings.Currency
		}
		if f.Payment != "" && f.Amount == nil {
			bad.Add("#/amount", "say how much was paid; 0 where the rest was given up")
		}
		if f.Payment != "" && a.claim.Kind != claims.Insurance {
			bad.Add("#/payment", "an insurer pays in parts, and this is a claim on %s", a.claim.Kind)
		}
		if err := bad.Err(); err != nil {
			return err
		}
		if f.ID, err = a.tx.NewID('F'); err != nil {
			return err
		}
		f.Claim, f.Entered, f.Person = a.claim.ID, a.tx.Now(), a.by.Person
		return store.Put(a.tx, &f)
	})
}

// WithdrawFact takes back a dated fact of a claim that was entered by mistake. It stays among
// the facts, with why; no packet that is built later tells it.
func (s *Shop) WithdrawFact(ctx context.Context, by By, id, fact, why string) (ClaimView, error) {
	return s.onClaim(ctx, by, "claim fact withdraw", id, []string{fact, why}, func(a *claimAct) error {
		f, found, err := store.Change[claims.Fact](a.tx, typedID('F', fact))
		if err != nil || !found || f.Claim != a.claim.ID {
			return orElse(err, fault.New(fault.NotFound, "claim %s has no fact %.40q", a.claim.ID, fact).WithHint("see them with their ids: pawl claim show %s", a.claim.ID))
		}
		if err := f.Withdraw(why, a.tx.Now()); err != nil {
			return err
		}
		return store.Put(a.tx, &f)
	})
}

// ClaimAmount is what is asked for one tool, as typed; an empty amount takes it away.
type ClaimAmount struct{ Number, Amount string }

// SetAmounts records what is asked for tools of an insurance claim: all or none.
func (s *Shop) SetAmounts(ctx context.Context, by By, id string, in []ClaimAmount) (ClaimView, error) {
	return s.onClaim(ctx, by, "claim amounts", id, in, func(a *claimAct) error {
		if len(in) == 0 {
			return fault.At("#/amounts", "no amount is given")
		}
		v, err := a.claimView(a.by, a.claim)
		if err != nil {
			return err
		}
		for _, one := range in {
			if err := a.amount(v, one); err != nil {
				return err
			}
		}
		return nil
	})
}

func (a *claimAct) amount(v ClaimView, in ClaimAmount) error {
	t, err := resolve(&a.tx.Rx, in.Number)
	if err != nil {
		return fault.At("#/amounts", "%s", fault.Of(err).Error())
	}
	at := slices.IndexFunc(v.Tools, func(x ClaimTool) bool { return x.Tool == t.ID })
	switch {
	case at < 0:
		return fault.At("#/amounts", "tool %s is not in claim %s", t.Number, a.claim.ID)
	case v.Tools[at].Hidden:
		return fault.New(fault.Forbidden, "what tool %s is worth is its owner's to show", t.Number).WithHint("they share it, or claim it on a policy of their own").WithFact("number", t.Number.String())
	}
	row, found, err := a.tx.ClaimLineForChange(a.claim.ID, t.ID)
	if err != nil {
		return err
	}
	if !found {
		row = claims.ClaimLine{Claim: a.claim.ID, Tool: t.ID, Line: v.Tools[at].Line}
		if row.ID, err = a.tx.NewID('Y'); err != nil {
			return err
		}
	}
	row.Amount, row.Currency, row.Entered, row.Person = nil, "", a.tx.Now(), a.by.Person
	if strings.TrimSpace(in.Amount) != "" {
		m, err := units.ParseMoney(in.Amount, a.settings.Currency)
		if err != nil {
			return fault.At("#/amounts", "%s: %s", t.Number, fault.Of(err).Error())
		}
		row.Amount, row.Currency = &m.Minor, a.settings.Currency
		if owner := a.byID[t.Owner]; t.Owner != "" && t.Owner != a.by.Person && !owner.Shares {
			a.said = append(a.said, "The amount for "+t.Number.String()+" stands on no paper of the claim until "+owner.Name+" shares what it is worth.")
		}
	}
	return store.Put(a.tx, &row)
}
