package store

import (
	"strings"

	"pawl/model/calibration"
	"pawl/model/dates"
)

// Outing is one time at which a tool left its place to be used, or was used: taken by
// somebody, lent outside, or put down with a tightening or measurement.
type Outing struct {
	Tool         string
	Since, Ended dates.Instant // Ended 0 = it is still out
	Safety       bool          // of a job that is, or may be, safety-critical; unknown counts as one
}

// Outings gives them oldest first: of these tools, or of any that must hold something.
// A use counts as not safety-critical where it is marked so itself; its mark is the
// one member of its body that cannot stand in a text, whose quotes are escaped.
func (r *Rx) Outings(tools ...string) (out []Outing, err error) {
	which, args := "IN (SELECT tool FROM requirements)", []any{}
	if len(tools) > 0 {
		which = "IN (?" + strings.Repeat(", ?", len(tools)-1) + ")"
		for range 2 {
			for _, t := range tools {
				args = append(args, t)
			}
		}
	}
	query := `SELECT l.tool, l.since, coalesce(l.ended, 0), CASE WHEN coalesce(j.safety, '') = 'no' THEN 0 ELSE 1 END
		FROM loans l LEFT JOIN jobs j ON j.id = l.job WHERE (l.state = 'out' OR l.purpose = 'lent') AND l.tool ` + which + `
		UNION ALL
		SELECT u.tool, u.happened, u.happened, CASE WHEN coalesce(j.safety, '') = 'no' OR u.body LIKE '%"not_safety":true%' THEN 0 ELSE 1 END
		FROM uses u LEFT JOIN jobs j ON j.id = u.job WHERE u.withdrawn IS NULL AND u.tool ` + which + ` ORDER BY 1, 2, 3`
	err = r.query(func(scan func(...any) error) error {
		var o Outing
		var safety int64
		if err := scan(&o.Tool, (*int64)(&o.Since), (*int64)(&o.Ended), &safety); err != nil {
			return err
		}
		o.Safety = safety != 0
		out = append(out, o)
		return nil
	}, query, args...)
	return out, err
}

// ResultsLike gives the newest calibrations, not bench checks, of all tools that must
// hold what a preset asks: at most so many. A requirement's body begins with its
// preset.
func (r *Rx) ResultsLike(preset string, most int) ([]calibration.ResultRow, error) {
	const escape = `\`
	begins := strings.NewReplacer(escape, escape+escape, "%", escape+"%", "_", escape+"_").Replace(`{"preset":"`+preset+`",`) + "%"
	return many[calibration.ResultRow](r, newestFirst, most,
		`bench IS NULL AND withdrawn IS NULL AND tool IN (SELECT tool FROM requirements WHERE body LIKE ? ESCAPE '`+escape+`')`, begins)
}
