package page

import (
	"cmp"
	"context"
	"net/url"
	"strconv"
	"strings"

	"pawl/model"
	"pawl/model/calibration"
	"pawl/model/fault"
	"pawl/model/people"
	"pawl/model/units"
)

// What a tool was used for on a job: a torque applied, a value measured. The
// question is asked again when it is written down.
func (p *Pages) useRoutes() []Route {
	return []Route{
		post("/t/:number/tighten", p.tighten),
		get("/t/:number/measure", p.measurePage),
		post("/t/:number/measure", p.measure),
		post("/t/:number/tighten/withdraw", p.withdrawTightening),
		post("/t/:number/measure/withdraw", p.withdrawMeasurement),
		get("/uses", p.uses),
		post("/uses/:id/sign", p.signUse),
	}
}

// useOf is a use as typed, with the question that it answers.
func (a *Ask) useOf() model.Use {
	return model.Use{Ask: askOf(a.form), Job: a.Value("job"), Happened: a.Value("happened"), NotSafetyWhy: a.Value("not_safety_why"), Redoes: a.Value("redoes")}
}

func (p *Pages) tighten(a *Ask) (Reply, error) {
	in := a.useOf()
	in.Name = a.Value("fastener")
	count, err := strconv.ParseInt(cmp.Or(a.Value("count"), "1"), 10, 64)
	if err != nil {
		return p.useRefused(a, fault.At("#/count", "%s", p.say(a, "use.no-count", a.Value("count"))))
	}
	in.Count = count
	v, err := p.shop.Tighten(a.R.Context(), a.By, a.Param("number"), in)
	if err != nil {
		return p.useRefused(a, err)
	}
	return p.used(a, v), nil
}

// useRefused shows the answer as it is now, with what was typed beside it.
func (p *Pages) useRefused(a *Ask, err error) (Reply, error) {
	d, bad := p.asking(a, a.form)
	if bad != nil {
		return Reply{}, err
	}
	err = refield(err, askRenamed)
	if p.answer(a, &d, a.form) != nil {
		return a.Again("ready", d, err), nil
	}
	return a.Again("readyanswer", d, err), nil
}

// used tells what was written down, and leads to what else is on record of the job.
func (p *Pages) used(a *Ask, v model.UseView) Reply {
	a.rememberJob(v.Job)
	to := "/uses?" + url.Values{"job": {v.Job}}.Encode()
	if a.By.Replayed != nil && *a.By.Replayed {
		return Go(to, p.say(a, "use.repeated"))
	}
	said := []string{p.say(a, "use.recorded."+v.What, v.Job, v.Name, v.Target.Words(), v.Number, v.Count)}
	if v.Outcome != "" {
		said = append(said, p.say(a, "use.outcome."+strings.ReplaceAll(string(v.Outcome), " ", "-")))
	}
	if v.Unconfirmed {
		said = append(said, p.say(a, "use.unconfirmed"))
	}
	if v.Holds {
		said = append(said, p.say(a, "use.holds", v.Job)+" "+p.say(a, "use.settle."+verdictKey(v.Verdict)))
	}
	return Go(to, append(said, p.openedJob(a, v.NewJob)...)...)
}

func (p *Pages) measurePage(a *Ask) (Reply, error) {
	typed := a.R.URL.Query()
	d, err := p.asking(a, typed)
	if strange(err) {
		return p.strangeNumber(a)
	}
	return Show("measure", d).WithForm(p.useValues(a, d.ToolView, typed)), err
}

func (p *Pages) measure(a *Ask) (Reply, error) {
	in := a.useOf()
	in.Name = a.Value("what")
	v, err := p.shop.Measure(a.R.Context(), a.By, a.Param("number"), in)
	if err == nil {
		return p.used(a, v), nil
	}
	d, bad := p.asking(a, a.form)
	if bad != nil {
		return Reply{}, err
	}
	return a.Again("measure", d, refield(err, askRenamed)), nil
}

// usesData is what the page of a job's tightenings and measurements shows.
type usesData struct {
	Job      string
	Safety   string
	Uses     []useRow
	Holding  int
	Signs    bool
	Cautions []string
	CSV      string
}

// useRow is one of them, and the address of the question that does it again.
type useRow struct {
	model.UseView
	Again    string
	Signable bool
}

