package page

import (
	"cmp"
	"io"
	"strconv"
	"strings"

	"pawl/model"
	"pawl/model/calibration"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/register"
	"pawl/model/units"
)

// compareRenamed are the fields of the form by what programs call them.
var compareRenamed = map[string]string{"range": "range_low", "scale": "range_low", "file": "lines", "standard": "standard_other", "evidence": "certificate",
	"declared": "declared_class", "at": "as_found", "lab": "by"}

func (p *Pages) calibratePage(a *Ask) (Reply, error) { return p.comparePage(a, "calibrate") }

func (p *Pages) comparePage(a *Ask, page string) (Reply, error) {
	typed := a.R.URL.Query()
	d, err := p.comparison(a, typed)
	if strange(err) {
		return p.strangeNumber(a)
	}
	if err == nil && d.Tool.Gone != 0 {
		return Go(toolPath(d.Tool.Number)), nil
	}
	return Show(page, d).WithForm(typed), err
}

// calibrate records a tool calibration; one that is refused is shown again with all
// that was typed and sent.
func (p *Pages) calibrate(a *Ask) (Reply, error) {
	in, err := p.calibrateOf(a)
	if err != nil {
		return p.compareRefused(a, "calibrate", err)
	}
	v, err := p.shop.Calibrate(a.R.Context(), a.By, a.Param("number"), in)
	if err != nil {
		return p.compareRefused(a, "calibrate", err)
	}
	return p.compared(a, v), nil
}

func (p *Pages) compareRefused(a *Ask, page string, err error) (Reply, error) {
	d, bad := p.comparison(a, a.form)
	if bad != nil {
		return Reply{}, bad
	}
	return a.Again(page, d, refield(err, compareRenamed)), nil
}

// compared leads to what follows from a comparison.
func (p *Pages) compared(a *Ask, v model.CalibrationView) Reply {
	if v.Calibration == nil {
		return Go(toolPath(v.Number), p.say(a, "calibrate.must-noted"))
	}
	var said []string
	for _, text := range v.Advice {
		said = append(said, forScreen(text))
	}
	return Go(toolPath(v.Number, "calibrations", v.Calibration.ID), said...)
}

// calibrateOf is the comparison as typed.
func (p *Pages) calibrateOf(a *Ask) (in model.Calibrate, err error) {
	d, err := p.comparison(a, a.form)
	if err != nil {
		return in, err
	}
	// What was sent is kept first: a form that is refused has it still.
	papers, err := p.certificateOf(a)
	if err != nil {
		return in, err
	}
	file, err := p.readingsFile(a)
	if err != nil {
		return in, err
	}
	if in, err = p.paperOf(a); err != nil {
		return in, err
	}
	in.File, in.Evidence = file, papers
	in.Requirement = a.requirementOf(d.Must == nil)
	in.On, in.Temperature, in.Humidity, in.Direction = a.Value("on"), a.Value("temperature"), a.Value("humidity"), a.Value("direction")
	in.Percents, in.Adjusted, in.OnlyUncertainty = a.Value("percents"), a.Has("adjusted"), a.Has("means")
	if in.AsFound, err = p.readings(a, d.Tables, func(r pointRow) string { return r.FoundV }); err != nil {
		return in, at("as_found", err)
	}
	if in.AsLeft, err = p.readings(a, d.Tables, func(r pointRow) string { return r.LeftV }); err != nil {
		return in, at("as_left", err)
	}
	return in, nil
}

// paperOf takes what belongs to the kind of paper that was chosen. A calibration
// without its laboratory, or one of our own with one, is asked about.
func (p *Pages) paperOf(a *Ask) (in model.Calibrate, err error) {
	kind := cmp.Or(a.Value("paper"), paperCertificate)
	in.By, in.CertificateNumber, in.Claim, in.Standard = a.Value("by"), a.Value("certificate_number"), a.Value("claim"), cmp.Or(a.Value("standard"), a.Value("standard_other"))
	in.StandardUncertainty, in.StandardRange, in.StandardBias = a.Value("standard_uncertainty"), a.Value("standard_range"), a.Value("standard_bias")
	in.StandardCalibrated, in.StandardDue = a.Value("standard_calibrated"), a.Value("standard_due")
	in.Uncertainty = a.Value("uncertainty")
	switch {
	case kind == paperOwn && in.By+in.CertificateNumber != "":
		return in, fault.At("#/by", "%s", p.say(a, "calibrate.own-lab"))
	case kind != paperOwn && in.By == "":
		return in, fault.At("#/by", "%s", p.say(a, "calibrate.no-lab"))
	case kind == paperPass && in.Claim == "":
		return in, fault.At("#/claim", "%s", p.say(a, "calibrate.no-claim"))
	case kind == paperClass && a.Value("declared_class") == "":
		return in, fault.At("#/declared_class", "%s", p.say(a, "calibrate.no-class"))
	case kind != paperClass:
		return in, nil
	}
	in.DeclaredClass, in.DeclaredRange, in.DeclaredLimits = a.Value("declared_class"), a.Value("declared_range"), a.Value("declared_limits")
	in.DeclaredDirections = a.Value("declared_directions")
	in.DeclaredPoints, err = strconv.Atoi(cmp.Or(a.Value("declared_points"), "0"))
	if err != nil {
		err = fault.At("#/declared_points", "%s", p.say(a, "calibrate.no-count", a.Value("declared_points")))
	}
	return in, err
}

