package page

import (
	"bytes"
	"net/url"
	"strconv"
	"strings"

	"pawl/model"
	"pawl/model/fault"
	"pawl/model/worth"
)

func (p *Pages) worthEntryRoutes() []Route {
	return []Route{
		get("/t/:number/worth", p.toolWorth),
		post("/t/:number/worth", p.addQuote),
		post("/t/:number/worth/condition", p.judge),
		get("/worth/quotes", p.quotesPage),
		post("/worth/quotes", p.importQuotes),
		get("/worth/policy", p.newPolicy),
		post("/worth/policy", p.addPolicy),
		get("/worth/policy/:id", p.policyPage),
		post("/worth/policy/:id", p.editPolicy),
		post("/worth/policy/:id/end", p.endPolicy),
	}
}

// toolWorthData is what the page of what one tool is worth shows.
type toolWorthData struct {
	model.WorthOfTool
	Amount, Cash, Moved string // empty: not known
	Change              string // of the index, in percent
	Entered             []quoteRow
	Bases               []Option
}

type quoteRow struct {
	worth.Quote
	Text string
}

func (p *Pages) toolWorthData(a *Ask) (d toolWorthData, err error) {
	if d.WorthOfTool, err = p.shop.ToolWorth(a.R.Context(), a.By, a.Param("number")); err != nil {
		return d, err
	}
	d.Bases = p.Options(a.language(), "quote.basis.", worth.Replacement, string(worth.OfUsed))
	d.Bases[0].Chosen = true
	money := amounts(d.Currency)
	if d.Cost != nil {
		d.Amount, d.Cash = money(d.Cost.Amount), money(d.Value.ActualCash)
	}
	if m := d.WorthTool.Moved; m != nil {
		d.Moved, d.Change = money(m.Amount), strconv.FormatFloat(m.Percent(), 'f', 1, 64)
	}
	for _, q := range d.Quotes {
		row := quoteRow{Quote: q}
		if q.Amount != nil {
			row.Text = amounts(q.Currency)(*q.Amount)
		}
		d.Entered = append(d.Entered, row)
	}
	return d, nil
}

func (p *Pages) toolWorth(a *Ask) (Reply, error) {
	d, err := p.toolWorthData(a)
	values := url.Values{"date": {string(d.Today)}}
	if d.Value != nil && d.Value.Condition != nil {
		values.Set("share", d.Value.Condition.Share)
		values.Set("reason", d.Value.Condition.Reason)
	}
	return Show("toolworth", d).WithForm(values), err
}

func (p *Pages) addQuote(a *Ask) (Reply, error) {
	return p.valued(a, "toolworth.quoted", func(number string) (model.WorthTool, error) {
		return p.shop.AddQuote(a.R.Context(), a.By, number, worth.NewQuote{Amount: a.Value("amount"), Source: a.Value("source"), Date: a.Value("date"), Basis: a.Value("basis")})
	})
}

// judge records what the condition takes off; an empty form takes the judgement back.
func (p *Pages) judge(a *Ask) (Reply, error) {
	return p.valued(a, "toolworth.judged", func(number string) (model.WorthTool, error) {
		return p.shop.Judge(a.R.Context(), a.By, number, worth.NewCondition{Share: a.Value("share"), Reason: a.Value("reason")})
	})
}

func (p *Pages) valued(a *Ask, said string, act func(number string) (model.WorthTool, error)) (Reply, error) {
	w, err := act(a.Param("number"))
	if err != nil {
		d, failed := p.toolWorthData(a)
		if failed != nil {
			return Reply{}, failed
		}
		return a.Again("toolworth", d, err), nil
	}
	return Go(toolPath(w.Tool.Number, "worth"), p.say(a, said)), nil
}

// quotesData is what the page of quotes shows.
type quotesData struct{ Errors []fault.Field }

// quotesPage leads to a tool by its number, or takes a spreadsheet.
func (p *Pages) quotesPage(a *Ask) (Reply, error) {
	number := a.Query("number")
	if number == "" {
		return Show("quotes", quotesData{}), nil
	}
	v, err := p.shop.Tool(a.R.Context(), a.By, number)
	if err != nil {
		return Reply{page: "quotes", data: quotesData{}, err: fault.At("#/number", "%s", forScreen(fault.Of(err).Error())), form: formOf(a.R.URL.Query(), nil)}, nil
	}
	return Go(toolPath(v.Tool.Number, "worth")), nil
}

func (p *Pages) importQuotes(a *Ask) (Reply, error) {
	raw, _, err := a.spreadsheet()
	if err != nil {
		return a.Again("quotes", quotesData{}, err), nil
	}
	r, err := p.shop.ImportQuotes(a.R.Context(), a.By, bytes.NewReader(raw), false)
	if err != nil {
		d := quotesData{}
		if f := fault.Of(err); f != nil {
			d.Errors = f.Fields[:min(len(f.Fields), shownFaults)]
		}
		return a.Again("quotes", d, err), nil
	}
	return Go("/worth", p.say(a, "quotes.added", r.Added, r.Unchanged)), nil
}

