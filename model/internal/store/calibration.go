package store

import (
	"strings"

	"pawl/model/calibration"
	"pawl/model/custody"
	"pawl/model/dates"
)

// Requirements gives what tools must hold: of these tools, or of all.
func (r *Rx) Requirements(tools ...string) ([]calibration.RequirementRow, error) {
	if len(tools) == 0 {
		return many[calibration.RequirementRow](r, "tool", 0, "tool IS NOT NULL")
	}
	return many[calibration.RequirementRow](r, "tool", 0, "tool IN ?", tools)
}

// newestFirst orders calibrations and bench checks.
const newestFirst = "on_day DESC, entered DESC, id DESC"

// Results gives the calibrations and bench checks that stand, newest first: of these
// tools, or of all.
func (r *Rx) Results(tools ...string) ([]calibration.ResultRow, error) {
	return r.results("withdrawn IS NULL", tools)
}

// WithdrawnResults gives those that were withdrawn: they count nowhere.
func (r *Rx) WithdrawnResults(tools ...string) ([]calibration.ResultRow, error) {
	return r.results("withdrawn IS NOT NULL", tools)
}

// ResultsToo gives those of a tool, withdrawn ones too.
func (r *Rx) ResultsToo(tool string) ([]calibration.ResultRow, error) {
	return many[calibration.ResultRow](r, newestFirst, 0, "tool = ?", tool)
}

func (r *Rx) results(which string, tools []string) ([]calibration.ResultRow, error) {
	if len(tools) == 0 {
		return many[calibration.ResultRow](r, newestFirst, 0, "tool IS NOT NULL AND "+which)
	}
	return many[calibration.ResultRow](r, newestFirst, 0, "tool IN ? AND "+which, tools)
}

// Wrongs gives everything ever reported wrong, oldest first: with these tools, or
// with any that must hold something. What followed from a comparison that was withdrawn
// is not among it, once it is closed.
func (r *Rx) Wrongs(tools ...string) ([]custody.Wrong, error) {
	const which = " AND (calibration IS NULL OR cleared IS NULL OR calibration NOT IN (SELECT id FROM calibrations WHERE withdrawn IS NOT NULL))"
	if len(tools) == 0 {
		return many[custody.Wrong](r, `"at", id`, 0, "tool IN (SELECT tool FROM requirements)"+which)
	}
	return many[custody.Wrong](r, `"at", id`, 0, "tool IN ?"+which, tools)
}

// LoansThatCount gives the open loans, those to a lab or a repairer, and those from
// which another serial came back, oldest
// first: of these tools, or of any that must hold something.
func (r *Rx) LoansThatCount(tools ...string) ([]custody.Loan, error) {
	const which = "(ended IS NULL OR serial IS NOT NULL OR purpose IN ('calibration', 'repair'))"
	if len(tools) == 0 {
		return many[custody.Loan](r, "since, id", 0, "tool IN (SELECT tool FROM requirements) AND "+which)
	}
	return many[custody.Loan](r, "since, id", 0, "tool IN ? AND "+which, tools)
}

// Turn is how often a tool was used at one time.
type Turn struct {
	Tool  string
	At    dates.Instant
	Count int64
}

// Turns gives every tightening that stands as times and counts: of these tools, or of all.
func (r *Rx) Turns(tools ...string) (out []Turn, err error) {
	query, args := `SELECT tool, happened, "count" FROM uses WHERE what = 'tightening' AND withdrawn IS NULL`, []any{}
	if len(tools) > 0 {
		query += " AND tool IN (?" + strings.Repeat(", ?", len(tools)-1) + ")"
		for _, t := range tools {
			args = append(args, t)
		}
	}
	err = r.query(func(scan func(...any) error) error {
		var t Turn
		if err := scan(&t.Tool, (*int64)(&t.At), &t.Count); err != nil {
			return err
		}
		out = append(out, t)
		return nil
	}, query, args...)
	return out, err
}

// UsesOn gives the tightenings and measurements on a job, oldest first; withdrawn ones too.
func (r *Rx) UsesOn(job string) ([]calibration.UseRow, error) {
	return many[calibration.UseRow](r, "happened, id", 0, "job = ?", job)
}

// UseNames gives the names given to fasteners, or to what was measured, in order.
func (r *Rx) UseNames(what calibration.Sort) (out []string, err error) {
	err = r.query(func(scan func(...any) error) error {
		var name string
		err := scan(&name)
		out = append(out, name)
		return err
	}, `SELECT DISTINCT name FROM uses WHERE what = ? AND name IS NOT NULL AND withdrawn IS NULL ORDER BY name`, string(what))
	return out, err
}
