package model

import (
	"context"
	"fmt"
	"slices"

	"pawl/model/fault"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/units"
	"pawl/model/worth"
)

// IfLost says what is supposed to be lost: the tools that belong in a place, those
// of a person, or everything.
type IfLost struct {
	Place, Person string
	Everything    bool
}

// LostPolicy is what one policy would bring.
type LostPolicy struct {
	Policy PolicyView
	Lost   WorthSum // what of it is lost
	worth.Estimate
	First    *worth.Estimate // what is paid before anything is replaced; nil: the same
	Holdback *int64          // at best, what follows once all is replaced and the receipts are shown; nil: nothing is held back
}

// LostView is an estimate from the figures entered.
type LostView struct {
	Currency   string
	Scope      string
	Lost       WorthSum
	Outside    int // tools of owners outside among them
	PaidHigh   int64
	PaidLow    *int64 // nil: it cannot be said
	UnpaidLow  int64
	UnpaidHigh *int64
	Policies   []LostPolicy
	Uncovered  WorthSum // what no policy is recorded as covering
	Words      string
	Said       []string
}

// IfLost gives what would be paid, and what not, if tools were lost. Each tool is
// reckoned under one policy: its owner's own before the shop's.
func (s *Shop) IfLost(ctx context.Context, by By, in IfLost) (v LostView, err error) {
	err = s.read(ctx, func(d *directory) error {
		scope, err := d.scope(in)
		if err != nil {
			return err
		}
		v = LostView{Currency: d.settings.Currency, Scope: scope.words}
		policies, err := d.policies(by)
		if err != nil {
			return err
		}
		slices.SortStableFunc(policies, func(a, b PolicyView) int { // a person's own first
			return map[bool]int{false: 0, true: 1}[a.Owner == ""] - map[bool]int{false: 0, true: 1}[b.Owner == ""]
		})
		l := losing{v: &v, scope: scope, policies: make([]LostPolicy, len(policies)), lost: make([][]WorthTool, len(policies))}
		for i, p := range policies {
			l.policies[i].Policy = p
		}
		values, err := d.valuer(by, WorthQuery{})
		if err != nil {
			return err
		}
		if err := values.each(ctx, func(_ []register.Tool, some []WorthTool) error {
			for _, w := range some {
				l.add(w)
			}
			return nil
		}); err != nil {
			return err
		}
		if l.other != nil {
			return l.other
		}
		l.reckon()
		return nil
	})
	return v, err
}

// lostScope says which tools are supposed to be lost.
type lostScope struct {
	words  string
	places []string
	owner  *string
}

func (d *directory) scope(in IfLost) (s lostScope, err error) {
	given := 0
	for _, g := range []bool{in.Place != "", in.Person != "", in.Everything} {
		if g {
			given++
		}
	}
	if given != 1 {
		return s, fault.New(fault.Invalid, "say what is supposed to be lost: a place, a person's tools or everything").
			WithHint("give one of --place, --person and --everything")
	}
	switch {
	case in.Place != "":
		p, err := d.places.Resolve(in.Place)
		if err != nil {
			return s, err
		}
		return lostScope{words: "what belongs in " + d.places.Path(p.ID), places: d.places.Under(p.ID)}, nil
	case in.Person != "":
		p, err := people.Match(d.people, in.Person)
		if err != nil {
			return s, err
		}
		return lostScope{words: "the tools of " + p.Name, owner: &p.ID}, nil
	}
	return lostScope{words: "everything"}, nil
}

func (s lostScope) has(t register.Tool) bool {
	return (s.places == nil || slices.Contains(s.places, t.Place)) && (s.owner == nil || t.Owner == *s.owner)
}

// losing gathers what each policy covers and what of it is lost.
type losing struct {
	v        *LostView
	scope    lostScope
	policies []LostPolicy
	lost     [][]WorthTool
	other    *fault.Error // a policy in another currency answers for some; nil: none does
}

func (l *losing) add(w WorthTool) {
	hit := l.scope.has(w.Tool)
	if w.Tool.FromOutside() {
		if hit {
			l.v.Outside++
		}
		return
	}
	if hit {
		l.v.Lost.add(w)
		l.foreign(w)
	}
	answered := false
	for i := range l.policies {
		p := &l.policies[i]
		if !p.Policy.Covers(w.Tool) {
			continue
		}
		p.Policy.Covered.add(w)
		if hit && !answered {
			p.Lost.add(w)
			if w.Value != nil {
				l.lost[i] = append(l.lost[i], w)
			}
			answered = true
		}
	}
	if hit && !answered {
		l.v.Uncovered.add(w)
	}
}

