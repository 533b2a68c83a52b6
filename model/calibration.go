package model

import (
	"context"
	"encoding/json"
	"math"
	"reflect"
	"slices"
	"strings"

	"pawl/model/calibration"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/numbers"
	"pawl/model/pattern"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/units"
)

// Calibrate is a tool calibration as typed. Readings are LEFT=RIGHT, what the tool
// was set to or showed and what the reference showed; File is the text of a file of
// them. Without any of what makes a calibration, only the requirement is recorded.
type Calibrate struct {
	Requirement *Requirement

	On, Happened, By, CertificateNumber                 string
	Standard                                            string // number of a tool here, or what it is
	StandardUncertainty, StandardRange, StandardBias    string // where it is not a tool here, or its paper says otherwise
	StandardCalibrated, StandardDue                     string
	Direction, AsFound, AsLeft, File                    string
	Percents                                            string // what the right-hand values are percents of; empty: they are readings
	Adjusted, OnlyUncertainty                           bool
	Uncertainty, Temperature, Humidity                  string
	Claim, DeclaredClass, DeclaredRange, DeclaredLimits string
	DeclaredDirections                                  string
	DeclaredPoints                                      int
	Evidence                                            []register.Attach
}

// Bench is a bench check as typed: a comparison in the shop, against a standard.
type Bench struct {
	On, Happened, Standard, Direction string
	At                                []string // readings, a point or more each
	Temperature, Humidity             string
	StandardUncertainty, StandardBias string
}

// CalibrationView is what a calibration or bench check left behind: the tool, what
// it must hold, and what follows; Calibration is nil where only the requirement was
// recorded.
type CalibrationView struct {
	Tool        string
	Number      numbers.Number
	Kind        string
	Requirement calibration.Requirement
	Calibration *calibration.Shown
	DoNotUse    string
	Advice      []string
	Cautions    []string
}

// Calibrate records what a tool must hold, a tool calibration, or both.
func (s *Shop) Calibrate(ctx context.Context, by By, number string, in Calibrate) (CalibrationView, error) {
	return act(ctx, s, by, "calibrate", []any{number, in}, func(tx *store.Tx) (CalibrationView, error) {
		if in.onlyRequirement() {
			if err := in.nothingLeftOut(); err != nil {
				return CalibrationView{}, err
			}
		}
		h, q, err := s.toCalibrate(tx, by, number, in.Requirement)
		if err != nil || in.onlyRequirement() {
			return h.calibrationView(q, nil), err
		}
		c := comparing{hand: h, q: q}
		if err := c.read(in); err != nil {
			return CalibrationView{}, err
		}
		if c.row.Paper, err = s.attachPaper(tx, by, h, in.Evidence); err != nil {
			return CalibrationView{}, err
		}
		return c.record()
	})
}

// Bench records a bench check.
func (s *Shop) Bench(ctx context.Context, by By, number string, in Bench) (CalibrationView, error) {
	return act(ctx, s, by, "bench", []any{number, in}, func(tx *store.Tx) (CalibrationView, error) {
		h, q, err := s.toCalibrate(tx, by, number, nil)
		if err != nil {
			return CalibrationView{}, err
		}
		if in.Standard == "" {
			return CalibrationView{}, fault.At("#/standard", "a bench check is made against a standard").WithHint("name it by its number: --standard 00F-LN6")
		}
		c := comparing{hand: h, q: q}
		c.row.Bench = true
		err = c.read(Calibrate{On: in.On, Happened: in.Happened, Standard: in.Standard, Direction: in.Direction, AsFound: strings.Join(in.At, ","),
			Temperature: in.Temperature, Humidity: in.Humidity, StandardUncertainty: in.StandardUncertainty, StandardBias: in.StandardBias})
		if err != nil {
			return CalibrationView{}, err
		}
		return c.record()
	})
}

// onlyRequirement says whether nothing was compared.
func (in Calibrate) onlyRequirement() bool {
	return in.AsFound == "" && in.AsLeft == "" && in.File == "" && in.Claim == "" && in.DeclaredClass == "" && in.By == "" && in.CertificateNumber == ""
}

