package model

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"time"

	"pawl/model/calibration"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/register"
)

// measured is everything on record of the tools that measure, by tool: what each
// answer about them rests on. It is read with one query of each sort.
type measured struct {
	*directory
	today        dates.Date
	clock        ClockView
	tools        map[string]register.Tool
	requirements map[string]*calibration.Requirement
	unreadable   map[string][]string
	results      map[string][]judged
	withdrawn    map[string][]judged        // they count nowhere
	back         map[string]bool            // ids of those
	unfounded    map[string]string          // by comparison: why nothing rests on its standard
	refounded    map[string]refounded       // by comparison: what its standard brings now
	standards    map[string]*measured       // those of what was withdrawn, as they are asked for
	plain        bool                       // what standards rest on is not asked
	against      map[string][]custody.Wrong // by standard: what was ever reported of it
	wrongs       map[string][]custody.Wrong
	loans        map[string][]custody.Loan
	turns        map[string][]store.Turn
	outings      map[string][]store.Outing
	like         map[string][]calibration.Pair // by preset, as they are asked for
	found        map[string]calibration.Like   // so too: how tools like it were found
}

// judged is one calibration on record with what follows from it.
type judged struct {
	row    calibration.ResultRow
	result calibration.Result
	calibration.Kept
}

// newMeasured is without any facts yet.
func newMeasured(d *directory) *measured {
	return &measured{directory: d, tools: map[string]register.Tool{}, requirements: map[string]*calibration.Requirement{},
		unreadable: map[string][]string{}, results: map[string][]judged{}, withdrawn: map[string][]judged{}, back: map[string]bool{},
		unfounded: map[string]string{}, refounded: map[string]refounded{}, against: map[string][]custody.Wrong{}, standards: map[string]*measured{}, wrongs: map[string][]custody.Wrong{},
		loans: map[string][]custody.Loan{}, turns: map[string][]store.Turn{}, outings: map[string][]store.Outing{}, like: map[string][]calibration.Pair{}, found: map[string]calibration.Like{}}
}

// measuredTools reads the facts of some tools, or of all that must hold something.
func (d *directory) measuredTools(tools ...string) (m *measured, err error) {
	m = newMeasured(d)
	return m, m.read(tools)
}

func (m *measured) read(tools []string) error {
	loc, err := m.settings.Location()
	if err != nil {
		return err
	}
	m.today = m.Now().Day(loc)
	if m.clock, err = clockOf(m.Rx); err != nil {
		return err
	}
	if err := m.readRequirements(tools); err != nil {
		return err
	}
	if len(tools) == 0 {
		for tool := range m.requirements {
			tools = append(tools, tool)
		}
		slices.Sort(tools)
		if m.tools, err = m.ToolsByID(tools); err != nil || len(tools) == 0 {
			return err
		}
		tools = nil
	} else if m.tools, err = m.ToolsByID(tools); err != nil {
		return err
	}
	return m.readHistory(tools)
}

// readRequirements reads what tools must hold. Tools that must hold the very same
// share what was read.
func (m *measured) readRequirements(tools []string) error {
	rows, err := m.Requirements(tools...)
	read := make(map[string]*calibration.Requirement, 64)
	for _, row := range rows {
		q, have := read[row.Body]
		if !have {
			if q, err = parseRequirement(row); err != nil {
				m.unreadable[row.Tool], err = append(m.unreadable[row.Tool], "what it must hold"), nil
				continue
			}
			read[row.Body] = q
		}
		m.requirements[row.Tool] = q
	}
	return err
}

func (m *measured) readHistory(tools []string) error {
	outings, err := m.Outings(tools...)
	if err != nil {
		return err
	}
	for _, o := range outings {
		m.outings[o.Tool] = append(m.outings[o.Tool], o)
	}
	if err := m.readResults(tools); err != nil {
		return err
	}
	wrongs, err := m.Wrongs(tools...)
	if err != nil {
		return err
	}
	for _, w := range wrongs {
		m.wrongs[w.Tool] = append(m.wrongs[w.Tool], w)
	}
	loans, err := m.LoansThatCount(tools...)
	if err != nil {
		return err
	}
	for _, l := range loans {
		m.loans[l.Tool] = append(m.loans[l.Tool], l)
	}
	turns, err := m.Turns(tools...)
	for _, t := range turns {
		m.turns[t.Tool] = append(m.turns[t.Tool], t)
	}
	return err
}

