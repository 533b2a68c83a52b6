package page

import (
	"net/url"
	"slices"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/calibration"
	"pawl/model/units"
)

// A tool calibration is typed in from its paper, or from the shop's own comparison.
func (p *Pages) compareRoutes() []Route {
	return []Route{
		get("/t/:number/calibrate", p.calibratePage),
		post("/t/:number/calibrate", p.calibrate),
		get("/t/:number/bench", p.benchPage),
		post("/t/:number/bench", p.bench),
		post("/t/:number/calibrate/withdraw", p.withdrawCalibration),
		post("/t/:number/bench/withdraw", p.withdrawBench),
		get("/t/:number/calibrations", p.calibrations),
		get("/t/:number/calibrations/:id", p.calibration),
	}
}

// Kinds of paper, as the form offers them.
const (
	paperCertificate = "certificate"
	paperClass       = "class"
	paperPass        = "pass"
	paperOwn         = "own"
)

// comparison is what the form of a tool calibration, or of a bench check, shows.
type comparison struct {
	model.ToolView
	Code                                string
	Must                                *calibration.Requirement // nil: nothing is recorded yet
	Like                                *calibration.Requirement // of another tool of its model
	Papers                              []Option
	Presets, Units, Rules               []Option
	Claims, Percents, Directions, Turns []Option
	Standards                           []Option
	Tables                              []pointTable
	Kept                                keptPaper
	Cautions                            []string
}

// keptPaper is a paper that was sent with a form that was refused.
type keptPaper struct{ SHA256, Name string }

// comparison gathers what a form shows, with what was typed.
func (p *Pages) comparison(a *Ask, typed url.Values) (d comparison, err error) {
	ctx, lang := a.R.Context(), a.language()
	if d.ToolView, err = p.toolToEdit(a); err != nil {
		return d, err
	}
	if err := calibration.Answers(d.Tool.Kind); err != nil {
		return d, err
	}
	d.Code = string(d.Tool.Number)
	record, err := p.shop.Calibrations(ctx, a.By, d.Code)
	if err != nil {
		return d, err
	}
	d.Must, d.Cautions = record.Requirement, record.Cautions
	if d.Must == nil {
		if d.Like, err = p.shop.RequirementLike(ctx, a.By, d.Code); err != nil {
			return d, err
		}
	}
	standards, err := p.shop.Standards(ctx, a.By, d.Code)
	d.Standards = []Option{{Label: words.Say(lang, "calibrate.standard-none")}}
	for _, s := range standards {
		d.Standards = append(d.Standards, Option{Value: s.Number, Label: s.Kind + " " + s.Number + ", " + s.Range})
	}
	q := d.proposal(typed.Get("preset"))
	d.choices(p, lang, q)
	d.Tables = pointTables(d.Must, q, typed)
	d.Kept = keptPaper{typed.Get("paper_sha"), typed.Get("paper_name")}
	return d, err
}

// proposal is what the tool must hold as far as that can be guessed: what is on
// record, what its like must hold, or what is usual for its kind.
func (d *comparison) proposal(typed string) calibration.Requirement {
	preset, _, err := calibration.FindPreset(typed)
	switch {
	case err == nil: // one was chosen
	case d.Must != nil:
		return *d.Must
	case d.Like != nil:
		return *d.Like
	default:
		preset = presetOf(d.Tool.Kind)
	}
	q := calibration.Requirement{Preset: preset.Name, Instrument: preset.Instrument, Class: preset.Class}
	if len(preset.Units) > 0 {
		q.Unit = preset.Units[0]
	}
	return q
}

func (d *comparison) choices(p *Pages, lang words.Language, q calibration.Requirement) {
	d.Papers = p.Options(lang, "calibrate.paper.", paperCertificate, paperClass, paperPass, paperOwn)
	d.Papers[0].Chosen = true
	if d.Must != nil {
		d.Presets = []Option{{Label: words.Say(lang, "calibrate.as-recorded"), Chosen: true}}
	}
	var seen []units.Unit
	for _, preset := range calibration.Presets() {
		d.Presets = append(d.Presets, Option{Value: preset.Name, Label: preset.Title, Chosen: d.Must == nil && preset.Name == q.Preset})
		for _, u := range preset.Units {
			if !slices.Contains(seen, u) {
				seen = append(seen, u)
				d.Units = append(d.Units, Option{Value: string(u), Label: u.Words(), Chosen: u == q.Unit})
			}
		}
	}
	d.Rules = append([]Option{{Label: words.Say(lang, "calibrate.rule.default")}}, p.Options(lang, "calibrate.rule.",
		string(calibration.SimpleRule), string(calibration.GuardedRule), string(calibration.FourZoneRule))...)
	d.Claims = append([]Option{{Label: words.Say(lang, "calibrate.claim.none")}}, p.Options(lang, "calibrate.claim.", "pass", "fail")...)
	d.Percents = []Option{{Label: words.Say(lang, "calibrate.percent.none")}}
	for _, m := range []calibration.Meaning{calibration.SetLessDeliveredOfDelivered, calibration.SetLessDeliveredOfSet, calibration.DeliveredLessSetOfSet, calibration.DeliveredLessSetOfDelivered} {
		d.Percents = append(d.Percents, Option{Value: string(m), Label: words.Say(lang, "calibrate.percent.of", m)})
	}
	if q.Instrument.Turns() {
		d.Directions = p.Options(lang, "calibrate.directions.", "both", "cw", "ccw")
		d.Turns = append([]Option{{Label: words.Say(lang, "calibrate.each-names")}}, p.Options(lang, "ready.direction.", "cw", "ccw")...)
	}
}
