package model

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"pawl/labels/chart"
	"pawl/model/calibration"
	"pawl/model/calibration/intervals"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/numbers"
	"pawl/model/register"
)

// IntervalView is the advice on how often a tool is to be calibrated.
type IntervalView struct {
	Number numbers.Number
	Kind   string
	intervals.Advice
	Cautions   []string
	ComputedAt dates.Instant
}

// IntervalAdvice says what the record makes of a tool's interval. It writes nothing,
// and changes nothing: who takes the advice changes what is asked of the tool.
func (s *Shop) IntervalAdvice(ctx context.Context, by By, number string) (v IntervalView, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		t, err := resolve(rx, number)
		if err != nil {
			return err
		}
		m, q, err := likeTools(rx, t)
		if err != nil {
			return err
		}
		v = IntervalView{Number: t.Number, Kind: t.Kind, Advice: intervals.Advise(m.aboutInterval(t, q)), ComputedAt: rx.Now(),
			Cautions: calibration.Cautions(calibration.Hazards(q.Instrument, q.Class)...)}
		return nil
	})
	return v, err
}

// likeTools reads the facts of a tool and of those that must hold the same.
func likeTools(rx *store.Rx, t register.Tool) (m *measured, q calibration.Requirement, err error) {
	rows, err := rx.Requirements()
	if err != nil {
		return nil, q, err
	}
	preset := map[string]string{}
	for _, row := range rows {
		r, err := parseRequirement(row)
		if err != nil {
			if row.Tool == t.ID {
				return nil, q, err
			}
			continue // it is no like tool of any
		}
		if preset[row.Tool] = r.Preset; row.Tool == t.ID {
			q = *r
		}
	}
	if _, have := preset[t.ID]; !have {
		return nil, q, fault.New(fault.Conflict, "nothing is recorded of what tool %s must hold, so it has no interval", t.Number).
			WithHint("say what it is: pawl calibrate %s --preset torque-wrench-setting --range 40..200 --unit N·m --graduation 1", t.Number)
	}
	like := []string{t.ID}
	for tool, name := range preset {
		if name != "" && name == q.Preset && tool != t.ID {
			like = append(like, tool)
		}
	}
	slices.Sort(like)
	d, err := readNames(rx)
	if err != nil {
		return nil, q, err
	}
	m, err = d.measuredTools(like...)
	return m, q, err
}

// aboutInterval puts together what the advice on one tool rests on.
func (m *measured) aboutInterval(t register.Tool, q calibration.Requirement) intervals.Question {
	ask := intervals.Question{Requirement: q, Today: m.today}
	tools := make([]register.Tool, 0, len(m.tools))
	for _, like := range m.tools {
		tools = append(tools, like)
	}
	slices.SortFunc(tools, func(a, b register.Tool) int { return strings.Compare(a.Number.String(), b.Number.String()) })
	for _, like := range tools {
		f := m.facts(like.ID, "")
		h := intervals.History{Number: f.Number, Calibrations: f.Calibrations, Events: f.Events}
		ask.Like = append(ask.Like, h)
		if like.ID == t.ID {
			ask.Own, ask.Uses = h, m.used(t.ID, f.Calibrations)
		}
	}
	return ask
}

// used are the uses since the newest calibration, oldest first, as cycles counts them.
func (m *measured) used(tool string, calibrations []calibration.Kept) (out []intervals.Used) {
	loc, err := m.settings.Location()
	if err != nil || len(calibrations) == 0 {
		return nil
	}
	last := calibrations[0]
	turns := slices.Clone(m.turns[tool])
	slices.SortFunc(turns, func(a, b store.Turn) int { return int(min(max(a.At-b.At, -1), 1)) })
	for _, t := range turns {
		if day := t.At.Day(loc); !day.Before(last.On) && (last.At == 0 || t.At > last.At) {
			out = append(out, intervals.Used{On: day, Count: t.Count})
		}
	}
	return out
}

// DriftChart is the chart of what every point of a tool showed over time.
func (s *Shop) DriftChart(ctx context.Context, by By, number string) (chart.Drift, error) {
	v, err := s.IntervalAdvice(ctx, by, number)
	if err != nil {
		return chart.Drift{}, err
	}
	return v.Chart()
}

// Chart draws the same figures.
func (v IntervalView) Chart() (chart.Drift, error) {
	for _, d := range v.Drift {
		if len(d.Marks) > 1 {
			return chart.Drift{Title: fmt.Sprintf("%s %s: drift between tool calibrations", v.Number, v.Kind), Points: v.Drift}, nil
		}
	}
	return chart.Drift{}, fault.New(fault.NotFound, "tool %s has no two calibrations with a point in common, so no drift can be drawn", v.Number).
		WithHint("see its calibrations: pawl calibrate %s", v.Number)
}
