package page

import (
	"bytes"
	"context"
	"html/template"
	"slices"
	"strconv"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/calibration"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/people"
	"pawl/model/register"
)

// pictured is a chart with its table, as a page holds them.
type pictured struct{ Chart, Table template.HTML }

// picture draws the chart of a calibration; empty where there is nothing to draw.
func picture(lang words.Language, v model.CalibrationsView, c calibration.Shown) (out pictured) {
	chart := v.Chart(c)
	var drawn, table bytes.Buffer
	if len(c.Points) == 0 || chart.Table(&table) != nil {
		return out
	}
	out.Table = template.HTML(table.String())
	if lang != words.English {
		chart.Say = func(english string) string { return ours(lang, "chart.", english) }
		chart.Title = chartTitle(lang, v, c)
	}
	if chart.SVG(&drawn) == nil {
		out.Chart = template.HTML(drawn.String())
	}
	return out
}

// chartTitle is what a chart is of.
func chartTitle(lang words.Language, v model.CalibrationsView, c calibration.Shown) string {
	verdict := word(lang, "calibration.verdict.", string(c.Verdict))
	if c.Withdrawn != 0 {
		verdict = words.Say(lang, "withdraw.is")
	}
	key := "chartof.calibration"
	if c.BenchCheck {
		key = "chartof.bench"
	}
	return words.Say(lang, key, v.Number, v.Kind, view{Lang: lang}.Day(c.On), verdict)
}

// measured is what the page of a tool that measures shows of its calibrations.
type measured struct {
	Code   string
	Must   *calibration.Requirement
	Last   *calibration.Shown // newest tool calibration
	Listed []calibration.Shown
	More   int
	Enters bool // may enter calibrations
	Asks   bool // the question is asked of it
	Stands bool // its newest calibration may have a sticker
	pictured
}

// mostListed is how many comparisons the page of a tool lists.
const mostListed = 3

// measured gathers it; nil for a tool that does not measure, and at a shop device.
func (p *Pages) measured(a *Ask, v model.ToolView) (*measured, error) {
	if a.Me().Role == people.ShopDevice || !register.Measures(v.Tool.Kind) {
		return nil, nil
	}
	record, err := p.shop.Calibrations(a.R.Context(), a.By, string(v.Tool.Number))
	if err != nil {
		return nil, err
	}
	d := &measured{Code: string(v.Tool.Number), Must: record.Requirement, Enters: mayCompare(v, a.Me()), Asks: v.Tool.Gone == 0 && calibration.Answers(v.Tool.Kind) == nil}
	d.Listed = record.Calibrations[:min(mostListed, len(record.Calibrations))]
	d.More = len(record.Calibrations) - len(d.Listed)
	if i := slices.IndexFunc(record.Calibrations, func(c calibration.Shown) bool { return !c.BenchCheck && c.Withdrawn == 0 }); i >= 0 {
		d.Last = &record.Calibrations[i]
		d.Stands = d.Last.Verdict == calibration.Passed && d.Last.Supports && v.Tool.Gone == 0
	}
	if i := slices.IndexFunc(record.Calibrations, func(c calibration.Shown) bool { return len(c.Points) > 0 && c.Withdrawn == 0 }); i >= 0 {
		d.pictured = picture(a.language(), record, record.Calibrations[i])
	}
	return d, nil
}

// calibrationData is what the page of one calibration, or of all, shows.
type calibrationData struct {
	model.ToolView
	Code     string
	Must     *calibration.Requirement
	All      []calibration.Shown
	One      *calibration.Shown
	Cautions []string
	pictured
}

func (p *Pages) calibrationData(a *Ask) (d calibrationData, record model.CalibrationsView, err error) {
	if d.ToolView, err = p.shop.Tool(a.R.Context(), a.By, a.Param("number")); err != nil {
		return d, record, err
	}
	if record, err = p.shop.Calibrations(a.R.Context(), a.By, a.Param("number")); err != nil {
		return d, record, err
	}
	d.Code, d.Must, d.All, d.Cautions = string(d.Tool.Number), record.Requirement, record.Calibrations, record.Cautions
	return d, record, nil
}

func (p *Pages) calibrations(a *Ask) (Reply, error) {
	d, _, err := p.calibrationData(a)
	if strange(err) {
		return p.strangeNumber(a)
	}
	return Show("calibrations", d), err
}

func (p *Pages) calibration(a *Ask) (Reply, error) {
	d, record, err := p.calibrationData(a)
	if strange(err) {
		return p.strangeNumber(a)
	}
	if err != nil {
		return Reply{}, err
	}
	if !d.find(a.language(), record, a.Param("id")) {
		return Reply{}, fault.New(fault.NotFound, "%s", p.say(a, "calibration.none", d.Tool.Number, a.Param("id")))
	}
	return Show("calibration", d), nil
}

// find settles which of them the page is of.
func (d *calibrationData) find(lang words.Language, record model.CalibrationsView, id string) bool {
	i := slices.IndexFunc(d.All, func(c calibration.Shown) bool { return c.ID == id })
	if i >= 0 {
		d.One, d.pictured = &d.All[i], picture(lang, record, d.All[i])
	}
	return i >= 0
}

// withdrawCalibration takes back a tool calibration that was entered by mistake.
func (p *Pages) withdrawCalibration(a *Ask) (Reply, error) {
	return p.withdrawResult(a, p.shop.WithdrawCalibration)
}

// withdrawBench takes back a bench check that was entered by mistake.
func (p *Pages) withdrawBench(a *Ask) (Reply, error) {
	return p.withdrawResult(a, p.shop.WithdrawBench)
}

func (p *Pages) withdrawResult(a *Ask, do func(ctx context.Context, by model.By, number, id, why string) (model.CalibrationView, error)) (Reply, error) {
	v, err := do(a.R.Context(), a.By, a.Param("number"), a.Value("id"), a.Value("why"))
	if err == nil {
		said := []string{p.say(a, "withdraw.done")}
		if v.DoNotUse != "" {
			said = append(said, p.say(a, "withdraw.still-marked"))
		}
		return Go(toolPath(v.Number, "calibrations", v.Calibration.ID), said...), nil
	}
	d, record, bad := p.calibrationData(a)
	if bad != nil || !d.find(a.language(), record, a.Value("id")) {
		return Reply{}, err
	}
	return a.Again("calibration", d, err), nil
}

// NextDue is the last day in date; empty: none.
func (d calibrationData) NextDue() dates.Date { return dayOf(d.One.NextDue) }

// LastDue is that of the newest tool calibration.
func (d *measured) LastDue() dates.Date {
	if d.Last == nil {
		return ""
	}
	return dayOf(d.Last.NextDue)
}

// Blocking are the doubts for which a calibration supports no yes.
func (d calibrationData) Blocking() (out []string) {
	for _, one := range d.One.Doubts {
		if one.Blocks {
			out = append(out, one.Text)
		}
	}
	return out
}

// Noted are the doubts that block nothing.
func (d calibrationData) Noted() (out []string) {
	for _, one := range d.One.Doubts {
		if !one.Blocks {
			out = append(out, one.Text)
		}
	}
	return out
}

// inDigits writes a figure with at most that many decimals.
func inDigits(f *float64, decimals int) string {
	if f == nil {
		return ""
	}
	return strconv.FormatFloat(*f, 'f', decimals, 64)
}
