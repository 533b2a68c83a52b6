package page

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"pawl/model/calibration"
	"pawl/model/fault"
)

// pointTable are the points of one direction.
type pointTable struct {
	Direction string // cw, ccw, or empty where nothing turns
	Rows      []pointRow
	Few       int // rows that are shown unfolded
}

// pointRow is one point: the names of its fields, and the value proposed.
type pointRow struct {
	N                   int
	Set, Found, Left    string // names
	Proposed            string
	SetV, FoundV, LeftV string // typed
}

// More rows than a tool usually has points are folded.
const (
	spareRows  = 2
	foldedRows = 6
)

// pointTables sets out the usual points of a tool, and some spare rows.
func pointTables(must *calibration.Requirement, q calibration.Requirement, typed url.Values) (out []pointTable) {
	directions := []string{""}
	if q.Instrument.Turns() {
		directions = nil
		for _, d := range q.Directions {
			directions = append(directions, string(d))
		}
		if len(directions) == 0 {
			directions = []string{string(calibration.Clockwise), string(calibration.Counterclockwise)}
		}
	}
	var usual []string
	if must != nil {
		for _, v := range must.Points() {
			usual = append(usual, calibration.Rounded(v, must.Unit).Value)
		}
	}
	few := max(3, len(usual)+spareRows)
	for _, direction := range directions {
		t := pointTable{Direction: direction, Few: few}
		for i := range few + foldedRows {
			name := func(what string) string { return fmt.Sprintf("%s.%s.%d", what, cmp.Or(direction, "x"), i+1) }
			r := pointRow{N: i + 1, Set: name("set"), Found: name("found"), Left: name("left")}
			if i < len(usual) {
				r.Proposed = usual[i]
			}
			r.SetV, r.FoundV, r.LeftV = typed.Get(r.Set), typed.Get(r.Found), typed.Get(r.Left)
			if !typed.Has(r.Set) {
				r.SetV = r.Proposed
			}
			t.Rows = append(t.Rows, r)
		}
		out = append(out, t)
	}
	return out
}

// Unfolded says whether a folded row of the table was filled.
func (t pointTable) Unfolded() bool {
	return slices.ContainsFunc(t.Rows[t.Few:], func(r pointRow) bool { return r.SetV+r.FoundV+r.LeftV != "" })
}

// readings joins what was typed into the rows of a column, as readings are written.
func (p *Pages) readings(a *Ask, tables []pointTable, column func(pointRow) string) (string, error) {
	var out []string
	for _, t := range tables {
		for _, r := range t.Rows {
			all, odd := severalReadings(column(r))
			if odd != "" {
				return "", fault.New(fault.Invalid, "%s", p.say(a, "calibrate.comma", odd))
			}
			if len(all) == 0 {
				continue
			}
			if r.SetV == "" {
				return "", fault.New(fault.Invalid, "%s", p.say(a, "calibrate.no-value", strings.Join(all, " ")))
			}
			point := r.SetV + "=" + strings.Join(all, ",")
			if t.Direction != "" {
				point = t.Direction + ":" + point
			}
			out = append(out, point)
		}
	}
	return strings.Join(out, ","), nil
}

// severalReadings parts the readings of one field: by spaces, and by commas where
// every part has its decimal point. Any other comma may be a decimal one, and is
// given back as odd.
func severalReadings(text string) (all []string, odd string) {
	for _, token := range strings.Fields(strings.NewReplacer(", ", " ", ";", " ").Replace(text + " ")) {
		parts := strings.Split(token, ",")
		if len(parts) > 1 && slices.ContainsFunc(parts, func(p string) bool { return !strings.Contains(p, ".") }) {
			return nil, token
		}
		all = append(all, parts...)
	}
	return all, ""
}
