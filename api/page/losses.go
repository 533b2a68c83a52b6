package page

import (
	"net/url"
	"slices"
	"strconv"
	"strings"

	"pawl/model"
	"pawl/model/claims"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
)

func (p *Pages) lossRoutes() []Route {
	return []Route{
		get("/losses", p.lossesPage),
		get("/losses/start", p.startLossPage), post("/losses/start", p.startLoss),
		get("/losses/recovered", p.recoveredPage), post("/losses/recovered", p.recovered),
		get("/losses/:id", p.lossPage), post("/losses/:id/:act", p.lossAct),
		get("/losses/:id/tools/:number", p.lossToolPage), post("/losses/:id/tools/:number", p.lossTool),
	}
}

// lossPath is the page of a loss, and what lies below it.
func lossPath(id string, below ...string) string {
	return "/losses/" + strings.Join(append([]string{id}, below...), "/")
}

// lossRows are the rows on one page of losses and claims.
const lossRows = 50

// lossesData is what the list of losses shows.
type lossesData struct {
	Losses []model.LossView
	Claims []model.ClaimView
	More   string
}

func (p *Pages) lossesPage(a *Ask) (Reply, error) {
	all, next, err := p.shop.Losses(a.R.Context(), a.By, model.LossQuery{Limit: lossRows, Cursor: a.R.URL.Query().Get("cursor")})
	if err != nil {
		return Reply{}, err
	}
	d := lossesData{Losses: all}
	if next != "" {
		d.More = "/losses?cursor=" + url.QueryEscape(next)
	}
	d.Claims, _, err = p.shop.Claims(a.R.Context(), a.By, model.ClaimQuery{Limit: lossRows})
	return Show("losses", d), err
}

// lossStart is what the form offers on which a loss is reported.
type lossStart struct {
	Kinds, Places []Option
	Counts        bool // the asker may have what is left counted
}

func (p *Pages) lossStart(a *Ask) (d lossStart, err error) {
	for i, k := range claims.LossKinds {
		d.Kinds = append(d.Kinds, p.Options(a.language(), "loss.kind.", string(k))...)
		d.Kinds[i].Chosen = i == 0
	}
	if d.Counts = a.runs(); !d.Counts {
		return d, nil
	}
	places, err := p.shop.Places(a.R.Context(), a.By)
	d.Places = []Option{{Label: p.say(a, "loss.no-place")}}
	for _, one := range places {
		d.Places = append(d.Places, Option{Value: one.Path, Label: one.Path})
	}
	return d, err
}

func (p *Pages) startLossPage(a *Ask) (Reply, error) {
	d, err := p.lossStart(a)
	return Show("lossstart", d).WithForm(url.Values{"tools": {a.Query("tool")}}), err
}

func (p *Pages) startLoss(a *Ask) (Reply, error) {
	v, err := p.shop.StartLoss(a.R.Context(), a.By, model.StartLoss{Kind: a.Value("kind"), Found: a.Value("found"), Secure: a.Value("secure"),
		Where: a.Value("where"), Place: a.Value("place"), Tools: a.numbers("tools")})
	if err != nil {
		d, failed := p.lossStart(a)
		if failed != nil {
			return Reply{}, failed
		}
		return a.Again("lossstart", d, err), nil
	}
	return Go(lossPath(v.ID), p.say(a, "loss.started")), nil
}

// numbers are the tool numbers in a field, apart by blanks, commas or lines.
func (a *Ask) numbers(name string) []string {
	return strings.FieldsFunc(a.Value(name), func(r rune) bool { return r == ',' || r == ';' || r == ' ' || r == '\n' || r == '\r' || r == '\t' })
}

// lossData is what the page of one loss shows.
type lossData struct {
	model.LossView
	Mine     bool // something on it is the asker's to confirm
	Policies []Option
}

func (p *Pages) lossData(a *Ask) (d lossData, is url.Values, err error) {
	ctx := a.R.Context()
	if d.LossView, err = p.shop.Loss(ctx, a.By, a.Param("id")); err != nil {
		return d, nil, err
	}
	d.Mine = d.Unconfirmed() > 0
	policies, err := p.shop.Policies(ctx, a.By)
	for _, one := range policies {
		if !slices.ContainsFunc(d.Claims, func(c model.ClaimOfLoss) bool { return c.Policy == one.ID }) {
			d.Policies = append(d.Policies, Option{Value: one.ID, Label: one.Name, Chosen: len(d.Policies) == 0})
		}
	}
	if err != nil {
		return d, nil, err
	}
	is = url.Values{"rev": {strconv.FormatInt(d.Rev, 10)}, "where": {d.Spot}, "entered": {d.Entered}, "locks": {d.Locks}, "alarm": {d.Alarm}, "cameras": {d.Cameras},
		"keys": {d.Keys}, "closed": {d.Closed}, "opened": {d.Opened}, "agency": {d.Agency}, "report": {d.Report}, "officer": {d.Officer}, "reported": {string(d.Reported)}}
	if d.Secure != 0 {
		set, err := p.shop.Settings(ctx)
		if err != nil {
			return d, is, err
		}
		loc, err := set.Location()
		if err != nil {
			return d, is, err
		}
		is.Set("secure", d.Secure.Time().In(loc).Format("2006-01-02T15:04"))
	}
	return d, is, nil
}

