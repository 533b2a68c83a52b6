package page

import (
	"net/url"
	"slices"
	"strconv"

	"pawl/model"
	"pawl/model/claims"
	"pawl/model/fault"
	"pawl/model/people"
	"pawl/model/units"
)

func (p *Pages) claimRoutes() []Route {
	return []Route{
		post("/claims", p.openClaim),
		get("/claims/:id", p.claimPage), post("/claims/:id", p.editClaim),
		post("/claims/:id/fact", p.addClaimFact), post("/claims/:id/withdraw", p.withdrawClaimFact), post("/claims/:id/amount", p.setClaimAmount),
		get("/t/:number/claim", p.toolClaimPage), post("/t/:number/claim", p.toolClaim),
	}
}

// claimData is what the page of one claim shows.
type claimData struct {
	model.ClaimView
	Asked  string // what is asked, added up
	Unsaid int
	Rows   []claimRow
	Told   []toldFact
	Taken  []Option // those of them that may be taken back
	Parts  []Option // of what a payment may be
}

// claimRow is a tool of a claim with its amounts as text.
type claimRow struct {
	model.ClaimTool
	AmountText, OwedText string
}

// toldFact is a dated fact with its amount as text.
type toldFact struct {
	claims.Fact
	AmountText string
}

func amountText(minor *int64, currency string) string {
	if minor == nil {
		return ""
	}
	return units.Money{Minor: *minor, Currency: currency}.String()
}

func (p *Pages) claimData(a *Ask) (d claimData, is url.Values, err error) {
	if d.ClaimView, err = p.shop.Claim(a.R.Context(), a.By, a.Param("id")); err != nil {
		return d, nil, err
	}
	d.Advice = slices.DeleteFunc(d.Advice, func(text string) bool { return text == claims.Caution }) // it stands at the foot of the page
	sum, unsaid := d.Claimed()
	d.Asked, d.Unsaid = amountText(&sum, d.Currency), unsaid
	if d.Claim.Kind == claims.Insurance {
		d.Parts = append([]Option{{Label: p.say(a, "claim.paid.unsaid")}}, p.Options(a.language(), "claim.paid.", string(claims.PaidActualCash), string(claims.PaidRest), string(claims.PaidWhole))...)
	}
	for _, t := range d.Tools {
		d.Rows = append(d.Rows, claimRow{t, amountText(t.Amount, d.Currency), amountText(t.Owed, d.Currency)})
	}
	for _, f := range d.Facts {
		d.Told = append(d.Told, toldFact{f, amountText(f.Amount, f.Currency)})
		if f.Withdrawn == 0 {
			d.Taken = append(d.Taken, Option{Value: f.ID, Label: string(f.On) + " " + f.What, Chosen: a.Value("fact") == f.ID})
		}
	}
	if len(d.Taken) > 0 { // none is chosen beforehand: a fact that was taken back stays so
		d.Taken = slices.Insert(d.Taken, 0, Option{Label: p.say(a, "claim.choose-first")})
	}
	return d, url.Values{"rev": {strconv.FormatInt(d.Rev, 10)}, "insured": {d.Insured}, "contact": {d.Contact}, "policy_number": {d.PolicyNumber}, "claim_number": {d.ClaimNumber},
		"adjuster": {d.Adjuster}, "adjuster_at": {d.AdjusterAt}, "other_insurance": {d.OtherInsurance}, "proof_due": {string(d.ProofDue)}, "suit_due": {string(d.SuitDue)},
		"holdback_due": {string(d.HoldbackDue)}, "answer_due": {string(d.AnswerDue)}}, nil
}

func (p *Pages) claimPage(a *Ask) (Reply, error) {
	d, is, err := p.claimData(a)
	return Show("claim", d).WithForm(is), err
}

// claimDone leads back to the page of the claim, or shows it again with why not.
func (p *Pages) claimDone(a *Ask, err error, said string) (Reply, error) {
	if err == nil {
		return Go("/claims/"+a.Param("id"), p.say(a, said)), nil
	}
	d, is, failed := p.claimData(a)
	if failed != nil {
		return Reply{}, failed
	}
	for name, typed := range a.form { // what other forms hold stays
		is[name] = typed
	}
	a.form = is
	return a.Again("claim", d, err), nil
}