// foreign notes a policy in another currency that would answer for a lost tool: what it
// brings cannot be reckoned, and what the others bring is then no answer.
func (l *losing) foreign(w WorthTool) {
	for _, p := range l.policies {
		if p.Policy.Foreign && p.Policy.Covers(w.Tool) && l.other == nil {
			l.other = fault.New(fault.Invalid, "the policy %q is in %s, and the tools are in %s: what it would bring cannot be said", p.Policy.Name, p.Policy.Currency, l.v.Currency).
				WithHint("end it, and record it in %s: pawl worth policy end %q", l.v.Currency, p.Policy.Name)
		}
	}
}

// reckon works out every policy and adds up.
func (l *losing) reckon() {
	v := l.v
	low := int64(0)
	v.PaidLow = &low
	for i := range l.policies {
		p := &l.policies[i]
		p.Policy.stand()
		if p.Lost.Tools == 0 {
			continue
		}
		p.estimate(l.lost[i])
		v.PaidHigh += p.High
		if p.Low == nil || v.PaidLow == nil {
			v.PaidLow = nil
		} else {
			*v.PaidLow += *p.Low
		}
		v.Policies = append(v.Policies, *p)
	}
	// A policy may bring more than there is on one basis; never more than was lost.
	v.UnpaidLow = max(0, v.Lost.Replacement-v.PaidHigh)
	if v.PaidLow != nil {
		high := max(0, v.Lost.Replacement-*v.PaidLow)
		v.UnpaidHigh = &high
	}
	v.say()
}

func (p *LostPolicy) estimate(lost []WorthTool) {
	cost, cash := make([]worth.LostTool, len(lost)), make([]worth.LostTool, len(lost))
	for i, w := range lost {
		theirs := w.Tool.Owner != "" && p.Policy.Owner == ""
		cost[i], cash[i] = worth.LostTool{Value: w.Cost.Amount, Employee: theirs}, worth.LostTool{Value: w.Value.ActualCash, Employee: theirs}
	}
	all := p.Policy.worthOn()
	if p.Policy.Basis == worth.ByActualCash {
		p.Estimate = worth.Pay(p.Policy.Terms, cash, all)
	} else {
		p.Estimate = worth.Pay(p.Policy.Terms, cost, all)
		first := worth.Pay(p.Policy.Terms, cash, all)
		p.First = &first
		held := worth.SecondPayment(p.High, first.High, p.High)
		p.Holdback = &held
	}
	c := p.Policy.Covered
	if n := c.Unpriced + c.Hidden + c.Foreign; n > 0 && p.Policy.Terms.Coinsurance != nil && p.Policy.Terms.Coinsurance.Sign() > 0 {
		p.Low = nil
		if p.First != nil {
			p.First.Low = nil
		}
		p.Said = append(p.Said, fmt.Sprintf("%s that it covers %s in no figure here: the ratio is at best what the others give; unknown", units.Count(n, "tool"), isOrAre(n)))
	}
}

func isOrAre(n int) string {
	if n == 1 {
		return "stands"
	}
	return "stand"
}

// say puts the estimate into words.
func (v *LostView) say() {
	money := func(n int64) string { return units.Money{Minor: n, Currency: v.Currency}.String() }
	v.Words = fmt.Sprintf("If %s were lost: estimate from the figures entered, at best %s, not covered at least %s; the insurer decides.", v.Scope, money(v.PaidHigh), money(v.UnpaidLow))
	if v.Lost.Unpriced > 0 {
		v.Said = append(v.Said, units.Count(v.Lost.Unpriced, "tool")+" without a price: in none of these figures")
	}
	if v.Lost.Foreign > 0 {
		v.Said = append(v.Said, units.Count(v.Lost.Foreign, "tool")+" with a price in another currency: in none of these figures")
	}
	if v.Lost.Hidden > 0 {
		v.Said = append(v.Said, HiddenWords(v.Lost.Hidden))
	}
	if v.Outside > 0 {
		v.Said = append(v.Said, units.Count(v.Outside, "tool")+" of owners outside: which policy answers for them is not reckoned here")
	}
	if v.Uncovered.Tools > 0 {
		v.Said = append(v.Said, fmt.Sprintf("no policy on record that you may see covers the owner of %s, worth %s as far as priced", units.Count(v.Uncovered.Tools, "tool"), money(v.Uncovered.Replacement)))
	}
}

// HiddenWords says of how many tools the price is their owner's to show.
func HiddenWords(n int) string {
	return units.Count(n, "tool") + " of others whose prices are theirs to show: in none of these figures"
}