// nothingLeftOut refuses what only makes sense beside a comparison where there is none:
// it would be dropped without a word. A day and a direction alone may stand on a form
// that says what the tool must hold.
func (in Calibrate) nothingLeftOut() error {
	beside := in
	beside.Requirement, beside.Evidence = nil, nil
	if in.Requirement != nil {
		beside.On, beside.Direction = "", ""
	}
	if reflect.ValueOf(beside).IsZero() && len(in.Evidence) == 0 {
		return nil
	}
	return fault.At("#/as_found", "what was compared is missing: there are no readings, no class that the paper declares, and no pass or fail that it says").
		WithHint("give the readings as found or as left, such as 40=39.7,39.8; or leave out what belongs to a comparison")
}

// toCalibrate holds the tool and settles what it must hold.
func (s *Shop) toCalibrate(tx *store.Tx, by By, number string, in *Requirement) (*hand, calibration.Requirement, error) {
	var q calibration.Requirement
	h, err := s.handFor(tx, by, number)
	if err != nil {
		return h, q, err
	}
	if err := allowed(by, people.EditTool, h.object(h.tool)); err != nil {
		return h, q, err
	}
	if err := calibration.Answers(h.tool.Kind); err != nil {
		return h, q, err
	}
	old, err := requirementOf(&tx.Rx, h.tool.ID)
	if err != nil {
		return h, q, err
	}
	if old != nil && in == nil {
		return h, *old, nil
	}
	typed := Requirement{}
	if in != nil {
		typed = *in
	}
	if q, err = readRequirement(old, typed); err != nil {
		return h, q, err
	}
	return h, q, putRequirement(tx, h.tool, q)
}

func (h *hand) calibrationView(q calibration.Requirement, c *calibration.Shown) CalibrationView {
	if h == nil {
		return CalibrationView{}
	}
	v := CalibrationView{Tool: h.tool.ID, Number: h.tool.Number, Kind: h.tool.Kind, Requirement: q, Calibration: c,
		Advice: append([]string{}, h.doubt...), Cautions: calibration.Cautions(calibration.Hazards(q.Instrument, q.Class)...)}
	return v
}

// comparing is one comparison on its way into the record.
type comparing struct {
	*hand
	q      calibration.Requirement
	row    calibration.ResultRow
	result calibration.Result
	bad    fault.Problems
}

// read takes what was typed.
func (c *comparing) read(in Calibrate) error {
	if err := c.day(in); err != nil {
		return err
	}
	r := &c.result
	r.BenchCheck, r.Adjusted, r.OnlyUncertainty = c.row.Bench, in.Adjusted, in.OnlyUncertainty
	r.By, r.Number = c.line("#/by", in.By), c.line("#/certificate_number", in.CertificateNumber)
	r.Claim = calibration.Claim(strings.ToLower(strings.TrimSpace(in.Claim)))
	r.Temperature = c.quantity("#/temperature", in.Temperature)
	r.Humidity, r.Uncertainty = c.percent("#/humidity", in.Humidity), c.percent("#/uncertainty", in.Uncertainty)
	c.points(in)
	c.declared(in)
	c.paper(in)
	if err := c.standard(in); err != nil {
		return err
	}
	if err := c.bad.Err(); err != nil {
		return err
	}
	return r.Check(c.q)
}

// day settles when it was compared: now, at a time, or on a day whose hour is not
// known.
func (c *comparing) day(in Calibrate) error {
	loc, err := c.settings.Location()
	if err != nil {
		return err
	}
	now := c.tx.Now()
	c.row.Entered, c.row.DoneAt = now, now
	switch {
	case in.Happened != "" && in.On != "":
		return fault.At("#/on", "the day is in the time already").WithHint("give --on or --happened")
	case in.Happened != "":
		if c.row.DoneAt, err = c.time("#/happened", in.Happened, dates.ParseTime); err != nil {
			return err
		}
	case in.On != "":
		if c.row.OnDay, err = dates.ParseDate(in.On); err != nil {
			return fault.At("#/on", "%s", fault.Of(err).Error())
		}
		c.row.DoneAt = 0
	}
	if c.row.OnDay == "" {
		c.row.OnDay = c.row.DoneAt.Day(loc)
	}
	if c.row.DoneAt > now || c.row.OnDay.After(now.Day(loc)) {
		return fault.At("#/on", "%s is in the future; today is %s", c.row.OnDay, now.Day(loc))
	}
	if in.By != "" && in.On == "" && in.Happened == "" {
		return fault.At("#/on", "say on which day the laboratory compared it").WithHint("the date of the calibration on its paper: --on 2026-05-04")
	}
	c.result.On = c.row.OnDay
	return nil
}

func (c *comparing) line(at, text string) string {
	out, err := names.Line(text)
	c.bad.Keep(at, err)
	return out
}