// requirementOf is what was typed of what the tool must hold; nil: nothing. Of a
// tool of which nothing is recorded, or with another preset, it begins anew.
func (a *Ask) requirementOf(first bool) *model.Requirement {
	out := model.Requirement{Preset: a.Value("preset"), Graduation: a.Value("graduation"), SecondScale: a.Value("second_scale"), Resolution: a.Value("resolution"),
		GripToDrive: withUnit(a.Value("grip_to_drive"), string(units.Millimeter)), Limit: a.Value("limit"), LimitFrom: a.Value("limit_from"),
		AmbientLow: a.Value("ambient_low"), AmbientHigh: a.Value("ambient_high"), Rule: a.Value("rule")}
	if low, high := a.Value("range_low"), a.Value("range_high"); low != "" || high != "" {
		out.Range = low
		if high != "" {
			out.Range += ".." + high
		}
	}
	if months, err := strconv.Atoi(a.Value("months")); err == nil {
		out.Months = &months
	}
	if out.Preset != "" {
		out.Unit = a.Value("unit")
		if preset, _, err := calibration.FindPreset(out.Preset); err == nil && preset.Instrument.Turns() {
			out.Directions = a.Value("directions")
		}
		if grade := a.Value("grade"); grade != "" {
			out.Preset += ":" + grade
		}
	}
	if !first && out == (model.Requirement{}) {
		return nil
	}
	return &out
}

// maxReadingsFile is the longest text of readings, in bytes.
const maxReadingsFile = 256 << 10

// readingsFile is the text of readings: typed, or of a file. What the file holds is
// put where it is typed, so that it is there still when the form is refused.
func (p *Pages) readingsFile(a *Ask) (string, error) {
	typed := strings.ReplaceAll(a.Value("lines"), "\r\n", "\n")
	if !a.HasFile("csv") {
		return typed, nil
	}
	f := a.files["csv"][0]
	if f.Size > maxReadingsFile {
		return "", fault.At("#/csv", "%s", p.say(a, "calibrate.long-file", maxReadingsFile>>10))
	}
	if typed != "" {
		return "", fault.At("#/lines", "%s", p.say(a, "calibrate.both"))
	}
	r, err := f.Open()
	if err != nil {
		return "", err
	}
	defer r.Close()
	raw, err := io.ReadAll(r)
	a.form.Set("lines", strings.ToValidUTF8(string(raw), "\uFFFD"))
	return string(raw), err
}

// certificateOf keeps the paper that was sent, or takes the one that was kept when
// the form was refused before.
func (p *Pages) certificateOf(a *Ask) ([]register.Attach, error) {
	out, err := a.Originals("certificate", evidence.Certificate)
	switch {
	case err != nil:
		return nil, at("certificate", err)
	case len(out) > 0:
		a.form.Set("paper_sha", out[0].SHA256)
		a.form.Set("paper_name", out[0].Name)
		return out, nil
	case a.Value("paper_sha") != "":
		return []register.Attach{{SHA256: a.Value("paper_sha"), Kind: string(evidence.Certificate), Name: a.Value("paper_name")}}, nil
	}
	return nil, nil
}

func (p *Pages) benchPage(a *Ask) (Reply, error) { return p.comparePage(a, "bench") }

// bench records a bench check.
func (p *Pages) bench(a *Ask) (Reply, error) {
	d, err := p.comparison(a, a.form)
	if err != nil {
		return Reply{}, err
	}
	found, err := p.readings(a, d.Tables, func(r pointRow) string { return r.FoundV })
	if err != nil {
		return p.compareRefused(a, "bench", at("as_found", err))
	}
	in := model.Bench{On: a.Value("on"), Standard: cmp.Or(a.Value("standard"), a.Value("standard_other")), Temperature: a.Value("temperature"), Humidity: a.Value("humidity"),
		StandardUncertainty: a.Value("standard_uncertainty"), StandardBias: a.Value("standard_bias"), At: said(found, strings.Join(strings.Fields(a.Value("lines")), ""))}
	v, err := p.shop.Bench(a.R.Context(), a.By, a.Param("number"), in)
	if err != nil {
		return p.compareRefused(a, "bench", err)
	}
	return p.compared(a, v), nil
}
