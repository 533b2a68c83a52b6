package cli

import (
	"context"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model/fault"
)

type calibrateOptions struct {
	number      string
	presets     bool
	certificate string // file of it
	file        string // of readings
	chart       string // file to draw into
	of          string // id of the calibration to draw
	drift       bool   // draw that in place of one calibration
	advice      bool   // on the interval
	output      string // file to list what is on record in
	wire.Calibrate
}

func (p *program) calibrateCommand() *cli.Command {
	return &cli.Command{
		Name: "calibrate", Usage: "say what a tool must hold, and enter a tool calibration of it",
		Description: `pawl calibrate 00E-KM5 --preset torque-wrench-setting --range 40..200 --unit N·m --graduation 1 --grip-to-drive 400mm
pawl calibrate 00E-KM5 --lab "Own words" --certificate-number C-118 --on 2026-05-04 --direction cw --as-found 40=40.4,120=110.0 --uncertainty 2.0% --as-left 40=39.8,120=119.3
pawl calibrate 00E-KM5 --file readings.csv --standard 00F-LN6 --temperature "21 °C" --on 2026-11-02
pawl calibrate 00E-KM5
pawl calibrate 00E-KM5 --chart chart.svg
pawl calibrate 00E-KM5 --chart drift.svg --drift
pawl calibrate 00E-KM5 --advice
pawl calibrate 00E-KM5 -o comparisons.csv
pawl calibrate --presets`,
		ArgsUsage: "NUMBER",
		Flags:     slices.Concat(requirementFlags(), comparisonFlags(), chartFlags(), []cli.Flag{toFile("write every comparison on record to `FILE`, a CSV; - is stdout")}),
		Action:    action(p, parseCalibrate, runCalibrate),
		Subcommands: []*cli.Command{takesBack(p, "calibrate", "tool calibration", "A-2H4K9Q7M", "a = was forgotten",
			(*client.Client).WithdrawCalibration, comparisonTakenBack)},
	}
}

func requirementFlags() []cli.Flag {
	return []cli.Flag{
		yes("presets", "list what is usually asked of each sort of tool, with its sources"),
		value("preset", "what is asked of it, by `NAME`: torque-wrench-setting, pressure-gauge:B …"),
		value("range", "it goes from `LOW..HIGH`, or has the one VALUE"),
		value("unit", "in this `UNIT`: N·m, ft-lb, psi, mm …"),
		value("graduation", "step `STEP` between two marks that can be set or read"),
		value("second-scale", "another `SCALE` on it, such as \"ft-lb 30..150 by 1\""),
		value("resolution", "smallest `STEP` that can be read, where that is not the graduation"),
		value("grip-to-drive", "`LENGTH` from the middle of the grip to the middle of the drive: 400mm"),
		value("directions", "compared in these `DIRECTIONS`: cw, ccw or both"),
		value("limit", "it must hold `LIMIT`, such as \"4 % of reference\""),
		value("limit-from", "where the limit was `READ`: its paper with the page, or \"shop rule\""),
		value("months", "calibrated every `N` months"),
		value("cycles", "or after `N` cycles"),
		value("interval-from", "where the interval was `READ`"),
		value("maximum", "never more than `N` months: a law or a contract allows no more; 0 takes it away"),
		value("maximum-why", "what `SETS` that maximum"),
		value("rule", "decision `RULE`: simple, guarded or four-zone"),
		value("reliability", "share in tolerance at the end of an interval, as `R`: 0.95"),
		value("ambient-low", "its maker permits no less than `TEMPERATURE`"),
		value("ambient-high", "its maker permits no more than `TEMPERATURE`"),
	}
}

