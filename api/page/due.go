package page

import (
	"net/url"
	"strconv"
	"strings"
	"time"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/dates"
	"pawl/model/due"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/inspections"
	"pawl/model/numbers"
	"pawl/model/pattern"
	"pawl/model/people"
)

func (p *Pages) dueRoutes() []Route {
	return []Route{
		get("/due", p.duePage),
		get("/calendar", p.calendarPage), post("/calendar", p.addCalendar), post("/calendar/:id/revoke", p.revokeCalendar),
		get("/t/:number/inspections", p.inspectionsPage), post("/t/:number/inspections", p.inspect),
		post("/t/:number/inspections/again", p.inspectAgain),
	}
}

// dueData is what the page of what is due shows.
type dueData struct {
	model.DueView
	Sorts, People, Places, Within []Option
	More                          string // address of the next page; empty: this is the last
}

// dueRows are the rows on one page of what is due.
const dueRows = 50

// duePage lists what is due, by sort, person, place and how far ahead.
func (p *Pages) duePage(a *Ask) (Reply, error) {
	q := a.R.URL.Query()
	v := dueData{}
	if err := p.dueChoices(a, &v); err != nil {
		return Reply{}, err
	}
	in := model.DueQuery{Sort: a.Query("sort"), Person: a.Query("person"), Place: a.Query("place"), Limit: dueRows, Cursor: q.Get("cursor")}
	if days, err := strconv.Atoi(a.Query("within")); err == nil {
		in.Within = &days
	}
	var err error
	v.DueView, err = p.shop.Due(a.R.Context(), a.By, in)
	if v.Next != "" {
		q.Set("cursor", v.Next)
		v.More = "/due?" + q.Encode()
	}
	r := Show("due", v)
	r.form, r.err = formOf(q, nil), err
	return r, nil
}

func (p *Pages) dueChoices(a *Ask, v *dueData) error {
	lang := a.language()
	v.Sorts = []Option{{Label: words.Say(lang, "due.all-sorts")}}
	for _, s := range due.Sorts() {
		v.Sorts = append(v.Sorts, p.Options(lang, "due.sort.", string(s))...)
		v.Sorts[len(v.Sorts)-1].Value = string(s)
	}
	v.Within = append([]Option{{Label: words.Say(lang, "due.lead")}}, p.Options(lang, "due.within.", "0", "30", "60", "365", "1830")...)
	everybody, err := p.shop.People(a.R.Context(), a.By)
	if err != nil {
		return err
	}
	v.People = []Option{{Label: words.Say(lang, "due.anybody")}, {Value: "shop", Label: words.Say(lang, "due.shop")}}
	for _, one := range everybody {
		v.People = append(v.People, Option{Value: one.Name, Label: one.Name})
	}
	places, err := p.shop.Places(a.R.Context(), a.By)
	v.Places = []Option{{Label: words.Say(lang, "find.any")}}
	for _, pl := range places {
		v.Places = append(v.Places, Option{Value: pl.Path, Label: pl.Path})
	}
	return err
}

// DueWords says when something is due, and why where that is not plain.
func (v view) DueWords(r model.DueRow) string {
	count := words.Count(v.Lang, "due.left", r.Days)
	switch {
	case r.Days == 0 && r.Why == "" && r.Sort != due.Return && r.Sort != due.Recheck:
		count = words.Say(v.Lang, "due.today")
	case r.Days == 0: // what failed, happened or is in doubt has no good day any more
		count = words.Say(v.Lang, "due.now")
	case r.Days < 0:
		count = words.Count(v.Lang, "due.over", -r.Days)
	}
	text := words.Say(v.Lang, "due.row", v.CheckWords(r.What), v.Day(r.Day), count)
	if r.Sort == due.Return && r.Row.Person != "" {
		text += " · " + r.Row.Person
	}
	if r.Paid != "" {
		text += " · " + v.RuleWords(r.Paid)
	}
	if r.Why != "" {
		text += " · " + v.RuleWords(r.Why)
	}
	return text
}

