package store

import (
	"strings"

	"pawl/model/calibration"
	"pawl/model/custody"
	"pawl/model/dates"
)

// ofTools names these tools, or all that must hold something.
const ofTools = "tool IN (SELECT tool FROM requirements)"

// lost says of a tool that nothing can tell any more how it was.
const lost = "gone_why IN ('lost', 'stolen')"

// Uses gives every tightening and measurement that stands, oldest first: with these tools,
// or with any that must hold something.
func (r *Rx) Uses(tools ...string) ([]calibration.UseRow, error) {
	if len(tools) == 0 {
		return many[calibration.UseRow](r, "happened, id", 0, ofTools+" AND withdrawn IS NULL")
	}
	return many[calibration.UseRow](r, "happened, id", 0, "tool IN ? AND withdrawn IS NULL", tools)
}

// UsesToo gives those with these tools, withdrawn ones too.
func (r *Rx) UsesToo(tools ...string) ([]calibration.UseRow, error) {
	return many[calibration.UseRow](r, "happened, id", 0, "tool IN ?", tools)
}

// RedoneBy gives what a tightening or measurement did again.
func (r *Rx) RedoneBy(u calibration.UseRow) ([]calibration.UseRow, error) {
	return many[calibration.UseRow](r, "id", 0, "job = ? AND redone_by = ?", u.Job, u.ID)
}

// Use gives one tightening or measurement by id, be it withdrawn or not.
func (r *Rx) Use(id string) (calibration.UseRow, bool, error) {
	return one[calibration.UseRow](r, "id = ?", id)
}

// Loan gives one by id.
func (r *Rx) Loan(id string) (custody.Loan, bool, error) { return one[custody.Loan](r, "id = ?", id) }

// LoansInHands gives the stretches in which tools could be used, out to somebody or lent
// outside, oldest first: of these tools, or of any that must hold something.
func (r *Rx) LoansInHands(tools ...string) ([]custody.Loan, error) {
	const which = "(state = 'out' OR purpose = 'lent')"
	if len(tools) == 0 {
		return many[custody.Loan](r, "since, id", 0, ofTools+" AND "+which)
	}
	return many[custody.Loan](r, "since, id", 0, "tool IN ? AND "+which, tools)
}

// Settled gives the lines of rechecks that were settled: of these tools, or of all.
func (r *Rx) Settled(tools ...string) ([]calibration.SettledRow, error) {
	if len(tools) == 0 {
		return many[calibration.SettledRow](r, "settled_at, id", 0, "tool IS NOT NULL")
	}
	return many[calibration.SettledRow](r, "settled_at, id", 0, "tool IN ?", tools)
}

// ComparedWith gives the tools that were compared with any of these as the standard, by
// comparisons that were withdrawn too.
func (r *Rx) ComparedWith(standards []string) (out []string, err error) {
	if len(standards) == 0 {
		return nil, nil
	}
	return r.texts("SELECT DISTINCT tool FROM calibrations WHERE standard IN ("+marks(len(standards))+") ORDER BY tool", values(standards)...)
}

// ToolsSince gives those that must hold something, of which something was ever reported,
// or which are lost or were on the list of a loss, and that have a line at that place in
// the ledger or later.
func (r *Rx) ToolsSince(seq int64) ([]string, error) {
	return r.texts("SELECT DISTINCT tool FROM line_tools WHERE seq >= ? AND ("+ofTools+" OR tool IN (SELECT tool FROM wrongs)"+
		" OR EXISTS (SELECT 1 FROM tools WHERE id = line_tools.tool AND "+lost+")"+
		" OR EXISTS (SELECT 1 FROM loss_lines WHERE loss_lines.tool = line_tools.tool)) ORDER BY tool", seq)
}

// FoundOutWithoutRequirement gives the tools of which something was ever reported, and
// those of these kinds that were lost or stolen, of which nobody recorded what they must
// hold, in the order of their ids.
func (r *Rx) FoundOutWithoutRequirement(kinds []string) ([]string, error) {
	query := "SELECT tool FROM wrongs WHERE NOT (" + ofTools + ")"
	if len(kinds) > 0 { // by kind, which has an index: few tools of a large shop measure
		query += " UNION SELECT id FROM tools WHERE kind IN (" + marks(len(kinds)) + ") AND " + lost + " AND NOT EXISTS (SELECT 1 FROM requirements WHERE tool = tools.id)"
	}
	return r.texts(query+" ORDER BY 1", values(kinds)...)
}

// CountWithoutRequirement counts the tools of these kinds that are not gone and of which
// nobody recorded what they must hold.
func (r *Rx) CountWithoutRequirement(kinds []string) (n int, err error) {
	if len(kinds) == 0 {
		return 0, nil
	}
	err = r.query(func(scan func(...any) error) error { return scan(&n) },
		"SELECT count(*) FROM tools WHERE kind IN ("+marks(len(kinds))+") AND gone IS NULL AND NOT EXISTS (SELECT 1 FROM requirements WHERE tool = tools.id)", values(kinds)...)
	return n, err
}

// ReportedAt gives when each report on the tools was entered, which may be later than
// what it tells happened.
func (r *Rx) ReportedAt(tools ...string) (map[string]dates.Instant, error) {
	query, args := `SELECT id, "at" FROM lines WHERE noun = 'wrong' AND rev = 1 AND id IN (SELECT id FROM wrongs WHERE `+ofTools+")", []any(nil)
	if len(tools) > 0 {
		query, args = `SELECT id, "at" FROM lines WHERE noun = 'wrong' AND rev = 1 AND id IN (SELECT id FROM wrongs WHERE tool IN (`+marks(len(tools))+"))", values(tools)
	}
	out := map[string]dates.Instant{}
	err := r.query(func(scan func(...any) error) error {
		var id string
		var at int64
		err := scan(&id, &at)
		out[id] = dates.Instant(at)
		return err
	}, query, args...)
	return out, err
}

func (r *Rx) texts(query string, args ...any) (out []string, err error) {
	err = r.query(func(scan func(...any) error) error {
		var s string
		err := scan(&s)
		out = append(out, s)
		return err
	}, query, args...)
	return out, err
}

func marks(n int) string { return "?" + strings.Repeat(", ?", n-1) }

func values(all []string) (out []any) {
	for _, s := range all {
		out = append(out, s)
	}
	return out
}