func comparisonFlags() []cli.Flag {
	return []cli.Flag{
		value("on", "compared on `DATE`"),
		happened(),
		value("lab", "compared by `WHOM`, as its paper names them; else here"),
		value("certificate-number", "`NUMBER` of its paper"),
		value("certificate", "its paper, a `FILE`"),
		value("standard", "compared with the tool of `NUMBER2`, or with what is named"),
		value("standard-uncertainty", "expanded (k = 2) uncertainty `W` of that standard: 1.0%, or an amount with its unit"),
		value("standard-range", "that standard goes from `LOW..HIGH`, in the tool's unit"),
		value("standard-bias", "its own deviation in `PERCENT`; 0 where its readings were corrected"),
		value("standard-calibrated", "that standard was calibrated on `DATE`"),
		value("standard-due", "and is in date through `DATE`"),
		value("direction", "`DIRECTION` of points that name none: cw or ccw"),
		value("as-found", "`READINGS` before adjusting, set=delivered: 40=40.4,120=110.0"),
		value("as-left", "`READINGS` after it"),
		value("file", "readings from `FILE`: CSV phase,direction,set,delivered, or lines as above"),
		value("percents", "the paper has percents, and says that they are `MEANING`: \"(set - delivered)/delivered\" and so on"),
		yes("adjusted", "it was adjusted"),
		yes("means", "the readings given are means of several"),
		value("uncertainty", "expanded (k = 2) uncertainty `W` that the paper states, in percent of reading"),
		value("temperature", "compared at `TEMPERATURE`"),
		value("humidity", "at `PERCENT` of relative humidity"),
		value("says", "the paper itself says `OUTCOME`: pass or fail"),
		value("declares", "the paper only declares conformity to the `CLASS`"),
		value("declared-range", "over this `RANGE`"),
		value("declared-limit", "with this `LIMIT`, where it prints one"),
		value("declared-directions", "in these `DIRECTIONS`: cw, ccw or both"),
		value("declared-points", "naming `N` points"),
	}
}

func parseCalibrate(c *cli.Context) (o calibrateOptions, err error) {
	o.presets = c.Bool("presets")
	if o.presets {
		return o, noOperands(c)
	}
	numbers, err := operands(c, 1, 1, "a tool NUMBER, or --presets")
	if err != nil {
		return o, err
	}
	o.number, o.file, o.certificate = numbers[0], c.String("file"), c.String("certificate")
	text := c.String
	o.Calibrate = wire.Calibrate{
		On: text("on"), Happened: text("happened"), By: text("lab"), CertificateNumber: text("certificate-number"), Standard: text("standard"),
		StandardUncertainty: text("standard-uncertainty"), StandardRange: text("standard-range"), StandardBias: text("standard-bias"),
		StandardCalibrated: text("standard-calibrated"), StandardDue: text("standard-due"), Direction: text("direction"),
		AsFound: text("as-found"), AsLeft: text("as-left"), Percents: text("percents"), Adjusted: c.Bool("adjusted"), OnlyUncertainty: c.Bool("means"),
		Uncertainty: text("uncertainty"), Temperature: text("temperature"), Humidity: text("humidity"), Claim: text("says"),
		DeclaredClass: text("declares"), DeclaredRange: text("declared-range"), DeclaredLimits: text("declared-limit"),
		DeclaredDirections: text("declared-directions"),
	}
	if o.DeclaredPoints, err = wholeOf(c, "declared-points"); err != nil {
		return o, err
	}
	if o.Requirement, err = parseRequirement(c); err != nil {
		return o, err
	}
	o.chart, o.of, o.drift, o.advice = c.String("chart"), c.String("of"), c.Bool("drift"), c.Bool("advice")
	if o.output, err = csvFile(c); err != nil {
		return o, err
	}
	return o, o.checkChart()
}

// parseRequirement is nil where nothing is said of what the tool must hold.
func parseRequirement(c *cli.Context) (*wire.NewRequirement, error) {
	text := c.String
	q := wire.NewRequirement{
		Preset: text("preset"), Unit: text("unit"), Range: text("range"), Graduation: text("graduation"), SecondScale: text("second-scale"),
		Resolution: text("resolution"), GripToDrive: text("grip-to-drive"), Directions: text("directions"), Limit: text("limit"),
		LimitFrom: text("limit-from"), Reliability: text("reliability"), Rule: text("rule"), AmbientLow: text("ambient-low"),
		AmbientHigh: text("ambient-high"), IntervalFrom: text("interval-from"), MaximumWhy: text("maximum-why"),
	}
	months, err := wholeOf(c, "months")
	if err != nil {
		return nil, err
	}
	cycles, err := wholeOf(c, "cycles")
	if err != nil {
		return nil, err
	}
	if months > 0 {
		q.Months = &months
	}
	if cycles > 0 {
		n := int64(cycles)
		q.Cycles = &n
	}
	if q.Maximum, err = maximumOf(c); err != nil {
		return nil, err
	}
	if q == (wire.NewRequirement{}) {
		return nil, nil
	}
	return &q, nil
}