func (c *comparing) quantity(at, text string) (q units.Quantity) {
	if text == "" {
		return q
	}
	q, err := units.ParseQuantity(text)
	c.bad.Keep(at, err)
	return q
}

// percent reads "2.0" or "2.0%".
func (c *comparing) percent(at, text string) calibration.Decimal {
	if text = strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(text), "%")); text == "" {
		return ""
	}
	d, err := calibration.ParseDecimal(text)
	c.bad.Keep(at, err)
	return d
}

func (c *comparing) points(in Calibrate) {
	direction := calibration.NoDirection
	if in.Direction != "" {
		d, err := calibration.ParseDirection(in.Direction)
		c.bad.Keep("#/direction", err)
		direction = d
	}
	read := func(at, text string) (out []calibration.Point) {
		if text == "" {
			return nil
		}
		out, err := calibration.ParseReadings(text, c.q.Unit, direction)
		c.bad.Keep(at, err)
		return out
	}
	r := &c.result
	r.AsFound, r.AsLeft = read("#/as_found", in.AsFound), read("#/as_left", in.AsLeft)
	if in.File != "" {
		found, left, err := calibration.ParseReadingsFile([]byte(in.File), c.q.Unit, direction)
		c.bad.Keep("#/file", err)
		r.AsFound, r.AsLeft = append(r.AsFound, found...), append(r.AsLeft, left...)
	}
	if in.Percents != "" {
		c.fromPercents(in.Percents)
	}
}

// fromPercents turns percents into the readings behind them: what they are percents of
// is on the paper, and papers differ.
func (c *comparing) fromPercents(text string) {
	meaning, err := calibration.ParseMeaning(text)
	if err != nil {
		c.bad.Add("#/percents", "%s", fault.Of(err).Error())
		return
	}
	for _, p := range slices.Concat(c.result.AsFound, c.result.AsLeft) {
		for i, percent := range p.Readings {
			p.Readings[i], err = calibration.FromPercent(p.Set, percent, meaning)
			c.bad.Keep("#/percents", err)
		}
	}
}

func (c *comparing) declared(in Calibrate) {
	if in.DeclaredClass == "" {
		return
	}
	d := &calibration.Declared{Class: c.line("#/declared_class", in.DeclaredClass), Low: c.q.Scale.Low, High: c.q.Scale.High, Points: in.DeclaredPoints}
	if in.DeclaredRange != "" {
		scale, err := calibration.ParseRange(in.DeclaredRange, c.q.Unit)
		c.bad.Keep("#/declared_range", err)
		d.Low, d.High = scale.Low, scale.High
	}
	if in.DeclaredLimits != "" {
		limit, err := calibration.ParseLimit(in.DeclaredLimits)
		c.bad.Keep("#/declared_limits", err)
		d.Limit = &limit
	}
	if in.DeclaredDirections != "" {
		var err error
		d.Directions, err = directions(in.DeclaredDirections)
		c.bad.Keep("#/declared_directions", err)
	}
	c.result.Declared = d
}

// paper says what sort of paper it rests on: by what is on it.
func (c *comparing) paper(in Calibrate) {
	r := &c.result
	points := len(r.AsFound) + len(r.AsLeft)
	switch {
	case r.Declared != nil:
		r.Paper = calibration.Declaration
	case in.By == "" && in.CertificateNumber == "" && r.Claim == "":
		r.Paper = calibration.Own
	case points == 0 && r.Claim != "":
		r.Paper = calibration.PassOnly
	default:
		r.Paper = calibration.Certificate
	}
}

// numberLike is what may be a tool number with a slip in it: six letters and digits,
// perhaps parted, or about as many with the hyphen.
var numberLike = pattern.Late(`^\s*([0-9A-Za-z]{3}[- ]?[0-9A-Za-z]{3}|[0-9A-Za-z]{2,4}-[0-9A-Za-z]{2,4}|[Tt]/\S*)\s*$`)

