package page

import (
	"net/url"
	"slices"
	"strings"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/calibration"
	"pawl/model/evidence"
	"pawl/model/fault"
)

func (p *Pages) recheckRoutes() []Route {
	return []Route{
		get("/t/:number/recheck", p.recheck),
		get("/t/:number/recheck/:line", p.settlePage), post("/t/:number/recheck/:line", p.settle),
	}
}

// recheckData is what the list of work in doubt shows.
type recheckData struct {
	model.RecheckView
	NotKnown string // in the asker's language, as Whys are
	Times    []recheckTime
	Rows     []recheckLine
	PDF      string
	CSV      string
}

// recheckTime is a time in doubt with its reasons.
type recheckTime struct {
	model.RecheckSpan
	Reasons []doubtText
}

// recheckLine is one line with its words.
type recheckLine struct {
	model.RecheckRow
	Measured bool
	Verdict  string // in the asker's language, as Because is
	Because  string
	To       string // where it is settled; empty: it is, or need not be
	Settled  string
}

// recheck shows what is not known, and then the work in doubt, worst first.
func (p *Pages) recheck(a *Ask) (Reply, error) {
	v, err := p.shop.Recheck(a.R.Context(), a.By, a.Param("number"))
	if strange(err) {
		return p.strangeNumber(a)
	}
	file := "/api/v1/tools/" + string(v.Number) + "/recheck?format="
	d := recheckData{RecheckView: v, PDF: file + "pdf", CSV: file + "csv"}
	clock := p.clockOf(a)
	d.NotKnown = clock.daysInWords(unknownSaid(clock.Lang, v))
	for _, span := range v.Spans {
		at := recheckTime{RecheckSpan: span}
		for _, why := range span.Whys {
			reason := doubtSaid(clock.Lang, why)
			reason.Said = clock.daysInWords(reason.Said)
			at.Reasons = append(at.Reasons, reason)
		}
		d.Times = append(d.Times, at)
	}
	for _, row := range v.Lines {
		d.Rows = append(d.Rows, recheckRow(clock, v, row))
	}
	return Show("recheck", d), err
}

func recheckRow(clock view, v model.RecheckView, row model.RecheckRow) recheckLine {
	l := recheckLine{RecheckRow: row, Because: clock.daysInWords(doubtsSaid(clock.Lang, row.Why)), Measured: row.What == string(calibration.UsedToMeasure),
		Verdict: words.Say(clock.Lang, "recheck.verdict."+strings.ReplaceAll(string(row.Verdict), " ", "-"))}
	if row.Settled != nil {
		l.Settled = row.Settled.Words(v.Shop)
	} else if row.Open {
		l.To = toolPath(v.Number, "recheck", row.ID)
	}
	return l
}

// doubted counts the lines of a tool that are open.
func (p *Pages) doubted(a *Ask, tool string) (int, error) {
	all, err := p.shop.UnsettledRechecks(a.R.Context(), a.By)
	if i := slices.IndexFunc(all, func(u model.UnsettledRecheck) bool { return u.ToolID == tool }); i >= 0 {
		return all[i].Lines, err
	}
	return 0, err
}

// settleData is what the page shows on which a line is settled.
type settleData struct {
	model.RecheckView
	Line recheckLine
	Hows []Option
}

func (p *Pages) settleData(a *Ask) (d settleData, err error) {
	if d.RecheckView, err = p.shop.Recheck(a.R.Context(), a.By, a.Param("number")); err != nil {
		return d, err
	}
	i := slices.IndexFunc(d.Lines, func(r model.RecheckRow) bool { return strings.EqualFold(r.ID, a.Param("line")) })
	if i < 0 {
		return d, fault.New(fault.NotFound, "%s", p.say(a, "recheck.no-line", a.Param("line")))
	}
	d.Line = recheckRow(p.clockOf(a), d.RecheckView, d.Lines[i])
	for _, how := range calibration.Settlements {
		d.Hows = append(d.Hows, p.Options(a.language(), "recheck.how.", string(how))...)
	}
	return d, nil
}

func (p *Pages) settlePage(a *Ask) (Reply, error) {
	d, err := p.settleData(a)
	if err == nil && d.Line.To == "" {
		return Go(toolPath(d.Number, "recheck"), p.say(a, "recheck.nothing-to-settle", d.Line.ID)), nil
	}
	return Show("settle", d).WithForm(url.Values{}), err
}

// settle records what was done about a line.
func (p *Pages) settle(a *Ask) (Reply, error) {
	photos, err := a.Originals("shows", evidence.Other)
	if err == nil {
		in := model.SettleRecheck{Done: a.Value("done"), How: a.Value("how"), Tool: a.Value("tool"), Evidence: photos}
		if in.How == "" {
			err = fault.At("#/how", "%s", p.say(a, "recheck.say-how"))
		} else {
			var done model.RecheckDone
			if done, err = p.shop.SettleRecheck(a.R.Context(), a.By, a.Param("line"), in); err == nil {
				said := []string{p.say(a, "recheck.settled", done.ID, done.Left)}
				for _, text := range done.Advice {
					said = append(said, forScreen(text))
				}
				return Go(toolPath(done.Number, "recheck"), said...), nil
			}
		}
	}
	d, not := p.settleData(a)
	if not != nil {
		return Reply{}, not
	}
	return a.Again("settle", d, err), nil
}
