package model

import (
	"encoding/json"
	"strings"

	"pawl/model/calibration"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/register"
	"pawl/model/units"
)

// Requirement is what a tool must hold, as typed. With a preset it is begun anew;
// without, what is given takes the place of what is on record.
type Requirement struct {
	Preset, Unit, Range, Graduation, SecondScale, Resolution string
	GripToDrive, Directions, Limit, LimitFrom, Reliability   string
	Rule, AmbientLow, AmbientHigh, IntervalFrom              string
	Months                                                   *int
	Cycles                                                   *int64
	Maximum                                                  *int   // months; legal or contractual, 0 takes it away
	MaximumWhy                                               string // what sets it
}

// readRequirement puts what was typed over what is on record, which may be none.
func readRequirement(old *calibration.Requirement, in Requirement) (calibration.Requirement, error) {
	var q calibration.Requirement
	var bad fault.Problems
	switch {
	case in.Preset != "":
		var err error
		if q, err = fromPreset(in); err != nil {
			return q, err
		}
	case old == nil:
		return q, fault.At("#/requirement/preset", "nothing is recorded of what this tool must hold").
			WithHint("begin with a preset, such as --preset torque-wrench-setting --range 40..200 --unit N·m --graduation 1; they are listed by: pawl calibrate --presets")
	default:
		q = *old
		overScale(&q, in, &bad)
		overLimit(&q, in, &bad)
	}
	overRest(&q, in, &bad)
	if err := bad.Err(); err != nil {
		return q, err
	}
	return q, q.Check()
}

func fromPreset(in Requirement) (calibration.Requirement, error) {
	var bad fault.Problems
	p, grade, err := calibration.FindPreset(in.Preset)
	if err != nil {
		return calibration.Requirement{}, fault.At("#/requirement/preset", "%s", fault.Of(err).Message).WithHint("%s", fault.Of(err).Hint)
	}
	g := calibration.Given{Grade: grade}
	switch {
	case in.Unit != "":
		g.Unit, err = units.ParseUnit(in.Unit)
		bad.Keep("#/requirement/unit", err)
	case len(p.Units) == 1:
		g.Unit = p.Units[0]
	default:
		bad.Add("#/requirement/unit", "say in which unit it is graduated, such as --unit %s", usual(p))
	}
	if in.Range == "" {
		bad.Add("#/requirement/range", "say from where to where it goes, such as --range 40..200")
	} else {
		g.Scale, err = calibration.ParseRange(in.Range, g.Unit)
		bad.Keep("#/requirement/range", err)
	}
	if err := bad.Err(); err != nil {
		return calibration.Requirement{}, err
	}
	over := calibration.Requirement{Unit: g.Unit, Scale: g.Scale}
	overScale(&over, Requirement{Graduation: in.Graduation, SecondScale: in.SecondScale, Resolution: in.Resolution, Directions: in.Directions}, &bad)
	overLimit(&over, in, &bad)
	if err := bad.Err(); err != nil {
		return calibration.Requirement{}, err
	}
	g.Scale, g.Second, g.Resolution, g.Directions, g.Limit, g.LimitSource = over.Scale, over.Second, over.Resolution, over.Directions, over.Limit, over.LimitSource
	q, err := p.Requirement(g)
	if err == nil && in.Limit == "" && in.LimitFrom != "" {
		q.LimitSource = readAt(in.LimitFrom)
	}
	return q, err
}

func usual(p calibration.Preset) string {
	if len(p.Units) == 0 {
		return "mm"
	}
	return string(p.Units[0])
}

// overScale reads what is said of scales and directions.
func overScale(q *calibration.Requirement, in Requirement, bad *fault.Problems) {
	var err error
	if in.Unit != "" {
		q.Unit, err = units.ParseUnit(in.Unit)
		bad.Keep("#/requirement/unit", err)
	}
	if in.Range != "" {
		step := q.Scale.Graduation
		q.Scale, err = calibration.ParseRange(in.Range, q.Unit)
		q.Scale.Graduation = step
		bad.Keep("#/requirement/range", err)
	}
	if in.Graduation != "" {
		q.Scale.Graduation, err = inUnit(in.Graduation, q.Unit)
		bad.Keep("#/requirement/graduation", err)
	}
	if in.Resolution != "" {
		q.Resolution, err = inUnit(in.Resolution, q.Unit)
		bad.Keep("#/requirement/resolution", err)
	}
	if in.SecondScale != "" {
		second, err := calibration.ParseScale(in.SecondScale)
		bad.Keep("#/requirement/second_scale", err)
		q.Second = &second
	}
	if in.Directions != "" {
		q.Directions, err = directions(in.Directions)
		bad.Keep("#/requirement/directions", err)
	}
}

func directions(text string) (out []calibration.Direction, err error) {
	if strings.EqualFold(strings.TrimSpace(text), "both") {
		return []calibration.Direction{calibration.Clockwise, calibration.Counterclockwise}, nil
	}
	for word := range strings.SplitSeq(text, ",") {
		d, err := calibration.ParseDirection(word)
		if err != nil {
			return nil, err
		}
		out = append(out, d)
	}
	return out, nil
}