// standard says what it was compared with. A tool here brings its own calibration
// with it: range, uncertainty, deviation, dates, as they are when it is recorded.
func (c *comparing) standard(in Calibrate) error {
	if in.Standard == "" {
		return nil
	}
	st := &c.result.Standard
	if n, err := parseNumber(in.Standard); err == nil {
		if err := c.standardHere(n.String()); err != nil {
			return err
		}
	} else if numberLike().MatchString(in.Standard) && strings.ContainsAny(in.Standard, "0123456789") {
		return fault.At("#/standard", "%q reads like a tool number, and is none: %s", in.Standard, fault.Of(err).Error()).
			WithHint("look at the label of the standard; one that is no tool here is named in words, such as \"bench tester of Own words, TX1-000\"")
	} else {
		st.Name = c.line("#/standard", in.Standard)
	}
	if in.StandardUncertainty != "" {
		st.Absolute = units.Quantity{}
		if q, err := units.ParseQuantity(in.StandardUncertainty); err == nil {
			st.Uncertainty, st.Absolute = "", q
		} else {
			st.Uncertainty = c.percent("#/standard_uncertainty", in.StandardUncertainty)
		}
	}
	if in.StandardBias != "" {
		st.Bias = c.percent("#/standard_bias", in.StandardBias)
	}
	if in.StandardRange != "" {
		scale, err := calibration.ParseRange(in.StandardRange, c.q.Unit)
		c.bad.Keep("#/standard_range", err)
		st.Low, st.High = scale.Low, scale.High
	}
	for _, day := range []struct {
		at, text string
		to       *dates.Date
	}{{"#/standard_calibrated", in.StandardCalibrated, &st.Calibrated}, {"#/standard_due", in.StandardDue, &st.Due}} {
		if day.text != "" {
			var err error
			*day.to, err = dates.ParseDate(day.text)
			c.bad.Keep(day.at, err)
		}
	}
	return nil
}

func (c *comparing) standardHere(number string) error {
	t, err := resolve(c.Rx, number)
	if err != nil {
		return fault.At("#/standard", "%s", fault.Of(err).Error())
	}
	if t.ID == c.tool.ID {
		return fault.At("#/standard", "a tool is no standard for itself")
	}
	m, err := c.measuredTools(t.ID)
	if err != nil {
		return err
	}
	if err := calibration.MayBeStandard(t.Kind, m.requirements[t.ID], c.q); err != nil {
		return fault.At("#/standard", "%s: %s", t.Number, fault.Of(err).Message).WithHint("%s", fault.Of(err).Hint)
	}
	if err := c.noCircle(t); err != nil {
		return err
	}
	c.row.Standard = t.ID
	st := &c.result.Standard
	st.Tool, st.Name, st.OutOfUse = t.Number.String(), "", m.doubtedThen(t.ID, c.row)
	for _, k := range m.results[t.ID] {
		if !k.row.Bench && !k.row.OnDay.After(c.row.OnDay) {
			asStandard(st, *m.requirements[t.ID], k)
			break
		}
	}
	return nil
}

// trusted says whether a calibration that passed, or a bench check of the whole range
// both ways, came after everything that ended trust in the tool.
func trusted(f calibration.Facts) bool {
	passed := slices.ContainsFunc(f.Calibrations, func(k calibration.Kept) bool { return k.Verdict == calibration.Passed })
	if f.Requirement == nil || !passed && len(f.Checks) == 0 {
		return false
	}
	if len(f.Calibrations) > 0 && f.Calibrations[0].Verdict == calibration.Failed {
		return false
	}
	left, _ := calibration.Trust(f.Events, f.Checks, f.Calibrations, *f.Requirement)
	return len(left) == 0
}

