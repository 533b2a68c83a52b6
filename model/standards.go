package model

import (
	"context"
	"slices"
	"strings"

	"pawl/labels/chart"
	"pawl/model/calibration"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/register"
)

// StandardView is a tool here that others may be compared with today.
type StandardView struct {
	Number, Kind, Place string
	Range               string // what its calibration covers, with the unit
	Due                 dates.Date
}

// Standards gives the tools that may be the standard for one: they measure the same
// quantity, only measure it, and their calibration holds today. In order of their
// numbers.
func (s *Shop) Standards(ctx context.Context, by By, number string) (out []StandardView, err error) {
	err = s.read(ctx, func(d *directory) error {
		t, err := resolve(d.Rx, number)
		if err != nil {
			return err
		}
		m, err := d.measuredTools()
		if err != nil {
			return err
		}
		q := m.requirements[t.ID]
		if q == nil {
			return nil
		}
		for id, other := range m.requirements {
			if id == t.ID || other.Class != calibration.NoClass || other.Unit.Dimension() != q.Unit.Dimension() {
				continue
			}
			last, err := m.holds(id)
			if err != nil {
				continue // what does not hold is no standard today, whatever the reason
			}
			st := m.tools[id]
			out = append(out, StandardView{Number: st.Number.String(), Kind: st.Kind, Place: m.places.Path(st.Place),
				Range: strings.Join(spansInWords(*other, last.Judgement), ", "), Due: last.NextDue})
		}
		slices.SortFunc(out, func(x, y StandardView) int { return strings.Compare(x.Number, y.Number) })
		return nil
	})
	return out, err
}

// asStandard fills in what a tool's own calibration says of it as a standard: the
// stretch that every direction covers, its largest uncertainty and deviation, its
// dates. A calibration that supports nothing brings nothing.
func asStandard(st *calibration.Standard, q calibration.Requirement, k judged) {
	if !k.Supports {
		return
	}
	st.Calibrated, st.Due = k.On, k.NextDue
	var low, high, uncertainty, bias float64
	for i, span := range k.Covered {
		if i == 0 {
			low, high = span.Low, span.High
		}
		low, high = max(low, span.Low), min(high, span.High)
	}
	stated := true
	for _, p := range k.Points {
		if p.Phase == calibration.AsFound && k.Adjusted {
			continue
		}
		stated = stated && p.ExpandedPercent == p.ExpandedPercent && p.MeanPercent == p.MeanPercent
		uncertainty, bias = max(uncertainty, p.ExpandedPercent), max(bias, p.MeanPercent, -p.MeanPercent)
	}
	if low < high {
		st.Low, st.High = calibration.Rounded(low, q.Unit), calibration.Rounded(high, q.Unit)
	}
	if stated && uncertainty > 0 {
		st.Uncertainty = calibration.Decimal(calibration.Rounded(uncertainty, q.Unit).Value)
		st.Bias = calibration.Decimal(calibration.Rounded(bias, q.Unit).Value)
	}
}

// RequirementLike gives what another tool of the same kind, maker and model must
// hold, to be proposed for this one; nil is none.
func (s *Shop) RequirementLike(ctx context.Context, by By, number string) (q *calibration.Requirement, err error) {
	err = s.read(ctx, func(d *directory) error {
		t, err := resolve(d.Rx, number)
		if err != nil || t.Maker == "" || t.Model == "" {
			return err
		}
		rows, err := d.Requirements()
		if err != nil {
			return err
		}
		ids := make([]string, len(rows))
		for i, row := range rows {
			ids[i] = row.Tool
		}
		tools, err := d.ToolsByID(ids)
		if err != nil {
			return err
		}
		i := slices.IndexFunc(rows, func(row calibration.RequirementRow) bool { return alike(t, tools[row.Tool]) })
		if i >= 0 {
			q, err = parseRequirement(rows[i])
		}
		return err
	})
	return q, err
}

func alike(t, other register.Tool) bool {
	return other.ID != t.ID && strings.EqualFold(other.Kind, t.Kind) && strings.EqualFold(other.Maker, t.Maker) && strings.EqualFold(other.Model, t.Model)
}

// Chart gives the chart of one of the calibrations of the view, as ChartOf does.
func (v CalibrationsView) Chart(c calibration.Shown) chart.Calibration { return chartOf(v, c) }

// AdapterDrawing gives the drawing of an offset adapter on a tool, for the question
// that was asked of it. Without an offset adapter, or without the tool's
// grip-to-drive length, there is none: Conflict.
func (s *Shop) AdapterDrawing(ctx context.Context, by By, number string, in Ask) (out chart.Adapter, err error) {
	err = s.about(ctx, number, func(d *directory, t register.Tool) error {
		q, err := d.question(in)
		if err != nil {
			return err
		}
		if q.Adapter.Kind != calibration.Crowfoot {
			return fault.New(fault.Conflict, "only an offset adapter has a drawing").WithHint("give its length and its angle")
		}
		must, err := requirementOf(d.Rx, t.ID)
		if err != nil {
			return err
		}
		if must == nil || must.GripToDrive.IsZero() {
			return fault.New(fault.Conflict, "the length from the middle of the grip to the middle of the drive of tool %s is not recorded", t.Number).
				WithHint("measure it, and enter it with what the tool must hold")
		}
		set, err := q.Adapter.SetFor(calibration.Decimal(q.Target.Value).Float(), must.GripToDrive)
		if err != nil {
			return err
		}
		out = chart.Adapter{Grip: must.GripToDrive, Length: q.Adapter.Length, Angle: calibration.Decimal(q.Adapter.Angle).Float(),
			Target: q.Target, Set: calibration.Rounded(set, q.Target.Unit)}
		return nil
	})
	return out, err
}
