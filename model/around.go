package model

import (
	"slices"

	"pawl/model/calibration"
	"pawl/model/dates"
	"pawl/model/internal/store"
	"pawl/model/register"
)

// around is what judging a comparison of a tool takes besides the comparison.
func (m *measured) around(tool string, row calibration.ResultRow) calibration.Around {
	t := m.tools[tool]
	a := calibration.Around{SafetyJobs: onSafetyJobs(t, m.outings[tool]), Unfounded: m.unfounded[row.ID]}
	if q := m.requirements[tool]; q != nil && !row.Bench {
		a.FirstUse = m.firstUse(t, *q, row)
	}
	return a
}

// covered says whether custody tells when a tool is used: not for people's own tools,
// which they use unscanned, nor for those of somebody outside.
func covered(t register.Tool) bool { return t.ID != "" && t.Owner == "" && t.Outsider == "" }

// onSafetyJobs says whether a tool is used on safety jobs. It is taken to be, unless
// custody covers it, it was used, and every time was on a job marked as not
// safety-critical: a job of which that is not known, a take without a job and a loan
// outside count as safety-critical.
func onSafetyJobs(t register.Tool, outings []store.Outing) bool {
	for _, o := range outings {
		if o.Safety {
			return true
		}
	}
	return !covered(t) || len(outings) == 0
}

// firstUse is the first day on which a hand torque tool was used after a comparison,
// for an interval that somebody of the shop decided or read: that one begins at the
// first use is from memory (ISO 6789-1:2017 5.3), and moves a due day later. None
// where the register or custody does not cover all the time since.
func (m *measured) firstUse(t register.Tool, q calibration.Requirement, row calibration.ResultRow) (none dates.Date) {
	loc, err := m.settings.Location()
	decided := q.IntervalSource.Standing == calibration.ShopRule || q.IntervalSource.Standing == calibration.OwnPaper
	if err != nil || !covered(t) || !decided || q.Class == calibration.NoClass || t.Created.Day(loc).After(row.OnDay) {
		return none
	}
	for _, o := range m.outings[t.ID] {
		over := o.Ended != 0 && o.Ended.Day(loc).Before(row.OnDay)
		if row.DoneAt != 0 && o.Ended != 0 {
			over = o.Ended <= row.DoneAt
		}
		if over {
			continue
		}
		return o.Since.Day(loc) // one of before, still out, makes it the comparison's own day
	}
	return none
}

// mostLike is how many calibrations of like tools are looked at, newest first: what
// was found long ago says little of today's.
const mostLike = 500

// likeOnce is like, asked for once.
func (m *measured) likeOnce(preset string) (l calibration.Like, err error) {
	if known, have := m.found[preset]; have {
		return known, nil
	}
	l, err = m.directory.like(preset)
	m.found[preset] = l
	return l, err
}

// like counts the newest calibrations of tools that must hold the same, as they were
// found.
func (d *directory) like(preset string) (l calibration.Like, err error) {
	if preset == "" {
		return l, nil
	}
	rows, err := d.ResultsLike(preset, mostLike)
	if err != nil || len(rows) == 0 {
		return l, err
	}
	var tools []string
	for _, row := range rows {
		tools = append(tools, row.Tool)
	}
	slices.Sort(tools)
	tools = slices.Compact(tools)
	m := newMeasured(d)
	if err := m.readRequirements(tools); err != nil {
		return l, err
	}
	m.plain = true
	if _, err := m.readWithdrawn(tools, rows); err != nil {
		return l, err
	}
	if err := m.readAgainst(rows); err != nil {
		return l, err
	}
	for _, all := range m.judgeAll(rows, m.unreadable) {
		for _, k := range all {
			l.Observe(k.Judgement)
		}
	}
	return l, nil
}