// CheckWords is the name of a check, or of what else is due; the shop's own stay.
func (v view) CheckWords(name string) string {
	if whom, away := strings.CutPrefix(name, "back from "); away {
		return words.Say(v.Lang, "due.back-from", whom)
	}
	return word(v.Lang, "check.", name)
}

// EveryWords is the time from one inspection to the next.
func (v view) EveryWords(e inspections.Every) string {
	switch {
	case e.Days == 7:
		return words.Say(v.Lang, "every.week")
	case e.Days > 0:
		return words.Count(v.Lang, "every.days", e.Days)
	case e.Months == 1:
		return words.Say(v.Lang, "every.month")
	case e.Months > 0:
		return words.Say(v.Lang, "every.months", e.Months)
	}
	return words.Say(v.Lang, "every.tag")
}

// RuleWords is what the rules say, with its days in words.
func (v view) RuleWords(text string) string {
	return dayInText().ReplaceAllStringFunc(faultWords(v.Lang, text), func(d string) string { return v.Day(dates.Date(d)) })
}

var dayInText = pattern.Late(`\b\d{4}-\d\d-\d\d\b`)

// calendars is what the page of the calendar shows. Link, Side and Code are there
// only when an address was just made.
type calendars struct {
	Feeds []model.FeedView
	Whose []Option
	Made  string // its name
	Link  string
	Side  int
	Code  string
}

func (p *Pages) calendars(a *Ask) (v calendars, err error) {
	all, err := p.shop.Feeds(a.R.Context(), a.By)
	for _, f := range all {
		if f.Revoked == 0 {
			v.Feeds = append(v.Feeds, f)
		}
	}
	if me := a.Me(); me.Person != "" {
		v.Whose = append(v.Whose, Option{Value: me.Name, Label: words.Say(a.language(), "calendar.mine"), Chosen: true})
	}
	if a.leads() {
		v.Whose = append(v.Whose, Option{Value: "shop", Label: words.Say(a.language(), "calendar.shops"), Chosen: a.Me().Person == ""})
	}
	return v, err
}

func (p *Pages) calendarPage(a *Ask) (Reply, error) {
	v, err := p.calendars(a)
	return Show("calendar", v), err
}

// addCalendar shows the address that it made. It is kept nowhere: to see one again
// is to make another.
func (p *Pages) addCalendar(a *Ask) (Reply, error) {
	made, err := p.shop.AddFeed(a.R.Context(), a.By, model.NewFeed{Name: a.Value("name"), For: a.Value("whose")})
	v, failed := p.calendars(a)
	switch {
	case failed != nil:
		return Reply{}, failed
	case err != nil:
		return a.Again("calendar", v, err), nil
	case made.Secret == "":
		return Go("/calendar", p.say(a, "calendar.once")), nil
	}
	v.Made = made.Name
	if v.Link, err = p.door.Calendar(a.R, made.Secret); err != nil {
		return Reply{}, err
	}
	v.Code, v.Side, err = drawCode(v.Link)
	return Show("calendar", v), err
}

func (p *Pages) revokeCalendar(a *Ask) (Reply, error) {
	gone, err := p.shop.RevokeFeed(a.R.Context(), a.By, a.Param("id"))
	return Go("/calendar", p.say(a, "calendar.revoked", gone.Name)), err
}

// inspecting is what the page of a tool's inspections shows.
type inspecting struct {
	model.ToolView
	model.InspectionsView
	Names, Asked, Results, Strict []Option
	Gloves                        bool
	Today                         string
}

// Number is the tool's.
func (v inspecting) Number() numbers.Number { return v.ToolView.Tool.Number }

// otherCheck stands for a check that is named beside the choice.
const otherCheck = "other"