// overLimit reads the limit, which is nothing without where it was read.
func overLimit(q *calibration.Requirement, in Requirement, bad *fault.Problems) {
	var err error
	switch {
	case in.Limit != "" && in.LimitFrom == "":
		bad.Add("#/requirement/limit_from", "say where the limit of %s was read, such as --limit-from \"its certificate C-118, page 2\"", in.Limit)
	case in.Limit != "":
		q.Limit, err = calibration.ParseLimit(in.Limit)
		bad.Keep("#/requirement/limit", err)
		q.LimitSource = readAt(in.LimitFrom)
	case in.LimitFrom != "":
		q.LimitSource = readAt(in.LimitFrom)
	}
}

// readAt is where somebody read a figure: the tool's own paper, or the shop's rule.
func readAt(text string) calibration.Source {
	if rule, is := strings.CutPrefix(strings.TrimSpace(text), "shop rule"); is {
		return calibration.Source{Standing: calibration.ShopRule, Where: strings.TrimSpace(strings.TrimPrefix(rule, ":"))}
	}
	return calibration.Source{Standing: calibration.OwnPaper, Where: strings.TrimSpace(text)}
}

// overRest reads what no preset decides.
func overRest(q *calibration.Requirement, in Requirement, bad *fault.Problems) {
	quantity := func(at, text string, out *units.Quantity) {
		if text == "" {
			return
		}
		v, err := units.ParseQuantity(text)
		bad.Keep(at, err)
		*out = v
	}
	quantity("#/requirement/grip_to_drive", in.GripToDrive, &q.GripToDrive)
	quantity("#/requirement/ambient_low", in.AmbientLow, &q.AmbientLow)
	quantity("#/requirement/ambient_high", in.AmbientHigh, &q.AmbientHigh)
	if in.Rule != "" {
		q.Rule = calibration.Rule(strings.ToLower(strings.TrimSpace(in.Rule)))
	}
	if in.Reliability != "" {
		d, err := calibration.ParseDecimal(in.Reliability)
		bad.Keep("#/requirement/reliability", err)
		q.Reliability = d
	}
	overMaximum(q, in, bad)
	if in.Months == nil && in.Cycles == nil {
		return
	}
	if in.Months != nil {
		q.Months = *in.Months
	}
	if in.Cycles != nil {
		q.Cycles = *in.Cycles
	}
	q.IntervalSource = calibration.Source{Standing: calibration.ShopRule}
	if in.IntervalFrom != "" {
		q.IntervalSource = readAt(in.IntervalFrom)
	}
}

// overMaximum reads the longest interval that a law or a contract allows.
func overMaximum(q *calibration.Requirement, in Requirement, bad *fault.Problems) {
	if in.MaximumWhy != "" {
		why, err := names.Line(in.MaximumWhy)
		bad.Keep("#/requirement/maximum_why", err)
		q.MaximumWhy = why
	}
	if in.Maximum == nil {
		return
	}
	if q.MaximumMonths = *in.Maximum; q.MaximumMonths == 0 {
		q.MaximumWhy = ""
	}
}

// inUnit reads a step, with the unit or without.
func inUnit(text string, unit units.Unit) (units.Quantity, error) {
	d, err := calibration.ParseDecimal(text)
	if err == nil {
		return units.Quantity{Value: string(d), Unit: unit}, nil
	}
	q, other := units.ParseQuantity(text)
	switch {
	case other != nil:
		return q, err
	case q.Unit != unit:
		return q, fault.New(fault.Invalid, "%s is not in %s", q, unit).WithHint("give it in the unit of the scale")
	}
	return q, nil
}

// requirementOf reads what is on record; nil is none.
func requirementOf(rx *store.Rx, tool string) (*calibration.Requirement, error) {
	rows, err := rx.Requirements(tool)
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	return parseRequirement(rows[0])
}

func parseRequirement(row calibration.RequirementRow) (*calibration.Requirement, error) {
	var q calibration.Requirement
	if err := json.Unmarshal([]byte(row.Body), &q); err != nil {
		return nil, fault.New(fault.Internal, "what tool %s must hold cannot be read", row.Tool).WithCause(err)
	}
	return &q, nil
}

// putRequirement records what a tool must hold.
func putRequirement(tx *store.Tx, t register.Tool, q calibration.Requirement) error {
	body, err := json.Marshal(q)
	if err != nil {
		return err
	}
	rows, err := tx.Requirements(t.ID)
	if err != nil {
		return err
	}
	row := calibration.RequirementRow{Tool: t.ID}
	if len(rows) > 0 {
		if row, err = load[calibration.RequirementRow](tx, rows[0].ID, "requirement"); err != nil {
			return err
		}
	} else if row.ID, err = tx.NewID('R'); err != nil {
		return err
	}
	row.Body = string(body)
	return store.Put(tx, &row)
}
