package model

import (
	"context"
	"fmt"
	"strings"

	"pawl/labels/chart"
	"pawl/model/calibration"
	"pawl/model/fault"
)

// ChartOf gives the chart of one calibration or bench check of a tool, by its id; of
// the newest with readings where none is named.
func (s *Shop) ChartOf(ctx context.Context, by By, number, id string) (chart.Calibration, error) {
	v, err := s.Calibrations(ctx, by, number)
	if err != nil {
		return chart.Calibration{}, err
	}
	for _, c := range v.Calibrations {
		if id == "" && len(c.Points) > 0 && c.Withdrawn == 0 || id != "" && c.ID == id {
			return chartOf(v, c), nil
		}
	}
	if id != "" {
		return chart.Calibration{}, fault.New(fault.NotFound, "tool %s has no calibration %q", v.Number, id).
			WithHint("see which it has: pawl calibrate %s", v.Number)
	}
	return chart.Calibration{}, fault.New(fault.NotFound, "tool %s has no calibration with readings, so there is nothing to draw", v.Number).
		WithHint("enter one: pawl calibrate %s --as-left …", v.Number)
}

// chartOf takes the figures as they are shown elsewhere.
func chartOf(v CalibrationsView, c calibration.Shown) chart.Calibration {
	how := "calibrated"
	if c.BenchCheck {
		how = "bench check"
	}
	verdict := strings.ToUpper(string(c.Verdict))
	if c.Withdrawn != 0 {
		verdict = "WITHDRAWN"
	}
	out := chart.Calibration{Title: fmt.Sprintf("%s %s, %s %s: %s", v.Number, v.Kind, how, c.On, verdict), Unit: string(v.Requirement.Unit),
		Caution: calibration.ShortCaution(v.Requirement.Instrument)}
	for _, p := range c.Points {
		out.Points = append(out.Points, chart.Point{
			Phase: chart.Phase(p.Phase), Direction: chart.Direction(p.Direction.Words()), Set: calibration.Decimal(p.Set.Value).Float(),
			Deviations: p.DeviationsPercent, Mean: p.MeanPercent, Limit: p.LimitPercent, Guarded: p.GuardedLimitPercent, Words: p.Words,
			Decision: string(p.Decision),
		})
	}
	return out
}

// Bars compares amounts, and Bar is one of them: what a page draws beside its table.
type (
	Bars = chart.Bars
	Bar  = chart.Bar
)
