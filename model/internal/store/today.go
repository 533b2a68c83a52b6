package store

import (
	"pawl/model/custody"
	"pawl/model/dates"
)

// Overdue gives open loans that were due before an instant, longest overdue
// first.
func (r *Rx) Overdue(before dates.Instant, limit int) ([]custody.Loan, error) {
	return many[custody.Loan](r, "due, id", limit, "ended IS NULL AND due IS NOT NULL AND due < ?", before)
}

// WrongNow gives open reports, newest first.
func (r *Rx) WrongNow(limit int) ([]custody.Wrong, error) {
	return many[custody.Wrong](r, `"at" DESC, id`, limit, "cleared IS NULL")
}

// maxKinds is the most kinds that are listed to pick from.
const maxKinds = 500

// Kinds gives the kinds of tool that there are, by name. It leaps from one to
// the next in the index, whatever the number of tools.
func (r *Rx) Kinds() (out []string, err error) {
	err = r.query(func(scan func(...any) error) error {
		var kind string
		err := scan(&kind)
		out = append(out, kind)
		return err
	}, `WITH RECURSIVE next(kind) AS (
		SELECT min(kind) FROM tools
		UNION ALL
		SELECT (SELECT min(kind) FROM tools WHERE kind > next.kind) FROM next WHERE next.kind IS NOT NULL
	) SELECT kind FROM next WHERE kind IS NOT NULL ORDER BY kind LIMIT ?`, maxKinds)
	return out, err
}