func (p *Pages) lossPage(a *Ask) (Reply, error) {
	d, is, err := p.lossData(a)
	return Show("loss", d).WithForm(is), err
}

// lossActs are the forms of the page of a loss, by the last part of their address.
var lossActs = map[string]func(*Pages, *Ask, string) (model.LossView, error){
	"missing": func(p *Pages, a *Ask, id string) (model.LossView, error) {
		return p.shop.MissingFromCount(a.R.Context(), a.By, id)
	},
	"confirm": func(p *Pages, a *Ask, id string) (model.LossView, error) {
		return p.shop.ConfirmLoss(a.R.Context(), a.By, id, model.LossTools{})
	},
	"add": func(p *Pages, a *Ask, id string) (model.LossView, error) {
		v, err := p.shop.AddToLoss(a.R.Context(), a.By, id, model.LossTools{Numbers: a.numbers("numbers")})
		if f := fault.Of(err); f != nil && len(f.Fields) == 0 {
			err = at("numbers", err)
		}
		return v, err
	},
	"given": func(p *Pages, a *Ask, id string) (model.LossView, error) {
		return p.shop.GiveLossList(a.R.Context(), a.By, id)
	},
	"police": (*Pages).lossPolice,
	"told":   (*Pages).lossTold,
	"photo":  (*Pages).lossPhoto,
}

// typed is what was typed into a field; nil where the form had none.
func (a *Ask) typed(name string) *string {
	if !a.Has(name) {
		return nil
	}
	v := a.Value(name)
	return &v
}

func (p *Pages) lossPolice(a *Ask, id string) (model.LossView, error) {
	return p.shop.ReportLoss(a.R.Context(), a.By, id, model.PoliceReport{Agency: a.typed("agency"), Report: a.typed("report"), Officer: a.typed("officer"), Reported: a.typed("reported")})
}

func (p *Pages) lossTold(a *Ask, id string) (model.LossView, error) {
	rev, err := strconv.ParseInt(a.Value("rev"), 10, 64)
	if err != nil {
		return model.LossView{}, fault.New(fault.Malformed, "%s", p.say(a, "loss.no-rev"))
	}
	return p.shop.ChangeLoss(a.R.Context(), a.By, id, rev, model.LossChange{Secure: a.typed("secure"), LossChange: claims.LossChange{Where: a.typed("where"), Entered: a.typed("entered"),
		Locks: a.typed("locks"), Alarm: a.typed("alarm"), Cameras: a.typed("cameras"), Keys: a.typed("keys"), Closed: a.typed("closed"), Opened: a.typed("opened")}})
}

func (p *Pages) lossPhoto(a *Ask, id string) (v model.LossView, err error) {
	var sent []register.Attach
	for field, kind := range map[string]evidence.Kind{"entry": evidence.Damage, "paper": evidence.Police} {
		some, err := a.Originals(field, kind)
		if err != nil {
			return v, at(field, err)
		}
		sent = append(sent, some...)
	}
	if len(sent) == 0 {
		return v, fault.At("#/entry", "%s", p.say(a, "loss.no-photo"))
	}
	v, err = p.shop.AttachToLoss(a.R.Context(), a.By, id, sent)
	return v, renamed(err, "entry", "#/evidence")
}

// advised is advice as the asker reads it.
func (a *Ask) advised(advice []string) []string {
	out := onScreen(advice)
	for i := range out {
		out[i] = faultWords(a.language(), out[i])
	}
	return out
}

// lossAct answers a form of a loss's page: it leads back there and says what was done.
func (p *Pages) lossAct(a *Ask) (Reply, error) {
	act := a.Param("act")
	do, known := lossActs[act]
	if !known {
		return Reply{}, fault.New(fault.NotFound, "%s", p.say(a, "loss.no-act"))
	}
	v, err := do(p, a, a.Param("id"))
	if err != nil {
		d, is, failed := p.lossData(a)
		if failed != nil {
			return Reply{}, failed
		}
		for name, typed := range a.form { // what other forms hold stays
			is[name] = typed
		}
		a.form = is
		return a.Again("loss", d, err), nil
	}
	return Go(lossPath(v.ID), append([]string{p.say(a, "loss.did."+act)}, a.advised(v.Advice)...)...), nil
}