// readResults reads what was compared, and beside it what of that was withdrawn.
func (m *measured) readResults(tools []string) error {
	rows, err := m.Results(tools...)
	if err != nil {
		return err
	}
	withdrawn, err := m.readWithdrawn(tools, rows)
	if err != nil {
		return err
	}
	if err := m.readAgainst(slices.Concat(rows, withdrawn)); err != nil {
		return err
	}
	maps.Copy(m.results, m.judgeAll(rows, m.unreadable))
	maps.Copy(m.withdrawn, m.judgeAll(withdrawn, map[string][]string{}))
	return nil
}

// judgeAll judges calibrations by what is asked of each tool today and what was reported
// of their standards, on every processor, and gives them by tool in their order.
func (m *measured) judgeAll(rows []calibration.ResultRow, unreadable map[string][]string) map[string][]judged {
	rows = slices.DeleteFunc(rows, func(r calibration.ResultRow) bool { return m.requirements[r.Tool] == nil })
	ready := make(map[*calibration.Requirement]*calibration.Judging, 64)
	for _, row := range rows {
		q := m.requirements[row.Tool]
		if _, have := ready[q]; !have {
			ready[q], _ = q.Judging() // nil: not acceptable, and so is what is judged by it
		}
	}
	all, failed := make([]judged, len(rows)), make([]bool, len(rows))
	calibration.Shares(len(rows), func(from, to int) {
		for i := from; i < to; i++ {
			row := rows[i]
			r, j, err := m.judge(ready[m.requirements[row.Tool]], row, m.around(row.Tool, row))
			all[i], failed[i] = judged{row, r, calibration.Kept{ID: row.ID, At: row.DoneAt, Judgement: j}}, err != nil
		}
	})
	out := map[string][]judged{}
	for i, row := range rows {
		if failed[i] {
			unreadable[row.Tool] = append(unreadable[row.Tool], fmt.Sprintf("its comparison of %s", row.OnDay))
			continue
		}
		out[row.Tool] = append(out[row.Tool], all[i])
	}
	return out
}

// judge reads a result and judges it by a requirement, which may be none that is
// acceptable. Whether its standard was out of use is told by what is known of that now,
// whatever was when it was entered.
func (m *measured) judge(by *calibration.Judging, row calibration.ResultRow, a calibration.Around) (r calibration.Result, j calibration.Judgement, err error) {
	if err := json.Unmarshal([]byte(row.Body), &r); err != nil {
		return r, j, err
	}
	if again, is := m.refounded[row.ID]; is {
		again.into(&r.Standard)
	}
	r.Standard.OutOfUse = r.Standard.OutOfUse || m.madeWithOneOut(row)
	if by == nil {
		return r, j, fault.New(fault.Invalid, "what the tool must hold is not acceptable")
	}
	j, err = by.Judge(r, a)
	return r, j, err
}

// facts puts together what matters for an answer about one tool, for the person who
// asks.
func (m *measured) facts(id, person string) calibration.Facts {
	t := m.tools[id]
	f := calibration.Facts{
		Number: t.Number.String(), Kind: t.Kind, Requirement: m.requirements[id], Today: m.today, Doubtful: m.clock.Doubtful,
		Unreadable: m.unreadable[id], Pairs: m.pairs(id),
	}
	if t.Gone != 0 {
		f.Gone = t.GoneWhy
	}
	f.DoNotUse = custody.Reasons(m.wrongs[id])
	for _, l := range m.loans[id] {
		switch {
		case !l.Open():
		case l.State == custody.Away:
			f.Away = "at " + l.Whom + l.Purpose.Words()
		default:
			f.Holder, f.Mine = m.person(l.Person), person != "" && l.Person == person
		}
	}
	for _, k := range m.results[id] {
		if k.row.Bench {
			f.Checks = append(f.Checks, k.Kept)
		} else {
			f.Calibrations = append(f.Calibrations, k.Kept)
		}
	}
	f.Events = m.events(t)
	f.Cycles = m.cycles(id, f.Calibrations, 0)
	return f
}