// policyData is what the form of a policy shows.
type policyData struct {
	ID, Title, Action string // ID is empty of a new one
	OwnerName         string
	Own               bool // a person's: it covers no employees' tools
	Owners            []Option
	Bases, Covers     []Option
}

func (p *Pages) policyForm(a *Ask) policyData {
	lang := a.language()
	d := policyData{Title: p.say(a, "title.policy-new"), Action: "/worth/policy", Bases: p.Options(lang, "policy.basis.", string(worth.ByReplacement), string(worth.ByActualCash)),
		Covers: p.Options(lang, "policy.covers.", "no", "yes")}
	if a.leads() {
		d.Owners = append(d.Owners, Option{Value: "shop", Label: p.say(a, "policy.of-shop")})
	}
	if me := a.Me(); me.Person != "" {
		d.Owners = append(d.Owners, Option{Value: me.Name, Label: p.say(a, "policy.of-me", me.Name)})
	}
	return d
}

func (p *Pages) newPolicy(a *Ask) (Reply, error) {
	return Show("policy", p.policyForm(a)).WithForm(url.Values{"basis": {string(worth.ByReplacement)}, "employees": {"no"}}), nil
}

// typedPolicy is the form of a policy.
func (a *Ask) typedPolicy() worth.NewPolicy {
	return worth.NewPolicy{Name: a.Value("name"), Limit: a.Value("limit"), Deductible: a.Value("deductible"), Coinsurance: a.Value("coinsurance"), Basis: a.Value("basis"),
		OtherCovered: a.Value("other_covered_value"), Order: a.Value("order"), HoldbackDays: a.Value("holdback_days"), Employees: a.Value("employees") == "yes",
		Sublimits: sublimitLines(a.Value("sublimits"))}
}

// sublimitLines are NAME=AMOUNT, a line each.
func sublimitLines(text string) (out []string) {
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(line); line != "" {
			out = append(out, line)
		}
	}
	return out
}

func (p *Pages) addPolicy(a *Ask) (Reply, error) {
	v, err := p.shop.AddPolicy(a.R.Context(), a.By, model.NewPolicy{NewPolicy: a.typedPolicy(), Owner: a.Value("owner")})
	if err != nil {
		return a.Again("policy", p.policyForm(a), err), nil
	}
	return Go("/worth", p.say(a, "policy.added", v.Name)), nil
}

// policyValues are a policy as its form has it.
func policyValues(v model.PolicyView) (url.Values, error) {
	n, err := v.AsTyped()
	covers := "no"
	if n.Employees {
		covers = "yes"
	}
	return url.Values{"name": {n.Name}, "limit": {n.Limit}, "deductible": {n.Deductible}, "coinsurance": {n.Coinsurance}, "basis": {n.Basis}, "other_covered_value": {n.OtherCovered},
		"order": {n.Order}, "holdback_days": {n.HoldbackDays}, "employees": {covers}, "sublimits": {strings.Join(n.Sublimits, "\n")}}, err
}

func (p *Pages) policyOf(a *Ask) (d policyData, v model.PolicyView, is url.Values, err error) {
	if v, err = p.shop.Policy(a.R.Context(), a.By, a.Param("id")); err != nil {
		return d, v, nil, err
	}
	if v.Ended != 0 {
		return d, v, nil, fault.New(fault.NotFound, "the policy %q is no longer in force", v.Name)
	}
	d = p.policyForm(a)
	d.ID, d.Title, d.OwnerName, d.Own, d.Action = v.ID, v.Name, v.OwnerName, v.Owner != "", "/worth/policy/"+url.PathEscape(v.ID)
	is, err = policyValues(v)
	return d, v, is, err
}

func (p *Pages) policyPage(a *Ask) (Reply, error) {
	d, v, is, err := p.policyOf(a)
	if err != nil {
		return Reply{}, err
	}
	is.Set("rev", strconv.FormatInt(v.Rev, 10))
	return Show("policy", d).WithForm(is), nil
}

func (p *Pages) editPolicy(a *Ask) (Reply, error) {
	d, before, is, err := p.policyOf(a)
	if err != nil {
		return Reply{}, err
	}
	n := a.typedPolicy()
	c := model.PolicyChange{Name: &n.Name, Limit: &n.Limit, Deductible: &n.Deductible, Coinsurance: &n.Coinsurance, Basis: &n.Basis, OtherCovered: &n.OtherCovered, Order: &n.Order,
		HoldbackDays: &n.HoldbackDays, Sublimits: &n.Sublimits, Employees: &n.Employees}
	v, err := p.shop.EditPolicy(a.R.Context(), a.By, before.ID, a.rev(), c)
	if fault.Is(err, fault.Stale) {
		err = p.overtaken(a, is, before.Rev, p.say(a, "policy.stale"))
	}
	if err != nil {
		return a.Again("policy", d, err), nil
	}
	return Go("/worth", p.say(a, "policy.changed", v.Name)), nil
}

func (p *Pages) endPolicy(a *Ask) (Reply, error) {
	v, err := p.shop.EndPolicy(a.R.Context(), a.By, a.Param("id"))
	if err != nil {
		return Reply{}, err
	}
	return Go("/worth", p.say(a, "policy.ended", v.Name)), nil
}