// lossToolData is what the page of one tool of a loss shows.
type lossToolData struct {
	model.LossView
	Line    model.LossLineView
	Settles bool // the asker may settle it
}

func (p *Pages) lossToolData(a *Ask) (d lossToolData, err error) {
	if d.LossView, err = p.shop.Loss(a.R.Context(), a.By, a.Param("id")); err != nil {
		return d, err
	}
	number, err := numbers.ParseNumber(a.Param("number"))
	if err != nil {
		return d, err
	}
	for _, l := range d.Lines { // the newest, where it was withdrawn and added again
		if l.Number == number {
			d.Line = l
		}
	}
	if d.Line.ID == "" {
		return d, fault.New(fault.NotFound, "%s", p.say(a, "loss.not-on-list", number.String()))
	}
	d.Settles = people.May(a.Me(), people.RunLoss, people.Object{}) || d.Line.Owner == a.Me().Name
	return d, nil
}

func (p *Pages) lossToolPage(a *Ask) (Reply, error) {
	d, err := p.lossToolData(a)
	return Show("losstool", d).WithForm(url.Values{"left": {d.Line.LeftBehind}, "condition": {d.Line.Condition}, "how": {d.Line.SeenHow}}), err
}

// lossTool answers the forms of one tool of a loss; act says which.
func (p *Pages) lossTool(a *Ask) (Reply, error) {
	var err error
	ctx, id, number, act := a.R.Context(), a.Param("id"), a.Param("number"), a.Value("act")
	var v model.LossView
	switch act {
	case "confirm":
		v, err = p.shop.ConfirmLoss(ctx, a.By, id, model.LossTools{Numbers: []string{number}})
	case "withdraw":
		v, err = p.shop.WithdrawFromLoss(ctx, a.By, id, model.WithdrawFromLoss{Number: number, Why: a.Value("why")})
	case "line":
		v, err = p.shop.ChangeLossLine(ctx, a.By, id, model.LossLineChange{Number: number, LeftBehind: a.typed("left"), Condition: a.typed("condition"), SeenHow: a.typed("how")})
		err = renamed(renamed(err, "left", "#/left_behind"), "how", "#/seen_how")
	default:
		err = fault.New(fault.Malformed, "%s", p.say(a, "loss.no-act"))
	}
	if err != nil {
		d, failed := p.lossToolData(a)
		if failed != nil {
			return Reply{}, failed
		}
		for name, value := range map[string]string{"left": d.Line.LeftBehind, "condition": d.Line.Condition, "how": d.Line.SeenHow} {
			if !a.Has(name) { // what other forms hold stays
				a.form.Set(name, value)
			}
		}
		return a.Again("losstool", d, err), nil
	}
	return Go(lossPath(v.ID), append([]string{p.say(a, "loss.tool-did."+act, number)}, a.advised(v.Advice)...)...), nil
}

// recoveredPage asks how it is known which tool came back.
func (p *Pages) recoveredPage(a *Ask) (Reply, error) {
	return Show("lossback", nil).WithForm(url.Values{"number": {a.Query("tool")}}), nil
}

func (p *Pages) recovered(a *Ask) (Reply, error) {
	v, err := p.shop.Recover(a.R.Context(), a.By, model.Recovered{Number: a.Value("number"), Serial: a.Value("serial"), Reading: a.Value("reading"), On: a.Value("on"),
		At: a.Value("at"), Condition: a.Value("condition")})
	if err != nil {
		return a.Again("lossback", nil, err), nil
	}
	return Go(lossPath(v.ID), append([]string{p.say(a, "loss.back")}, a.advised(v.Advice)...)...), nil
}

// toldField is one thing that is told, under the name of its field.
type toldField struct{ Name, Text string }

// LossFacts are what is told of a loss, in the order of its form.
func (v view) LossFacts(l model.LossView) []toldField {
	return []toldField{{"entered", l.Entered}, {"locks", l.Locks}, {"alarm", l.Alarm}, {"cameras", l.Cameras}, {"keys", l.Keys}, {"closed", l.Closed}, {"opened", l.Opened}}
}

// ClaimFacts are who has to do with a claim.
func (v view) ClaimFacts(c model.ClaimView) []toldField {
	return []toldField{{"insured", c.Insured}, {"contact", c.Contact}, {"policy_number", c.PolicyNumber}, {"claim_number", c.ClaimNumber}, {"adjuster", c.Adjuster},
		{"adjuster_at", c.AdjusterAt}, {"other_insurance", c.OtherInsurance}}
}