// nothing says whether only the record is asked for.
func (o calibrateOptions) nothing() bool {
	return o.file == "" && o.certificate == "" && reflect.ValueOf(o.Calibrate).IsZero()
}

func runCalibrate(ctx context.Context, s *session, o calibrateOptions) error {
	switch {
	case o.presets:
		return runPresets(ctx, s)
	case o.chart != "":
		return runChart(ctx, s, o)
	case o.output != "":
		return s.toFile(o.output, 0o644, func(w io.Writer) ([]string, error) { return nil, s.client.CalibrationsCSV(ctx, o.number, w) })
	case o.advice:
		return runAdvice(ctx, s, o.number)
	case o.nothing():
		return runCalibrations(ctx, s, o.number)
	}
	if o.file != "" {
		var err error
		if o.File, err = readText(o.file, 256<<10); err != nil {
			return err
		}
	}
	if o.certificate != "" {
		var err error
		if o.Evidence, err = s.upload(ctx, []paper{{"certificate", o.certificate}}); err != nil {
			return err
		}
	}
	v, err := s.client.Calibrate(ctx, o.number, o.Calibrate)
	if err != nil {
		return err
	}
	return s.calibrated(v)
}

// calibrated says what a comparison, or a requirement, left behind.
func (s *session) calibrated(v wire.Calibrated) error {
	if s.json {
		return s.object(v)
	}
	if v.Shown == nil {
		return s.changed(v.Number+" "+v.Kind+" must hold "+limitOf(v.Requirement), v.Number, "requirement", limitOf(v.Requirement))
	}
	if err := s.points(v.Points); err != nil {
		return err
	}
	due := text(v.NextDue)
	sentence := fmt.Sprintf("%s %s: %s", v.Number, v.Kind, strings.ToUpper(string(v.Verdict)))
	if due != "" {
		sentence += "; next due " + due
	}
	if !v.Supports {
		sentence += "; it supports no yes"
	}
	err := s.changed(sentence, v.Number, string(v.Verdict), due, strconv.FormatBool(v.Supports), v.ID)
	for _, d := range v.Doubts {
		s.note(d.Text)
	}
	s.note(v.Advice...)
	s.note(v.Cautions...)
	return err
}

func (s *session) points(all []wire.ShownPoint) error {
	var rows [][]string
	for _, p := range all {
		rows = append(rows, []string{string(p.Phase), string(p.Direction), p.Set.String(), p.Words, string(p.Decision)})
	}
	return s.table([]string{"PHASE", "DIRECTION", "SET", "FOUND", "DECISION"}, rows)
}

func limitOf(q wire.Requirement) string { return q.Limit.Words() + ", " + q.Scale.String() }

func runCalibrations(ctx context.Context, s *session, number string) error {
	v, err := s.client.Calibrations(ctx, number)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(v)
	}
	if v.Requirement == nil {
		return fault.New(fault.NotFound, "nothing is recorded of what tool %s must hold", v.Number).
			WithHint("say what it is: pawl calibrate %s --preset torque-wrench-setting --range 40..200 --unit N·m --graduation 1", v.Number)
	}
	if err := s.changed(v.Number+" "+v.Kind+" must hold "+limitOf(*v.Requirement), v.Number, "requirement", limitOf(*v.Requirement)); err != nil {
		return err
	}
	var rows [][]string
	for _, c := range v.Calibrations {
		sort := string(c.Paper)
		if c.BenchCheck {
			sort = "bench check"
		}
		rows = append(rows, []string{string(c.On), sort, joined(" ", c.By, c.CertificateNumber, c.Standard), string(c.Verdict), text(c.NextDue), c.ID, s.takenBy(c.Withdrawn, c.WithdrawnBy, c.Why)})
	}
	return s.table([]string{"ON", "SORT", "BY", "VERDICT", "NEXT DUE", "ID", "STATE"}, rows)
}

func runPresets(ctx context.Context, s *session) error {
	all, err := s.client.Presets(ctx)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(all)
	}
	var rows [][]string
	for _, p := range all.Presets {
		limits := p.Ask
		for i, l := range p.Limits {
			if i == 0 {
				limits = ""
			}
			limits = joined("; ", limits, l.Limit+" ("+l.Source+")")
		}
		rows = append(rows, []string{p.Name, p.Title, strings.Join(p.Units, " "), limits})
	}
	return s.table([]string{"PRESET", "TOOL", "UNITS", "LIMIT AND SOURCE"}, rows)
}