func (p *Pages) uses(a *Ask) (Reply, error) {
	number := a.Query("job")
	if number == "" {
		return Show("uses", usesData{}).WithForm(a.R.URL.Query()), nil
	}
	d, err := p.usesData(a, number)
	if fault.Is(err, fault.NotFound) {
		r := Show("uses", usesData{})
		err = at("job", err)
		r.form, r.err = formOf(a.R.URL.Query(), err), err
		return r, nil
	}
	r := Show("uses", d)
	r.title = p.say(a, "uses.head", d.Job)
	return r, err
}

func (p *Pages) usesData(a *Ask, number string) (d usesData, err error) {
	job, err := p.shop.Job(a.R.Context(), a.By, number)
	if err != nil {
		return d, err
	}
	d = usesData{Job: job.Number, Safety: string(job.Safety), Signs: people.May(a.Me(), people.ShopActs, people.Object{}),
		Cautions: calibration.Cautions(calibration.HazardTorque, calibration.HazardDate), CSV: "/api/v1/jobs/" + url.PathEscape(job.Number) + "/uses?format=csv"}
	all, err := p.shop.UsesOn(a.R.Context(), a.By, job.Number)
	for _, v := range all {
		row := useRow{UseView: v, Again: againOf(v), Signable: d.Signs && v.Holds && v.Verdict == calibration.CannotConfirm}
		if v.Holds {
			d.Holding++
		}
		d.Uses = append(d.Uses, row)
	}
	return d, err
}

// Withdraws is the address at which it is taken back.
func (u useRow) Withdraws() string {
	verb := "tighten"
	if u.What == string(calibration.UsedToMeasure) {
		verb = "measure"
	}
	return "/t/" + strings.ReplaceAll(u.Number, "-", "") + "/" + verb + "/withdraw"
}

// againOf is the question to ask before something is done again.
func againOf(v model.UseView) string {
	fields := [][2]string{{"target", v.Target.Value}, {"unit", string(v.Target.Unit)}, {"direction", string(v.Direction)},
		{"job", v.Job}, {"redoes", v.ID}}
	if l, err := calibration.ParseLimits(v.Limits, v.Target.Unit); err == nil && !l.IsZero() {
		fields = append(fields, [2]string{"low", bare(l.Low, v.Target.Unit)}, [2]string{"high", bare(l.High, v.Target.Unit)})
	}
	if v.What == string(calibration.UsedToMeasure) {
		return "/t/" + strings.ReplaceAll(v.Number, "-", "") + "/measure?" + query(append(fields, [2]string{"what", v.Name})[3:])
	}
	fields = append(fields, [2]string{"fastener", v.Name}, [2]string{"count", strconv.FormatInt(v.Count, 10)})
	return "/t/" + strings.ReplaceAll(v.Number, "-", "") + "/ready?" + query(fields)
}

// bare is a value without the unit that stands beside it anyhow.
func bare(q units.Quantity, unit units.Unit) string {
	if q.Unit == unit {
		return q.Value
	}
	return q.String()
}

func (p *Pages) signUse(a *Ask) (Reply, error) {
	v, err := p.shop.SignUse(a.R.Context(), a.By, a.Param("id"), a.Value("why"))
	if err == nil {
		return Go("/uses?"+url.Values{"job": {v.Job}}.Encode(), p.say(a, "use.signed")), nil
	}
	d, bad := p.usesData(a, a.Value("job"))
	if bad != nil {
		return Reply{}, err
	}
	return a.Again("uses", d, err), nil
}

// withdrawTightening takes back a tightening that was entered by mistake.
func (p *Pages) withdrawTightening(a *Ask) (Reply, error) {
	return p.withdrawUse(a, p.shop.WithdrawTightening)
}

// withdrawMeasurement takes back a measurement that was entered by mistake.
func (p *Pages) withdrawMeasurement(a *Ask) (Reply, error) {
	return p.withdrawUse(a, p.shop.WithdrawMeasurement)
}

func (p *Pages) withdrawUse(a *Ask, do func(ctx context.Context, by model.By, number, id, why string) (model.UseView, error)) (Reply, error) {
	v, err := do(a.R.Context(), a.By, a.Param("number"), a.Value("id"), a.Value("why"))
	if err == nil {
		said := []string{p.say(a, "withdraw.done")}
		if v.Words != "" {
			said = append(said, p.say(a, "withdraw.open-again"))
		}
		return Go("/uses?"+url.Values{"job": {v.Job}}.Encode(), said...), nil
	}
	d, bad := p.usesData(a, a.Value("job"))
	if bad != nil {
		return Reply{}, err
	}
	return a.Again("uses", d, err), nil
}