// pairs are the changes between calibrations of this tool and of those that must
// hold the same.
func (m *measured) pairs(id string) []calibration.Pair {
	mine := m.requirements[id]
	if mine == nil || mine.Preset == "" {
		return nil
	}
	if known, have := m.like[mine.Preset]; have {
		return known
	}
	var out []calibration.Pair
	for _, tool := range slices.Sorted(maps.Keys(m.requirements)) {
		if m.requirements[tool].Preset != mine.Preset {
			continue
		}
		var kept []calibration.Kept
		for _, k := range m.results[tool] {
			if !k.row.Bench {
				kept = append(kept, k.Kept)
			}
		}
		out = append(out, calibration.Pairs(kept)...)
	}
	m.like[mine.Preset] = out
	return out
}

// endings are what a report says, as what ends trust.
var endings = map[custody.What]calibration.EventKind{
	"dropped": calibration.Dropped, "overloaded": calibration.Overloaded, "damaged": calibration.Damaged,
	"failed": calibration.FoundFailed, "doubtful": calibration.FoundDoubtful,
}

// events are what ended trust in a tool: reports, repairs, and how it came back from
// a laboratory.
func (m *measured) events(t register.Tool) (out []calibration.Event) {
	loc, err := m.settings.Location()
	if err != nil {
		return nil
	}
	add := func(kind calibration.EventKind, at dates.Instant) {
		out = append(out, calibration.Event{Kind: kind, On: at.Day(loc), At: at})
	}
	for _, w := range m.wrongs[t.ID] {
		if e, ends := m.ending(w); ends && !m.fell(w) {
			out = append(out, e)
		}
	}
	for _, l := range m.loans[t.ID] {
		switch {
		case l.Ended == 0:
		case l.Purpose == custody.ForRepair:
			add(calibration.Repaired, l.Ended)
		case l.Purpose == custody.ForCalibration && !m.hasPaper(t.ID, l, loc):
			add(calibration.BackWithoutPaper, l.Ended)
		}
		if l.Ended != 0 && l.Serial != "" {
			add(calibration.BackOtherSerial, l.Ended)
		}
	}
	return out
}

// ending is what a report ends trust by, as certain as the time of the comparison is that
// it names.
func (m *measured) ending(w custody.Wrong) (e calibration.Event, ends bool) {
	loc, err := m.settings.Location()
	kind, ends := endings[w.What]
	if err != nil || !ends {
		return e, false
	}
	if k := m.comparison(w.Tool, w.Calibration); k != nil {
		return calibration.Event{Kind: kind, On: k.On, At: k.At}, true
	}
	return calibration.Event{Kind: kind, On: w.At.Day(loc), At: w.At}, true
}

// comparison gives a calibration or bench check of a tool by its id; nil is none.
func (m *measured) comparison(tool, id string) *judged {
	for i := range m.results[tool] {
		if k := &m.results[tool][i]; id != "" && k.ID == id {
			return k
		}
	}
	return nil
}

// hasPaper says whether a calibration is recorded that was made while the tool was
// away, and not here.
func (m *measured) hasPaper(tool string, away custody.Loan, loc *time.Location) bool {
	since, ended := away.Since.Day(loc), away.Ended.Day(loc)
	return slices.ContainsFunc(m.results[tool], func(k judged) bool {
		here := k.row.Bench || k.Paper == calibration.Own
		return !here && !k.row.OnDay.Before(since) && !k.row.OnDay.After(ended)
	})
}

// cycles counts the uses since the newest calibration; those of its own day are
// taken for later ones unless its hour is known. Until says up to when; 0 is today.
func (m *measured) cycles(tool string, calibrations []calibration.Kept, until dates.Instant) (c calibration.Cycles) {
	loc, err := m.settings.Location()
	if err != nil || len(calibrations) == 0 {
		return c
	}
	var since []int64
	last := calibrations[0]
	for _, t := range m.turns[tool] {
		if (until == 0 || t.At <= until) && !t.At.Day(loc).Before(last.On) && (last.At == 0 || t.At > last.At) {
			since = append(since, t.Count)
		}
	}
	return calibration.CyclesIn(since)
}