func (p *Pages) editClaim(a *Ask) (Reply, error) {
	rev, err := strconv.ParseInt(a.Value("rev"), 10, 64)
	if err != nil {
		return p.claimDone(a, fault.New(fault.Malformed, "%s", p.say(a, "loss.no-rev")), "")
	}
	_, err = p.shop.ChangeClaim(a.R.Context(), a.By, a.Param("id"), rev, claims.ClaimChange{Insured: a.typed("insured"), Contact: a.typed("contact"), PolicyNumber: a.typed("policy_number"),
		ClaimNumber: a.typed("claim_number"), Adjuster: a.typed("adjuster"), AdjusterAt: a.typed("adjuster_at"), OtherInsurance: a.typed("other_insurance"),
		ProofDue: a.typed("proof_due"), SuitDue: a.typed("suit_due"), HoldbackDue: a.typed("holdback_due"), AnswerDue: a.typed("answer_due")})
	return p.claimDone(a, err, "claim.kept")
}

func (p *Pages) addClaimFact(a *Ask) (Reply, error) {
	_, err := p.shop.AddFact(a.R.Context(), a.By, a.Param("id"), model.NewFact{On: a.Value("on"), What: a.Value("what"), Amount: a.Value("amount"), Payment: a.Value("payment")})
	return p.claimDone(a, err, "claim.fact-kept")
}

func (p *Pages) withdrawClaimFact(a *Ask) (Reply, error) {
	if a.Value("fact") == "" {
		return p.claimDone(a, fault.At("#/fact", "%s", p.say(a, "claim.choose-fact")), "")
	}
	_, err := p.shop.WithdrawFact(a.R.Context(), a.By, a.Param("id"), a.Value("fact"), a.Value("mistake"))
	return p.claimDone(a, renamed(err, "mistake", "#/why"), "claim.fact-withdrawn")
}

func (p *Pages) setClaimAmount(a *Ask) (Reply, error) {
	_, err := p.shop.SetAmounts(a.R.Context(), a.By, a.Param("id"), []model.ClaimAmount{{Number: a.Value("tool"), Amount: a.Value("asked")}})
	return p.claimDone(a, renamed(err, "asked", "#/amounts"), "claim.amount-kept")
}

// openClaim opens a claim on a policy, from the page of a loss.
func (p *Pages) openClaim(a *Ask) (Reply, error) {
	v, err := p.shop.OpenClaim(a.R.Context(), a.By, model.NewClaim{Kind: string(claims.Insurance), Loss: a.Value("loss"), Policy: a.Value("policy")})
	return Go("/claims/"+v.ID, p.say(a, "claim.opened")), err
}

// toolClaim is what the page shows on which a claim on one tool is opened.
type toolClaim struct {
	model.ToolView
	Kinds []Option
}

func (p *Pages) toolClaimData(a *Ask) (d toolClaim, err error) {
	d.ToolView, err = p.shop.Tool(a.R.Context(), a.By, a.Param("number"))
	if err == nil && !people.May(a.Me(), people.SeeMoney, objectOf(d.ToolView)) && !d.MoneyShown {
		err = fault.New(fault.Forbidden, "%s", p.say(a, "claim.not-yours"))
	}
	d.Kinds = p.Options(a.language(), "claim.about.", string(claims.Warranty), string(claims.Ownership))
	d.Kinds[0].Chosen = true
	return d, err
}

func (p *Pages) toolClaimPage(a *Ask) (Reply, error) {
	d, err := p.toolClaimData(a)
	switch {
	case strange(err):
		return p.strangeNumber(a)
	case fault.Is(err, fault.Forbidden):
		return Go(toolPath(d.Tool.Number), p.say(a, "claim.not-yours")), nil
	}
	return Show("toolclaim", d), err
}

func (p *Pages) toolClaim(a *Ask) (Reply, error) {
	in := model.NewClaim{Kind: a.Value("about"), Number: a.Param("number")}
	if in.Kind == string(claims.Warranty) {
		in.Fault, in.On = a.Value("fault"), a.Value("day")
	}
	v, err := p.shop.OpenClaim(a.R.Context(), a.By, in)
	if err != nil {
		d, failed := p.toolClaimData(a)
		if failed != nil {
			return Reply{}, failed
		}
		return a.Again("toolclaim", d, renamed(renamed(err, "day", "#/fault_on"), "about", "#/kind")), nil
	}
	return Go("/claims/"+v.ID, append([]string{p.say(a, "claim.opened")}, a.advised(v.Advice)...)...), nil
}