// record writes it down and says what follows.
func (c *comparing) record() (CalibrationView, error) {
	body, err := json.Marshal(c.result)
	if err != nil {
		return CalibrationView{}, err
	}
	c.row.Tool, c.row.By, c.row.Body = c.tool.ID, c.by.Person, string(body)
	if c.row.ID, err = c.tx.NewID('A'); err != nil {
		return CalibrationView{}, err
	}
	if err := store.Put(c.tx, &c.row); err != nil {
		return CalibrationView{}, err
	}
	m, err := c.measuredTools(c.tool.ID)
	if err != nil {
		return CalibrationView{}, err
	}
	shown, err := m.show(c.q, c.row)
	if err != nil {
		return CalibrationView{}, err
	}
	marked, err := c.markFailed(m, shown)
	if err != nil {
		return CalibrationView{}, err
	}
	v := c.calibrationView(c.q, &shown)
	v.Advice = append(v.Advice, c.mistyped(m, shown)...)
	open, err := c.OpenWrongs(c.tool.ID)
	if err != nil {
		return v, err
	}
	zone, err := c.settings.Location()
	if err != nil {
		return v, err
	}
	v.DoNotUse = custody.Reasons(open)
	number := c.tool.Number.String()
	if findsOut(shown) {
		v.Advice = append(v.Advice, "Work done with it since it was last shown good is in doubt: pawl recheck "+number)
	}
	switch {
	case marked:
		v.Advice = append(v.Advice, "It FAILED and is marked DO NOT USE.")
	case shown.Verdict == calibration.Failed && !shown.Disagrees && v.DoNotUse == "":
		v.Advice = append(v.Advice, "It failed then, and was made good since: it is not marked.")
	case v.DoNotUse != "" && shown.Verdict == calibration.Passed && !m.facts(c.tool.ID, "").MayClear():
		v.Advice = append(v.Advice, "It is still marked DO NOT USE: "+v.DoNotUse+". This does not show enough to clear it: it needs a passing tool calibration, or a bench check of its whole range both ways, "+custody.LaterThan(open, zone)+". Readings as found and as left of one visit are entered together.")
	case v.DoNotUse != "" && shown.Verdict == calibration.Passed:
		v.Advice = append(v.Advice, "It is still marked DO NOT USE: "+v.DoNotUse+". A manager clears it: pawl clear "+number+" --why …")
	}
	return v, nil
}

// doubtUnfit is that of a comparison with points that the tool no longer has.
const doubtUnfit calibration.DoubtCode = "does not fit the requirement"

// show puts a calibration on record into what is shown, by what is asked of the tool.
func (m *measured) show(q calibration.Requirement, row calibration.ResultRow) (calibration.Shown, error) {
	around := m.around(row.Tool, row)
	var err error
	if around.Like, err = m.likeOnce(q.Preset); err != nil {
		return calibration.Shown{}, err
	}
	by, refused := q.Judging()
	r, j, err := m.judge(by, row, around)
	if refused != nil {
		err = refused
	}
	if err != nil {
		j.TUR = math.NaN()
	}
	out := calibration.Show(q, r, j)
	if err != nil {
		// What is asked of the tool was changed, and the comparison does not fit it.
		out.BenchCheck, out.Verdict = row.Bench, calibration.CannotBeJudged
		out.Doubts = append(out.Doubts, calibration.ShownDoubt{Code: doubtUnfit, Blocks: true,
			Text: "it does not fit what is asked of the tool now: " + fault.Of(err).Error()})
	}
	out.ID, out.Entered = row.ID, row.Entered
	if row.Withdrawn != 0 { // it says what it said, and counts for nothing
		by := m.personOr(row.WithdrawnBy)
		out.Withdrawn, out.WithdrawnBy, out.Why = row.Withdrawn, &by, row.Why
		out.Supports, out.NextDue = false, nil
	}
	if row.Standard != "" {
		t, _, err := m.Tool(row.Standard)
		if err != nil {
			return out, err
		}
		out.Standard = t.Number.String()
	}
	return out, nil
}

// CalibrationsView is the record of a tool that measures, newest first, with what was
// withdrawn.
type CalibrationsView struct {
	Tool         string
	Number       numbers.Number
	Kind         string
	Requirement  *calibration.Requirement
	Calibrations []calibration.Shown
	Cautions     []string
}

// Calibrations gives what a tool must hold, and every calibration and bench check
// of it, judged by that.
func (s *Shop) Calibrations(ctx context.Context, by By, number string) (v CalibrationsView, err error) {
	err = s.about(ctx, number, func(d *directory, t register.Tool) error {
		v = CalibrationsView{Tool: t.ID, Number: t.Number, Kind: t.Kind, Calibrations: []calibration.Shown{}}
		if v.Requirement, err = requirementOf(d.Rx, t.ID); err != nil || v.Requirement == nil {
			return err
		}
		v.Cautions = calibration.Cautions(calibration.Hazards(v.Requirement.Instrument, v.Requirement.Class)...)
		m, err := d.measuredTools(t.ID)
		if err != nil {
			return err
		}
		h := hand{directory: d, by: by, tool: t}
		rows, err := d.ResultsToo(t.ID)
		if err != nil {
			return err
		}
		for _, row := range rows {
			shown, err := m.show(*v.Requirement, row)
			if err != nil {
				return err
			}
			shown.TakesBack = row.Withdrawn == 0 && t.Gone == 0 && h.mayTakeBack(row.By, m.guards(t.ID, row.ID)) == nil
			v.Calibrations = append(v.Calibrations, shown)
		}
		return nil
	})
	return v, err
}