func (p *Pages) inspecting(a *Ask) (v inspecting, err error) {
	if v.ToolView, err = p.shop.Tool(a.R.Context(), a.By, a.Param("number")); err != nil {
		return v, err
	}
	if v.InspectionsView, err = p.shop.Inspections(a.R.Context(), a.By, a.Param("number")); err != nil {
		return v, err
	}
	lang := a.language()
	for i, c := range v.Checks {
		one := Option{Value: c.Name, Label: word(lang, "check.", c.Name), Hint: c.Does, Chosen: i == 0 && len(v.Checks) == 1}
		v.Names = append(v.Names, one)
		one.Hint = ""
		v.Asked = append(v.Asked, one)
		v.Gloves = v.Gloves || c.Gloves
	}
	v.Names = append(v.Names, Option{Value: otherCheck, Label: words.Say(lang, "inspect.other"), Chosen: len(v.Checks) == 0})
	v.Results = p.Options(lang, "inspect.result.", string(inspections.Passed), string(inspections.Failed))
	v.Strict = p.Options(lang, "inspect.strict.", "no", "yes")
	v.Today = string(v.InspectionsView.Today)
	return v, nil
}

// Over says whether a check is overdue.
func (v inspecting) Over(c inspections.Standing) bool {
	return c.Overdue(v.InspectionsView.Today)
}

func (p *Pages) inspectionsPage(a *Ask) (Reply, error) {
	v, err := p.inspecting(a)
	if strange(err) {
		return p.strangeNumber(a)
	}
	return Show("inspections", v).WithForm(url.Values{"on": {v.Today}}), err
}

// inspect records what was done, with its paper.
func (p *Pages) inspect(a *Ask) (Reply, error) {
	v, err := p.inspecting(a)
	if err != nil {
		return Reply{}, err
	}
	in := model.Inspect{Check: a.Value("check"), Result: a.Value("result"), By: a.Value("by"), On: a.Value("on"), Note: a.Value("note"), Next: a.Value("next")}
	if in.Check == otherCheck || in.Check == "" {
		in.Check = a.Value("own")
	}
	if in.On == v.Today { // said of now: its hour is known
		in.On = ""
	}
	if in.Plan, err = a.inspectionPlan(); err == nil {
		in.Evidence, err = a.Originals("paper", evidence.Certificate)
	}
	if err == nil && in.Result == "" {
		err = fault.At("#/result", "%s", p.say(a, "inspect.say-result"))
	}
	var done model.InspectionsView
	if err == nil {
		done, err = p.shop.Inspect(a.R.Context(), a.By, a.Param("number"), in)
	}
	if err != nil {
		return a.Again("inspections", v, err), nil
	}
	said := []string{p.say(a, "inspect.done", word(a.language(), "check.", in.Check))}
	for _, text := range done.Advice {
		said = append(said, forScreen(text))
	}
	return Go(toolPath(done.Number, "inspections"), said...), nil
}

// inspectAgain asks for a check because of what happened.
func (p *Pages) inspectAgain(a *Ask) (Reply, error) {
	v, err := p.inspecting(a)
	if err != nil {
		return Reply{}, err
	}
	why := a.Value("again")
	if why == "" {
		return a.Again("inspections", v, fault.At("#/again", "%s", p.say(a, "inspect.say-again"))), nil
	}
	done, err := p.shop.Inspect(a.R.Context(), a.By, a.Param("number"), model.Inspect{Check: a.Value("asked"), Plan: &model.InspectionPlan{Again: &why}})
	if err != nil {
		return a.Again("inspections", v, err), nil
	}
	return Go(toolPath(done.Number, "inspections"), p.say(a, "inspect.again-done", word(a.language(), "check.", a.Value("asked")))), nil
}

// inspectionPlan is what the form says of how the check is held; nil: nothing.
func (a *Ask) inspectionPlan() (*model.InspectionPlan, error) {
	p, said := model.InspectionPlan{}, false
	if text := a.Value("months"); text != "" && a.Value("check") == otherCheck {
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 {
			return nil, fault.At("#/months", "%q is not a number of months", text)
		}
		p.Months, said = &n, true
	}
	if day := a.Value("first_issued"); day != "" {
		if _, err := time.Parse(time.DateOnly, day); err != nil {
			return nil, fault.At("#/first_issued", "%q is not a day", day)
		}
		p.FirstIssued, said = &day, true
	}
	if strict := a.Value("strict"); strict != "" && people.May(a.Me(), people.ShopActs, people.Object{}) {
		yes := strict == "yes"
		p.Strict, said = &yes, true
	}
	if !said {
		return nil, nil
	}
	return &p, nil
}
